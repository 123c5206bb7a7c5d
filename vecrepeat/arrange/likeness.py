"""Which motif lies where: kinds spread over the cloth, each as evenly as all are.

Motifs alike press on one another, the more the more alike: a motif on its like in full, on one
of about its main colour less. What they all press comes to an energy, and the motif that is
about to be placed, or two that could lie in each other's place, go where it is least. That is
multi-class blue noise: Wei, “Multi-class blue noise sampling”, ACM Transactions on Graphics 29
(2010), and Kita and Miyata, “Multi-class anisotropic blue noise sampling for discrete element
pattern generation”, The Visual Computer 32 (2016). The energy is Riesz's, a power of nearness:
it knows no scale, so that it spreads two motifs as it spreads two hundred.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from vecrepeat.arrange.crowd import Crowd, Ints, Member
from vecrepeat.arrange.shapes import Shapes
from vecrepeat.arrange.torus import Torus
from vecrepeat.core.difference import lab_of
from vecrepeat.repeat.model import Ground
from vecrepeat.sources.looks import ALIKE, GREY, main_colour

Floats = NDArray[np.float64]

_COLOUR = 0.4
"""How much two motifs of one main colour press, where two of one kind press by 1."""

_SIZES = 1.5
"""Motifs may lie in each other's place where their radii and rooms differ by no more."""

_BALANCE = 6.0
"""What unbalanced weight counts for: the variance of windows of half the repeat, over the square of
their mean, beside the share of all pressing that an exchange adds or takes away."""

_SWEEPS = 12
"""How often all motifs are asked whether another's place would be better."""

_MOST = 2500
"""The most motifs that are exchanged: every pair's nearness is known at once."""


_APART = 0.9
"""How far motifs of one kind are to be apart, of what they would be in a honeycomb."""


class Kin(NamedTuple):
    """Pairs of one kind: ``one``, and the copy of ``other`` moved by ``(dx, dy)``, in mm."""

    one: Ints
    other: Ints
    dx: Floats
    dy: Floats
    wanted: Floats
    """How far they are to be apart."""


