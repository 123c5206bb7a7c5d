"""The repeated plane as a torus: what a lattice does to points, whatever the lattice."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from vecrepeat.core.allowance import COPIES
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import IDENTITY, Affine
from vecrepeat.core.units import format_mm
from vecrepeat.repeat.model import Repeat
from vecrepeat.repeat.pose import Pose
from vecrepeat.repeat.ranks import DIRECTIONS
from vecrepeat.repeat.wrap import onto_tile

Floats = NDArray[np.float64]


class Turned(NamedTuple):
    """One of a layout's operations: a flip across, a turn about the origin, a move.

    Attributes:
        turn: in degrees, clockwise as seen.
        flip: whether it mirrors, left to right before it turns.
        affine: the same as a matrix, in mm.
    """

    turn: float
    flip: bool
    affine: Affine

    @classmethod
    def of(cls, affine: Affine) -> Turned:
        """Return the operation that a matrix is; it must keep lengths."""
        turn = math.degrees(math.atan2(-affine.c, affine.d)) % 360.0
        # Of plane groups there are none but multiples of 30°.
        return cls(round(turn / 30) * 30.0 % 360.0, affine.determinant < 0, affine)

    def image(self, pose: Pose) -> Pose:
        """Return how a motif's image lies."""
        x, y = self.affine.apply(np.array([[pose.x, pose.y]]))[0].tolist()
        turn = self.turn - pose.turn if self.flip else self.turn + pose.turn
        return Pose(x, y, turn % 360.0, pose.scale, pose.flip != self.flip)


