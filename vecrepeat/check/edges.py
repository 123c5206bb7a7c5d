"""Following edges of a raster tile over a join: how far each jumps there, and how it runs on.

:func:`follow` compares lines of pixels either side and takes any drawing, grain and all.
:func:`trace` follows single edges of a plain drawing over several columns on either side and
lays one smooth curve with a jump at the join through each. That tells jumps several times as
exactly, and hardly any corner or crossing of the drawing's own looks like one, so that an edge
or two are enough.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from vecrepeat.check.pixels import Levels
from vecrepeat.repeat.wrap import Floats

REACH = 6
"""Largest offset of a part in pixels that is looked for, each way."""

WINDOWS = (12, 20, 32, 52)
"""Pixels of the join looked at at once: short ones hold one edge, long ones slanting ones."""

STEP = 4
"""Pixels from one window to the next."""

STEEPEST = 3.5
"""Edges that run along a join for more pixels than this for each across can't be followed."""

_PAD = WINDOWS[-1] // 2
_NEAR = 8
_MOST_BEND, _MOST_REST = 1.2, 0.1
_PLAIN = 150.0
"""Squares of changes along a window that an edge comes to at the least: 12 levels in one step."""

_NEW = 0.7
"""Share of a window's changes that no window taken before holds."""


class Edges(NamedTuple):
    """The edges that run over a join, in their order along it, each of shape (edges,).

    Attributes:
        place: where they cross, px.
        jump: by how many pixels they jump there.
        slope: by how many pixels they run on along the join for each across.
        error: the jump's standard error in pixels, as far as it can be told from the edge.
    """

    place: Floats
    jump: Floats
    slope: Floats
    error: Floats


