"""The largest empty circle of a repeat: exact, by halving squares."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.model import Repeat
from vecrepeat.repeat.wrap import copies, copy_arrays, moved, offsets

Floats = NDArray[np.float64]


class EmptyCircle(NamedTuple):
    """A disc that holds nothing painted.

    Attributes:
        x: of its centre, in mm of the tile's plane.
        y: likewise, downwards.
        radius: in mm; infinite where there is no art at all.
    """

    x: float
    y: float
    radius: float


TOLERANCE = 0.005
"""Radii are true to so many mm."""


def largest_empty_circle(repeat: Repeat) -> EmptyCircle:
    """Return the largest disc anywhere on the cloth that no painted outline meets.

    A square whose centre is d from the art can hold no centre of an empty disc larger than d
    and half its diagonal. Squares that can't beat the best centre found are dropped, the
    others are quartered: what remains is the answer to within :data:`TOLERANCE`.
    """
    if not repeat.placements:
        return EmptyCircle(0.0, 0.0, math.inf)
    tile = repeat.tile_rect
    count = max(4, min(256, math.ceil(4 * math.sqrt(len(repeat.placements)))))
    side_x, side_y = tile.width / count, tile.height / count
    steps = np.arange(count) + 0.5
    x, y = (g.ravel() for g in np.meshgrid(steps * side_x, steps * side_y))
    # Art within reach of the tile is all there is to ask while no distance is longer.
    reach = math.sqrt(tile.width * tile.height / len(repeat.placements))
    near = _Art(repeat, tile.grown(reach))
    while near.distance(x, y).max() + math.sqrt(side_x**2 + side_y**2) > reach:
        reach *= 2
        near = _Art(repeat, tile.grown(reach))
    best = EmptyCircle(0.0, 0.0, 0.0)
    for _ in range(60):
        distance = near.distance(x, y)
        k = int(np.argmax(distance))
        if distance[k] > best.radius:
            best = EmptyCircle(float(x[k]), float(y[k]), float(distance[k]))
        half = math.sqrt(side_x * side_x + side_y * side_y) / 2
        # Where it lies deeper in paint than that, there is nothing of it to be empty.
        hopeful = (distance + half > best.radius + TOLERANCE) & ~near.covers(x, y, distance, half)
        x, y = x[hopeful], y[hopeful]
        if not len(x):
            break
        side_x, side_y = side_x / 2, side_y / 2
        x = np.concatenate([x + i * side_x / 2 for i in (-1, 1, -1, 1)])
        y = np.concatenate([y + j * side_y / 2 for j in (-1, -1, 1, 1)])
    return best


class _Art:
    """Painted parts of a region of the cloth."""

    def __init__(self, repeat: Repeat, region: Rect) -> None:
        placement, steps = copy_arrays(copies(repeat, region))
        parts = [repeat.placements[k].parts for k in placement]
        moves = np.repeat(offsets(repeat.lattice, steps), [len(p) for p in parts], axis=0)
        everything = moved(np.concatenate([np.empty(0, object), *parts]), moves)
        shapely.prepare(everything)
        self._tree = shapely.STRtree(everything)
        self._edges = shapely.STRtree(shapely.boundary(everything))

    def distance(self, x: Floats, y: Floats) -> Floats:
        """Return how far points are from anything painted, 0 inside."""
        points = shapely.points(x, y)
        (which, _), found = self._tree.query_nearest(
            points, return_distance=True, all_matches=False
        )
        distance = np.full(len(points), np.inf)
        distance[which] = found
        return distance

    def covers(self, x: Floats, y: Floats, distance: Floats, radius: float) -> NDArray[np.bool_]:
        """Return which points, at such distances from paint, have paint all round for a radius."""
        inside = np.flatnonzero(distance == 0)
        covered = np.zeros(len(x), dtype=np.bool_)
        # No edge near: what is painted here is painted there.
        edges = self._edges.query(
            shapely.points(x[inside], y[inside]), predicate="dwithin", distance=radius
        )[0]
        covered[inside] = True
        covered[inside[edges]] = False
        return covered
