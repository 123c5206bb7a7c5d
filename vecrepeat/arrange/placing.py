"""Placing motifs one after another, each where it has most room."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from vecrepeat.arrange.clearances import Clearances
from vecrepeat.arrange.crowd import Crowd, Member
from vecrepeat.arrange.dice import Dice
from vecrepeat.arrange.settings import DIRECTIONS
from vecrepeat.arrange.settling import ROUNDING
from vecrepeat.arrange.shapes import Shapes
from vecrepeat.arrange.torus import Torus
from vecrepeat.pose import PLACE_DECIMALS, TURN_DECIMALS, Pose

_FREE_TURNS, _SNUG_TURNS = 6, 12
"""Turns that are tried where turning is free; and where room must not be wasted."""


class Manner(NamedTuple):
    """How motifs may lie.

    Attributes:
        clearance: in mm.
        direction: a key of :data:`DIRECTIONS`.
        sway: in degrees.
        flip: whether mirrored.
        same_apart: in mm.
    """

    clearance: float
    direction: str
    sway: float
    flip: bool
    same_apart: float

    @property
    def play(self) -> float:
        """How far a motif may be turned while gaps are evened out."""
        return 180.0 if self.direction == "free" else self.sway


class Found(NamedTuple):
    """A place for a motif.

    Attributes:
        pose: how it would lie there.
        gap: about how far in mm it would be from all else.
    """

    pose: Pose
    gap: float


class Placer:
    """Finds room for motifs on a torus.

    Args:
        torus: the repeated plane.
        shapes: the shapes that members refer to.
        cell: of the raster, in mm.
        manner: how motifs may lie.
        dice: of this toss.
        members: what lies there already.
    """

    def __init__(
        self,
        torus: Torus,
        shapes: Shapes,
        cell: float,
        manner: Manner,
        dice: Dice,
        members: Sequence[Member],
    ) -> None:
        self.torus, self.shapes, self.manner, self.dice = torus, shapes, manner, dice
        self.members: list[Member] = []
        self._allowed: dict[int, tuple[NDArray[np.bool_], int]] = {}
        self.clearances = Clearances(torus, shapes, cell)
        for member in members:
            self.put(member)

    def put(self, member: Member) -> None:
        """Place a motif."""
        self.members.append(member)
        self.clearances.add(member)

    def find(self, shape: int, scale: float, *, snug: bool = False) -> Found | None:
        """Return the place where a motif has most room, or None where it can lie nowhere.

        The gap found may be less than the clearance, and even negative.

        Args:
            shape: the motif's shape's number.
            scale: the motif's.
            snug: return the place that keeps the clearance but wastes least room, instead.
        """
        allowed = self._far_from_own_kind(shape)
        best: tuple[float, NDArray[np.float32], Pose] | None = None
        for pose in self.ways(shape, scale, _SNUG_TURNS if snug else _FREE_TURNS):
            if not self._clears_itself(shape, pose):
                continue
            gaps, edge = self.clearances.gaps(shape, pose)
            if snug:
                gaps = np.where(gaps >= self.manner.clearance, -edge, np.float32(-np.inf))
            if allowed is not None:
                gaps = np.where(allowed, gaps, np.float32(-np.inf))
            # Compared in steps far above the last bits of what other machines reckon.
            most = round(float(gaps.max()), 3)
            if math.isfinite(most) and (best is None or most > best[0]):
                best = (most, gaps, pose)
        if best is None:
            return None
        most, gaps, pose = best
        # Any place that is nearly the best: seeds should differ, and rows not line up.
        nearly = np.flatnonzero(
            np.round(gaps.ravel(), 3) >= most - max(0.02, 0.05 * max(most, 0.0))
        )
        at = self.dice.pick(nearly.tolist())
        i, j = divmod(at, self.clearances.size[1])
        x, y = self.clearances.position(np.full(1, float(i)), np.full(1, float(j)))
        x, y = self.torus.home(x, y)
        placed = pose._replace(
            x=round(float(x[0]), PLACE_DECIMALS), y=round(float(y[0]), PLACE_DECIMALS)
        )
        return Found(placed, self.manner.clearance if snug else most)

    def member(self, shape: int, rank: int, pose: Pose) -> Member:
        """Return a motif that lies in a pose, free to move as the manner allows."""
        directions = DIRECTIONS[self.manner.direction]
        if not directions:
            return Member(shape, pose, rank, self.manner.play, pose.turn)
        rest = min(directions, key=lambda d: abs((pose.turn - d + 180) % 360 - 180))
        return Member(shape, pose, rank, self.manner.play, rest)

    def ways(self, shape: int, scale: float, free: int = _FREE_TURNS) -> list[Pose]:
        """Return how a motif is tried: all its directions, the ones it is used in least first."""
        dice = self.dice
        sway = self.manner.sway
        directions = DIRECTIONS[self.manner.direction]
        if not directions:
            first = dice.unit() * 360 / free
            turns = [first + k * 360 / free for k in range(free)]
        else:
            turns = [d + dice.between(-sway, sway) for d in self._least_used(shape, directions)]
        flips = [self.manner.flip and dice.below(2) == 1 for _ in turns]
        return [
            Pose(0.0, 0.0, round(turn, TURN_DECIMALS) % 360.0, scale, flip)
            for turn, flip in zip(turns, flips, strict=True)
        ]

    def _least_used(self, shape: int, directions: tuple[float, ...]) -> list[float]:
        """Return the directions in which a motif has been placed least.

        A print with as many motifs this way as that has no up and down.
        """
        uses = dict.fromkeys(directions, 0)
        for member in self.members:
            if member.shape == shape and member.rank >= 0:
                uses[member.rest] += 1
        least = min(uses.values())
        return [d for d, n in uses.items() if n == least]

    def _clears_itself(self, shape: int, pose: Pose) -> bool:
        reach = 2 * float(self.shapes.radius[shape]) * pose.scale + self.manner.clearance
        if reach < self.torus.shortest:
            return True
        crowd = Crowd.of(self.torus, self.shapes, [Member(shape, pose, 0)])
        here = crowd.outlines(np.zeros(1, dtype=np.int64))[0]
        shapely.prepare(here)
        limit = self.manner.clearance + ROUNDING
        return not any(
            shapely.dwithin(here, shapely.transform(here, lambda p, v=v: p + v), limit)
            for v in self.torus.vectors(reach)[1:]
        )

    def _far_from_own_kind(self, shape: int) -> NDArray[np.bool_] | None:
        """Return where a motif is far enough from its like, or None where it is everywhere."""
        apart = self.manner.same_apart
        if not apart:
            return None
        kind = int(self.shapes.kind[shape])
        allowed, seen = self._allowed.get(kind, (np.ones(self.clearances.size, dtype=np.bool_), 0))
        like = [m.pose for m in self.members[seen:] if self.shapes.kind[m.shape] == kind]
        ni, nj = self.clearances.size
        rows, columns = np.arange(ni, dtype=np.float64), np.arange(nj, dtype=np.float64)
        x, y = self.clearances.position(rows[:, None], columns[None])
        vectors = self.torus.vectors(apart + 2 * self.torus.depth)
        (ax, ay), (bx, by) = self.torus.a, self.torus.b
        for pose in like:
            u, v = self.clearances.indices(x - pose.x, y - pose.y)
            u, v = u / ni - np.round(u / ni), v / nj - np.round(v / nj)
            dx, dy = u * ax + v * bx, u * ay + v * by
            for step in vectors:
                allowed &= (dx - step[0]) ** 2 + (dy - step[1]) ** 2 >= apart * apart
        self._allowed[kind] = (allowed, len(self.members))
        return allowed


def cell_for(torus: Torus, smallest: float) -> float:
    """Return how fine a raster must be for motifs of a radius, in mm."""
    side = math.sqrt(torus.area)
    return min(max(smallest / 4, side / 300), side / 96)