class Likeness:
    """How much the motifs of some shapes press on one another.

    Args:
        torus: the repeated plane.
        shapes: the shapes that members refer to.
        ground: what lies behind them; white where it is None.
    """

    def __init__(self, torus: Torus, shapes: Shapes, ground: Ground | None = None) -> None:
        self.torus, self.shapes = torus, shapes
        self.weight = weights(shapes, ground)
        self._same = shapes.kind[:, None] == shapes.kind[None]
        colours = [main_colour(shape.motif) for shape in shapes.all]
        lab = np.array([colour or (0.0, 0.0, 0.0) for colour in colours])
        known = np.array([colour is not None for colour in colours])
        apart = ((lab[:, None] - lab[None]) ** 2).sum(axis=2)
        alike = np.round(np.exp(-apart / ALIKE**2), 6) * (known[:, None] & known[None])
        self._alike = np.where(self._same, 1.0, alike)

    def costs(self, shape: Ints) -> Floats:
        """Return what each shape presses on each, by how many of each there are.

        What a press comes to does not depend on how many are alike: the few matter as the many.
        """
        count = np.bincount(shape, minlength=len(self.shapes.all)).astype(np.float64)
        room = self.torus.region_area
        kinds = room / np.maximum(1.0, self._same @ count)
        colours = room / np.maximum(1.0, self._alike @ count)
        return (
            np.where(self._same, kinds[:, None] ** 2, 0.0)
            + _COLOUR * self._alike * colours[:, None] * colours[None]
        )

    def at(self, shape: int, x: Floats, y: Floats, members: Sequence[Member]) -> Floats:
        """Return what all members would press on a motif at each of some places."""
        if not members:
            return np.zeros(len(x))
        kinds = np.array([m.shape for m in members])
        cost = self.costs(np.append(kinds, shape))[shape]
        near = np.flatnonzero(cost[kinds] > 1e-3 * cost[shape])
        here = np.stack([x, y], axis=1)
        at = np.array([members[k].pose[:2] for k in near.tolist()]).reshape(-1, 2)
        total = np.zeros(len(x))
        for turn in self.torus.turns:
            total += self._near(here, turn.affine.apply(at)) @ cost[kinds[near]]
        return total

    def _near(self, one: Floats, other: Floats) -> Floats:
        """Return the fourth power of how near points are to points, by the nearest copies."""
        far = np.maximum(self.torus.squared_distances(one, other), 0.03**2)
        nearness: Floats = 1.0 / (far * far)
        return nearness

    def kin(self, crowd: Crowd) -> Kin:
        """Return the motifs of one kind that are nearer than they should be, the nearest copies."""
        n = crowd.leaders
        kind = self.shapes.kind[crowd.shape]
        none = np.empty(0, dtype=np.int64)
        found = [Kin(none, none, np.empty(0), np.empty(0), np.empty(0))]
        for one in np.unique(kind[crowd.leads]).tolist():
            own = np.flatnonzero(kind == one)
            ours = own[own < n]
            if len(own) == 1:
                continue
            wanted = _APART * math.sqrt(self.torus.region_area / len(ours) * 2 / math.sqrt(3))
            i, j = (g.ravel() for g in np.meshgrid(ours, own, indexing="ij"))
            x, y = crowd.x[i] - crowd.x[j], crowd.y[i] - crowd.y[j]
            dx, dy = self.torus.nearest(x, y)
            near = (i != j) & ((x - dx) ** 2 + (y - dy) ** 2 < wanted**2)
            found.append(Kin(i[near], j[near], dx[near], dy[near], np.full(near.sum(), wanted)))
        return Kin(*(np.concatenate(column) for column in zip(*found, strict=True)))

    def exchanged(self, members: Sequence[Member]) -> list[Member]:
        """Return the same motifs, some of those that are placed in each other's places."""
        places = list(members)
        if not 3 <= len(members) <= _MOST:
            return places
        shape = np.array([m.shape for m in members])
        scale = np.array([m.pose.scale for m in members])
        rank = np.array([m.rank for m in members])
        radius, room = self.shapes.radius[shape] * scale, self.shapes.room[shape] * scale**2
        near, own = self._nearness(places)
        cost = self.costs(shape)
        # What shape k would bear in place i: field[i, k].
        field = near @ cost[shape]
        self_cost = np.diagonal(cost)
        weight = self.weight[shape] * scale * scale
        overlap = self._overlaps(places)
        window = overlap @ weight
        as_variance = 16 / (len(self.torus.turns) * max(1e-12, float(weight.sum()) ** 2))
        for _ in range(_SWEEPS):
            moved = False
            pressed = float(field[np.arange(len(shape)), shape].sum() + own @ self_cost[shape]) / 2
            # Where no two are alike nothing presses, and no exchange changes that.
            pressed = pressed or 1.0
            for i in np.flatnonzero(rank >= 0).tolist():
                k = int(shape[i])
                fits = (rank == rank[i]) & (shape != k)
                for size in (radius, room):
                    fits &= (size <= _SIZES * size[i]) & (size[i] <= _SIZES * size)
                other = np.flatnonzero(fits)
                if not len(other):
                    continue
                m = shape[other]
                change = field[i, m] - field[i, k] + field[other, k] - field[other, m]
                # Both were reckoned as if the other stayed.
                change -= near[i, other] * (self_cost[m] + self_cost[k] - 2 * cost[m, k])
                change += (own[i] - own[other]) * (self_cost[m] - self_cost[k]) / 2
                more = weight[other] - weight[i]
                varied = more * more * (
                    overlap[i, i] + overlap[other, other] - 2 * overlap[i, other]
                ) + 2 * more * (window[i] - window[other])
                worse = np.round(change / pressed + _BALANCE * as_variance * varied, 9)
                best = int(np.argmin(worse))
                if worse[best] >= -1e-6:
                    continue
                j = int(other[best])
                window += more[best] * (overlap[:, i] - overlap[:, j])
                field += np.outer(near[:, i] - near[:, j], cost[shape[j]] - cost[k])
                for sizes in (shape, radius, room, weight):
                    sizes[[i, j]] = sizes[[j, i]]
                places[i], places[j] = _swapped(places[i], places[j])
                moved = True
            if not moved:
                break
        return places

    def _nearness(self, members: Sequence[Member]) -> tuple[Floats, Floats]:
        """Return how near all are to all, images included, and each to its own images."""
        crowd = Crowd.of(self.torus, self.shapes, list(members))
        at = np.stack([crowd.x, crowd.y], axis=1)
        n = crowd.leaders
        near = np.zeros((n, n))
        for first in range(0, len(crowd), n):
            there = at[first : first + n]
            near += np.concatenate(
                [self._near(at[k : min(k + 64, n)], there) for k in range(0, n, 64)]
            )
            if not first:
                np.fill_diagonal(near, 0.0)
        own = np.diagonal(near).copy()
        np.fill_diagonal(near, 0.0)
        return near, own

    def _overlaps(self, members: Sequence[Member]) -> Floats:
        """Return the share of windows of half the repeat that hold both of two, images included.

        It sums up to the windows' variance: a window's share is its height by its width.
        """
        crowd = Crowd.of(self.torus, self.shapes, list(members))
        u, v = (
            row[0] * crowd.x + row[1] * crowd.y for row in (self.torus.along_a, self.torus.along_b)
        )
        n = crowd.leaders
        total = np.zeros((n, n))
        for first in range(0, len(crowd), n):
            there = slice(first, first + n)
            share = np.ones((n, n))
            for along in (u, v):
                off = along[:n, None] - along[there]
                share *= 0.5 - np.abs(off - np.round(off))
            total += share
        return total


def weights(shapes: Shapes, ground: Ground | None) -> Floats:
    """Return each shape's weight at scale 1: its area by its main colour's contrast, in L*a*b*."""
    white = (255, 255, 255) if ground is None else ground.rgb
    colours = [main_colour(shape.motif) or GREY for shape in shapes.all]
    contrast = np.sqrt(((np.array(colours) - lab_of(white)) ** 2).sum(axis=1))
    weight: Floats = contrast * shapes.area
    return weight


def _swapped(one: Member, other: Member) -> tuple[Member, Member]:
    """Return two members, each in the other's place; whatever else is theirs they keep."""
    return (
        other._replace(pose=other.pose._replace(x=one.pose.x, y=one.pose.y)),
        one._replace(pose=one.pose._replace(x=other.pose.x, y=other.pose.y)),
    )
