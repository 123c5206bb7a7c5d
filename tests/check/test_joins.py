"""Joins of vector tiles: partners, offsets, cut motifs, layouts; each case breaks one thing."""

from __future__ import annotations

from pathlib import Path

import pytest
from support import DEMO, svg, vecrepeat

from vecrepeat.check.checking import Report, check_drawing
from vecrepeat.check.findings import Finding
from vecrepeat.repeat.layout import Layout
from vecrepeat.sources.source import open_source

LEAF = "M0-12C9-8 9 8 0 12C-5 6-6-6 0-12Z"
STAR = "M0-9L3-2 10 0 3 3 0 10-3 2-9 0-3-3Z"


def path(name: str, d: str, x: float, y: float, fill: str) -> str:
    return f'<path id="{name}" fill="{fill}" d="{d}" transform="translate({x} {y})"/>'


def leaf(name: str, x: float, y: float, fill: str = "#226644") -> str:
    return path(name, LEAF, x, y, fill)


def star(name: str, x: float, y: float, fill: str = "#cc5522") -> str:
    return path(name, STAR, x, y, fill)


# Two motifs over the left and right bounds, one over top and bottom, one in the middle.
WHOLE = [
    leaf("leaf", 0, 30), leaf("leaf-again", 100, 30),
    star("star", 1, 70), star("star-again", 101, 70),
    leaf("bud", 50, 2), leaf("bud-again", 50, 102),
    star("middle", 50, 50),
]  # fmt: skip


def checked(folder: Path, bodies: list[str], layout: str = "block", **options: object) -> Report:
    file = folder / "tile.svg"
    file.write_text(svg("".join(bodies)), encoding="utf-8")
    source = open_source(file, layout=Layout.parse(layout))
    return check_drawing(source, only=("joins",), **options)  # type: ignore[arg-type]


def found(folder: Path, bodies: list[str], layout: str = "block") -> tuple[Finding, ...]:
    return checked(folder, bodies, layout).findings


def test_tile_that_goes_on_everywhere_is_clean(tmp_path: Path) -> None:
    report = checked(tmp_path, WHOLE)
    assert report.kind == "finished tile"
    assert report.findings == ()


def test_drawing_whose_motifs_wrap_is_no_finished_tile(tmp_path: Path) -> None:
    report = checked(tmp_path, [leaf("leaf", 0, 30), star("star", 50, 1)])
    assert report.kind == "drawing"
    assert report.findings == ()


def test_the_same_drawing_called_finished_misses_its_copies(tmp_path: Path) -> None:
    report = checked(tmp_path, [leaf("leaf", 0, 30), star("star", 50, 1)], finished=True)
    assert [f.kind for f in report.findings] == ["missing", "missing"]


@pytest.mark.parametrize(
    ("dx", "dy"), [(0.011, 0.0), (0.0, -0.012), (0.05, 0.04), (-0.85, 0.3), (2.0, -1.0)]
)
def test_offset_of_a_piece_is_told_as_a_vector(tmp_path: Path, dx: float, dy: float) -> None:
    bodies = [*WHOLE[:1], leaf("leaf-again", 100 + dx, 30 + dy), *WHOLE[2:]]
    (fault,) = found(tmp_path, bodies)
    assert fault.kind == "out of place"
    assert fault.vector is not None
    assert fault.vector_px is not None
    # Of two halves alike, either may be called the one that is out of place.
    sign = 1 if fault.motifs[0] == "leaf-again" else -1
    assert fault.vector == pytest.approx((sign * dx, sign * dy), abs=1e-5)
    # At the profile's 150 dpi: 150 / 25.4 px to the mm.
    px = (sign * dx * 150 / 25.4, sign * dy * 150 / 25.4)
    assert fault.vector_px == pytest.approx(px, abs=1e-4)


def test_offset_below_the_limit_is_none(tmp_path: Path) -> None:
    assert found(tmp_path, [*WHOLE[:1], leaf("leaf-again", 100.006, 30.006), *WHOLE[2:]]) == ()


def test_of_four_corner_pieces_the_one_apart_is_named(tmp_path: Path) -> None:
    corners = [
        leaf(f"c{k}", x, y) for k, (x, y) in enumerate([(1, 2), (101, 2), (1, 102), (101.3, 102)])
    ]
    (fault,) = found(tmp_path, [*corners, star("middle", 50, 50)])
    assert fault.motifs[0] == "c3"
    assert fault.vector == pytest.approx((0.3, 0.0), abs=1e-6)


def test_lost_copy_is_missed(tmp_path: Path) -> None:
    (fault,) = found(tmp_path, [b for b in WHOLE if "star-again" not in b])
    assert (fault.kind, fault.motifs) == ("missing", ("star",))
    assert fault.at is not None
    assert fault.at[0] > 90


