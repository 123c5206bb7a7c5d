"""Parts of a raster tile that go on beside their place over a join, and by how much.

Wherever an edge of the drawing runs over the join, two things are measured: how far it jumps
there, and how steeply it runs on. An edge of slope m jumps by dy − m · dx where its part lies
(dx, dy) out of place, so a few edges tell both. For every offset and every run of edges along
the join, the likelihoods of the jumps with and without the offset are compared. The same is
done between columns all over the picture, where nothing is out of place: that tells how
far jumps err in this picture, how many of its edges only seem to go on (corners, things in
front of others), and how large a ratio still means nothing.

Edges are followed roughly anywhere, and traced to hundredths of a pixel in plain drawings,
where a single one tells if the drawing itself has none that jump so.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import product
from typing import NamedTuple

import numpy as np

from vecrepeat.check.edges import DEPTH, FAR, REACH, WINDOWS, Edges, follow, grain_of, trace
from vecrepeat.check.pixels import Levels
from vecrepeat.repeat.wrap import Floats

_EACH_WAY = range(-REACH, REACH + 1)
OFFSETS = np.array([offset for offset in product(_EACH_WAY, repeat=2) if offset != (0, 0)])

LEAST = 8.0
"""Log likelihood ratio below which nothing is told: 1 in 3,000 if edges were all there is."""

_LOOSE, _LOOSER = 0.15, 2.5
"""Share of edges whose jumps err by more than expected, and how many times as much."""

_MOST_PARTS = 20

SAMPLES = 40
"""How many columns within the picture the join is compared with."""

_RARER_FOLLOWED = 2 * np.log1p(np.hypot(OFFSETS[:, 0], OFFSETS[:, 1]))
"""By how much of a log likelihood ratio large offsets must earn more than small ones."""

_ANYWHERE = 14.0
"""Pixels over which the jumps of edges that don't go on are spread."""

_TAIL = 6.0
"""How far out on the tail of the picture's own ratios a join must lie, in powers of e."""

_STRAYS = 6.0
"""Standard errors from which a jump is none of an edge that goes on."""

_BESIDE = 60
"""Pixels along the join within which two parts told are the same one."""

PLACES, GAPS = 26, 12
"""In how many places of the picture how many gaps between columns are looked at."""

_RARER_TRACED = 1 + 4 * np.log(np.hypot(OFFSETS[:, 0], OFFSETS[:, 1]))
"""By how much of a log likelihood ratio large offsets must earn more than small ones.

More than where edges are followed roughly: few edges leave open which of many offsets it is.
"""

_LEAST_TRACED = 6.5
"""Log likelihood ratio below which nothing is told.

Of 4,600 columns within seamless tiles (demo-svg drawn by resvg, and the clean rasters of
tests/benchmarks/check_bank.py) 7 came above 3 and none above 4.
"""

_RENDERED, _RENDERER = 0.02, 0.13
"""Share of edges drawn askew at a join, and by how many pixels square to themselves.

Renderers round to quarters of a pixel, and cut a curve at the page's bounds to other lines.
"""

_STRAY, _LIKE = 0.35, 0.15
"""Jumps of so many pixels are the drawing's own; each stands for those so much like it."""


class Nudge(NamedTuple):
    """A part that is out of place.

    Attributes:
        across: by how many pixels, across the join.
        along: along it.
        first: where along the join it begins, px.
        last: where it ends.
        edges: how many edges tell it.
    """

    across: int
    along: int
    first: int
    last: int
    edges: int


class Run(NamedTuple):
    """The run of edges that one offset explains best.

    Attributes:
        ratio: log likelihood ratio, less what the choice among so many runs and offsets costs.
        offset: index of the offset.
        first: first edge of the run.
        last: its last.
    """

    ratio: float
    offset: int
    first: int
    last: int


def error_scale(off: Floats) -> float:
    """Return by how much jumps err, against what their edges let expect, where all is in place."""
    # 1.48 median deviations are one standard one. Few edges say little: 20 say what is expected.
    middle = 1.48 * float(np.median(np.abs(off))) if len(off) else 1.0
    return max((middle * len(off) + 20) / (len(off) + 20), 0.6)


def bell(off: Floats, spread: Floats | float) -> Floats:
    """Return the densities of the normal distribution."""
    result: Floats = np.exp(-np.minimum((off / spread) ** 2, 600) / 2)
    result /= spread * math.sqrt(2 * math.pi)
    return result


