"""Placing motifs one after another, each where it has most room."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from vecrepeat.arrange.clearances import SAMPLES, Clearances
from vecrepeat.arrange.crowd import Crowd, Member
from vecrepeat.arrange.dice import Dice
from vecrepeat.arrange.likeness import Likeness
from vecrepeat.arrange.manner import Manner
from vecrepeat.arrange.settling import ROUNDING
from vecrepeat.arrange.shapes import Shapes
from vecrepeat.arrange.torus import Torus
from vecrepeat.repeat.pose import PLACE_DECIMALS, TURN_DECIMALS, Pose, cos_sin
from vecrepeat.repeat.ranks import DIRECTIONS

_FREE_TURNS, _SNUG_TURNS, _CROWD_TURNS = 6, 12, 3
"""Turns that are tried where turning is free; where room must not be wasted; and in a crowd."""

_LEAN = 12.0
"""How far in degrees lettering may lean where all else is turned freely: it is to be read."""

_SECTORS = 18
"""Turns by which motifs are tried that lie otherwise from place to place."""

_CROWD = 150
"""Among so many motifs it matters little how one of them is turned."""

_GOOD = 0.35
"""How much less room than the best a place may have where it lies further from its like."""

_CHOICE = 300
"""How many of the good places are held against what lies about them."""

_BEST, _WIDER = 120, 120
"""Places that are tried against a motif's own images: with most room, and with room at all."""

Floats = NDArray[np.float64]


class Found(NamedTuple):
    """A place for a motif.

    Attributes:
        pose: how it would lie there.
        gap: about how far in mm it would be from all else.
    """

    pose: Pose
    gap: float


class Places(NamedTuple):
    """Points of the raster where a motif might lie.

    Attributes:
        at: their numbers, row by row.
        gaps: how far in mm the motif would be from all else.
        worth: what places are compared by.
    """

    at: NDArray[np.int64]
    gaps: NDArray[np.float32]
    worth: NDArray[np.float32]


