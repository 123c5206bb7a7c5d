"""Turnovers and plane groups as operations and lattices."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import gemmi
import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.affinity import translate
from support import motif

from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Placement, Repeat
from vecrepeat.repeat.symmetry import FORMS, GROUPS, HEXAGONAL, ROOT_3, SQUARE, Operation
from vecrepeat.repeat.wrap import copies

F = Fraction

# Plane group and the space group whose general position, seen along z, is the same (International
# Tables vol. A lists them as projections); positions from the library gemmi.
SPACE_GROUPS = {
    "p1": "P 1",
    "p2": "P 1 1 2",
    "pm": "P m 1 1",
    "pg": "P b 1 1",
    "cm": "C m 1 1",
    "p2mm": "P m m 2",
    "p2mg": "P m a 2",
    "p2gg": "P b a 2",
    "c2mm": "C m m 2",
    "p4": "P 4",
    "p4mm": "P 4 m m",
    "p4gm": "P 4 b m",
    "p3": "P 3",
    "p3m1": "P 3 m 1",
    "p31m": "P 3 1 m",
    "p6": "P 6",
    "p6mm": "P 6 m m",
}
# Number of general positions per conventional cell (International Tables vol. A, from memory).
MULTIPLICITY = {
    "p1": 1, "p2": 2, "pm": 2, "pg": 2, "cm": 4, "p2mm": 4, "p2mg": 4, "p2gg": 4, "c2mm": 8,
    "p4": 4, "p4mm": 8, "p4gm": 8, "p3": 3, "p3m1": 6, "p31m": 6, "p6": 6, "p6mm": 12,
}  # fmt: skip
LAYOUTS = [*GROUPS, *(f"{b}+{f}" for b, f in product(("block", "drop:1/3", "brick:2/5"), FORMS))]
# A mirror turns a third drop into a third rise, and a half drop of rows that alternate into a
# half rise: laid so, no operation is one of the whole cloth.
NO_MIRROR = {"half-drop+turnover-down", "half-drop+turnover-both"}
NO_MIRROR |= {"brick+turnover-across", "brick+turnover-both"}
TURNED = {f"{b}+{f}" for b, f in product(("block", "half-drop", "brick"), FORMS)}
SYMMETRIC = [*GROUPS, *sorted(TURNED - NO_MIRROR)]
SHIFTS = ["block", "half-drop", "drop:1/3", "drop:3/4", "brick", "brick:2/5"]


def in_xy(name: str) -> set[Operation]:
    """The x and y parts of a space group's operations, with its centring."""
    group = gemmi.find_spacegroup_by_name(SPACE_GROUPS[name])
    found = set()
    for operation in group.operations():
        (a, c, _), (b, d, _), _ = ([v // operation.DEN for v in row] for row in operation.rot)
        e, f, _ = (F(v, operation.DEN) % 1 for v in operation.tran)
        found.add(Operation(a, b, c, d, e, f))
    return found


def page(width: Fraction | int = 100, height: Fraction | int = 100) -> Repeat:
    """A page with one lopsided motif."""
    flag = shapely.Polygon([(10, 10), (30, 14), (12, 22)])
    return Repeat("page", F(width), F(height), (Placement(motif("flag", flag)),))


def outlines(repeat: Repeat, region: Rect) -> list[shapely.Polygon]:
    """Every copy's outline in a region, moved to its place."""
    found = []
    for copy in copies(repeat, region):
        by = repeat.lattice.at(copy.i, copy.j)
        outline = repeat.placements[copy.placement].outline
        found.append(translate(outline, float(by.x), float(by.y)))
    return found


def centres(shapes: list[shapely.Polygon], within: Rect) -> np.ndarray:
    """The shapes' centroids within a rectangle, in order, to 0.1 µm."""
    points = [(s.centroid.x, s.centroid.y) for s in shapes]
    kept = [p for p in points if within.x0 < p[0] < within.x1 and within.y0 < p[1] < within.y1]
    return np.array(sorted((round(x, 4), round(y, 4)) for x, y in kept))


@pytest.mark.parametrize("name", GROUPS)
def test_general_positions_are_those_of_the_tables(name: str) -> None:
    assert set(GROUPS[name][0]) == in_xy(name)


@pytest.mark.parametrize("name", GROUPS)
def test_as_many_positions_as_the_tables_say(name: str) -> None:
    assert len(set(GROUPS[name][0])) == len(GROUPS[name][0]) == MULTIPLICITY[name]


@pytest.mark.parametrize("name", LAYOUTS)
def test_regions_make_up_the_plane_once(name: str) -> None:
    repeat = page().with_layout(name)
    assert repeat.symmetry is not None
    region = motif("region", shapely.Polygon(repeat.symmetry.region_mm))
    placements = tuple(Placement(region, turn) for turn in repeat.symmetry.transforms)
    plane = Repeat("plane", repeat.width, repeat.height, placements, repeat.layout)
    window = Rect(17.0, 23.0, 317.0, 223.0)
    found = [shapely.intersection(o, shapely.box(*window)) for o in outlines(plane, window)]
    assert sum(part.area for part in found) == pytest.approx(300 * 200, rel=1e-9)
    assert shapely.union_all(found, grid_size=1e-6).area == pytest.approx(300 * 200, rel=1e-6)


@pytest.mark.parametrize("name", SYMMETRIC)
def test_any_operation_carries_the_cloth_onto_itself(name: str) -> None:
    repeat = page().with_layout(name)
    assert repeat.symmetry is not None
    everything = Rect(-1500.0, -1500.0, 1500.0, 1500.0)
    seen = Rect(-120.3, -110.7, 220.9, 230.1)
    drawn = outlines(repeat, everything)
    expected = centres(drawn, seen)
    for turn in repeat.symmetry.transforms:
        turned = [shapely.transform(shape, turn.apply) for shape in drawn]
        assert np.allclose(centres(turned, seen), expected, atol=2e-4)


@pytest.mark.parametrize("layout", SHIFTS)
@pytest.mark.parametrize("form", FORMS)
def test_each_tile_lies_where_the_layout_puts_it_and_is_turned(layout: str, form: str) -> None:
    # Tile (c, r) by the plain meaning of the words, without cells or cosets.
    width, height = 100, 60
    base, (what, way) = Layout.parse(layout), form.rsplit("-", 1)
    flag = np.array([(10, 10), (30, 14), (12, 22)], float)
    expected = []
    for c, r in product(range(-8, 9), repeat=2):
        turned = {"across": c % 2, "down": r % 2, "both": (c + r) % 2}[way]
        over = c % 2 if way in ("across", "both") else 0
        under = r % 2 if way in ("down", "both") else 0
        if what == "half-turn":
            over = under = turned
        points = flag.copy()
        if over:
            points[:, 0] = width - points[:, 0]
        if under:
            points[:, 1] = height - points[:, 1]
        drop = float(base.shift) * c * height if base.kind == "drop" else 0
        across = float(base.shift) * r * width if base.kind == "brick" else 0
        tile = shapely.Polygon(points)
        expected.append(translate(tile, c * width + across, r * height + drop))
    seen = Rect(-150.3, -110.7, 190.9, 130.1)
    repeat = page(width, height).with_layout(f"{layout}+{form}")
    drawn = outlines(repeat, Rect(-300.0, -300.0, 300.0, 300.0))
    assert np.allclose(centres(drawn, seen), centres(expected, seen), atol=2e-4)


@pytest.mark.parametrize("name", sorted(HEXAGONAL))
def test_hexagonal_cells_are_root_three_high(name: str) -> None:
    repeat = page(100, 40).with_layout(name)
    assert float(repeat.width) == 100
    assert float(repeat.height) == pytest.approx(50 * 3**0.5, rel=1e-14)
    across, down = repeat.block_size
    assert float(down / across) == pytest.approx(3**0.5, rel=1e-14)


def test_root_three() -> None:
    assert abs(ROOT_3 * ROOT_3 - 3) < F(1, 10**14)


@pytest.mark.parametrize("name", sorted(SQUARE))
def test_quarter_turns_want_a_square_page(name: str) -> None:
    with pytest.raises(InputError, match=f"{name}.*quarters.*make the page square"):
        page(100, 80).with_layout(name)


@given(st.sampled_from([*SHIFTS, *LAYOUTS]))
def test_names_read_back(name: str) -> None:
    layout = Layout.parse(name)
    assert Layout.parse(str(layout)) == layout


def test_a_turned_form_alone_turns_a_block() -> None:
    assert Layout.parse("turnover-down") == Layout.parse("block + turnover-down")


@pytest.mark.parametrize(
    ("name", "told"),
    [("block+upside", "“upside” is no way to turn tiles"), ("p5", "layout “p5” is not known")],
)
def test_unknown_forms_are_refused(name: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        Layout.parse(name)


def test_what_is_turned_already_can_not_be_laid_again() -> None:
    with pytest.raises(ValueError, match="already"):
        page().with_layout("pm").with_layout("block")


def test_a_form_is_more_than_a_lattice() -> None:
    with pytest.raises(ValueError, match="more than a lattice"):
        Layout.parse("pm").lattice(F(1), F(1))


def test_cut_art_ends_at_the_region() -> None:
    repeat = page().with_layout("p4mm", cut=True)
    (first, *_), region = repeat.placements, shapely.Polygon([(0, 0), (50, 50), (0, 50)])
    expected = shapely.intersection(page().placements[0].outline, region)
    assert shapely.symmetric_difference(first.outline, expected).area < 1e-9


def test_nothing_in_the_region_is_told() -> None:
    spot = Placement(motif("spot", shapely.box(60, 10, 70, 20)))
    far = Repeat("far", F(100), F(100), (spot,))
    with pytest.raises(InputError, match="nothing is drawn in the region"):
        far.with_layout("p4mm", cut=True)


def test_plain_layouts_have_no_region_to_cut_to() -> None:
    with pytest.raises(InputError, match="turns nothing"):
        page().with_layout("half-drop", cut=True)
