"""Evening out: motifs press on one another until the gaps between them are alike.

Every stretch of a motif's edge is pressed by its neighbours' nearness; what all presses add
up to moves the motif, and turns it where it may be turned. Motifs nearer than the clearance
are pushed apart besides. All motifs are moved at once, so a round takes a few array
operations whatever their number.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from vecrepeat.arrange.crowd import Crowd, Pairs
from vecrepeat.arrange.flow import Flow
from vecrepeat.arrange.likeness import Kin, Likeness
from vecrepeat.repeat.pose import TURN_DECIMALS

Floats = NDArray[np.float64]

_EVERY, _LOOK = 8, 4
"""Rounds between two searches for neighbours, and between two looks at how near they are: in
between, gaps are reckoned by how motifs move."""

_KIN = 0.55
"""The share of what motifs of one kind lack in distance that they are parted by in a round."""

_MANY, _SPARSE = 80, 5
"""For every so many motifs another sample is left out between two; and the most that are."""

_FAR, _FARTHEST = 0.4, 6
"""Likewise for every so many radii that another motif is away: what it presses hardly differs."""

_GRID = 2.0**-20
"""Positions are kept to so many mm while they are moved."""


class _Contacts(NamedTuple):
    """Samples of one motif in the field of another."""

    pair: NDArray[np.int64]
    sample: NDArray[np.int64]
    gap: Floats
    nx: Floats
    ny: Floats
    arm: Floats
    """Of the press along the normal about the first motif's anchor."""
    counter: Floats
    """The same about the second's."""
    weight: Floats

    def only(self, keep: NDArray[np.bool_]) -> _Contacts:
        """Return some of them."""
        pair, sample, *rest = self
        return _Contacts(pair[keep], sample[keep], *(field[keep] for field in rest))


def even_out(
    crowd: Crowd,
    *,
    clearance: float,
    rounds: int,
    reach: float,
    same_apart: float = 0.0,
    likeness: Likeness | None = None,
    flow: Flow | None = None,
) -> None:
    """Move the motifs of a crowd until their gaps are alike.

    Args:
        crowd: changed in place.
        clearance: in mm; motifs that are nearer are pushed apart.
        rounds: how often all are moved.
        reach: how far in mm a motif presses.
        same_apart: least distance in mm between the anchors of the same motif.
        likeness: parts motifs of one kind further, as far as the gaps let them.
        flow: turns motifs as they get elsewhere.
    """
    if not crowd.moves.any():
        return
    still = ~crowd.leads
    # A motif that comes near its own copies keeps its turn: another turn might not fit.
    lonely = 2 * crowd.radius + clearance < crowd.torus.shortest
    turns = crowd.leads & (crowd.play > 0) & lonely
    warm = math.ceil(rounds / 1.15)
    for k in range(rounds):
        # Pressing eases off, and leaves the last rounds to the clearance alone.
        heat = max(0.0, 1 - 1.15 * k / rounds)
        if k % _EVERY == 0 or k == warm:
            if flow is not None:
                rest = flow.rest(crowd.x, crowd.y, crowd.rest)
                follows = crowd.leads & lonely
                crowd.turn = np.where(follows, (crowd.turn + rest - crowd.rest) % 360.0, crowd.turn)
                crowd.rest = np.where(follows, rest, crowd.rest)
                crowd.follow()
            pairs, same = _neighbours(crowd, reach, same_apart)
            pairs, seen = _near_contacts(crowd, pairs, reach if heat else 1.5 * clearance)
            since = None
            kin = None if likeness is None else likeness.kin(crowd)
        elif k % _LOOK == 0 or not heat:
            seen, since = _contacts(crowd, pairs, seen.pair, seen.sample, seen.weight), None
        contacts = _followed(crowd, pairs, seen, since, clearance) if since else seen
        since = since or (crowd.x, crowd.y, crowd.turn)
        dx, dy, turn = _pushes(crowd, pairs, contacts, clearance)
        if same_apart:
            sx, sy = _same_pushes(crowd, same, same_apart)
            dx, dy = dx + sx, dy + sy
        if heat:
            px, py, pt = _presses(crowd, pairs, contacts, clearance, reach)
            dx, dy, turn = dx + heat * px, dy + heat * py, turn + heat * pt
            if kin is not None:
                px, py = _kin_pushes(crowd, kin)
                dx, dy = dx + heat * px, dy + heat * py
        turn[~turns] = 0.0
        # On a grid: what differs in the last bit elsewhere is gone before it can grow.
        crowd.x = np.where(still, crowd.x, np.round((crowd.x + dx) / _GRID) * _GRID)
        crowd.y = np.where(still, crowd.y, np.round((crowd.y + dy) / _GRID) * _GRID)
        lean = crowd.turn + np.clip(np.degrees(turn), -6, 6) - crowd.rest
        held = np.clip((lean + 180) % 360 - 180, -crowd.play, crowd.play)
        leant = np.round((crowd.rest + held) % 360.0, TURN_DECIMALS)
        crowd.turn = np.where(turns, leant, crowd.turn)
        crowd.follow()
    crowd.round_poses()