class Placer:
    """Finds room for motifs on a torus.

    Args:
        torus: the repeated plane.
        shapes: the shapes that members refer to.
        cell: of the raster, in mm.
        manner: how motifs may lie.
        dice: of this toss.
        members: what lies there already.
        samples: points of a motif's edge by which it is tried.
        likeness: keeps motifs away from their like; None puts them where there is most room.
    """

    def __init__(
        self,
        torus: Torus,
        shapes: Shapes,
        cell: float,
        manner: Manner,
        dice: Dice,
        members: Sequence[Member],
        samples: int = SAMPLES,
        likeness: Likeness | None = None,
    ) -> None:
        self.torus, self.shapes, self.manner, self.dice = torus, shapes, manner, dice
        self.likeness = likeness
        self.members: list[Member] = []
        self._rests: dict[float, NDArray[np.bool_]] = {}
        self._allowed: dict[int, tuple[NDArray[np.bool_], int]] = {}
        self.clearances = Clearances(torus, shapes, cell, samples)
        self._region = self._in_region() if len(torus.turns) > 1 else None
        for member in members:
            self.put(member)

    def put(self, member: Member) -> None:
        """Place a motif."""
        self.members.append(member)
        self.clearances.add(member)

    def find(
        self, shape: int, scale: float, *, snug: bool = False, least: float = -math.inf
    ) -> Found | None:
        """Return the place where a motif has most room, or None where it can lie nowhere.

        The gap found may be less than the clearance, and even negative.

        Args:
            shape: the motif's shape's number.
            scale: the motif's.
            snug: return the place that keeps the clearance but wastes least room, instead.
            least: a gap in mm; places with less are of no use, and soon given up.
        """
        found = None if snug else self._found(shape, scale, least, snug=False, thorough=False)
        if found is None or found.gap < least:
            found = self._found(shape, scale, least, snug=snug, thorough=True)
        return found

    def _found(
        self, shape: int, scale: float, least: float, *, snug: bool, thorough: bool
    ) -> Found | None:
        """Return what :meth:`find` does, of all points of the raster or of the most hopeful."""
        allowed = self._far_from_own_kind(shape)
        if self._region is not None:
            allowed = self._region if allowed is None else allowed & self._region
        best: tuple[float, Places, Pose] | None = None
        open_points = None if thorough else self.clearances.open_points(allowed)
        free = _CROWD_TURNS if len(self.members) > _CROWD else _FREE_TURNS
        everywhere = allowed
        for pose in self.ways(shape, scale, _SNUG_TURNS if snug else free):
            if not self._clears_itself(shape, pose):
                continue
            if self.manner.flow is not None:
                there = self._where(pose.turn)
                allowed = there if everywhere is None else everywhere & there
            if open_points is None:
                gaps, edge = self.clearances.gaps(shape, pose, least)
                if allowed is not None:
                    gaps = np.where(allowed, gaps, np.float32(-np.inf))
                places = Places(np.arange(gaps.size), gaps.ravel(), gaps.ravel())
            else:
                places = self._about(open_points, shape, pose, allowed)
            if self._region is not None and len(places.at):
                places = self._clear_of_images(places, shape, pose)
            if snug:
                worth = np.where(
                    places.gaps >= self.manner.clearance,
                    -edge.ravel()[places.at],
                    np.float32(-np.inf),
                )
                places = places._replace(worth=worth)
            if not len(places.at):
                continue
            # Compared in steps far above the last bits of what other machines reckon.
            most = round(float(places.worth.max()), 3)
            if math.isfinite(most) and (best is None or most > best[0]):
                best = (most, places, pose)
        if best is None:
            return None
        most, places, pose = best
        at_best = self._chosen(shape, places, most)
        x, y = self._home(places.at[at_best : at_best + 1])
        placed = pose._replace(
            x=round(float(x[0]), PLACE_DECIMALS), y=round(float(y[0]), PLACE_DECIMALS)
        )
        if self.manner.flow is not None:
            rest = float(self.manner.flow.rest(x, y, np.full(1, pose.turn))[0])
            sway = self.dice.between(-self.manner.sway, self.manner.sway)
            placed = placed._replace(turn=round(rest + sway, TURN_DECIMALS) % 360.0)
        return Found(placed, float(places.gaps[at_best]))

    def _about(
        self,
        open_points: NDArray[np.int64],
        shape: int,
        pose: Pose,
        allowed: NDArray[np.bool_] | None,
    ) -> Places:
        """Return points with much room as places of a motif, and more about the best of them."""
        clearances = self.clearances
        gaps = clearances.gaps_at(shape, pose, open_points)
        more = clearances.about(open_points, gaps)
        if allowed is not None:
            more = more[allowed.ravel()[more]]
        at = np.concatenate([open_points, more])
        gaps = np.concatenate([gaps, clearances.gaps_at(shape, pose, more)])
        if allowed is not None:
            gaps = np.where(allowed.ravel()[at], gaps, np.float32(-np.inf))
        return Places(at, gaps, gaps)

    def _home(self, at: NDArray[np.int64]) -> tuple[Floats, Floats]:
        """Return where points of the raster lie in the tile, in mm."""
        i, j = np.divmod(at, self.clearances.size[1])
        x, y = self.clearances.position(i.astype(np.float64), j.astype(np.float64))
        return self.torus.home(x, y)

    def _chosen(self, shape: int, places: Places, most: float) -> int:
        """Return the number of a good place: far from the motif's like, else any of the best.

        Args:
            shape: the motif's shape's number.
            places: where it might lie.
            most: what the best of them is worth.
        """
        worth = np.round(places.worth, 3)
        if self.likeness is None or not self.members:
            # Any place that is nearly the best: seeds should differ, and rows not line up.
            nearly = np.flatnonzero(worth >= most - max(0.02, 0.05 * max(most, 0)))
            return self.dice.pick(nearly.tolist())
        snug = places.worth is not places.gaps
        less = 0.02 if snug else max(0.02, _GOOD * abs(most))
        clear = min(float(places.gaps.max()), self.manner.clearance)
        good = np.flatnonzero((worth >= most - less) & (places.gaps >= clear))
        stride = max(1, len(good) // _CHOICE)
        good = good[self.dice.below(stride) :: stride]
        presses = self.likeness.at(shape, *self._home(places.at[good]), self.members)
        least_pressed = np.flatnonzero(presses <= 1.05 * presses.min())
        return int(good[self.dice.pick(least_pressed.tolist())])

    def _in_region(self) -> NDArray[np.bool_]:
        """Return which points of the raster lie in the region that the layout turns."""
        ni, nj = self.clearances.size
        rows, columns = np.arange(ni, dtype=np.float64), np.arange(nj, dtype=np.float64)
        x, y = self.torus.home(*self.clearances.position(rows[:, None], columns[None]))
        inside: NDArray[np.bool_] = shapely.contains_xy(shapely.Polygon(self.torus.region), x, y)
        return inside

    def _clear_of_images(self, places: Places, shape: int, pose: Pose) -> Places:
        """Return some of the best places, their gaps to the motif's own images counted too."""
        gaps = places.gaps
        most = float(gaps.max())
        chosen = []
        # Where there is most room the motif's own images may stand in the way: look wider too.
        for least, count in ((min(most, 0.6 * most), _BEST), (self.manner.clearance, _WIDER)):
            good = np.flatnonzero(gaps >= min(least, most))
            stride = max(1, len(good) // count)
            chosen.append(good[self.dice.below(stride) :: stride])
        some = np.unique(np.concatenate(chosen))
        some = some[np.isfinite(gaps[some])]
        own = self._to_images(shape, pose, *self._home(places.at[some]))
        least_gaps = np.minimum(gaps[some], own).astype(np.float32)
        return Places(places.at[some], least_gaps, least_gaps)

    def _to_images(self, shape: int, pose: Pose, x: Floats, y: Floats) -> Floats:
        """Return about how far a motif is from its own turned images, at many places."""
        torus, apart = self.torus, self.manner.same_apart
        points, depth = self.clearances.probe(shape)
        cos, sin = cos_sin(pose.turn)
        u, v = points[:, 0] * (-pose.scale if pose.flip else pose.scale), points[:, 1] * pose.scale
        px, py = cos * u - sin * v, sin * u + cos * v
        # Beyond this it is far enough not to matter which.
        reach = 2 * float(self.shapes.radius[shape]) * pose.scale + 2 * self.manner.clearance
        reach = max(reach, apart)
        nearest = np.full(len(x), np.inf)
        (ax, ay), (bx, by) = torus.a, torus.b
        for turn in torus.turns[1:]:
            image = turn.image(pose)
            there = turn.affine.apply(np.stack([x, y], axis=1))
            dx, dy = there[:, 0] - x, there[:, 1] - y
            i = np.round(torus.along_a[0] * dx + torus.along_a[1] * dy)
            j = np.round(torus.along_b[0] * dx + torus.along_b[1] * dy)
            dx, dy = dx - i * ax - j * bx, dy - i * ay - j * by
            cos, sin = cos_sin(image.turn)
            for step in torus.vectors(reach + torus.depth):
                sx, sy = dx + step[0], dy + step[1]
                far = np.sqrt(sx * sx + sy * sy)
                near = np.flatnonzero(far < reach)
                if not len(near):
                    continue
                # The motif's samples in its image's frame.
                qx, qy = px - sx[near, None], py - sy[near, None]
                p, q = (cos * qx + sin * qy) / pose.scale, (cos * qy - sin * qx) / pose.scale
                number = np.full(p.shape, shape, dtype=np.int64)
                distance, _, _ = self.shapes.distance(number, -p if image.flip else p, q)
                gap = ((distance - depth) * pose.scale).min(axis=1)
                if apart:
                    gap = np.where(far[near] < apart, -np.inf, gap)
                nearest[near] = np.minimum(nearest[near], gap)
        return nearest

    def member(self, shape: int, rank: int, pose: Pose) -> Member:
        """Return a motif that lies in a pose, free to move as the manner allows."""
        directions = DIRECTIONS[self.manner.direction]
        if self.manner.flow is not None:
            at = (np.full(1, value) for value in pose[:3])
            return Member(shape, pose, rank, self.manner.play, float(self.manner.flow.rest(*at)[0]))
        if not directions and self.shapes.all[shape].lettered:
            return Member(shape, pose, rank, _LEAN, 0.0)
        if not directions:
            return Member(shape, pose, rank, self.manner.play, pose.turn)
        rest = min(directions, key=lambda d: abs((pose.turn - d + 180) % 360 - 180))
        return Member(shape, pose, rank, self.manner.play, rest)

    def ways(self, shape: int, scale: float, free: int = _FREE_TURNS) -> list[Pose]:
        """Return how a motif is tried: all its directions, the ones it is used in least first."""
        dice = self.dice
        sway = self.manner.sway
        directions = DIRECTIONS[self.manner.direction]
        if self.manner.flow is not None:
            turns = [k * 360 / _SECTORS for k in range(_SECTORS)]
            turns = [turn for turn in turns if self._where(turn).any()]
        elif not directions and self.shapes.all[shape].lettered:
            turns = [dice.between(-_LEAN, _LEAN)]
        elif not directions:
            first = dice.unit() * 360 / free
            turns = [first + k * 360 / free for k in range(free)]
        else:
            turns = [d + dice.between(-sway, sway) for d in self._least_used(shape, directions)]
        flips = [self.manner.flip and dice.below(2) == 1 for _ in turns]
        if self.shapes.all[shape].lettered:
            flips = [False] * len(turns)
        return [
            Pose(0.0, 0.0, round(turn, TURN_DECIMALS) % 360.0, scale, flip)
            for turn, flip in zip(turns, flips, strict=True)
        ]

    def _where(self, turn: float) -> NDArray[np.bool_]:
        """Return at which points of the raster motifs rest at about a turn."""
        assert self.manner.flow is not None
        if turn not in self._rests:
            ni, nj = self.clearances.size
            rows, columns = np.arange(ni, dtype=np.float64), np.arange(nj, dtype=np.float64)
            x, y = self.clearances.position(rows[:, None], columns[None])
            off = self.manner.flow.rest(x, y, np.full(x.shape, turn)) - turn
            self._rests[turn] = np.abs((off + 180) % 360 - 180) <= 180 / _SECTORS
        return self._rests[turn]

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
        like = [
            turn.image(m.pose)
            for m in self.members[seen:]
            if self.shapes.kind[m.shape] == kind
            for turn in self.torus.turns
        ]
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
