"""All motifs that lie on one period of the cloth, as arrays; and who is near whom."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from vecrepeat.arrange.shapes import Shapes
from vecrepeat.arrange.torus import Torus
from vecrepeat.repeat.pose import PLACE_DECIMALS, TURN_DECIMALS, Pose, cos_sin_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Member(NamedTuple):
    """One motif that is placed.

    Attributes:
        shape: its shape's number.
        pose: how it lies.
        rank: 0 for heroes, 1, 2; −1 for what was there before and stays.
        play: how far in degrees it may be turned from ``rest``; 180 and more for freely.
        rest: the turn it was placed with.
    """

    shape: int
    pose: Pose
    rank: int
    play: float = 0.0
    rest: float = 0.0


class Pairs(NamedTuple):
    """Who is near whom: ``one``, and ``other`` moved by ``(dx, dy)``; both ways round."""

    one: Ints
    other: Ints
    dx: Floats
    dy: Floats

    def only(self, keep: NDArray[np.bool_]) -> Pairs:
        """Return some of the pairs."""
        return Pairs(self.one[keep], self.other[keep], self.dx[keep], self.dy[keep])


@dataclass
class Crowd:
    """Motifs on a torus. The arrays are changed in place by those who move motifs.

    Where the layout turns, all members come first, then all their images under the second
    operation, and so on. Images are moved by :meth:`follow` alone.

    Attributes:
        torus: the repeated plane.
        shapes: the shapes that ``shape`` counts.
        shape: see :class:`Member`; so are the others.
    """

    torus: Torus
    shapes: Shapes
    shape: Ints
    x: Floats
    y: Floats
    turn: Floats
    scale: Floats
    flip: NDArray[np.bool_]
    rank: Ints
    play: Floats
    rest: Floats

    @classmethod
    def of(cls, torus: Torus, shapes: Shapes, members: list[Member]) -> Crowd:
        """Return the crowd of some members."""
        everyone = [
            m._replace(pose=turn.image(m.pose)) if k else m
            for k, turn in enumerate(torus.turns)
            for m in members
        ]
        poses = [m.pose for m in everyone]
        return cls(
            torus,
            shapes,
            np.array([m.shape for m in everyone], dtype=np.int64),
            np.array([p.x for p in poses], dtype=np.float64),
            np.array([p.y for p in poses], dtype=np.float64),
            np.array([p.turn for p in poses], dtype=np.float64),
            np.array([p.scale for p in poses], dtype=np.float64),
            np.array([p.flip for p in poses], dtype=np.bool_),
            np.array([m.rank for m in everyone], dtype=np.int64),
            np.array([m.play for m in everyone], dtype=np.float64),
            np.array([m.rest for m in everyone], dtype=np.float64),
        )

    @property
    def leaders(self) -> int:
        """How many members there are; all others are images of theirs."""
        return len(self) // len(self.torus.turns)

    def follow(self) -> None:
        """Bring all images to where their members' now are."""
        n = self.leaders
        points = np.stack([self.x[:n], self.y[:n]], axis=1)
        for k, turn in enumerate(self.torus.turns[1:], 1):
            those = slice(k * n, (k + 1) * n)
            there = turn.affine.apply(points)
            self.x[those], self.y[those] = there[:, 0], there[:, 1]
            lean = -self.turn[:n] if turn.flip else self.turn[:n]
            self.turn[those] = (turn.turn + lean) % 360.0
            self.flip[those] = self.flip[:n] != turn.flip

    def __len__(self) -> int:
        return len(self.shape)

    def member(self, k: int) -> Member:
        """Return one of them as it lies now."""
        return Member(
            int(self.shape[k]),
            self.pose(k),
            int(self.rank[k]),
            float(self.play[k]),
            float(self.rest[k]),
        )

    def members(self) -> list[Member]:
        """Return all members as they lie now, without their images."""
        return [self.member(k) for k in range(self.leaders)]

    def pose(self, k: int) -> Pose:
        """Return how one lies."""
        return Pose(
            float(self.x[k]),
            float(self.y[k]),
            float(self.turn[k]),
            float(self.scale[k]),
            bool(self.flip[k]),
        )

    @property
    def radius(self) -> Floats:
        """Of a disc about each anchor that holds the motif."""
        radius: Floats = self.shapes.radius[self.shape] * self.scale
        return radius

    @property
    def moves(self) -> NDArray[np.bool_]:
        """Which may be moved, or follow what may."""
        moves: NDArray[np.bool_] = self.rank >= 0
        return moves

    @property
    def leads(self) -> NDArray[np.bool_]:
        """Which may be moved by themselves."""
        leads = self.moves
        leads[self.leaders :] = False
        return leads

    def linear(self) -> tuple[Floats, Floats, Floats]:
        """Return cosine, sine, and the scale across (negative where flipped) of each."""
        cos, sin = cos_sin_of(self.turn)
        return cos, sin, np.where(self.flip, -self.scale, self.scale)

    def laid(self, which: Ints, geometries: NDArray[np.object_]) -> NDArray[np.object_]:
        """Return geometries, one for each member of ``which``, as those members lie."""
        cos, sin, across = (v[which] for v in self.linear())
        down, x, y = self.scale[which], self.x[which], self.y[which]
        points, owner = shapely.get_coordinates(geometries, return_index=True)
        u, v = points[:, 0] * across[owner], points[:, 1] * down[owner]
        placed = np.empty_like(points)
        placed[:, 0] = cos[owner] * u - sin[owner] * v + x[owner]
        placed[:, 1] = sin[owner] * u + cos[owner] * v + y[owner]
        # New geometries are put into the array that it is given.
        laid: NDArray[np.object_] = shapely.set_coordinates(geometries.copy(), placed)
        return laid

    def shells(self, which: Ints) -> NDArray[np.object_]:
        """Return the shells of some as they lie."""
        return self.laid(which, self._geometries(which, "shell"))

    def outlines(self, which: Ints) -> NDArray[np.object_]:
        """Return the painted outlines of some as they lie."""
        return self.laid(which, self._geometries(which, "outline"))

    def _geometries(self, which: Ints, kind: str) -> NDArray[np.object_]:
        found = np.empty(len(which), dtype=object)
        found[:] = [getattr(self.shapes.all[s], kind) for s in self.shape[which].tolist()]
        return found

    def pairs(self, reach: float, which: Ints | None = None) -> Pairs:
        """Return who may come within ``reach`` mm of whom, by the discs that hold them.

        Args:
            reach: in mm, between the discs.
            which: the ones to ask for; all where it is not given.
        """
        asked = np.arange(len(self)) if which is None else which
        if not len(asked):
            return Pairs(asked, asked, np.empty(0), np.empty(0))
        radius = self.radius
        everything = float(radius.max(initial=0.0))
        # A copy within reach has moved no further than that and what lies between the homes.
        span = math.sqrt(sum(float(np.ptp(v)) ** 2 for v in (self.x, self.y)))
        vectors = self.torus.vectors(2 * everything + reach + span)
        images = (len(vectors), len(self))
        ix = (self.x + vectors[:, :1]).ravel()
        iy = (self.y + vectors[:, 1:]).ravel()
        low, high = -(everything * 2 + reach), everything * 2 + reach
        near = np.flatnonzero(
            (ix >= self.x[asked].min(initial=0) + low)
            & (ix <= self.x[asked].max(initial=0) + high)
            & (iy >= self.y[asked].min(initial=0) + low)
            & (iy <= self.y[asked].max(initial=0) + high)
        )
        tree = shapely.STRtree(shapely.points(ix[near], iy[near]))
        centres = shapely.points(self.x[asked], self.y[asked])
        one, image = tree.query(
            centres, predicate="dwithin", distance=radius[asked] + everything + reach
        )
        one, image = asked[one], near[image]
        step, other = np.divmod(image, images[1])
        # Not itself where it lies; its copies elsewhere do count.
        dx, dy = vectors[step, 0], vectors[step, 1]
        gap_x, gap_y = self.x[other] + dx - self.x[one], self.y[other] + dy - self.y[one]
        most = radius[one] + radius[other] + reach
        keep = ((one != other) | (step != 0)) & (gap_x**2 + gap_y**2 <= most * most)
        one, other, step = one[keep], other[keep], step[keep]
        order = np.lexsort((step, other, one))
        one, other, step = one[order], other[order], step[order]
        return Pairs(one, other, vectors[step, 0], vectors[step, 1])

    def round_poses(self) -> None:
        """Bring all that moves home into the tile, in the decimals that are kept."""
        m = self.leads
        x, y = self.torus.home(self.x, self.y)
        self.x[m] = np.round(x[m], PLACE_DECIMALS)
        self.y[m] = np.round(y[m], PLACE_DECIMALS)
        self.turn[m] = np.round(self.turn[m], TURN_DECIMALS) % 360.0
        self.follow()

    def kept(self, keep: NDArray[np.bool_]) -> Crowd:
        """Return the crowd of some of them; images must be kept as their members are."""
        fields = ("shape", "x", "y", "turn", "scale", "flip", "rank", "play", "rest")
        return Crowd(self.torus, self.shapes, *(getattr(self, f)[keep] for f in fields))