def _neighbours(crowd: Crowd, reach: float, same_apart: float) -> tuple[Pairs, Pairs]:
    """Return who presses on whom, and which of the same motif may be too close."""
    x, y = crowd.torus.home(crowd.x, crowd.y)
    leads = crowd.leads
    crowd.x, crowd.y = np.where(leads, x, crowd.x), np.where(leads, y, crowd.y)
    crowd.follow()
    movable = np.flatnonzero(leads)
    pairs = crowd.pairs(reach, movable)
    pairs = pairs.only(pairs.one != pairs.other)
    if not same_apart:
        return pairs, pairs.only(np.zeros(len(pairs.one), dtype=np.bool_))
    far = crowd.pairs(max(reach, same_apart - 2 * float(crowd.radius.min())), movable)
    kind = crowd.shapes.kind[crowd.shape]
    keep = (kind[far.one] == kind[far.other]) & (far.one != far.other)
    return pairs, far.only(keep)


def _near_contacts(crowd: Crowd, pairs: Pairs, reach: float) -> tuple[Pairs, _Contacts]:
    """Return the samples of the first of each pair that are within reach of the second.

    Where there are many motifs, or another is far, only every few samples of each are asked.

    Returns:
        The pairs that have any; and the samples.
    """
    shapes = crowd.shapes
    kind = crowd.shape[pairs.one]
    x = crowd.x[pairs.one] - crowd.x[pairs.other] - pairs.dx
    y = crowd.y[pairs.one] - crowd.y[pairs.other] - pairs.dy
    radius = crowd.radius
    apart = np.sqrt(x * x + y * y) - radius[pairs.one] - radius[pairs.other]
    many = min(_SPARSE, 1 + len(crowd) // _MANY)
    far = np.floor(np.maximum(0.0, apart / (_FAR * radius[pairs.one]))).astype(np.int64)
    every = np.minimum(many + far, max(many, _FARTHEST))
    counts = -(-(shapes.first[kind + 1] - shapes.first[kind]) // every)
    pair = np.repeat(np.arange(len(counts)), counts)
    start = np.cumsum(counts) - counts
    sample = (np.arange(len(pair)) - start[pair]) * every[pair] + shapes.first[kind][pair]
    weight = every[pair] * shapes.weight[sample] * crowd.scale[pairs.one][pair]
    found = _contacts(crowd, pairs, pair, sample, weight)
    found = found.only(found.gap <= reach)
    there = np.zeros(len(pairs.one), dtype=np.bool_)
    there[found.pair] = True
    return pairs.only(there), found._replace(pair=(np.cumsum(there) - 1)[found.pair])


def _contacts(
    crowd: Crowd,
    pairs: Pairs,
    pair: NDArray[np.int64],
    sample: NDArray[np.int64],
    weight: Floats,
) -> _Contacts:
    """Return samples of the first motif of pairs, by their weights, in the field of the second."""
    shapes = crowd.shapes
    cos, sin, across = crowd.linear()
    one, other = pairs.one[pair], pairs.other[pair]
    scale = crowd.scale[one]
    u, v = shapes.samples[sample, 0] * across[one], shapes.samples[sample, 1] * scale
    ax, ay = cos[one] * u - sin[one] * v, sin[one] * u + cos[one] * v
    # From the first motif's frame to the second's.
    x = ax + (crowd.x[pairs.one] - crowd.x[pairs.other] - pairs.dx)[pair]
    y = ay + (crowd.y[pairs.one] - crowd.y[pairs.other] - pairs.dy)[pair]
    c, s = cos[other], sin[other]
    p, q = (c * x + s * y) / across[other], (c * y - s * x) / crowd.scale[other]
    distance, gx, gy = shapes.distance(crowd.shape[other], p, q)
    gx = np.where(crowd.flip[other], -gx, gx)
    gap = distance * crowd.scale[other] - shapes.depth[sample] * scale
    nx, ny = c * gx - s * gy, s * gx + c * gy
    return _Contacts(pair, sample, gap, nx, ny, ax * ny - ay * nx, x * ny - y * nx, weight)


def _followed(
    crowd: Crowd,
    pairs: Pairs,
    seen: _Contacts,
    since: tuple[Floats, Floats, Floats],
    clearance: float,
) -> _Contacts:
    """Return contacts as motifs have moved since they were seen; those too near seen anew.

    Args:
        crowd: as it lies now.
        pairs: whose contacts they are.
        seen: the contacts.
        since: how motifs lay then: x, y, and the turn in degrees.
        clearance: in mm; what is nearer is looked at again, as it decides who is pushed where.
    """
    one, other, pair = pairs.one, pairs.other, seen.pair
    dx, dy = crowd.x - since[0], crowd.y - since[1]
    turned = np.radians((crowd.turn - since[2] + 180) % 360 - 180)
    gap = seen.gap + seen.nx * (dx[one] - dx[other])[pair] + seen.ny * (dy[one] - dy[other])[pair]
    gap += seen.arm * turned[one][pair] - seen.counter * turned[other][pair]
    near = np.flatnonzero(gap < clearance)
    again = _contacts(crowd, pairs, pair[near], seen.sample[near], seen.weight[near])
    nx, ny, arm, counter = seen.nx.copy(), seen.ny.copy(), seen.arm.copy(), seen.counter.copy()
    for field, now in zip((gap, nx, ny, arm, counter), again[2:7], strict=True):
        field[near] = now
    return seen._replace(gap=gap, nx=nx, ny=ny, arm=arm, counter=counter)


def _pushes(
    crowd: Crowd, pairs: Pairs, contacts: _Contacts, clearance: float
) -> tuple[Floats, Floats, Floats]:
    """Return moves that bring motifs which are too near to the clearance."""
    n = len(crowd)
    if not len(pairs.one):
        return np.zeros(n), np.zeros(n), np.zeros(n)
    first = np.searchsorted(contacts.pair, np.arange(len(pairs.one)))
    nearest = np.minimum.reduceat(contacts.gap, first)
    # The first of the samples that are nearest.
    at = np.flatnonzero(contacts.gap == nearest[contacts.pair])
    at = at[np.unique(contacts.pair[at], return_index=True)[1]]
    lack = clearance - nearest
    near = lack > 0
    at, lack, one, other = at[near], lack[near], pairs.one[near], pairs.other[near]
    inertia = 0.4 * crowd.radius**2
    nx, ny, arm = contacts.nx[at], contacts.ny[at], contacts.arm[at]
    # Each of a pair goes half the way; one that meets what stays goes all of it.
    share = np.where(crowd.moves[other], 0.5, 1.0)
    turning = np.where(crowd.play[one] > 0, arm * arm / inertia[one], 0.0)
    push = 0.9 * share * lack / (1 + turning)
    dx = _sums(one, push * nx, n)
    dy = _sums(one, push * ny, n)
    turn = _sums(one, push * arm, n) / inertia
    return dx, dy, turn


def _presses(
    crowd: Crowd, pairs: Pairs, contacts: _Contacts, clearance: float, reach: float
) -> tuple[Floats, Floats, Floats]:
    """Return moves towards where all sides are pressed alike."""
    n = len(crowd)
    one = pairs.one[contacts.pair]
    soft = np.maximum(contacts.gap, 0.0) + 0.25 * clearance + 0.02 * reach
    press = np.where(contacts.gap < reach, contacts.weight / (soft * soft), 0.0)
    inertia = 0.4 * crowd.radius**2
    total = _sums(one, press, n)
    length = _sums(one, np.where(contacts.gap < reach, contacts.weight, 0.0), n)
    total = np.where(total > 0, total, 1.0)
    # The gap that would press as all neighbours do: the measure of a step.
    typical = np.minimum(np.sqrt(length / total), reach / 2)
    dx = typical * _sums(one, press * contacts.nx, n) / total
    dy = typical * _sums(one, press * contacts.ny, n) / total
    turn = typical * _sums(one, press * contacts.arm, n) / total / inertia
    return dx, dy, turn


def _same_pushes(crowd: Crowd, pairs: Pairs, apart: float) -> tuple[Floats, Floats]:
    """Return moves that part the anchors of the same motif."""
    one, other = pairs.one, pairs.other
    x = crowd.x[one] - crowd.x[other] - pairs.dx
    y = crowd.y[one] - crowd.y[other] - pairs.dy
    distance = np.maximum(np.sqrt(x * x + y * y), 1e-6)
    lack = np.maximum(apart + 0.02 - distance, 0.0) / 2 / distance
    return _sums(one, lack * x, len(crowd)), _sums(one, lack * y, len(crowd))


def _kin_pushes(crowd: Crowd, kin: Kin) -> tuple[Floats, Floats]:
    """Return moves that part motifs of one kind a little."""
    one, other, dx, dy, wanted = kin
    x, y = crowd.x[one] - crowd.x[other] - dx, crowd.y[one] - crowd.y[other] - dy
    distance = np.maximum(np.sqrt(x * x + y * y), 1e-6)
    push = _KIN * np.maximum(wanted - distance, 0.0) / distance
    return _sums(one, push * x, len(crowd)), _sums(one, push * y, len(crowd))


def _sums(who: NDArray[np.int64], what: Floats, n: int) -> Floats:
    """Return the sum of what falls to each of n, in the order given."""
    return np.bincount(who, what, n).astype(np.float64)
