"""Layouts: their names, their lattices and the straight block, all exact."""

from __future__ import annotations

import re
from fractions import Fraction as F  # noqa: N817

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vecrepeat.core.errors import InputError
from vecrepeat.repeat.layout import MAX_STEPS, Layout, Vector

NAMES = [
    # (what it shows, text, kind, shift, straight block, the name written back)
    ("full drop", "block", "block", F(0), (1, 1), "block"),
    ("half-drop by name", "half-drop", "drop", F(1, 2), (2, 1), "half-drop"),
    ("half-drop by numbers", "drop:1/2", "drop", F(1, 2), (2, 1), "half-drop"),
    ("lowest terms", "drop:2/4", "drop", F(1, 2), (2, 1), "half-drop"),
    ("lowest terms that are no half", "drop:4/6", "drop", F(2, 3), (3, 1), "drop:2/3"),
    ("third drop", "drop:1/3", "drop", F(1, 3), (3, 1), "drop:1/3"),
    ("k other than 1 has the block of n columns", "drop:2/5", "drop", F(2, 5), (5, 1), "drop:2/5"),
    ("brick by name", "brick", "brick", F(1, 2), (1, 2), "brick"),
    ("brick by its other name", "half-brick", "brick", F(1, 2), (1, 2), "brick"),
    ("brick by numbers", "brick:3/7", "brick", F(3, 7), (1, 7), "brick:3/7"),
    ("a shift of one whole tile is a block", "drop:1/1", "block", F(0), (1, 1), "block"),
    ("a shift of two whole tiles is a block", "brick:4/2", "block", F(0), (1, 1), "block"),
    ("no shift is a block", "drop:0/5", "block", F(0), (1, 1), "block"),
    ("more than a tile counts from the next", "drop:4/3", "drop", F(1, 3), (3, 1), "drop:1/3"),
    ("capitals", "Half-Drop", "drop", F(1, 2), (2, 1), "half-drop"),
    ("spaces", "  drop : 1 / 3 ", "drop", F(1, 3), (3, 1), "drop:1/3"),
    ("a space for the colon", "brick 1/4", "brick", F(1, 4), (1, 4), "brick:1/4"),
    ("the longest cycle", "drop:1/1000", "drop", F(1, 1000), (1000, 1), "drop:1/1000"),
    (
        "lowest terms bring a long cycle down",
        "drop:2/2000",
        "drop",
        F(1, 1000),
        (1000, 1),
        "drop:1/1000",
    ),
]


@pytest.mark.parametrize(
    ("text", "kind", "shift", "block", "name"), [r[1:] for r in NAMES], ids=[r[0] for r in NAMES]
)
def test_names_of_layouts(
    text: str, kind: str, shift: F, block: tuple[int, int], name: str
) -> None:
    layout = Layout.parse(text)
    assert (layout.kind, layout.shift) == (kind, shift)
    assert layout.straight_block == block
    assert layout.steps == shift.denominator
    assert str(layout) == name
    assert Layout.parse(name) == layout


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "is not known"),
        ("ogee", "is not known"),
        ("drop", "is not known"),
        ("drop:", "is not known"),
        ("drop:1", "is not known"),
        ("drop:0.5", "is not known"),
        ("drop:-1/2", "is not known"),
        ("drop:1/2/3", "is not known"),
        ("block:1/2", "is not known"),
        ("drop:1/0", "divides by zero"),
        ("drop:1/1001", "1001 steps"),
        ("drop:1/99999", "is not known"),
        ("brick:" + "1" * 5000 + "/2", "is not known"),
        ("drop:1/2\nbrick", "is not known"),
    ],
)
def test_other_names_are_refused_in_one_line(text: str, told: str) -> None:
    with pytest.raises(InputError, match=told) as caught:
        Layout.parse(text)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 200


@pytest.mark.parametrize(
    ("kind", "shift"), [("toss", F(1, 2)), ("", F(0)), ("block", F(1, 2))], ids=str
)
def test_a_layout_that_contradicts_itself_can_not_be_made(kind: str, shift: F) -> None:
    with pytest.raises(ValueError, match=re.compile("kind|shift")):
        Layout(kind, shift)


