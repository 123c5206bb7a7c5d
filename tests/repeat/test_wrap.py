"""Wrapping, held against brute force with shapely and against cases counted by hand."""

from __future__ import annotations

from fractions import Fraction as F  # noqa: N817
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry.base import BaseGeometry
from support import box, motif, read, repeat_of

from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Placement, Repeat
from vecrepeat.repeat.wrap import CONTACT, Copy, copies, offsets, onto_tile, tile_steps

TILE = Rect(0.0, 0.0, 10.0, 10.0)

# Everything random lies on a grid of 1/8 mm, so that no edge comes within rounding of the
# nanometre that counts as contact: it meets a bound exactly or is clear of it.


def on_grid(low: int, high: int) -> st.SearchStrategy[float]:
    """A coordinate in mm from low to high."""
    return st.integers(low * 8, high * 8).map(lambda n: n / 8)


def _box(w: float, h: float) -> BaseGeometry:
    return box(0, 0, w, h)


def _triangle(w: float, h: float) -> BaseGeometry:
    return shapely.Polygon([(0, 0), (w, h / 4), (w / 4, h)])


def _concave(w: float, h: float) -> BaseGeometry:
    return shapely.Polygon([(0, 0), (w, 0), (w, h / 8), (w / 8, h / 8), (w / 8, h), (0, h)])


def _ring(w: float, h: float) -> BaseGeometry:
    return _box(w, h).difference(box(w / 8, h / 8, w * 7 / 8, h * 7 / 8))


def _two(w: float, h: float) -> BaseGeometry:
    return shapely.MultiPolygon([_box(w / 8, h / 8), box(w * 7 / 8, h * 7 / 8, w, h)])


@st.composite
def outlines(draw: st.DrawFn) -> BaseGeometry:
    """A motif from a speck to four tiles wide, anywhere from −2 to +2 tiles."""
    make = draw(st.sampled_from([_box, _triangle, _concave, _ring, _two]))
    w, h = draw(st.integers(1, 40)), draw(st.integers(1, 40))
    x, y = draw(on_grid(-20, 20)), draw(on_grid(-20, 20))
    return affinity.translate(make(w, h), x, y)


LAYOUTS = st.one_of(
    st.just(Layout()),
    st.builds(
        Layout,
        st.sampled_from(["drop", "brick"]),
        st.builds(F, st.integers(1, 6), st.integers(1, 7)),
    ),
)


@st.composite
def regions(draw: st.DrawFn) -> Rect:
    """A region of up to two tiles, anywhere from −2 to +2 tiles."""
    x, y = draw(on_grid(-20, 20)), draw(on_grid(-20, 20))
    return Rect(x, y, x + draw(on_grid(1, 20)), y + draw(on_grid(1, 20)))


@st.composite
def repeats(draw: st.DrawFn) -> Repeat:
    width, height = draw(st.sampled_from([(10, 10), (10, 16), (16, 10)]))
    art = draw(st.lists(outlines(), min_size=1, max_size=2))
    return repeat_of(art, width, height, draw(LAYOUTS))


