"""Polygons of a mask hold all of its pixels, and its holes."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from vecrepeat.art.pixelmasks import trace

MASKS = [
    # (what it shows, rows of a mask, how many polygons, how many holes)
    ("nothing", ["...", "..."], 0, 0),
    ("one pixel", ["...", ".#.", "..."], 1, 0),
    ("a pixel in a corner", ["#..", "...", "..."], 1, 0),
    ("far pixels stay apart", ["#......#"], 2, 0),
    ("a ring keeps its hole", ["#" * 9] * 2 + ["##.....##"] * 5 + ["#" * 9] * 2, 1, 1),
]


@pytest.mark.parametrize(
    ("rows", "polygons", "holes"), [pytest.param(*row[1:], id=row[0]) for row in MASKS]
)
def test_trace(rows: list[str], polygons: int, holes: int) -> None:
    mask = np.array([[c == "#" for c in row] for row in rows])
    traced = trace(mask)
    assert len(traced) == polygons
    assert sum(len(p.interiors) for p in traced) == holes
    area = shapely.union_all(np.array(traced, dtype=object))
    for y, x in np.argwhere(mask):
        assert area.covers(shapely.box(x, y, x + 1, y + 1))


@pytest.mark.parametrize("seed", range(3))
def test_trace_holds_every_pixel_of_noise(seed: int) -> None:
    mask = np.random.default_rng(seed).random((300, 400)) < 0.3
    area = shapely.union_all(np.array(trace(mask), dtype=object))
    shapely.prepare(area)
    y, x = np.nonzero(mask)
    assert bool(shapely.contains_xy(area, x + 0.5, y + 0.5).all())
    assert area.bounds == pytest.approx((-1, -1, 401, 301), abs=3)