LATTICES = [
    # (layout, a, b) for a tile of 12 × 30
    ("block", Vector(F(12), F(0)), Vector(F(0), F(30))),
    # Each next column is shifted down by k/n of the tile's height: common practice, no source.
    ("half-drop", Vector(F(12), F(15)), Vector(F(0), F(30))),
    ("drop:1/3", Vector(F(12), F(10)), Vector(F(0), F(30))),
    ("drop:2/7", Vector(F(12), F(60, 7)), Vector(F(0), F(30))),
    # Each next row is shifted across by k/n of the tile's width: common practice, no source.
    ("brick", Vector(F(12), F(0)), Vector(F(6), F(30))),
    ("brick:3/4", Vector(F(12), F(0)), Vector(F(9), F(30))),
]


@pytest.mark.parametrize(("name", "a", "b"), LATTICES, ids=[r[0] for r in LATTICES])
def test_lattices(name: str, a: Vector, b: Vector) -> None:
    lattice = Layout.parse(name).lattice(F(12), F(30))
    assert (lattice.a, lattice.b) == (a, b)


SIDES = st.fractions(min_value=F(1, 100), max_value=10_000, max_denominator=1000)
SHIFTS = st.builds(F, st.integers(0, 60), st.integers(1, 30))
LAYOUTS = st.builds(Layout, st.sampled_from(["drop", "brick"]), SHIFTS)


@given(LAYOUTS)
def test_every_layout_reads_its_own_name_back(layout: Layout) -> None:
    assert Layout.parse(str(layout)) == layout


@given(LAYOUTS, SIDES, SIDES)
def test_every_layout_covers_the_plane_once(layout: Layout, width: F, height: F) -> None:
    assert layout.lattice(width, height).area == width * height


@given(LAYOUTS, SIDES, SIDES)
def test_after_n_columns_or_rows_the_tiles_line_up(layout: Layout, width: F, height: F) -> None:
    lattice, n = layout.lattice(width, height), layout.steps
    k = layout.shift.numerator
    if layout.kind == "drop":
        # n·a − k·b is purely horizontal, the straight block's width.
        assert lattice.at(n, -k) == Vector(n * width, F(0))
    elif layout.kind == "brick":
        # n·b − k·a is purely vertical, the straight block's height.
        assert lattice.at(-k, n) == Vector(F(0), n * height)
    else:
        assert lattice.at(1, 0) == Vector(width, F(0))
        assert lattice.at(0, 1) == Vector(F(0), height)


def steps_to(layout: Layout, width: F, height: F, x: F, y: F) -> tuple[F, F]:
    """Lattice coordinates of a vector, by Cramer's rule; whole when it is a translation."""
    a, b = layout.lattice(width, height).a, layout.lattice(width, height).b
    det = a.x * b.y - a.y * b.x
    return ((x * b.y - y * b.x) / det, (a.x * y - a.y * x) / det)


def is_translation(layout: Layout, width: F, height: F, x: F, y: F) -> bool:
    return all(c.denominator == 1 for c in steps_to(layout, width, height, x, y))


@given(LAYOUTS, SIDES, SIDES)
def test_the_straight_block_is_the_smallest_that_repeats_straight(
    layout: Layout, width: F, height: F
) -> None:
    across, down = layout.straight_block
    assert is_translation(layout, width, height, across * width, F(0))
    assert is_translation(layout, width, height, F(0), down * height)
    # A purely horizontal (or vertical) translation is a whole number of tiles, so that the
    # smaller whole numbers are all there is to rule out.
    for fewer in range(1, across):
        assert not is_translation(layout, width, height, fewer * width, F(0))
    for fewer in range(1, down):
        assert not is_translation(layout, width, height, F(0), fewer * height)


@given(LAYOUTS, SIDES, SIDES, st.integers(-50, 50), st.integers(-50, 50))
def test_any_step_is_i_times_a_and_j_times_b(
    layout: Layout, width: F, height: F, i: int, j: int
) -> None:
    step = layout.lattice(width, height).at(i, j)
    assert steps_to(layout, width, height, step.x, step.y) == (F(i), F(j))


def test_the_longest_cycle_is_stated() -> None:
    assert Layout.parse(f"drop:1/{MAX_STEPS}").steps == MAX_STEPS
