"""Following edges of a raster tile over a join: how far each jumps there, and how it runs on."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from vecrepeat.check.pixels import Levels

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

Floats = NDArray[np.float64]


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

    def only(self, which: NDArray[np.bool_]) -> Edges:
        """Return some of them."""
        return Edges(*(values[which] for values in self))


def follow(left: Levels, right: Levels, grain: float) -> Edges:
    """Follow edges from the strip left of a join to the one right of it.

    Lines of pixels are laid beside each other, window by window: the two left of the join, the
    two right of it, and the two that meet. What an edge moves on over the join by beyond the
    mean of what it does on either side is its jump.

    Args:
        left: at least two pixels wide.
        right: likewise.
        grain: mean square of what the grain differs by from a pixel to the next.
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