def near(off: Floats, spread: Floats) -> Floats:
    """Return the densities of errors that are expected to be so large, some of them larger."""
    return (1 - _LOOSE) * bell(off, spread) + _LOOSE * bell(off, _LOOSER * spread)


def best_run(ratios: Floats, rarer: Floats) -> Run:
    """Return the run of edges and the offset of the highest likelihood ratio.

    ``ratios`` are logarithms, shape (offsets, edges); each offset must earn ``rarer`` more.
    """
    count = ratios.shape[1]
    if not count:
        return Run(0.0, 0, 0, 0)
    sums = np.zeros((len(ratios), count + 1))
    np.cumsum(ratios, axis=1, out=sums[:, 1:])
    # The best run that ends with an edge begins where the sum before it was least.
    runs = sums[:, 1:] - np.minimum.accumulate(sums[:, :-1], axis=1) - rarer[:, None]
    offset, last = (int(k) for k in np.unravel_index(runs.argmax(), runs.shape))
    first = int(sums[offset, : last + 1].argmin())
    return Run(float(runs[offset, last]) - math.log(count), offset, first, last)


def find_parts(edges: Edges, best: Callable[[Edges], Run], bar: float) -> list[Nudge]:
    """Return the parts out of place, one best run after another while it is above the bar."""
    found: dict[int, Nudge] = {}
    for _ in range(_MOST_PARTS):
        run = best(edges)
        if run.ratio < bar:
            break
        first, last = (int(edges.place[k]) for k in (run.first, run.last))
        count = run.last - run.first + 1
        if alike := found.get(run.offset):
            # What lies out of place alike is one part.
            first, last = min(alike.first, first), max(alike.last, last)
            count += alike.edges
        dx, dy = OFFSETS[run.offset].tolist()
        found[run.offset] = Nudge(dx, dy, first, last, count)
        told = slice(run.first, run.last + 1)
        edges = Edges(*(np.delete(values, told) for values in edges))
    return list(found.values())


class _UsualColumns(NamedTuple):
    """What is usual within a picture.

    Attributes:
        error: by how much jumps err, against what the edges themselves let expect.
        stray: share of the edges that don't go on.
        bar: ratio above which the picture's own columns hardly ever come.
    """

    error: float
    stray: float
    bar: float


def find_nudges(grey: Levels, shift: int) -> list[Nudge]:
    """Return the parts out of place over an upright join, whose right lies ``shift`` px lower."""
    rows, width = grey.shape
    if rows < 2 * WINDOWS[-1] or width < 8 * REACH:
        return []
    found = find_slips(grey, shift)
    for nudge in _find_roughly(grey, shift):
        beside = [n for n in found if _meet(n, nudge)]
        # Where both tell of the same part, more edges tell better; of as many, exact ones.
        if nudge.edges > sum(n.edges for n in beside):
            found = [n for n in found if n not in beside] + [nudge]
    return found


def _meet(one: Nudge, other: Nudge) -> bool:
    """Whether two parts told are the same one."""
    return one.first - _BESIDE < other.last and other.first < one.last + _BESIDE


def _find_roughly(grey: Levels, shift: int) -> list[Nudge]:
    """Return the parts that edges tell which are followed over the nearest pixels only."""
    width = grey.shape[1]
    columns = np.unique(np.linspace(REACH, width - REACH, SAMPLES).astype(int))
    pairs = [(grey[:, c - 2 : c], grey[:, c : c + 2]) for c in columns]
    grain = grain_of(pairs)
    usual = _usual_columns([follow(one, other, grain) for one, other in pairs])
    edges = follow(grey[:, -2:], np.roll(grey[:, :2], shift, axis=0), grain)
    return find_parts(edges, lambda some: _best_followed(some, usual.error, usual.stray), usual.bar)


