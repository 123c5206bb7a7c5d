"""Collisions, balance, print limits, glare and profiles, each against arithmetic."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import shapely
from support import box, motif, read, repeat_of

from vecrepeat.check.asking import Asked, ask
from vecrepeat.check.balance import check_balance
from vecrepeat.check.collisions import check_collisions, find_meetings
from vecrepeat.check.details import too_fine
from vecrepeat.check.findings import Answer, Finding
from vecrepeat.check.glare import check_glare
from vecrepeat.check.plane import Plane
from vecrepeat.check.printing import check_printing
from vecrepeat.check.profile import (
    BalanceLimits,
    CollisionLimits,
    GlareLimits,
    PrintLimits,
    built_in,
    load_profile,
)
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Affine
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Placement, Repeat

# --- collisions


def test_overlap_through_a_wrap_and_its_area() -> None:
    # The second square's copy at x = −1 … 1 covers 1 × 3 of the first.
    plane = Plane(repeat_of([box(0, 0, 3, 3), box(9, 0, 11, 3)], 10, 10))
    (fault,) = check_collisions(plane, CollisionLimits()).findings
    assert fault.kind == "overlap"
    assert fault.value == pytest.approx(3)
    assert "through a wrap" in fault.what


def test_motif_that_meets_its_own_copy() -> None:
    (meeting,) = find_meetings(Plane(repeat_of([box(0, 0, 10.5, 4)], 10, 10)), 0.1)
    assert (meeting.one, meeting.other, meeting.steps) == (0, 0, (1, 0))
    assert meeting.overlap == pytest.approx(0.5 * 4)


def test_gap_below_the_limit_is_told_once() -> None:
    plane = Plane(repeat_of([box(1, 1, 3, 3), box(3.1, 1, 5, 3)], 10, 10, "half-drop"))
    (fault,) = check_collisions(plane, CollisionLimits()).findings
    assert fault.kind == "too close"
    assert fault.value == pytest.approx(0.1)


def test_gap_at_the_limit_is_fine() -> None:
    plane = Plane(repeat_of([box(1, 1, 3, 3), box(3.25, 1, 5, 3)], 10, 10))
    assert check_collisions(plane, CollisionLimits(gap_mm=0.25)).findings == ()


def test_drawing_in_layers_is_left_alone_and_said() -> None:
    stack = [box(k, k, k + 4, k + 4) for k in range(6)]
    answer = check_collisions(Plane(repeat_of(stack, 40, 40)), CollisionLimits())
    assert answer.findings == ()
    assert "layers" in answer.notes[0]


# --- balance


def test_coverage_counts_overlaps_once_and_wraps() -> None:
    # 4 × 4 over the corner and 4 × 4 overlapping it by 2 × 4: 24 of 100.
    plane = Plane(repeat_of([box(-2, -2, 2, 2), box(0, -2, 4, 2)], 10, 10))
    facts = check_balance(plane, BalanceLimits()).facts
    assert facts["coverage"] == pytest.approx(0.24)


def test_all_paint_in_one_quarter_is_uneven() -> None:
    dots = [box(x, y, x + 1.5, y + 1.5) for x in (1, 3, 5, 7) for y in (1, 3, 5, 7)]
    faults = check_balance(Plane(repeat_of(dots, 20, 20)), BalanceLimits()).findings
    assert [f.kind for f in faults] == ["uneven"]


@pytest.mark.parametrize(("wide", "kinds"), [(3.2, ["uneven"]), (2.8, [])])
def test_uneven_is_the_fullest_half_tile_against_the_emptiest(
    wide: float, kinds: list[str]
) -> None:
    # Stripes down a tile of 40 mm: two in one half so many times as wide as two in the other.
    # The limit is 3 times; samples of a tenth of a mm make narrow stripes a hair wider.
    stripes = [box(10 * k, 0, 10 * k + (2.5 * wide if k < 2 else 2.5), 40) for k in range(4)]
    faults = check_balance(Plane(repeat_of(stripes, 40, 40)), BalanceLimits()).findings
    assert [f.kind for f in faults] == kinds
    assert all(f.value == pytest.approx(wide, rel=0.05) for f in faults)


@pytest.mark.parametrize("layout", ["block", "drop:3/7", "drop:12/25", "brick:5/11"])
def test_the_two_shortest_vectors_span_the_lattice(layout: str) -> None:
    plane = Plane(repeat_of([], 100, 30, layout))
    lattice = plane.repeat.lattice
    steps = [(i, j) for i in range(-40, 41) for j in range(-40, 41) if (i, j) != (0, 0)]
    lengths = sorted({round(math.hypot(*map(float, lattice.at(i, j))), 6) for i, j in steps})
    short, long = (float(np.hypot(*v)) for v in plane.reduced)
    assert short == pytest.approx(lengths[0])
    # The next that is no multiple of it, and with it the cell of one tile's area.
    assert abs(np.linalg.det(plane.reduced)) == pytest.approx(100 * 30)
    assert long in [pytest.approx(length) for length in lengths if length <= long + 1e-6]
    assert abs(plane.reduced[0] @ plane.reduced[1]) <= short**2 / 2 + 1e-6


def test_largest_motif_by_far_gives_the_repeat_away() -> None:
    # 8 × 8 over 2 × 2 is 16 times; the limit is 6.
    small = [box(x, y, x + 2, y + 2) for x, y in ((1, 1), (20, 2), (2, 20), (21, 21))]
    plane = Plane(repeat_of([*small, box(10, 10, 18, 18)], 30, 30))
    faults = check_balance(plane, BalanceLimits()).findings
    (fault,) = (f for f in faults if f.kind == "gives the repeat away")
    assert fault.value == pytest.approx(16)


def test_nearest_neighbours_of_a_grid_are_one_step_away() -> None:
    dots = [box(x, y, x + 1, y + 1) for x in (0, 5, 10, 15) for y in (0, 5, 10, 15)]
    facts = check_balance(Plane(repeat_of(dots, 20, 20)), BalanceLimits()).facts
    assert facts["neighbours_mm"] == {"mean": pytest.approx(5), "deviation": pytest.approx(0)}


# --- print limits


def kinds(plane: Plane, line: float = 0.3, gap: float = 0.3, detail: float = 0.4) -> set[str]:
    return {thin.kind for thin in too_fine(plane, line, gap, detail)}


def test_line_is_as_thin_as_it_is_drawn() -> None:
    (thin,) = too_fine(Plane(repeat_of([box(0, 0, 8, 0.2)], 20, 20)), 0.3, 0.3, 0.1)
    assert thin.kind == "line"
    assert thin.width == pytest.approx(0.2, abs=1e-3)


def test_line_as_wide_as_the_limit_passes() -> None:
    assert kinds(Plane(repeat_of([box(0, 0, 8, 0.31)], 20, 20))) == set()


def test_thin_stem_on_a_wide_head_is_a_line() -> None:
    lollipop = shapely.union_all([shapely.Point(0, 0).buffer(2), box(1, -0.1, 8, 0.1)])
    assert kinds(Plane(repeat_of([lollipop], 20, 20))) == {"line"}


def test_tip_that_tapers_is_no_line() -> None:
    assert kinds(Plane(repeat_of([shapely.Polygon([(0, 0), (9, 1), (0, 2)])], 20, 20))) == set()


def test_slit_is_a_narrow_gap_and_a_wide_one_is_not() -> None:
    slit = box(0, 0, 8, 6).difference(box(2, 2.9, 6, 3.1))
    assert kinds(Plane(repeat_of([slit], 20, 20))) == {"gap"}
    wide = box(0, 0, 8, 6).difference(box(2, 2.8, 6, 3.2))
    assert kinds(Plane(repeat_of([wide], 20, 20))) == set()


def test_speck_is_a_detail() -> None:
    assert kinds(Plane(repeat_of([shapely.Point(5, 5).buffer(0.15)], 20, 20))) == {"detail"}


def test_what_is_too_fine_in_many_copies_is_marked_in_the_first() -> None:
    # Two thin lines; between them nothing is painted.
    line = motif("thread", box(2, 2, 10, 2.2))
    both = tuple(Placement(line, Affine.translation(by, by)) for by in (0, 25))
    plane = Plane(Repeat("art", Fraction(40), Fraction(40), both, Layout()))
    limits = PrintLimits(line_mm=0.3, gap_mm=0.3, detail_mm=0.1)
    (finding,) = check_printing(plane, limits).findings
    assert finding.at == pytest.approx((6, 2.1))
    assert "in 2 places" in finding.what


def test_a_place_in_several_parts_is_told_by_the_first() -> None:
    parts = shapely.MultiPolygon([box(0, 0, 2, 2), box(10, 0, 12, 2)])
    assert Finding("gap too narrow", "", 0, 0, parts).at == (1, 1)


def test_a_place_bent_round_its_own_middle_is_told_within_it() -> None:
    ring = shapely.Point(5, 5).buffer(3).difference(shapely.Point(5, 5).buffer(2))
    at = Finding("gap too narrow", "", 0, 0, ring).at
    assert at is not None
    assert ring.covers(shapely.Point(at))


def test_marks_lie_on_the_tile() -> None:
    # The stem lies wholly beyond the bounds: in a half-drop it comes in 20 lower on the left.
    kite = shapely.union_all([box(30, 2, 39, 12), box(39, 7, 47, 7.2)])
    plane = Plane(repeat_of([kite], 40, 40, "half-drop"))
    (thin,) = too_fine(plane, 0.3, 0.01, 0.01)
    assert thin.places.bounds[0] > 38
    small = (np.zeros((4, 4, 3), np.uint8), (1.0, 1.0))
    profile = replace(load_profile(), print=PrintLimits(line_mm=0.3, gap_mm=0.01, detail_mm=0.01))
    asked_of = Asked(plane, plane, profile, Answer(), lambda: small)
    ((_, answer),) = ask(asked_of, ["print"])
    (finding,) = answer.findings
    assert finding.at == pytest.approx((3, 27.1), abs=0.3)


def asked(folder: Path, body: str, limits: PrintLimits) -> set[str]:
    plane = Plane(read(folder, body).repeat())
    return {f.kind for f in check_printing(plane, limits).findings}


def test_contents_that_a_process_does_not_hold(tmp_path: Path) -> None:
    spot = PrintLimits(spot=True, colours=2, near_colours=3)
    flat = '<g id="a"><rect x="9" y="9" width="20" height="20" fill="#aa2233"/></g>'
    assert asked(tmp_path, flat, spot) == set()
    assert asked(tmp_path, flat.replace("/></g>", ' fill-opacity="0.5"/></g>'), spot) == {
        "tones in a spot process"
    }
    two = flat + '<g id="b"><rect x="50" y="9" width="20" height="20" fill="#aa2234"/></g>'
    assert asked(tmp_path, two, spot) == {"near colours"}
    three = flat + "".join(
        f'<g id="n{k}"><rect x="{40 + 20 * k}" y="60" width="9" height="9" fill="{c}"/></g>'
        for k, c in enumerate(("#2233aa", "#33aa22"))
    )
    assert asked(tmp_path, three, spot) == {"too many colours"}


def test_block_that_divides_a_screen_and_one_that_does_not(tmp_path: Path) -> None:
    # The page is 100 mm high: it divides a screen of 600 mm six times, none of 640 mm.
    flat = '<g id="a"><rect x="9" y="9" width="20" height="20" fill="#aa2233"/></g>'
    assert asked(tmp_path, flat, PrintLimits(circumferences_mm=(600,))) == set()
    assert asked(tmp_path, flat, PrintLimits(circumferences_mm=(640,))) == {"screen circumference"}


# --- glare


def stripes(period: int, low: int, high: int) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    column = np.where(np.arange(200) % period < period // 2, low, high).astype(np.uint8)
    return np.broadcast_to(column[None, :, None], (200, 200, 3)).copy()


def test_black_and_white_stripes_of_three_cycles_a_degree_are_cautioned() -> None:
    # At 1 m a degree spans 17.455 mm: 3 cycles are stripes of 5.818 mm a pair.
    period, degree = 20, 1000 * math.tan(math.radians(1))
    pixel = degree / 3 / period
    answer = check_glare(stripes(period, 0, 255), (pixel, pixel), GlareLimits())
    (fault,) = answer.findings
    assert answer.facts["cycles_per_degree"] == pytest.approx(3, rel=0.01)
    assert "professional" in fault.advice


@pytest.mark.parametrize(("low", "high", "cycles"), [(180, 200, 3), (0, 255, 0.2), (0, 255, 30)])
def test_faint_wide_or_fine_stripes_are_not(low: int, high: int, cycles: float) -> None:
    pixel = 1000 * math.tan(math.radians(1)) / cycles / 20
    assert check_glare(stripes(20, low, high), (pixel, pixel), GlareLimits()).findings == ()


# --- profiles


def test_every_profile_of_the_package_loads() -> None:
    assert set(built_in()) == {"cloth-digital", "cloth-rotary", "wallpaper-digital", "screen"}
    assert load_profile("cloth-rotary").print.circumferences_mm[0] == 640
    assert load_profile("screen").print.spot


def test_profile_of_ones_own_states_what_differs(tmp_path: Path) -> None:
    (tmp_path / "mill.toml").write_text('base = "cloth-rotary"\n[print]\nline_mm = 0.5\n')
    mine = load_profile(tmp_path / "mill.toml")
    assert (mine.name, mine.print.line_mm, mine.print.spot) == ("mill", 0.5, True)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[print]\nlines = 1\n", "unknown limit “print.lines”"),
        ("[print]\nline_mm = -1\n", "can't be used"),
        ("[print]\nspot = 3\n", "can't be used"),
        ("print = 3\n", "must be a table"),
        ("[print\n", "not TOML"),
        ('base = "me.toml"\n', "based on itself"),
        ('base = "nothing"\n', "no profile “nothing”"),
    ],
)
def test_profile_that_can_not_be_used(tmp_path: Path, text: str, says: str) -> None:
    (tmp_path / "me.toml").write_text(text)
    with pytest.raises(InputError, match=says.replace("(", r"\(")):
        load_profile(tmp_path / "me.toml")


def test_an_outline_that_scaling_folds_is_unfolded() -> None:
    # A hole that reaches over its shell, as rounding makes them of art printed very small.
    hole = [(2, 2), (12, 5), (2, 5)]
    folded = shapely.Polygon([(0, 0), (10, 0), (10, 10), (0, 10)], [hole])
    repeat = Repeat("folded", Fraction(20), Fraction(20), (Placement(motif("folded", folded)),))
    (shape,) = Plane(repeat).outlines
    assert shape.is_valid
    # The shell less the part of the hole that lies in it: a triangle of 10 × 3 / 2, cut at 10.
    assert shape.area == pytest.approx(100 - (15 - 2 * 0.6 / 2), rel=1e-6)
