"""Edges of a raster tile traced over a join: where each lies column by column, to hundredths.

:mod:`vecrepeat.check.follow` compares lines of pixels and takes any drawing, grain and all. Here
single edges of a plain drawing are traced over several columns on either side, and one smooth
curve with a jump at the join is laid through each. That tells jumps several times as exactly,
and hardly any corner or crossing of the drawing's own looks like one, so that an edge or two
are enough.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from vecrepeat.check.follow import Edges, Floats
from vecrepeat.check.pixels import Levels

DEPTH = 6
"""Columns on either side of a join that an edge is traced over."""

FAR = 8.0
"""Pixels square to itself that an edge may jump by: farther off is another edge."""

_LEAST = 12.0
"""Levels of 255 an edge must rise or fall by."""

_GRAIN = 2.5
"""Levels from a pixel to the next that are no part of an edge."""

_STEEPEST = 5.0
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

    Args:
        strip: at least twice :data:`DEPTH` pixels wide.

    Returns:
        The edges of each gap, from the one right of the first :data:`DEPTH` columns on.
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
    alike &= (np.abs(slope) < _STEEPEST) & (error < _ROUGHEST * slant)
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
        kept &= off < (_STEEPEST if k == 1 else 1.0)
        kept &= np.abs(column.by[found] - rises[-1]) < _ALIKE * np.abs(rises[-1]) + 2
        places.append(column.place[found])
        rises.append(column.by[found])
        starts.append(column.start[found])
    mean_rise, mean_start = np.mean(rises, axis=0), np.mean(starts, axis=0)
    return np.stack([*places, mean_rise, mean_start])[:, kept]
