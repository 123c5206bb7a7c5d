"""Which pixel centres lie in an area, against shapely's own point in polygon."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from plate_judges import scanned

from vecrepeat.colour.plates import scan

RING = shapely.Point(10, 10).buffer(8).difference(shapely.Point(11, 10).buffer(3))


def _centres(
    width: int,
    height: int,
    scale: tuple[float, float],
    origin: tuple[float, float] = (0.0, 0.0),
) -> Any:
    y, x = np.mgrid[0:height, 0:width]
    return shapely.points(origin[0] + (x + 0.5) / scale[0], origin[1] + (y + 0.5) / scale[1])


@pytest.mark.parametrize("strip", [scan.STRIP, 61 * 7])
@pytest.mark.parametrize("origin", [(0.0, 0.0), (3.0, -2.0)])
@pytest.mark.parametrize("scale", [(1.0, 1.0), (3.7, 2.3), (0.4, 0.9)])
def test_a_ring_is_scanned_as_its_points_say(
    monkeypatch: pytest.MonkeyPatch,
    scale: tuple[float, float],
    origin: tuple[float, float],
    strip: int,
) -> None:
    """Also in strips, as memory asks."""
    monkeypatch.setattr(scan, "STRIP", strip)
    width, height = (round(20 * side) for side in scale)
    expected = shapely.contains_properly(RING, _centres(width, height, scale, origin))
    assert np.array_equal(scanned(RING, width, height, scale=scale, origin=origin), expected)


def test_what_lies_beyond_the_picture_is_cut_off() -> None:
    inside = scanned(shapely.box(-50, -50, 5, 500), 10, 8, scale=(1, 1))
    assert inside[:, :5].all()
    assert not inside[:, 5:].any()


def test_nothing_is_nowhere() -> None:
    assert not scanned(shapely.Polygon(), 5, 5, scale=(1, 1)).any()


# Colour geometry lies on a grid; of hairs of 1e-222 GEOS makes polygons that are not valid.
_GRID = st.integers(0, 20 << 20).map(lambda n: n / (1 << 20))


@settings(max_examples=60)
@given(st.lists(st.tuples(_GRID, _GRID), min_size=3, max_size=9))
def test_an_area_and_the_rest_take_each_pixel_once(points: list[tuple[float, float]]) -> None:
    area = shapely.make_valid(shapely.Polygon(points))
    parts = [p for p in shapely.get_parts(area) if p.geom_type == "Polygon"]
    mine = shapely.union_all(parts) if parts else shapely.Polygon()
    rest = shapely.box(0, 0, 20, 20).difference(mine)
    rest = shapely.union_all([p for p in shapely.get_parts(rest) if p.geom_type == "Polygon"])
    taken = scanned(mine, 20, 20, scale=(1, 1)).astype(int) + scanned(rest, 20, 20, scale=(1, 1))
    centres = _centres(20, 20, (1, 1))
    # On an edge itself rounding decides.
    clear = shapely.distance(shapely.union_all([mine.boundary, rest.boundary]), centres) > 1e-9
    assert (taken[clear] == 1).all()