def test_partner_in_another_colour_is_told(tmp_path: Path) -> None:
    (fault,) = found(tmp_path, [*WHOLE[:3], star("star-again", 101, 70, "#2255cc"), *WHOLE[4:]])
    assert fault.kind == "painted differently"


def test_partner_of_another_shape_is_no_partner(tmp_path: Path) -> None:
    faults = found(tmp_path, [*WHOLE[:3], leaf("star-again", 101, 70, "#cc5522"), *WHOLE[4:]])
    assert {f.kind for f in faults} == {"missing"}


def test_half_drop_tile_called_a_block_is_told_its_layout(tmp_path: Path) -> None:
    tile = [
        leaf("leaf", 0, 30), leaf("leaf-again", 100, 80),
        star("star", 1, 70), star("star-again", 101, 20), star("star-third", 101, 120),
        leaf("bud", 40, 2), leaf("bud-again", 40, 102),
    ]  # fmt: skip
    assert found(tmp_path, tile, "half-drop") == ()
    (fault,) = found(tmp_path, tile)
    assert fault.kind == "wrong layout"
    assert "half-drop" in fault.what


CUT = [
    '<path id="l" fill="#226644" d="M0 20L12 30 0 44Z"/>',
    '<path id="r" fill="#226644" d="M100 20L90 32 100 44Z"/>',
    '<path id="t" fill="#cc5522" d="M30 0L40 9 52 0Z"/>',
    '<path id="b" fill="#cc5522" d="M30 100L41 88 52 100Z"/>',
]


def test_motifs_cut_at_the_bounds_that_go_on_are_clean(tmp_path: Path) -> None:
    report = checked(tmp_path, CUT)
    assert report.kind == "finished tile"
    assert report.findings == ()


def test_cut_motif_with_nothing_to_go_on_is_told(tmp_path: Path) -> None:
    (fault,) = found(tmp_path, [*CUT[:1], *CUT[2:]])
    assert (fault.kind, fault.motifs) == ("cut", ("l",))
    # Its cut edge runs from y = 20 to 44.
    assert fault.value == pytest.approx(24, abs=0.01)


def test_cut_piece_out_of_place_is_told_with_its_vector(tmp_path: Path) -> None:
    moved = '<path id="r" fill="#226644" d="M100 20.3L90 32.3 100 44.3Z"/>'
    (fault,) = found(tmp_path, [CUT[0], moved, *CUT[2:]])
    assert fault.kind == "out of place"
    assert fault.vector is not None
    assert abs(fault.vector[1]) == pytest.approx(0.3, abs=0.01)
    assert fault.vector[0] == pytest.approx(0, abs=0.02)


def test_our_own_finished_tile_of_the_demo_is_clean(tmp_path: Path) -> None:
    tile = tmp_path / "tile.svg"
    demo = DEMO / "night-garden.svg"
    assert vecrepeat("compose", demo, "--layout", "half-drop", "--tile-only", "-o", tile).code == 0
    source = open_source(tile, layout=Layout.parse("half-drop"))
    report = check_drawing(source, only=("joins",))
    assert report.kind == "finished tile"
    assert report.findings == ()


def test_stripe_whose_edge_lies_on_the_bound_is_noted_and_no_fault(tmp_path: Path) -> None:
    stripe = '<rect id="stripe" y="-1" width="40" height="102" fill="#334455"/>'
    report = checked(tmp_path, [stripe, leaf("bud", 70, 2), leaf("bud-again", 70, 102)])
    assert report.findings == ()
    assert any("along the whole of the left bound" in note for note in report.notes)


def test_motifs_one_round_the_other_at_the_corner_are_not_taken_for_each_other(
    tmp_path: Path,
) -> None:
    # A quarter of a square cut at each corner, and dots drawn whole about the same corners.
    corners = [(x, y) for x in (0, 100) for y in (0, 100)]
    quarters = [
        path(f"square-{x}-{y}", f"M0 0H{8 - x * 0.16:g}V{8 - y * 0.16:g}H0Z", x, y, "#226644")
        for x, y in corners
    ]
    dots = [
        path(f"dot-{k}-{x}-{y}", f"M{-r} 0L0 {-r} {r} 0 0 {r}Z", x, y, "#226644")
        for k, r in enumerate((12, 16))
        for x, y in corners
    ]
    assert found(tmp_path, [*dots, *quarters]) == ()


@pytest.mark.parametrize(("name", "layout"), [("ogee", "c2mm"), ("pomegranate", "cm")])
@pytest.mark.parametrize("how", [["--tile-only"], ["--inline"], []])
def test_our_own_files_of_turned_layouts_are_clean(
    tmp_path: Path, name: str, layout: str, how: list[str]
) -> None:
    file = tmp_path / "out.svg"
    vecrepeat("compose", DEMO / f"{name}.svg", "--layout", layout, *how, "-o", file)
    report = check_drawing(open_source(file), only=("joins",))
    assert report.findings == ()
