"""Parts of a raster tile that go on beside their place over a join, and by how much.

Wherever an edge of the drawing runs over the join, two things are measured, window by window
along it: how far the edge jumps there, and how steeply it runs on either side. An edge of
slope m jumps by dy − m · dx where its part lies (dx, dy) out of place, so a few edges tell
both. How often edges seem to jump within the picture says how many are needed; two counts are
kept, of all windows and of the edges that three windows in a row see alike.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from vecrepeat.check.follow import REACH, STEEPEST, STEP, WINDOW, Floats, Followed, follow, grain
from vecrepeat.check.pixels import Levels

SAMPLES = 60
"""How many columns within the picture the join is compared with."""

_JUMP = 0.4
"""Jumps from so many pixels count: half of what the least nudge makes."""

_AGREE = 0.35
"""An offset explains a jump that it foretells within so many pixels, or a seventh of it."""

_MOST_EDGES = 12
"""Edges that follow each other along a join and are taken for one part's, at the most."""

_SPAN = 600
"""Pixels of the join within which jumps of windows are taken for one part's."""

_CHANCE_WINDOWS, _CHANCE_EDGES = 3e-5, 1e-3
"""Chance of a good join to show as much, below which a part is told to be out of place.

Windows share edges, so their chances are not free of each other: theirs is the lower.
"""

_GAIN = 10.0
"""Squares of standard deviations that an offset must explain in a span, at the least."""

_OFFSETS = np.array(
    [
        (dx, dy)
        for dx in range(-REACH, REACH + 1)
        for dy in range(-REACH, REACH + 1)
        if (dx, dy) != (0, 0)
    ]
)


class Nudge(NamedTuple):
    """A part that is out of place.

    Attributes:
        across: by how many pixels, across the join.
        along: along it.
        first: where along the join it begins, px.
        last: where it ends.
    """

    across: int
    along: int
    first: int
    last: int


class Jumps(NamedTuple):
    """What the windows along a join show, each of shape (windows,).

    Attributes:
        sure: whether an edge is there that can be followed.
        jump: by how many pixels it jumps.
        slope: by how many pixels it runs on along the join for each across.
    """

    sure: NDArray[np.bool_]
    jump: Floats
    slope: Floats


class Edges(NamedTuple):
    """The edges that run over a join, in their order along it, each of shape (edges,).

    Attributes:
        place: where the edge crosses, px.
        jump: by how many pixels it jumps there.
        slope: by how many pixels it runs on along the join for each across.
    """

    place: NDArray[np.int64]
    jump: Floats
    slope: Floats

    @property
    def jumps(self) -> NDArray[np.bool_]:
        """Which of them jump by more than how they run on can account for."""
        return np.abs(self.jump) > _JUMP


def nudges(grey: Levels, shift: int) -> list[Nudge]:
    """Return the parts out of place over an upright join.

    Args:
        grey: the picture.
        shift: by how many pixels it comes in lower on the join's right.
    """
    rows, width = grey.shape
    if rows < 4 * WINDOW or width < 8 * REACH:
        return []
    columns = np.unique(np.linspace(REACH, width - REACH, SAMPLES).astype(int))
    pairs = [(grey[:, c - REACH : c], grey[:, c : c + REACH]) for c in columns]
    noise = grain(pairs)
    usual = [follow(one, other, noise) for one, other in pairs]
    right = np.roll(grey[:, :REACH], shift, axis=0)
    join = follow(grey[:, -REACH:], right, noise)
    return _by_windows(join, usual, rows) or _by_edges(join, usual)


def _told(found: list[Nudge], nudge: Nudge) -> None:
    """Add a part to those found; what lies out of place alike is one part."""
    for k, other in enumerate(found):
        if (other.across, other.along) == (nudge.across, nudge.along):
            found[k] = nudge._replace(
                first=min(other.first, nudge.first), last=max(other.last, nudge.last)
            )
            return
    found.append(nudge)