def _usual_columns(columns: list[Edges]) -> _UsualColumns:
    """Measure columns within the picture, where nothing is out of place."""
    off = np.concatenate([np.abs(edges.jump) / edges.error for edges in columns])
    error = error_scale(off)
    stray = (float((off > _STRAYS * error).sum()) + 1) / (len(off) + 100)
    ratios = np.sort([_best_followed(edges, error, stray).ratio for edges in columns])
    # The tail is taken to fall off like a power of e, as far as its upper quarter shows.
    upper = ratios[len(ratios) * 3 // 4 :]
    bar = float(upper[0] + _TAIL * (upper - upper[0]).mean())
    return _UsualColumns(error, stray, max(LEAST, bar))


def _best_followed(edges: Edges, error: float, stray: float) -> Run:
    """Return the run of edges and the offset of the highest likelihood ratio."""
    across, along = OFFSETS[:, :1], OFFSETS[:, 1:]
    foretold = along - edges.slope[None] * across
    own = (error * edges.error)[None]
    # What an offset across the join foretells is no surer than the slope, which bends meanwhile.
    spread = np.sqrt(own**2 * (1 + across**2) + (0.05 * across) ** 2 + (0.03 * foretold) ** 2)
    stray_share = stray / _ANYWHERE
    ratios = np.log((1 - stray) * near(edges.jump[None] - foretold, spread) + stray_share)
    ratios -= np.log((1 - stray) * near(edges.jump[None], own) + stray_share)
    return best_run(ratios, _RARER_FOLLOWED)


class _UsualGaps(NamedTuple):
    """What is usual within a picture.

    Attributes:
        error: by how much jumps err, against what the edges themselves let expect.
        edges: how many were looked at.
        strays: jumps, square to their edges, of those that don't go on.
    """

    error: float
    edges: int
    strays: Floats


_SPOTLESS = _UsualGaps(0.6, 100_000, np.empty(0))
"""A picture in which every jump means something."""


def find_slips(grey: Levels, shift: int) -> list[Nudge]:
    """Return the parts out of place over an upright join, whose right lies ``shift`` px lower."""
    if grey.shape[1] < 4 * DEPTH:
        return []
    right = np.roll(grey[:, :DEPTH], shift, axis=0)
    edges = trace(np.concatenate([grey[:, -DEPTH:], right], axis=1))[0]
    if _best_traced(edges, _SPOTLESS).ratio < _LEAST_TRACED:
        # The picture need not be measured: nothing would be told in any.
        return []
    usual = _usual_gaps(grey)
    return find_parts(edges, lambda some: _best_traced(some, usual), _LEAST_TRACED)


def _usual_gaps(grey: Levels) -> _UsualGaps:
    """Measure gaps all over a picture, where nothing is out of place."""
    width = grey.shape[1]
    wide = min(GAPS + 2 * DEPTH - 1, width)
    starts = np.unique(np.linspace(0, width - wide, PLACES).astype(int))
    gaps = [edges for s in starts for edges in trace(grey[:, s : s + wide])]
    jump = np.concatenate([edges.jump for edges in gaps])
    slant = np.hypot(1, np.concatenate([edges.slope for edges in gaps]))
    error = np.concatenate([edges.error for edges in gaps])
    askew = jump / slant
    return _UsualGaps(error_scale(jump / error), len(jump), askew[np.abs(askew) > _STRAY])


def _best_traced(edges: Edges, usual: _UsualGaps) -> Run:
    """Return the run of edges and the offset of the highest likelihood ratio."""
    across, along = OFFSETS[:, :1], OFFSETS[:, 1:]
    foretold = along - edges.slope[None] * across
    slant = np.hypot(1, edges.slope)[None]
    own = (usual.error * edges.error)[None]
    stray = _stray(edges.jump / slant, usual) / slant
    ratios = np.log(_likely(edges.jump - foretold, own, slant) + stray)
    ratios -= np.log(_likely(edges.jump[None], own, slant) + stray)
    return best_run(ratios, _RARER_TRACED)


def _likely(off: Floats, own: Floats, slant: Floats) -> Floats:
    """Return densities of jumps that are so far off, of edges that go on."""
    askew = bell(off, np.hypot(_RENDERER * slant, own))
    return (1 - _RENDERED) * near(off, own) + _RENDERED * askew


def _stray(askew: Floats, usual: _UsualGaps) -> Floats:
    """Return densities of jumps, square to their edges, of edges that don't go on."""
    total = np.full_like(askew, 1 / (2 * FAR))
    for one in usual.strays:
        total += (bell(askew - one, _LIKE) + bell(askew + one, _LIKE)) / 2
    result: Floats = total / (usual.edges + 1)
    return result
