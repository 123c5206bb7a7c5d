"""The exact end of arranging: who is too near whom, pushed apart, or taken out.

Distances are shapely's, between shells first; where shells are too near, the painted outlines
themselves decide. Shells hold the outlines, so what passes is at least the clearance apart.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from vecrepeat.arrange.crowd import Crowd, Ints, Member, Pairs
from vecrepeat.arrange.shapes import Shapes
from vecrepeat.arrange.torus import Torus

Floats = NDArray[np.float64]

_PATIENCE, _LESS = 12, 0.9
"""Pushing ends where so many rounds don't bring what is lacking down to this share of itself."""

_AT_A_TIME = 4
"""Of those that would have to go one in so many is taken out at a time."""

ROUNDING = 2e-6
"""Kept beyond the clearance, in mm, so that no rounding of a reader falls short of it."""

_SPARE = 2e-3
"""How much further than needed motifs are pushed, in mm: poses are kept to 1e-3 mm."""


class Near(NamedTuple):
    """Pairs that are nearer than allowed, each once, and their shells' shortest lines."""

    one: Ints
    other: Ints
    dx: Floats
    dy: Floats
    gap: Floats
    """Between the shells."""
    nx: Floats
    ny: Floats
    """The way ``one`` must go to get away; zero where it meets its own copy."""


def settle(
    crowd: Crowd, *, clearance: float, same_apart: float, rounds: int = 40, sparing: bool = False
) -> tuple[Crowd, list[int]]:
    """Push motifs apart until all keep the clearance, and take out those that can't.

    Args:
        crowd: changed in place.
        clearance: in mm.
        same_apart: least distance in mm between the anchors of the same motif.
        rounds: how often to try before motifs are taken out.
        sparing: take out a few at a time and push the others on into the room they leave,
            which takes longer and takes out fewer.

    Returns:
        Those that stay, and the numbers of the members that were taken out.
    """
    left, out = np.arange(crowd.leaders), list[int]()
    while True:
        _push_apart(crowd, clearance, same_apart, rounds)
        everyone = np.flatnonzero(crowd.leads)
        near = too_near(crowd, clearance, everyone)
        same = _same(crowd, same_apart, everyone)
        leaving = _to_leave(
            crowd, np.concatenate([near.one, same.one]), np.concatenate([near.other, same.other])
        )
        if not leaving:
            return crowd, sorted(out)
        if sparing:
            leaving = leaving[: math.ceil(len(leaving) / _AT_A_TIME)]
        keep = np.ones(crowd.leaders, dtype=np.bool_)
        keep[leaving] = False
        out += left[leaving].tolist()
        left = left[keep]
        crowd = crowd.kept(np.tile(keep, len(crowd.torus.turns)))
        if not sparing:
            return crowd, sorted(out)


def _push_apart(crowd: Crowd, clearance: float, same_apart: float, rounds: int) -> None:
    """Push motifs apart until all keep the clearance, or some are jammed."""
    crowd.round_poses()
    asked = np.flatnonzero(crowd.leads)
    lacks: list[float] = []
    for _ in range(rounds):
        near = too_near(crowd, clearance, asked, exact=False)
        same = _same(crowd, same_apart, asked)
        if not len(near.one) and not len(same.one):
            break
        # What is jammed stays so however long it is pushed.
        lacks.append(float((clearance + _SPARE - near.gap).sum()))
        if len(lacks) > _PATIENCE and min(lacks[-_PATIENCE:]) > _LESS * min(lacks[:-_PATIENCE]):
            break
        _push(crowd, near, clearance)
        _part(crowd, same, same_apart)
        crowd.round_poses()
        pushed = np.unique(np.concatenate([near.one, near.other, same.one, same.other]))
        asked = np.unique(pushed % crowd.leaders)
        asked = asked[crowd.moves[asked]]


def fit_in(
    torus: Torus,
    shapes: Shapes,
    members: Sequence[Member],
    member: Member,
    *,
    clearance: float,
    same_apart: float,
    rounds: int = 12,
) -> Member | None:
    """Return a motif pushed clear of all others, which stay; None where that doesn't do.

    Args:
        torus: the repeated plane.
        shapes: the shapes that members refer to.
        members: what lies there already.
        member: the motif, about where it is to lie.
        clearance: in mm.
        same_apart: least distance in mm between the anchors of the same motif.
        rounds: how often it may be pushed.
    """
    still = [one._replace(rank=-1) for one in members]
    crowd = Crowd.of(torus, shapes, [*still, member])
    crowd, out = settle(crowd, clearance=clearance, same_apart=same_apart, rounds=rounds)
    return None if out else crowd.member(crowd.leaders - 1)


