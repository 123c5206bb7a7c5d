"""Following edges of a raster tile over a join: how far each jumps there, and how it runs on."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from vecrepeat.check.pixels import Levels

REACH = 6
"""Largest offset of a part in pixels that is looked for, each way."""

WINDOW, STEP = 20, 5
"""Pixels of the join looked at at once, and from one window to the next."""

STEEPEST = 6.0
"""Edges steeper against the join's normal run along it and can't be followed over it."""

Floats = NDArray[np.float64]


class Followed(NamedTuple):
    """What the windows along a join show, each of shape (windows,).

    Attributes:
        jump: by how many pixels the edges in it jump at the join.
        slope: by how many pixels they run on along the join for each across.
        bend: by how much that differs from one side to the other.
        rest: share of the edges that shifting does not explain, of 1, grain left out.
        plain: whether there is an edge that stands out of the grain.
    """

    jump: Floats
    slope: Floats
    bend: Floats
    rest: Floats
    plain: NDArray[np.bool_]


def follow(left: Levels, right: Levels, noise: float) -> Followed:
    """Follow edges from the strip left of a join to the one right of it.

    Args:
        left: at least four pixels wide.
        right: likewise.
        noise: squares of what the grain differs by over a gap, summed over a window.
    """
    left, right = _smooth(left), _smooth(right)
    near = math.ceil(3 * STEEPEST)
    before, rest_before = _registered(left[:, -4], left[:, -1], near)
    over, rest_over = _registered(left[:, -1], right[:, 0], near + REACH)
    after, rest_after = _registered(right[:, 0], right[:, 3], near)
    slope = (before + after) / 6
    # How steep the lines are is what makes a shift plain: squares of changes along them.
    steep = np.minimum(
        _sums((np.roll(left[:, -1], -1) - left[:, -1]) ** 2),
        _sums((np.roll(right[:, 0], -1) - right[:, 0]) ** 2),
    )
    rest = np.maximum(np.maximum(rest_before, rest_over), rest_after)
    return Followed(
        over - slope,
        slope,
        np.abs(before - after) / 3,
        (rest - 1.5 * noise) / np.maximum(steep, 1e-9),
        steep > 150 + 3 * noise,
    )


def grain(pairs: list[tuple[Levels, Levels]]) -> float:
    """Return the noise of a picture for :func:`follow`, from columns all over it.

    Grain makes every window differ, and the median one has no edge in it.
    """
    return float(np.median([_sums((one[:, -1] - other[:, 0]) ** 2) for one, other in pairs]))


def _smooth(strip: Levels) -> Levels:
    """Return a strip smoothed along the join, which runs round, so that shifts have fractions."""
    total = np.float32(0.375) * strip
    for by, weight in ((1, 0.25), (2, 0.0625)):
        total += np.float32(weight) * (np.roll(strip, by, axis=0) + np.roll(strip, -by, axis=0))
    return total


def _sums(values: NDArray[np.float32]) -> Floats:
    """Return sums over the windows of the last axis, which runs round."""
    size = values.shape[-1]
    padded = np.concatenate([values, values[..., :WINDOW]], axis=-1)
    total = np.cumsum(padded, axis=-1, dtype=np.float64)
    total = np.concatenate([np.zeros((*total.shape[:-1], 1)), total], axis=-1)
    starts = np.arange(0, size, STEP)
    return total[..., starts + WINDOW] - total[..., starts]


def _registered(one: Levels, other: Levels, reach: int) -> tuple[Floats, Floats]:
    """Return by how many pixels one line lies beside another, window by window.

    Returns:
        The shifts, to fractions of a pixel, and what is left of the difference there.
    """
    shifts = np.arange(-reach, reach + 1)
    costs = _sums(np.stack([(one - np.roll(other, -s)) ** 2 for s in shifts]))
    best = costs.argmin(axis=0)
    inner = np.clip(best, 1, len(shifts) - 2)
    window = np.arange(costs.shape[1])
    low, mid, high = (costs[inner + k, window] for k in (-1, 0, 1))
    bend = low - 2 * mid + high
    part = np.where(bend > 0, (low - high) / (2 * np.maximum(bend, 1e-9)), 0.0)
    shift = shifts[inner] + np.clip(part, -1, 1)
    left = np.maximum(mid - 0.25 * (low - high) * part, 0)
    # At the end of the search there is no telling.
    left = np.where(best == inner, left, np.inf)
    return shift, left