def brute_force(repeat: Repeat, region: Rect, reach: int = 16) -> list[Copy]:
    """Every outline, moved by every lattice vector far around, tried against the region."""
    inner = shapely.box(*region.grown(-CONTACT))
    shapely.prepare(inner)
    found = []
    for p, placement in enumerate(repeat.placements):
        for i in range(-reach // 2, reach // 2 + 1):
            for j in range(-reach, reach + 1):
                step = repeat.lattice.at(i, j)
                moved = affinity.translate(placement.outline, float(step.x), float(step.y))
                if inner.intersects(moved):
                    found.append(Copy(p, i, j))
    return found


@settings(max_examples=60)
@given(repeats().filter(lambda r: r.layout.kind != "brick"), regions())
def test_copies_are_those_of_brute_force_in_its_order(repeat: Repeat, region: Rect) -> None:
    """Block and drop layouts: motifs up to four tiles, placed anywhere, any region."""
    expected = brute_force(repeat, region)
    assert max((max(abs(c.i) * 2, abs(c.j)) for c in expected), default=0) < 16
    assert copies(repeat, region) == expected


@settings(max_examples=30)
@given(repeats().filter(lambda r: r.layout.kind == "brick"), regions())
def test_brick_copies_are_those_of_brute_force_in_its_order(repeat: Repeat, region: Rect) -> None:
    """The same for bricks, whose index i reaches further."""
    expected = brute_force(repeat, region, 32)
    assert max((max(abs(c.i) * 2, abs(c.j)) for c in expected), default=0) < 32
    assert copies(repeat, region) == expected


@given(repeats(), regions(), st.integers(-9, 9), st.integers(-9, 9))
def test_stacking_is_the_same_everywhere(repeat: Repeat, region: Rect, i: int, j: int) -> None:
    """For a region moved by i·a + j·b the list is the same, indices moved by (i, j)."""
    step = repeat.lattice.at(i, j)
    moved = copies(repeat, region.moved(float(step.x), float(step.y)))
    assert moved == [Copy(c.placement, c.i + i, c.j + j) for c in copies(repeat, region)]


@given(repeats(), regions())
def test_order_is_by_placement_then_i_then_j(repeat: Repeat, region: Rect) -> None:
    found = copies(repeat, region)
    assert found == sorted(found)
    assert len(set(found)) == len(found)


O = (0, 0)  # noqa: E741
AROUND = [(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)]
DIAMOND = shapely.Polygon([(5, 5), (7.5, 3), (10, 5), (7.5, 7)])
FRAME = box(-5, -5, 15, 15).difference(box(-1, -1, 11, 11))
CASES = [
    # (what it shows, layout, outline, (i, j) of the copies that the tile of 10 × 10 shows)
    ("a motif inside needs no wrap", "block", box(2, 3, 8, 7), [O]),
    ("a motif inside needs no wrap in half-drop", "half-drop", box(2, 3, 8, 7), [O]),
    ("crossing the right bound", "block", box(8, 3, 12, 5), [(-1, 0), O]),
    ("crossing the left bound", "block", box(-2, 3, 2, 5), [O, (1, 0)]),
    ("crossing the lower bound", "block", box(3, 8, 5, 12), [(0, -1), O]),
    ("on a corner: four copies", "block", box(-1, -1, 1, 1), [O, (0, 1), (1, 0), (1, 1)]),
    (
        "on the opposite corner: four copies",
        "block",
        box(9, 9, 11, 11),
        [(-1, -1), (-1, 0), (0, -1), O],
    ),
    # a = (10, 5): the corner at (10, 0) is no lattice point, the middle of the right side is.
    ("on a corner in half-drop: three", "half-drop", box(-1, -1, 1, 1), [O, (0, 1), (1, 0)]),
    ("on a corner in brick: three", "brick", box(-1, -1, 1, 1), [O, (0, 1), (1, 0)]),
    ("over the right bound in half-drop", "half-drop", box(8, 2, 12, 4), [(-1, 1), O]),
    ("over the right bound in third drop", "drop:1/3", box(8, 1, 12, 3), [(-1, 1), O]),
    ("three tiles wide", "block", box(-10, 2, 20, 4), [(-1, 0), O, (1, 0)]),
    (
        "a hair over three tiles wide",
        "block",
        box(-10.5, 2, 20.5, 4),
        [(-2, 0), (-1, 0), O, (1, 0), (2, 0)],
    ),
    ("the whole tile touches its neighbours only", "block", box(0, 0, 10, 10), [O]),
    ("exactly one tile to the right", "block", box(10, 0, 20, 10), [(-1, 0)]),
    ("exactly one tile down to the left", "block", box(-10, 10, 0, 20), [(1, -1)]),
    ("far away", "block", box(102, -97, 104, -95), [(-10, 10)]),
    ("touching the left edge from inside", "block", box(0, 3, 2, 5), [O]),
    ("touching the right edge from inside", "block", box(8, 3, 10, 5), [O]),
    ("touching a corner from inside", "block", box(0, 0, 2, 2), [O]),
    ("touching a corner from outside", "block", box(-2, -2, 0, 0), [(1, 1)]),
    ("a diamond's tip on the right edge", "block", DIAMOND, [O]),
    ("a circle that touches two edges", "block", shapely.Point(3, 3).buffer(3, quad_segs=64), [O]),
    ("a circle that touches all four", "block", shapely.Point(5, 5).buffer(5, quad_segs=64), [O]),
    ("less than the contact over the edge", "block", box(8, 3, 10 + CONTACT / 2, 5), [O]),
    ("more than the contact over the edge", "block", box(8, 3, 10 + CONTACT * 2, 5), [(-1, 0), O]),
    ("a frame round the tile shows its copies only", "block", FRAME, AROUND),
]  # fmt: skip


@pytest.mark.parametrize(
    ("layout", "outline", "expected"), [c[1:] for c in CASES], ids=[c[0] for c in CASES]
)
def test_cases_counted_by_hand(
    layout: str, outline: BaseGeometry, expected: list[tuple[int, int]]
) -> None:
    found = copies(repeat_of([outline], layout=layout), TILE)
    assert [(c.i, c.j) for c in found] == expected
    assert [c.is_wrap for c in found] == [step != O for step in expected]


def test_the_corner_motif_over_a_half_drop_block() -> None:
    """The straight block of 20 × 10 shows it on four corners and in the middle."""
    repeat = repeat_of([box(-1, -1, 1, 1)], layout="half-drop")
    found = copies(repeat, Rect(0, 0, 20, 10))
    places = [tuple(map(int, repeat.lattice.at(c.i, c.j))) for c in found]
    assert sorted(places) == [(0, 0), (0, 10), (10, 5), (20, 0), (20, 10)]


@pytest.mark.parametrize("place", [(3, 3), (7, 3), (3, 7), (7, 7)], ids=str)
@pytest.mark.parametrize("layout", ["block", "half-drop", "brick"])
def test_a_drawn_circle_that_touches_two_bounds_is_drawn_once(
    tmp_path: Path, place: tuple[int, int], layout: str
) -> None:
    """Read from a drawing, flattened: its extreme points stay exact."""
    x, y = (10 * v for v in place)
    art = read(tmp_path, f'<circle cx="{x}" cy="{y}" r="30"/>')
    assert copies(art.repeat(layout), Rect(0, 0, 100, 100)) == [Copy(0, 0, 0)]


def test_a_stroke_that_crosses_the_bounds_wraps(tmp_path: Path) -> None:
    """The fill alone only touches the left edge."""
    art = read(tmp_path, '<circle cx="30" cy="50" r="30" stroke="#000" stroke-width="1"/>')
    assert [c[1:] for c in copies(art.repeat(), Rect(0, 0, 100, 100))] == [(0, 0), (1, 0)]


def test_placements_come_in_stacking_order() -> None:
    repeat = repeat_of([box(-1, 2, 1, 4), box(2, -1, 4, 1), box(5, 5, 6, 6)])
    assert copies(repeat, TILE) == [
        Copy(0, 0, 0),
        Copy(0, 1, 0),
        Copy(1, 0, 0),
        Copy(1, 0, 1),
        Copy(2, 0, 0),
    ]


def test_a_placement_is_wrapped_where_it_is_put() -> None:
    """The motif is drawn inside; its placement moves it over the right bound."""
    placement = Placement(motif("m", box(0, 0, 2, 2)), Affine.translation(9, 4))
    repeat = Repeat("art", F(10), F(10), (placement,))
    assert copies(repeat, TILE) == [Copy(0, -1, 0), Copy(0, 0, 0)]


@pytest.mark.parametrize(
    "region",
    [
        # No width, no height, or too little of either to hold anything.
        Rect(3, 3, 3, 8),
        Rect(3, 3, 8, 3),
        Rect(3, 3, 3 + CONTACT, 8),
    ],
)
def test_a_region_without_area_shows_nothing(region: Rect) -> None:
    assert copies(repeat_of([box(0, 0, 10, 10)]), region) == []


def test_no_motifs_make_no_copies() -> None:
    assert copies(repeat_of([]), TILE) == []


@pytest.mark.parametrize(
    ("art", "expected"),
    [
        # An outline without area beside one with.
        ([shapely.Polygon(), box(2, 2, 4, 4)], [Copy(1, 0, 0)]),
        # Nothing but outlines without area.
        ([shapely.Polygon()], []),
    ],
    ids=["beside another", "alone"],
)
def test_an_empty_outline_has_no_copies(art: list[BaseGeometry], expected: list[Copy]) -> None:
    assert copies(repeat_of(art), TILE) == expected


def test_a_motif_of_several_parts_is_one_copy_each_time() -> None:
    """Parts that overlap, and one of them over the right bound."""
    several = motif("m", box(2, 2, 6, 6), box(4, 4, 8, 8), box(7, 7, 11, 9))
    repeat = Repeat("art", F(10), F(10), (Placement(several), Placement(several)))
    assert copies(repeat, TILE) == [
        Copy(0, -1, 0),
        Copy(0, 0, 0),
        Copy(1, -1, 0),
        Copy(1, 0, 0),
    ]


def test_indices_are_plain_integers() -> None:
    """Copies go into JSON and names, where numpy's integers don't."""
    (found,) = copies(repeat_of([box(2, 2, 4, 4)]), TILE)
    assert [type(v) for v in found] == [int, int, int]
    assert not any(isinstance(v, np.generic) for v in found)


@pytest.mark.parametrize("layout", ["block", "half-drop", "drop:3/7", "brick:2/5"])
def test_points_come_onto_the_tile_by_a_lattice_vector(layout: str) -> None:
    lattice = Layout.parse(layout).lattice(F(30), F(70))
    points = np.random.default_rng(4).uniform(-400, 400, (500, 2))
    home = np.stack(onto_tile(lattice, *points.T), axis=1)
    assert (home >= 0).all()
    assert (home < (30, 70)).all()
    steps = np.stack(tile_steps(lattice, *points.T), axis=1)
    np.testing.assert_allclose(home + offsets(lattice, steps), points, atol=1e-9)
    vectors = [tuple(map(float, lattice.at(int(i), int(j)))) for i, j in steps]
    np.testing.assert_allclose(points - home, vectors, atol=1e-9)