def too_near(crowd: Crowd, clearance: float, which: Ints, *, exact: bool = True) -> Near:
    """Return the pairs of a crowd, one of ``which`` at least, that break the clearance.

    Args:
        crowd: the motifs.
        clearance: in mm.
        which: the motifs to ask for.
        exact: ask the painted outlines where shells are too near.
    """
    limit = clearance + ROUNDING
    # Two motifs that may not be moved are no concern of ours.
    pairs = crowd.pairs(limit, which[crowd.moves[which]])
    seen = np.zeros(len(crowd), dtype=np.bool_)
    seen[pairs.one] = True
    # Each pair once: the other way round it comes only where both are asked for.
    twice = seen[pairs.other] & (
        (pairs.other < pairs.one)
        | ((pairs.other == pairs.one) & ((pairs.dx < 0) | ((pairs.dx == 0) & (pairs.dy < 0))))
    )
    one, other, dx, dy = pairs.only(~twice)
    concerned = np.unique(np.concatenate([one, other]))
    shells = np.empty(len(crowd), dtype=object)
    shells[concerned] = crowd.shells(concerned)
    shapely.prepare(shells)
    ours, theirs = shells[one], moved(shells[other], dx, dy)
    near = np.flatnonzero(shapely.dwithin(ours, theirs, limit))
    if exact and len(near):
        here = crowd.outlines(one[near])
        shapely.prepare(here)
        there = moved(crowd.outlines(other[near]), dx[near], dy[near])
        near = near[shapely.dwithin(here, there, limit)]
    one, other, dx, dy = one[near], other[near], dx[near], dy[near]
    gap, nx, ny = _ways(crowd, ours[near], theirs[near], Pairs(one, other, dx, dy))
    return Near(one, other, dx, dy, gap, nx, ny)


def _ways(
    crowd: Crowd, ours: NDArray[np.object_], theirs: NDArray[np.object_], pairs: Pairs
) -> tuple[Floats, Floats, Floats]:
    lines = shapely.shortest_line(ours, theirs)
    points = shapely.get_coordinates(lines).reshape(-1, 4)
    x, y = points[:, 0] - points[:, 2], points[:, 1] - points[:, 3]
    gap = np.sqrt(x * x + y * y)
    # Where they overlap there is no line: from anchor to anchor will do.
    over = gap < 1e-9
    cx = crowd.x[pairs.one] - crowd.x[pairs.other] - pairs.dx
    cy = crowd.y[pairs.one] - crowd.y[pairs.other] - pairs.dy
    x, y = np.where(over, cx, x), np.where(over, cy, y)
    long = np.maximum(np.sqrt(x * x + y * y), 1e-9)
    own = pairs.one == pairs.other
    return gap, np.where(own, 0.0, x / long), np.where(own, 0.0, y / long)


def _push(crowd: Crowd, near: Near, clearance: float) -> None:
    lack = clearance + _SPARE - near.gap
    overlap = near.gap < 1e-9
    lack = np.where(overlap, lack + 0.02 * np.minimum(crowd.radius[near.one], 10), lack)
    one_moves, other_moves = crowd.moves[near.one], crowd.moves[near.other]
    for who, share, sign in (
        (near.one, np.where(other_moves, 0.6, 1.02) * one_moves, 1.0),
        (near.other, np.where(one_moves, 0.6, 1.02) * other_moves, -1.0),
    ):
        crowd.x += np.bincount(who, sign * share * lack * near.nx, len(crowd))
        crowd.y += np.bincount(who, sign * share * lack * near.ny, len(crowd))


def _same(crowd: Crowd, apart: float, which: Ints) -> Pairs:
    """Return pairs of the same motif whose anchors are too close, each once."""
    if not apart:
        none = np.empty(0, dtype=np.int64)
        return Pairs(none, none, np.empty(0), np.empty(0))
    pairs = crowd.pairs(max(0.0, apart - 2 * float(crowd.radius.min(initial=0.0))), which)
    x = crowd.x[pairs.one] - crowd.x[pairs.other] - pairs.dx
    y = crowd.y[pairs.one] - crowd.y[pairs.other] - pairs.dy
    close = x * x + y * y < apart * apart
    kind = crowd.shapes.kind[crowd.shape]
    close &= (kind[pairs.one] == kind[pairs.other]) & (pairs.one != pairs.other)
    return pairs.only(close)


def _part(crowd: Crowd, same: Pairs, apart: float) -> None:
    x = crowd.x[same.one] - crowd.x[same.other] - same.dx
    y = crowd.y[same.one] - crowd.y[same.other] - same.dy
    long = np.maximum(np.sqrt(x * x + y * y), 1e-9)
    push = (apart + _SPARE - long) / long * 0.55 * crowd.moves[same.one]
    crowd.x += np.bincount(same.one, push * x, len(crowd))
    crowd.y += np.bincount(same.one, push * y, len(crowd))


def _to_leave(crowd: Crowd, one: Ints, other: Ints) -> list[int]:
    """Return whom to take out so that no pair is left: low ranks and the most entangled first."""
    out: list[int] = []
    # Images go with their members.
    one, other = one % crowd.leaders, other % crowd.leaders
    left = np.ones(len(one), dtype=np.bool_)
    while left.any():
        times = np.bincount(np.concatenate([one[left], other[left]]), minlength=crowd.leaders)
        # An own copy too near leaves no choice.
        times = times + len(one) * np.bincount(one[left & (one == other)], minlength=crowd.leaders)
        chosen = np.flatnonzero((times > 0) & crowd.moves[: crowd.leaders])
        order = np.lexsort((-chosen, crowd.radius[chosen], -times[chosen], -crowd.rank[chosen]))
        worst = int(chosen[order[0]])
        out.append(worst)
        left &= (one != worst) & (other != worst)
    return out


def moved(geometries: NDArray[np.object_], dx: Floats, dy: Floats) -> NDArray[np.object_]:
    """Return geometries, each moved by its own step."""
    points, owner = shapely.get_coordinates(geometries, return_index=True)
    points[:, 0] += dx[owner]
    points[:, 1] += dy[owner]
    # New geometries are put into the array that it is given.
    found: NDArray[np.object_] = shapely.set_coordinates(geometries.copy(), points)
    return found
