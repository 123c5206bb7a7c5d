"""Gradients cut into bands, against areas that arithmetic gives."""

from __future__ import annotations

import math

import pytest
import shapely

from vecrepeat.colour.gradients import banded, by_stops, colour_at, in_steps, is_stepped
from vecrepeat.core.geometry import IDENTITY, Affine
from vecrepeat.scene.nodes import Gradient, Stop

RED, BLUE, GREEN = "#ff0000", "#0000ff", "#00ff00"
TWO = (Stop(0, RED), Stop(1, BLUE))
SQUARE = shapely.box(0, 0, 10, 10)


def _linear(
    stops: tuple[Stop, ...] = TWO,
    line: tuple[float, ...] = (0, 0, 10, 0),
    matrix: Affine = IDENTITY,
    spread: str = "pad",
) -> Gradient:
    return Gradient(False, line, matrix, spread, stops)


def _areas(gradient: Gradient, area: shapely.Geometry = SQUARE) -> dict[str, float]:
    found: dict[str, float] = {}
    for part, colour, _ in banded(area, gradient, by_stops):
        found[colour] = found.get(colour, 0) + part.area
    return found


def test_two_stops_share_the_line_between_them_by_halves() -> None:
    assert _areas(_linear()) == pytest.approx({RED: 50, BLUE: 50})


def test_the_middle_of_three_stops_reaches_half_way_to_each() -> None:
    stops = (Stop(0, RED), Stop(0.2, GREEN), Stop(1, BLUE))
    assert _areas(_linear(stops)) == pytest.approx({RED: 10, GREEN: 50, BLUE: 40})


def test_beyond_the_ends_the_end_stops_go_on() -> None:
    assert _areas(_linear(line=(4, 0, 6, 0))) == pytest.approx({RED: 50, BLUE: 50})


def test_a_slanting_line_cuts_across_itself() -> None:
    # The half-plane through the middle of a diagonal is the square's other diagonal.
    assert _areas(_linear(line=(0, 0, 10, 10))) == pytest.approx({RED: 50, BLUE: 50})


def test_the_frame_is_applied() -> None:
    assert _areas(_linear(line=(0, 0, 1, 0), matrix=Affine.scaling(20, 1))) == pytest.approx(
        {RED: 100}
    )


def test_repeat_begins_again() -> None:
    # A period of 5 mm: red 2.5, blue 2.5, red 2.5, blue 2.5.
    assert _areas(_linear(line=(0, 0, 5, 0), spread="repeat")) == pytest.approx({RED: 50, BLUE: 50})


def test_reflect_turns_back() -> None:
    # Over 10 mm of a 4 mm gradient: red 2, blue 4, red 4 (to 10).
    assert _areas(_linear(line=(0, 0, 4, 0), spread="reflect")) == pytest.approx(
        {RED: 60, BLUE: 40}
    )


def test_a_radial_gradient_is_a_disc_and_what_is_round_it() -> None:
    gradient = Gradient(True, (5, 5, 0, 5, 5, 4), IDENTITY, "pad", TWO)
    disc = math.pi * 2**2
    assert _areas(gradient) == pytest.approx({RED: disc, BLUE: 100 - disc}, abs=0.03)


def test_an_off_centre_focus_moves_the_disc_with_the_offset() -> None:
    gradient = Gradient(True, (6, 5, 0, 5, 5, 4), IDENTITY, "pad", TWO)
    (red, colour, _), *_ = banded(SQUARE, gradient, by_stops)
    assert colour == RED
    # SVG 2 §14.2.3: half way between focus and circle, radius and centre are half way too.
    assert (red.centroid.x, red.centroid.y) == pytest.approx((5.5, 5), abs=1e-3)


def test_bands_neither_overlap_nor_leave_a_gap() -> None:
    star = shapely.Point(5, 5).buffer(5, quad_segs=3).union(shapely.box(0, 4, 12, 5))
    for gradient in (
        _linear(line=(1, 2, 7, 9)),
        Gradient(True, (4, 5, 0, 5, 5, 6), IDENTITY, "pad", TWO),
    ):
        parts = [part for part, _, _ in banded(star, gradient, in_steps(7))]
        assert sum(p.area for p in parts) == pytest.approx(star.area, rel=1e-6)
        assert shapely.union_all(parts).area == pytest.approx(star.area, rel=1e-6)


def test_hard_steps_come_back_as_drawn() -> None:
    stops = (Stop(0, RED), Stop(0.3, RED), Stop(0.3, BLUE), Stop(1, BLUE))
    assert is_stepped(stops)
    assert not is_stepped(TWO)
    assert _areas(_linear(stops)) == pytest.approx({RED: 30, BLUE: 70})


def test_steps_have_the_colour_of_their_middle() -> None:
    bands = in_steps(2)(TWO)
    # A quarter of the way from red to blue: 255 · 3/4 = 191.25, 255 / 4 = 63.75.
    assert [band.colour for band in bands] == ["#bf0040", "#4000bf"]
    assert [(band.start, band.end) for band in bands] == [(0, 0.5), (0.5, 1)]


def test_colour_and_opacity_run_between_stops() -> None:
    stops = (Stop(0, "#000000", 0.0), Stop(1, "#ffffff", 1.0))
    assert colour_at(stops, 0.5) == ("#808080", 0.5)
