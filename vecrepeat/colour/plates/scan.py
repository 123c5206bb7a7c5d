"""Areas as pixels: which pixel centres lie inside, exactly.

Every edge is asked once for each row of pixel centres it crosses, and the inside is what an
odd number of crossings lies left of (SVG 2 §13.4.2, even-odd). Two areas that share an edge
share its crossings, so plates neither overlap nor leave a gap.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

STRIP = 4 << 20
"""Pixels worked on at a time."""


def edges_of(area: BaseGeometry) -> NDArray[np.float64]:
    """Return all edges of an area, shape (n, 4): x0, y0, x1, y1, the upper end first."""
    rings = shapely.get_rings(shapely.get_parts(np.array([area], dtype=object)))
    coords, ring = shapely.get_coordinates(rings, return_index=True)
    if not len(coords):
        return np.empty((0, 4))
    edges: NDArray[np.float64] = np.concatenate([coords[:-1], coords[1:]], axis=1)
    edges = edges[ring[1:] == ring[:-1]]
    down = edges[:, 1] > edges[:, 3]
    edges[down] = edges[down][:, [2, 3, 0, 1]]
    return edges


def strips(
    area: BaseGeometry,
    width: int,
    height: int,
    *,
    scale: tuple[float, float],
    origin: tuple[float, float] = (0.0, 0.0),
) -> Iterator[NDArray[np.bool_]]:
    """Yield from the top down which pixels have their centre in an area.

    Args:
        area: polygons in mm.
        width: of the picture in pixels.
        height: of the picture in pixels.
        scale: pixels per mm, across and down.
        origin: the picture's top left corner in mm.
    """
    edges = (edges_of(area) - [*origin, *origin]) * [*scale, *scale]
    # The first row whose centre is not above an edge's upper end, and the first below it.
    first = np.ceil(edges[:, 1] - 0.5).astype(np.int64)
    last = np.ceil(edges[:, 3] - 0.5).astype(np.int64)
    rows = max(1, STRIP // (width + 1))
    for top in range(0, height, rows):
        count = min(rows, height - top)
        begin, end = np.maximum(first, top), np.minimum(last, top + count)
        crossed = np.flatnonzero(end > begin)
        runs = end[crossed] - begin[crossed]
        edge = np.repeat(crossed, runs)
        step = np.arange(len(edge)) - np.repeat(np.cumsum(runs) - runs, runs)
        row = begin[edge] + step
        x0, y0, x1, y1 = edges[edge].T
        x = x0 + (row + 0.5 - y0) * ((x1 - x0) / (y1 - y0))
        column = np.clip(np.ceil(x - 0.5), 0, width).astype(np.int64)
        toggles = np.bincount((row - top) * (width + 1) + column, minlength=count * (width + 1))
        odd = (toggles & 1).astype(np.uint8).reshape(count, width + 1)
        inside = np.bitwise_xor.accumulate(odd, axis=1)[:, :width]
        yield inside.astype(bool)
