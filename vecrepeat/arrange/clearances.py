"""A raster of the torus that knows how far every point is from the art; and where motifs fit.

The raster lies along the lattice's two shortest vectors, so that going round it is the same
as going round the torus under any lattice: there are no edges and no corners.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from vecrepeat.arrange.crowd import Member
from vecrepeat.arrange.shapes import Shapes
from vecrepeat.arrange.torus import Torus
from vecrepeat.repeat.pose import Pose, cos_sin

Floats = NDArray[np.float64]
Map = NDArray[np.float32]
Points = NDArray[np.int64]

_EVERY = 8
"""Samples between two looks whether any place is left."""

_LARGE = 40_000
"""A raster of so many points is looked at more coarsely at first."""

_OPEN, _BEST = 400, 24
"""Points with most room that are tried; and the best of them, about which more are."""

SAMPLES = 40
"""Points by which a motif is tried all over the map: enough to tell places apart."""


class Clearances:
    """Distances from the art, all over one period.

    Args:
        torus: the repeated plane.
        shapes: the shapes that members refer to.
        cell: about how far apart the raster's points are, in mm.
        samples: points of a motif's edge by which it is tried.
    """

    def __init__(self, torus: Torus, shapes: Shapes, cell: float, samples: int = SAMPLES) -> None:
        self.torus, self.shapes, self.samples = torus, shapes, samples
        sides = [math.sqrt(v[0] ** 2 + v[1] ** 2) for v in (torus.a, torus.b)]
        self.size = (max(8, math.ceil(sides[0] / cell)), max(8, math.ceil(sides[1] / cell)))
        self.cell = max(side / n for side, n in zip(sides, self.size, strict=True))
        self.map: Map = np.full(self.size, 4 * torus.depth, dtype=np.float32)
        # The map and the same again to the right and below: a motif may reach over an edge.
        self._twice: Map = np.tile(self.map, (2, 2))
        self._probes: dict[int, tuple[Floats, Floats]] = {}

    def position(self, i: Floats, j: Floats) -> tuple[Floats, Floats]:
        """Return the raster's points in mm of the tile's plane, for indices with fractions too."""
        u, v = i / self.size[0], j / self.size[1]
        (ax, ay), (bx, by) = self.torus.a, self.torus.b
        return u * ax + v * bx, u * ay + v * by

    def indices(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Return the raster indices of points, fractions included."""
        a, b = self.torus.along_a, self.torus.along_b
        return (a[0] * x + a[1] * y) * self.size[0], (b[0] * x + b[1] * y) * self.size[1]

    def add(self, member: Member) -> None:
        """Take note of a motif that has been placed, and of its images."""
        for k, turn in enumerate(self.torus.turns):
            self._add(member.shape, turn.image(member.pose) if k else member.pose)

    def _add(self, shape: int, pose: Pose) -> None:
        radius = float(self.shapes.radius[shape]) * pose.scale
        # Some copy's anchor lies within the torus's depth of any point, and its outline within
        # a radius more: copies whose outlines are farther than that are not the nearest.
        reach = radius + min(float(self.map.max()), self.torus.depth + radius)
        ranges = []
        at = self.indices(np.array([pose.x]), np.array([pose.y]))
        for axis, row in enumerate((self.torus.along_a, self.torus.along_b)):
            most = reach * math.sqrt(row[0] ** 2 + row[1] ** 2) * self.size[axis]
            first, last = math.floor(at[axis][0] - most), math.ceil(at[axis][0] + most)
            # In pieces of at most one period, so that none meets itself.
            starts = range(first, last + 1, self.size[axis])
            ranges.append([np.arange(s, min(s + self.size[axis], last + 1)) for s in starts])
        cos, sin = cos_sin(pose.turn)
        for ii in ranges[0]:
            for jj in ranges[1]:
                x, y = self.position(ii[:, None].astype(float), jj[None].astype(float))
                x, y = x - pose.x, y - pose.y
                here = np.ix_(ii % self.size[0], jj % self.size[1])
                # Where even the disc that holds it is further than what is there, it is not asked.
                known = self.map[here]
                nearer = np.sqrt(x * x + y * y) - radius < known
                i, j = (field[nearer] for field in np.broadcast_arrays(*here))
                x, y = x[nearer], y[nearer]
                u, v = (cos * x + sin * y) / pose.scale, (cos * y - sin * x) / pose.scale
                number = np.full(u.shape, shape, dtype=np.int64)
                distance, _, _ = self.shapes.distance(number, -u if pose.flip else u, v)
                nearest = np.minimum(known[nearer], distance * pose.scale)
                self.map[i, j] = nearest
                for down in (0, self.size[0]):
                    for right in (0, self.size[1]):
                        self._twice[i + down, j + right] = nearest

    def gaps(self, shape: int, pose: Pose, least: float = -math.inf) -> tuple[Map, Map]:
        """Return how far a motif would be from the art, its anchor on each of the points.

        Args:
            shape: the motif's shape's number.
            pose: how it would lie; its position is of no account.
            least: in mm: once all gaps are found to be less, they are not found any closer.

        Returns:
            About the distance in mm between the outlines, negative where they meet; and the
            mean distance of the motif's edge from the art: the less, the snugger it lies.
        """
        di, dj, depth = self._offsets(shape, pose)
        ni, nj = self.size
        twice = self._twice
        gaps = np.full(self.size, np.inf, dtype=np.float32)
        mean = np.zeros(self.size, dtype=np.float32)
        seen: set[tuple[int, int, float]] = set()
        choosy = least > -math.inf
        for r, c, deep in zip(di.tolist(), dj.tolist(), depth.tolist(), strict=True):
            if (r, c, deep) in seen:
                continue
            if choosy and len(seen) % _EVERY == _EVERY - 1 and float(gaps.max()) < least:
                break
            seen.add((r, c, deep))
            window = twice[r : r + ni, c : c + nj]
            np.minimum(gaps, window - np.float32(deep * pose.scale) if deep else window, out=gaps)
            if not deep:
                mean += window
        return gaps, mean / np.float32(sum(1 for _, _, deep in seen if not deep))

    def open_points(self, allowed: NDArray[np.bool_] | None) -> Points:
        """Return the numbers of some hundred points with most room about them, row by row.

        Args:
            allowed: which points may be returned; all of them where it is None.
        """
        nj = self.size[1]
        step = self._step
        room = self.map[::step, ::step]
        if allowed is not None:
            room = np.where(allowed[::step, ::step], room, np.float32(-np.inf))
        room = room.ravel()
        least = max(float(np.sort(room)[-min(_OPEN, len(room))]), -1e30)
        best = np.flatnonzero(room >= least)
        i, j = np.divmod(best[:: max(1, len(best) // _OPEN)], -(-nj // step))
        points: Points = i * step * nj + j * step
        return points

    def about(self, at: Points, gaps: Map) -> Points:
        """Return the points about the best of some, between which others were left out."""
        ni, nj = self.size
        best = at[np.argsort(-np.round(gaps, 3), kind="stable")[:_BEST]]
        around = np.arange(self._step) - self._step // 2
        i, j = np.divmod(best, nj)
        more = (i[:, None] + around)[:, :, None] % ni * nj + (j[:, None] + around)[:, None] % nj
        points: Points = more.ravel()
        return points

    def gaps_at(self, shape: int, pose: Pose, at: Points) -> Map:
        """Return what :meth:`gaps` does at some points, by their numbers."""
        nj = self.size[1]
        di, dj, depth = self._offsets(shape, pose)
        there = (at + at // nj * nj)[:, None] + (di * (2 * nj) + dj)
        deep = (depth * pose.scale).astype(np.float32)
        found: Map = (self._twice.ravel().take(there) - deep).min(axis=1, initial=np.inf)
        return found

    @property
    def _step(self) -> int:
        """Every so many points are looked at at first, across and down."""
        return 2 if self.map.size < _LARGE else 3

    def _offsets(self, shape: int, pose: Pose) -> tuple[Points, Points, Floats]:
        """Return how many points off an anchor a motif's samples lie, and how deep in it."""
        points, depth = self.probe(shape)
        cos, sin = cos_sin(pose.turn)
        across = -pose.scale if pose.flip else pose.scale
        u, v = points[:, 0] * across, points[:, 1] * pose.scale
        i, j = self.indices(cos * u - sin * v, sin * u + cos * v)
        ni, nj = self.size
        return np.round(i).astype(np.int64) % ni, np.round(j).astype(np.int64) % nj, depth

    def probe(self, shape: int) -> tuple[Floats, Floats]:
        """Return a shape's samples thinned out evenly, and how deep in it they lie."""
        if shape not in self._probes:
            first, last = self.shapes.first[shape], self.shapes.first[shape + 1]
            depth = self.shapes.depth[first:last]
            parts = []
            for chosen, most in (
                (np.flatnonzero(depth == 0), self.samples),
                (np.flatnonzero(depth), 12),
            ):
                parts.append(chosen[:: max(1, math.ceil(len(chosen) / most))])
            keep = np.concatenate(parts)
            self._probes[shape] = self.shapes.samples[first:last][keep], depth[keep]
        return self._probes[shape]
