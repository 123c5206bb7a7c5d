"""The largest empty circle, against arithmetic and against a raster."""

from __future__ import annotations

import math

import pytest
import shapely
from strewing import LAYOUTS, Darts, as_tile, distances, odd
from support import box, repeat_of

from vecrepeat.arrange.voids import largest_empty_circle


def disc(x: float, y: float, radius: float) -> shapely.Polygon:
    return shapely.Point(x, y).buffer(radius, quad_segs=256)


def test_between_discs_on_squares_it_lies_on_the_diagonal() -> None:
    circle = largest_empty_circle(repeat_of([disc(1, 2, 3)], 20, 20))
    assert circle.radius == pytest.approx(20 / math.sqrt(2) - 3, abs=0.006)
    assert (circle.x % 20, circle.y % 20) == pytest.approx((11, 12), abs=0.1)


def test_in_a_half_drop_it_is_the_circle_about_three_discs() -> None:
    # Discs at (0, 0), (0, 20) and (10, 10) make a right angle: the circle about them has the
    # long side as its diameter. Here the tile is 10 wide.
    circle = largest_empty_circle(repeat_of([disc(0, 0, 2)], 10, 20, "half-drop"))
    assert circle.radius == pytest.approx(10 - 2, abs=0.006)


def test_stripes_leave_half_their_gap() -> None:
    circle = largest_empty_circle(repeat_of([box(-5, 0, 35, 4)], 30, 13))
    assert circle.radius == pytest.approx(4.5, abs=0.006)


def test_bare_cloth_has_no_largest_circle() -> None:
    assert largest_empty_circle(repeat_of([], 10, 10)).radius == math.inf


def test_covered_cloth_has_none_at_all() -> None:
    assert largest_empty_circle(repeat_of([box(-1, -1, 11, 11)], 10, 10)).radius == 0.0


@pytest.mark.parametrize("layout", LAYOUTS)
def test_it_is_the_highest_point_of_a_raster_of_distances(layout: str) -> None:
    darts = Darts(as_tile(120, layout), 1.0, seed=5)
    for thrown, _ in odd():
        darts.throw(thrown, 0.8, 200)
    repeat = darts.repeat_of_all()
    circle = largest_empty_circle(repeat)
    pixel = 0.4
    # A pixel's distance is to the centre of a painted pixel: out by a diagonal at most.
    assert circle.radius == pytest.approx(distances(repeat, pixel).max(), abs=1.5 * pixel)