class Torus:
    """One period of a lattice, its edges joined.

    Args:
        repeat: whose lattice it is; its placements don't matter.
        clearance: the least distance in mm between motifs that are to lie on it.

    Raises:
        InputError: no motif is that far from its own nearest copy.

    Attributes:
        a: the shortest vector of the lattice, in mm.
        b: the shortest that is not along a.
        area: of one period, in mm².
        turns: the layout's operations, the one that moves nothing first: a motif lies on a
            period as often.
        region: the part of a period that they make all of it from, corners in mm.
    """

    def __init__(self, repeat: Repeat, clearance: float = 0.0) -> None:
        self._lattice = repeat.lattice
        self.area = float(self._lattice.area)
        self.a, self.b = self._lattice.shortest
        if clearance >= self.shortest:
            raise InputError(
                f"a clearance of {format_mm(clearance)} leaves no room: every motif comes again "
                f"after {format_mm(self.shortest)}",
                hint="lower the clearance, or give the tile more room",
            )
        det = self.a[0] * self.b[1] - self.a[1] * self.b[0]
        # Rows of the inverse of (a b): a point's coordinates along a and b.
        self.along_a = (self.b[1] / det, -self.b[0] / det)
        self.along_b = (-self.a[1] / det, self.a[0] / det)
        self._near = lru_cache(maxsize=32)(self._vectors)
        symmetry = repeat.symmetry
        self.turns: tuple[Turned, ...] = (Turned(0.0, False, IDENTITY),)
        self.region: list[tuple[float, float]] = []
        self._corner: tuple[float, float] = (0.0, 0.0)
        if symmetry is not None:
            self.turns = tuple(Turned.of(one) for one in symmetry.transforms)
            self.region = symmetry.region_mm
            # Home is about the region, so that motifs near its edges stay there.
            middle = np.array(self.region).mean(axis=0)
            self._corner = (
                float(middle[0]) - float(repeat.width) / 2,
                float(middle[1]) - float(repeat.height) / 2,
            )

    @property
    def region_area(self) -> float:
        """Of the part of a period, in mm², that the layout's turns make all of it from."""
        return self.area / len(self.turns)

    @property
    def shortest(self) -> float:
        """How far a motif is from its own nearest copy, in mm."""
        return math.sqrt(self.a[0] ** 2 + self.a[1] ** 2)

    @property
    def depth(self) -> float:
        """A distance within which any point has a copy of any other."""
        return (self.shortest + math.sqrt(self.b[0] ** 2 + self.b[1] ** 2)) / 2

    def within_depth(self, apart: float) -> float:
        """Return a distance, or one that no two kinds can keep either where it is longer."""
        return min(apart, 1.001 * self.depth)

    def vectors(self, reach: float) -> Floats:
        """Return all lattice vectors of length up to ``reach``, the zero vector first.

        Raises:
            InputError: there are more than :data:`vecrepeat.core.allowance.COPIES`.
        """
        if math.pi * reach**2 > COPIES * self.area:
            raise InputError(
                f"what lies {reach:.6g} mm apart has more than {COPIES:,} copies in between",
                hint="ask for smaller distances, smaller motifs or a larger tile",
            )
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

    def squares(self, steps: Floats) -> Floats:
        """Return the squares of about the shortest lengths that steps have on the cloth.

        Args:
            steps: in mm, shape (n, 2); they may lead to any copy of where they lead.
        """
        u, v = steps @ np.array(self.along_a), steps @ np.array(self.along_b)
        rest = np.stack([u - np.round(u), v - np.round(v)], axis=1) @ np.array([self.a, self.b])
        found: Floats = (rest * rest).sum(axis=1)
        return found

    def nearest(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Return the lattice vectors nearest to steps of ``(x, y)``, in mm."""
        (ax, ay), (bx, by) = self.a, self.b
        i = np.round(self.along_a[0] * x + self.along_a[1] * y)
        j = np.round(self.along_b[0] * x + self.along_b[1] * y)
        rest_x, rest_y = x - i * ax - j * bx, y - i * ay - j * by
        best = np.full(np.shape(x), np.inf)
        dx, dy = np.zeros(np.shape(x)), np.zeros(np.shape(x))
        # The vectors being the shortest, it is one of the corners about, or next to them.
        for m in (0, -1, 1):
            for n in (0, -1, 1):
                far = (rest_x - m * ax - n * bx) ** 2 + (rest_y - m * ay - n * by) ** 2
                nearer = far < best - 1e-9
                best = np.where(nearer, far, best)
                dx = np.where(nearer, (i + m) * ax + (j + n) * bx, dx)
                dy = np.where(nearer, (i + m) * ay + (j + n) * by, dy)
        return dx, dy

    def distances(self, one: Floats, other: Floats) -> Floats:
        """Return how far each of some points is from the nearest copy of each of others, in mm.

        Args:
            one: shape (n, 2).
            other: shape (m, 2).

        Returns:
            Shape (n, m).
        """
        far: Floats = np.sqrt(np.maximum(self.squared_distances(one, other), 0.0))
        return far

    def squared_distances(self, one: Floats, other: Floats) -> Floats:
        """Return the squares of :meth:`distances`, in less time."""
        (ax, ay), (bx, by) = self.a, self.b
        u, v = (
            (one @ np.array(row))[:, None] - (other @ np.array(row))
            for row in (self.along_a, self.along_b)
        )
        u -= np.round(u)
        v -= np.round(v)
        aa, ab, bb = ax * ax + ay * ay, ax * bx + ay * by, bx * bx + by * by
        far: Floats = aa * u * u + bb * v * v
        if abs(ab) > 1e-9 * aa:
            # The vectors being the shortest, it is the copy nearest along both, or the next
            # one along either.
            p, q = np.abs(u), np.abs(v)
            slant = 2 * ab * np.sign(u) * np.sign(v)
            far += slant * p * q
            along_a = aa * (1 - 2 * p) - slant * q
            along_b = bb * (1 - 2 * q) - slant * p
            far += np.minimum(np.minimum(along_a, along_b), 0.0)
        return far

    def in_region(self, x: float, y: float) -> tuple[float, float]:
        """Return a point's image, or itself, that lies in the region."""
        if not self.region:
            return x, y
        region = shapely.Polygon(self.region)
        there = [turn.affine.apply(np.array([[x, y]]))[0] for turn in self.turns]
        images = [self.home(p[:1], p[1:]) for p in there]
        points = [(float(u[0]), float(v[0])) for u, v in images]
        return min(points, key=lambda p: float(region.distance(shapely.Point(p))))

    def home(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Return the copies of points that lie on the tile, or on one about the region."""
        left, top = self._corner
        x, y = onto_tile(self._lattice, x - left, y - top)
        return x + left, y + top


def check_turns(torus: Torus, layout: str, direction: str) -> None:
    """Refuse a direction that a layout's turns rule out.

    Raises:
        InputError: images of motifs that lie in the direction would not.
    """
    if _closed(torus, DIRECTIONS[direction]):
        return
    possible = [name for name, turns in DIRECTIONS.items() if _closed(torus, turns)]
    raise InputError(
        f"layout “{layout}” turns its motifs, so they can't all lie {direction}",
        hint=f"use {' or '.join(possible)}, or another layout",
    )


def _closed(torus: Torus, directions: tuple[float, ...]) -> bool:
    """Whether images of motifs that lie in some directions lie in these too."""
    return all(
        (turn.turn + (-lies if turn.flip else lies)) % 360 in directions
        for turn in torus.turns
        for lies in directions
    )
