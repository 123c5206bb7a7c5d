"""The repeated plane as a torus: what a lattice does to points, whatever the lattice."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from vecrepeat.repeat import Repeat

Floats = NDArray[np.float64]


class Torus:
    """One period of a lattice, its edges joined.

    Args:
        repeat: whose lattice it is; its placements don't matter.

    Attributes:
        a: the shortest vector of the lattice, in mm.
        b: the shortest that is not along a.
        area: of one period, in mm².
    """

    def __init__(self, repeat: Repeat) -> None:
        lattice = repeat.lattice
        self._a = (float(lattice.a.x), float(lattice.a.y))
        self._b = (float(lattice.b.x), float(lattice.b.y))
        self.area = float(lattice.area)
        self.a, self.b = _shortest(self._a, self._b)
        det = self.a[0] * self.b[1] - self.a[1] * self.b[0]
        # Rows of the inverse of (a b): a point's coordinates along a and b.
        self.along_a = (self.b[1] / det, -self.b[0] / det)
        self.along_b = (-self.a[1] / det, self.a[0] / det)
        self._near = lru_cache(maxsize=32)(self._vectors)

    @property
    def shortest(self) -> float:
        """How far a motif is from its own nearest copy, in mm."""
        return math.sqrt(self.a[0] ** 2 + self.a[1] ** 2)

    @property
    def depth(self) -> float:
        """A distance within which any point has a copy of any other."""
        return (self.shortest + math.sqrt(self.b[0] ** 2 + self.b[1] ** 2)) / 2

    def vectors(self, reach: float) -> Floats:
        """Return all lattice vectors of length up to ``reach``, the zero vector first."""
        # Whole steps, so that neighbouring questions share an answer.
        return self._near(math.ceil(reach / self.shortest * 4) / 4)

    def _vectors(self, steps: float) -> Floats:
        reach = steps * self.shortest * (1 + 1e-9)
        ranges = []
        for row in (self.along_a, self.along_b):
            most = math.ceil(reach * math.sqrt(row[0] ** 2 + row[1] ** 2)) + 1
            ranges.append(np.arange(-most, most + 1, dtype=np.float64))
        i, j = (g.ravel() for g in np.meshgrid(*ranges, indexing="ij"))
        x, y = i * self.a[0] + j * self.b[0], i * self.a[1] + j * self.b[1]
        long = x * x + y * y
        keep = np.flatnonzero(long <= reach * reach)
        order = np.lexsort((keep, (i[keep] != 0) | (j[keep] != 0)))
        found: Floats = np.stack([x, y], axis=1)[keep[order]]
        found.setflags(write=False)
        return found

    def home(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Return the copies of points that lie in the tile.

        Where the lattice has no tile-shaped period, that is the parallelogram of its vectors.
        """
        (ax, ay), (bx, by) = self._a, self._b
        if bx == 0:
            i = np.floor(x / ax)
            x, y = x - i * ax, y - i * ay
            j = np.floor(y / by)
            return x, y - j * by
        det = ax * by - ay * bx
        j = np.floor(y / by if ay == 0 else (ax * y - ay * x) / det)
        x, y = x - j * bx, y - j * by
        if ay == 0:
            return x - np.floor(x / ax) * ax, y
        i = np.floor((by * x - bx * y) / det)
        return x - i * ax, y - i * ay


def _shortest(
    a: tuple[float, float], b: tuple[float, float]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the two shortest vectors that make the same lattice (Gauss's reduction)."""
    for _ in range(10_000):
        if a[0] ** 2 + a[1] ** 2 > b[0] ** 2 + b[1] ** 2:
            a, b = b, a
        steps = round((a[0] * b[0] + a[1] * b[1]) / (a[0] ** 2 + a[1] ** 2))
        if steps == 0:
            break
        b = (b[0] - steps * a[0], b[1] - steps * a[1])
    return a, b