def follow(left: Levels, right: Levels, grain: float) -> Edges:
    """Follow edges from the strip left of a join to the one right, each two pixels wide or more.

    Lines of pixels are laid beside each other, window by window: the two left of the join, the
    two right of it, and the two that meet. What an edge moves on over the join by beyond the
    mean of what it does on either side is its jump. ``grain`` is the mean square of what the
    grain differs by from a pixel to the next.
    """
    rows = len(left)
    far, near = (_smooth(left[:, -k]) for k in (2, 1))
    first, second = (_smooth(right[:, k]) for k in (0, 1))
    before, over, after = (
        _costs(near, far, _NEAR),
        _costs(near, first, _NEAR + REACH),
        _costs(first, second, _NEAR),
    )
    changes = (np.roll(near, -1) - near) ** 2
    steep_left, steep_right = _totals(changes), _totals((np.roll(first, -1) - first) ** 2)
    found = []
    for window in WINDOWS:
        limit = min(_NEAR, window * 3 // 4)
        came, rest_before = _registered(before, window, rows, limit)
        jumped, rest_over = _registered(over, window, rows, limit + REACH)
        goes, rest_after = _registered(after, window, rows, limit)
        slope = (goes - came) / 2
        bend = np.abs(goes + came)
        # How steep the lines are is what makes a shift plain.
        steep = np.minimum(_sums(steep_left, window, rows), _sums(steep_right, window, rows))
        rest = np.maximum(np.maximum(rest_before, rest_after), rest_over) - 1.5 * grain * window
        rest /= np.maximum(steep, 1e-9)
        sure = (steep > _PLAIN + 3 * grain * window) & (rest < _MOST_REST)
        sure &= (bend < _MOST_BEND) & (np.abs(slope) < STEEPEST)
        k = np.flatnonzero(sure)
        error = _error(bend[k], slope[k], np.maximum(rest[k], 0), window, steep[k])
        size = np.full(len(k), window)
        found.append(np.stack([k * STEP, (jumped - slope)[k], slope[k], error, size]))
    return _apart(np.concatenate(found, axis=1), changes)


def grain_of(pairs: list[tuple[Levels, Levels]]) -> float:
    """Return the grain of a picture for :func:`follow`, from columns all over it.

    Grain makes every window differ, and the median one has no edge in it.
    """
    even = np.full(WINDOWS[1], 1 / WINDOWS[1])
    return float(
        np.median([np.convolve((a[:, -1] - b[:, 0]) ** 2, even, "same") for a, b in pairs])
    )


def _error(bend: Floats, slope: Floats, rest: Floats, window: int, steep: Floats) -> Floats:
    """Return how far a jump is likely to be wrong.

    Fitted to 27,000 windows within flat, crowded and gradient tiles without a fault (by
    tests/benchmarks/check_bank.py with seeds that it is not reported for), where every jump is
    an error. How large it is in the picture at hand, against this, is measured there.
    """
    error = 0.042 + 0.174 * bend + 0.039 * np.abs(slope) + 0.27 * rest
    error += 0.173 / window + 0.427 / np.sqrt(steep)
    # Renderers tell a quarter of a pixel at the least where an edge runs with their rows.
    result: Floats = np.hypot(error, 0.06)
    return result


def _apart(found: Floats, changes: NDArray[np.float32]) -> Edges:
    """Return windows that tell of different edges, the surest of those that tell of the same."""
    place, _, _, error, size = found
    rows = len(changes)
    # The join runs round; windows are counted on three rounds of it.
    free = np.tile(changes, 3).astype(np.float64)
    total = np.concatenate([[0.0], free.cumsum()])
    begin = (place - size / 2).astype(np.int64) + rows
    end = begin + size.astype(np.int64)
    asked = _NEW * (total[end] - total[begin])
    taken = []
    for k in np.argsort(error + 0.0005 * size):
        lo, hi = int(begin[k]), int(end[k])
        if free[lo:hi].sum() >= asked[k]:
            taken.append(int(k))
            for turn in (-rows, 0, rows):
                free[max(lo + turn, 0) : max(hi + turn, 0)] = 0
    order = np.array(sorted(taken, key=lambda k: place[k]), np.int64)
    return Edges(*found[:4, order])


def _smooth(line: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return a line of pixels smoothed, round its ends, so that shifts have fractions."""
    total = np.float32(0.375) * line
    for by, weight in ((1, 0.25), (2, 0.0625)):
        total += np.float32(weight) * (np.roll(line, by) + np.roll(line, -by))
    return total


def _totals(values: NDArray[np.float32]) -> Floats:
    """Return running totals of the last axis, begun and ended with half the longest window."""
    padded = np.concatenate([values[..., -_PAD:], values, values[..., :_PAD]], axis=-1)
    zero = np.zeros((*values.shape[:-1], 1))
    return np.concatenate([zero, np.cumsum(padded, axis=-1, dtype=np.float64)], axis=-1)


def _sums(totals: Floats, window: int, rows: int) -> Floats:
    """Return sums over windows about every :data:`STEP`-th pixel."""
    at = np.arange(0, rows, STEP) + _PAD
    return totals[..., at + window // 2] - totals[..., at - window // 2]


def _costs(one: NDArray[np.float32], other: NDArray[np.float32], reach: int) -> Floats:
    """Return running totals of how one line differs from another shifted, a row a shift."""
    rows = len(other)
    thrice = np.concatenate([other, other, other])
    shifted = np.lib.stride_tricks.sliding_window_view(thrice, rows)
    return _totals((one - shifted[rows - reach : rows + reach + 1]) ** 2)


def _registered(costs: Floats, window: int, rows: int, limit: int) -> tuple[Floats, Floats]:
    """Return by how many pixels one line lies beside another, window by window.

    Returns:
        The shifts, to fractions of a pixel, and what is left of the difference there.
    """
    reach = len(costs) // 2
    cost = _sums(costs[reach - limit : reach + limit + 1], window, rows)
    best = cost.argmin(axis=0)
    inner = np.clip(best, 1, 2 * limit - 1)
    place = np.arange(cost.shape[1])
    low, mid, high = (cost[inner + k, place] for k in (-1, 0, 1))
    bend = low - 2 * mid + high
    part = np.where(bend > 0, (low - high) / (2 * np.maximum(bend, 1e-9)), 0.0)
    shift = inner - limit + np.clip(part, -1, 1)
    left = np.maximum(mid - 0.25 * (low - high) * part, 0)
    # At the end of the search there is no telling.
    return shift, np.where(best == inner, left, np.inf)


DEPTH = 6
"""Columns on either side of a join that an edge is traced over."""

FAR = 8.0
"""Pixels square to itself that an edge may jump by: farther off is another edge."""

_LEAST = 12.0
"""Levels of 255 an edge must rise or fall by."""

_GRAIN = 2.5
"""Levels from a pixel to the next that are no part of an edge."""

_STEEPEST_TRACED = 5.0
"""Edges that run along a join for more pixels than this for each across aren't traced."""

_ALIKE = 0.2
"""Share by which an edge's rise may change from column to column."""

_SAME = 0.1
"""Share by which it may differ from one side of the join to the other."""

_TRUE = 0.03
"""Pixels that a place in a column is wrong by at the least, by rounding to levels."""

_ROUGHEST, _SHARPEST = 0.06, 0.12
"""Pixels that places may stray from their curve, and how much its slope may change at the join.

Both are for edges square to the join; those that slant may by as much as they are longer.
"""

_AT = np.arange(-DEPTH, DEPTH) + 0.5
_CURVE = np.stack([np.ones(2 * DEPTH), _AT, _AT**2, np.abs(_AT), np.sign(_AT) / 2], axis=1)
_FIT = np.linalg.pinv(_CURVE)
_SPREAD = float(np.sqrt((_FIT @ _FIT.T)[4, 4]))
"""By how much a jump errs against the error of a single place."""


class _Rises(NamedTuple):
    """Where a column of pixels rises or falls, in order, each of shape (rises,).

    Attributes:
        place: the middle of the rise, px.
        by: how many levels it rises by.
        start: the level it starts at.
    """

    place: Floats
    by: Floats
    start: Floats


def trace(strip: Levels) -> list[Edges]:
    """Trace edges over every gap between columns that has enough of them on either side.

    The first gap is right of the first :data:`DEPTH` columns.
    """
    columns = [(_one_way(rises, 1), _one_way(rises, -1)) for rises in _rises(strip)]
    result = []
    for at in range(DEPTH, len(columns) - DEPTH + 1):
        near = columns[at - DEPTH : at + DEPTH]
        found = [_edges([ways[k] for ways in near]) for k in (0, 1)]
        place, jump, slope, error = np.concatenate(found, axis=1)
        order = np.argsort(place)
        result.append(Edges(place[order], jump[order], slope[order], error[order]))
    return result


def _rises(strip: Levels) -> list[_Rises]:
    """Return the rises and falls of each column of a strip."""
    lines = np.ascontiguousarray(strip.T)
    change = np.diff(lines, axis=1)
    way = np.sign(change).astype(np.int8)
    plain = np.where(np.abs(change) >= _GRAIN, way, 0)
    # The faint ends of a rise belong to it.
    beside = np.zeros_like(plain, bool)
    beside[:, 1:] |= plain[:, :-1] == way[:, 1:]
    beside[:, :-1] |= plain[:, 1:] == way[:, :-1]
    plain = np.where((plain == 0) & beside, way, plain)
    result = []
    for line, steps, signs in zip(lines, change, plain, strict=True):
        starts = np.flatnonzero(np.diff(signs, prepend=0))
        starts = starts if len(starts) and starts[0] == 0 else np.concatenate([[0], starts])
        by = np.add.reduceat(steps, starts, dtype=np.float64)
        moment = np.add.reduceat(steps * np.arange(len(steps)), starts, dtype=np.float64)
        keep = (signs[starts] != 0) & (np.abs(by) >= _LEAST)
        place = moment[keep] / by[keep] + 1
        result.append(_Rises(place, by[keep], line[starts[keep]].astype(np.float64)))
    return result


def _one_way(rises: _Rises, sign: int) -> _Rises:
    """Return only what rises, or only what falls."""
    keep = rises.by * sign > 0
    return _Rises(*(values[keep] for values in rises))


def _edges(columns: list[_Rises]) -> Floats:
    """Return place, jump, slope and error of the edges over the middle of some columns."""
    before = _tracks(columns[DEPTH - 1 :: -1])
    after = _tracks(columns[DEPTH:])
    if not before.shape[1] or not after.shape[1]:
        return np.empty((4, 0))
    # From the nearest columns, as steeply as each runs there.
    meets = before[0] + (before[0] - before[2]) / 2
    goes = after[0] - (after[2] - after[0]) / 2
    order = np.argsort(goes)
    goes = goes[order]
    k = np.searchsorted(goes, meets)
    lower, upper = np.clip(k - 1, 0, len(goes) - 1), np.clip(k, 0, len(goes) - 1)
    nearer = np.where(np.abs(goes[lower] - meets) < np.abs(goes[upper] - meets), lower, upper)
    after = after[:, order[nearer]]
    rise_before, rise_after = before[DEPTH], after[DEPTH]
    start_before, start_after = before[DEPTH + 1], after[DEPTH + 1]
    alike = np.abs(rise_before - rise_after) < _SAME * np.abs(rise_before) + 2
    alike &= np.abs(start_before - start_after) < _SAME * np.abs(rise_before) + 2
    places = np.concatenate([before[DEPTH - 1 :: -1], after[:DEPTH]])
    curve = _FIT @ places
    rest = places - _CURVE @ curve
    error = np.sqrt((rest**2).sum(axis=0) / (2 * DEPTH - _CURVE.shape[1]))
    middle, slope, _, kink, jump = curve
    slant = np.hypot(1, slope)
    alike &= (np.abs(slope) < _STEEPEST_TRACED) & (error < _ROUGHEST * slant)
    alike &= (np.abs(kink) < _SHARPEST * slant**2) & (np.abs(jump) < FAR * slant)
    error = _SPREAD * np.hypot(error, _TRUE * slant)
    return np.stack([middle, jump, slope, error])[:, alike]


def _tracks(columns: list[_Rises]) -> Floats:
    """Trace every rise of the first column through the others.

    Returns:
        Shape (depth + 2, tracks): where each lies in each column, then its mean rise and the
        level it starts from. Those lost on the way are left out.
    """
    places = [columns[0].place]
    rise = columns[0].by
    starts = [columns[0].start]
    rises = [rise]
    kept = np.ones(len(rise), bool)
    for k, column in enumerate(columns[1:], 1):
        if not len(column.place):
            return np.empty((len(columns) + 2, 0))
        ahead = places[-1] if k == 1 else 2 * places[-1] - places[-2]
        at = np.searchsorted(column.place, ahead)
        lower = np.clip(at - 1, 0, len(column.place) - 1)
        upper = np.clip(at, 0, len(column.place) - 1)
        nearer = np.abs(column.place[lower] - ahead) < np.abs(column.place[upper] - ahead)
        found = np.where(nearer, lower, upper)
        off = np.abs(column.place[found] - ahead)
        kept &= off < (_STEEPEST_TRACED if k == 1 else 1.0)
        kept &= np.abs(column.by[found] - rises[-1]) < _ALIKE * np.abs(rises[-1]) + 2
        places.append(column.place[found])
        rises.append(column.by[found])
        starts.append(column.start[found])
    mean_rise, mean_start = np.mean(rises, axis=0), np.mean(starts, axis=0)
    return np.stack([*places, mean_rise, mean_start])[:, kept]