def _edges(seen: Followed) -> Edges:
    """Return the edges that three windows in a row see alike."""
    sure = seen.plain & (seen.rest < 0.08) & (np.abs(seen.slope) < STEEPEST)
    sure &= seen.bend < 0.3 + 0.1 * np.abs(seen.slope)
    three = np.stack([seen.jump[:-2], seen.jump[1:-1], seen.jump[2:]])
    alike = sure[:-2] & sure[1:-1] & sure[2:]
    alike &= np.ptp(three, axis=0) < 0.25 + 0.05 * np.abs(seen.slope[1:-1])
    chosen = []
    wait = -1
    for k in np.flatnonzero(alike):
        if k > wait:
            chosen.append(int(k) + 1)
            wait = int(k) + WINDOW // STEP - 1
    at = np.array(chosen, np.int64)
    return Edges(at * STEP + WINDOW // 2, np.median(three, axis=0)[at - 1], seen.slope[at])


def _by_edges(join: Followed, usual: list[Followed]) -> list[Nudge]:
    """Return the parts that edges followed with certainty show to be out of place."""
    good = [_edges(seen) for seen in usual]
    count = sum(len(edges.jump) for edges in good)
    jumping = sum(int(edges.jumps.sum()) for edges in good)
    chance = (jumping + 1) / (count + 50)
    # A third of what the least likely good column of them all shows.
    bar = min(_CHANCE_EDGES, 0.3 * min(_least_likely(edges, chance)[0] for edges in good))
    edges = _edges(join)
    found: list[Nudge] = []
    while len(edges.jump):
        likelihood, offset, first, last = _least_likely(edges, chance)
        if likelihood > bar:
            break
        dx, dy = (int(v) for v in _OFFSETS[offset])
        _told(found, Nudge(dx, dy, int(edges.place[first]), int(edges.place[last])))
        rest = np.ones(len(edges.jump), bool)
        rest[first : last + 1] = False
        edges = Edges(edges.place[rest], edges.jump[rest], edges.slope[rest])
    return found


def _least_likely(edges: Edges, chance: float) -> tuple[float, int, int, int]:
    """Return the run of edges whose jumps one offset explains that is least likely by chance.

    Returns:
        How likely a good join of so many edges is to show one like it, the offset, and the
        first and last edge of the run.
    """
    count = len(edges.jump)
    foretold = _OFFSETS[:, 1:2] - edges.slope[None] * _OFFSETS[:, 0:1]
    miss = np.abs(foretold - edges.jump[None])
    told = edges.jumps[None] & (miss < np.maximum(_AGREE, np.abs(foretold) / 7))
    # What an offset would make jump and doesn't speaks against it; what it moves unseen, nothing.
    against = ~told & (np.abs(foretold) > 2 * _JUMP)
    hits = np.concatenate([np.zeros((len(told), 1), int), told.cumsum(axis=1)], axis=1)
    trials = np.concatenate(
        [np.zeros((len(told), 1), int), (told | against).cumsum(axis=1)], axis=1
    )
    best = (1.0, 0, 0, 0)
    for first in range(count):
        for last in range(first + 1, min(first + _MOST_EDGES, count)):
            if not (edges.jumps[first] and edges.jumps[last]):
                continue
            many = hits[:, last + 1] - hits[:, first]
            tries = trials[:, last + 1] - trials[:, first]
            if many.max() < 2:
                continue
            # Of offsets that explain as many, the one that errs least; of those, the smallest.
            error = np.minimum(miss[:, first : last + 1], 1.0).mean(axis=1)
            error += 0.01 * np.hypot(_OFFSETS[:, 0], _OFFSETS[:, 1])
            order = np.lexsort((error, tries - many, -many))
            k = int(order[0])
            likelihood = _at_least(int(many[k]), int(tries[k]), chance) * count
            if likelihood < best[0]:
                best = (likelihood, k, first, last)
    return best


def _at_least(hits: int, trials: int, chance: float) -> float:
    """Return the chance of at least so many hits in so many trials."""
    return sum(
        math.comb(trials, k) * chance**k * (1 - chance) ** (trials - k)
        for k in range(hits, trials + 1)
    )


def _jumps(seen: Followed) -> Jumps:
    """Return the windows that show an edge, however short."""
    sure = seen.plain & (seen.rest < 0.08) & (seen.bend < 0.6) & (np.abs(seen.slope) < 2.5)
    return Jumps(sure, seen.jump, seen.slope)


def _by_windows(join: Followed, usual: list[Followed], rows: int) -> list[Nudge]:
    """Return the parts that windows show to be out of place, more than they do elsewhere."""
    good = [_jumps(seen) for seen in usual]
    sure = np.concatenate([np.abs(j.jump[j.sure]) for j in good])
    chance = max((int((sure > _JUMP).sum()) + 1) / (len(sure) + 100), 0.004)
    # What edges within the picture seem to jump by: 1.48 median deviations are one standard one.
    spread = max(0.1, 1.48 * float(np.median(sure)) if len(sure) > 20 else 0.15)
    most = max(_peak(_gains(j, spread))[0] for j in good)
    return _parts(_jumps(join), chance, spread, max(_GAIN, 1.3 * most), rows)


def _misses(jumps: Jumps) -> Floats:
    """Return how far each window's jump is from what each offset foretells."""
    foretold = _OFFSETS[:, 1:2] - jumps.slope[None] * _OFFSETS[:, 0:1]
    misses: Floats = np.abs(foretold - jumps.jump[None])
    return misses


def _gains(jumps: Jumps, spread: float) -> Floats:
    """Return how much better each offset explains each window than none, (offsets, windows).

    Squares of standard deviations, cut off at three: what nothing explains speaks for nothing.
    Windows overlap, so each counts for its step only.
    """
    left = np.minimum((_misses(jumps) / spread) ** 2, 9.0)
    gain = np.minimum((jumps.jump / spread) ** 2, 9.0)[None] - left
    result: Floats = np.where(jumps.sure[None], gain, 0.0) * (STEP / WINDOW)
    return result


def _peak(gains: Floats) -> tuple[float, int]:
    """Return the most that one offset gains within a span, and the window the span ends with."""
    sums = np.cumsum(gains, axis=1)
    span = _SPAN // STEP
    if sums.shape[1] > span:
        sums[:, span:] = sums[:, span:] - sums[:, :-span].copy()
    best = sums.max(axis=0)
    return float(best.max()), int(best.argmax())


def _parts(jumps: Jumps, chance: float, spread: float, need: float, rows: int) -> list[Nudge]:
    """Return the parts of a join where edges jump more than they do within the picture."""
    misses = _misses(jumps)
    gains = _gains(jumps, spread)
    bad = jumps.sure & (np.abs(jumps.jump) > _JUMP)
    free = np.ones(len(bad), bool)
    found: list[Nudge] = []
    span = _SPAN // STEP
    while (jumps.sure & free).any():
        # First by how many jump at all; then by what an offset explains of small jumps too.
        count, ends = _most((bad & free)[None], span)
        hits, end = int(count[0]), int(ends[0])
        window = slice(max(0, end - span + 1), end + 1)
        seen = max(_apart((jumps.sure & free)[window]), hits)
        many = (
            hits >= 2 and _at_least(hits, seen, chance) * max(1.0, rows / _SPAN) <= _CHANCE_WINDOWS
        )
        here = np.flatnonzero((bad & free)[window]) + window.start
        if not many:
            gain, end = _peak(gains * free)
            if gain < need:
                return found
            window = slice(max(0, end - span + 1), end + 1)
            here = np.flatnonzero((jumps.sure & free)[window]) + window.start
        votes = np.flatnonzero(jumps.sure & free)
        votes = votes[(votes >= here[0] - 2) & (votes <= here[-1] + 2)]
        error = np.minimum((misses[:, votes] / max(spread, 0.12)) ** 2, 9.0).sum(axis=1)
        # A straight edge shows one way only: of offsets alike, the smallest.
        error += 0.02 * len(votes) * np.hypot(_OFFSETS[:, 0], _OFFSETS[:, 1])
        dx, dy = (int(v) for v in _OFFSETS[int(error.argmin())])
        first, last = int(here[0]) * STEP, min(int(here[-1]) * STEP + WINDOW, rows)
        _told(found, Nudge(dx, dy, first, last))
        free[window] = False
    return found


def _apart(flags: NDArray[np.bool_]) -> int:
    """Return how many windows without overlap are among those flagged."""
    count, wait = 0, -1
    for k in np.flatnonzero(flags):
        if k > wait:
            count, wait = count + 1, int(k) + WINDOW // STEP - 1
    return count


def _most(told: NDArray[np.bool_], span: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return for each row the most windows apart that are flagged in a span, and its end."""
    count = np.zeros(told.shape, np.int64)
    wait = np.full(len(told), -1)
    for k in np.flatnonzero(told.any(axis=0)):
        new = told[:, k] & (wait < k)
        count[new, k] = 1
        wait[new] = k + WINDOW // STEP - 1
    sums = np.cumsum(count, axis=1)
    if sums.shape[1] > span:
        sums[:, span:] = sums[:, span:] - sums[:, :-span].copy()
    return sums.max(axis=1), sums.argmax(axis=1)
