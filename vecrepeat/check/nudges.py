"""Parts of a raster tile that go on beside their place over a join, and by how much.

Wherever an edge of the drawing runs over the join, two things are measured: how far it jumps
there, and how steeply it runs on. An edge of slope m jumps by dy − m · dx where its part lies
(dx, dy) out of place, so a few edges tell both. For every offset and every run of edges along
the join, the likelihoods of the jumps with and without the offset are compared. The same is
done between columns all over the picture, where nothing is out of place: that tells how
far jumps err in this picture, how many of its edges only seem to go on (corners, things in
front of others), and how large a ratio still means nothing.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from vecrepeat.check.follow import REACH, WINDOWS, Edges, Floats, follow, grain_of
from vecrepeat.check.pixels import Levels

SAMPLES = 40
"""How many columns within the picture the join is compared with."""

_OFFSETS = np.array(
    [
        (dx, dy)
        for dx in range(-REACH, REACH + 1)
        for dy in range(-REACH, REACH + 1)
        if (dx, dy) != (0, 0)
    ]
)

_RARER = 2 * np.log1p(np.hypot(_OFFSETS[:, 0], _OFFSETS[:, 1]))
"""By how much of a log likelihood ratio large offsets must earn more than small ones."""

_ANYWHERE = 14.0
"""Pixels over which the jumps of edges that don't go on are spread."""

_LEAST = 8.0
"""Log likelihood ratio below which nothing is told: 1 in 3,000 if edges were all there is."""

_TAIL = 6.0
"""How far out on the tail of the picture's own ratios a join must lie, in powers of e."""

_STRAYS = 6.0
"""Standard errors from which a jump is none of an edge that goes on."""

_LOOSE, _LOOSER = 0.15, 2.5
"""Share of edges whose jumps err by more than expected, and how many times as much."""

_MOST_PARTS = 20


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


class _Usual(NamedTuple):
    """What is usual within a picture.

    Attributes:
        error: by how much jumps err, against what the edges themselves let expect.
        stray: share of the edges that don't go on.
        bar: ratio above which the picture's own columns hardly ever come.
    """

    error: float
    stray: float
    bar: float


class _Run(NamedTuple):
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


def nudges(grey: Levels, shift: int) -> list[Nudge]:
    """Return the parts out of place over an upright join.

    Args:
        grey: the picture.
        shift: by how many pixels it comes in lower on the join's right.
    """
    rows, width = grey.shape
    if rows < 2 * WINDOWS[-1] or width < 8 * REACH:
        return []
    columns = np.unique(np.linspace(REACH, width - REACH, SAMPLES).astype(int))
    pairs = [(grey[:, c - 2 : c], grey[:, c : c + 2]) for c in columns]
    grain = grain_of(pairs)
    usual = _usual([follow(one, other, grain) for one, other in pairs])
    edges = follow(grey[:, -2:], np.roll(grey[:, :2], shift, axis=0), grain)
    found: list[Nudge] = []
    for _ in range(_MOST_PARTS):
        run = _best(edges, usual.error, usual.stray)
        if run.ratio < usual.bar:
            break
        dx, dy = (int(v) for v in _OFFSETS[run.offset])
        first, last = (int(edges.place[k]) for k in (run.first, run.last))
        _told(found, Nudge(dx, dy, first, last))
        rest = np.ones(len(edges.jump), bool)
        rest[run.first : run.last + 1] = False
        edges = edges.only(rest)
    return found


def _told(found: list[Nudge], nudge: Nudge) -> None:
    """Add a part to those found; what lies out of place alike is one part."""
    for k, other in enumerate(found):
        if (other.across, other.along) == (nudge.across, nudge.along):
            found[k] = nudge._replace(
                first=min(other.first, nudge.first), last=max(other.last, nudge.last)
            )
            return
    found.append(nudge)


def _usual(columns: list[Edges]) -> _Usual:
    """Measure columns within the picture, where nothing is out of place."""
    off = np.concatenate([np.abs(edges.jump) / edges.error for edges in columns])
    # 1.48 median deviations are one standard one. Few edges say little: 20 say what is expected.
    middle = 1.48 * float(np.median(off)) if len(off) else 1.0
    error = max((middle * len(off) + 20) / (len(off) + 20), 0.6)
    stray = (float((off > _STRAYS * error).sum()) + 1) / (len(off) + 100)
    ratios = np.sort([_best(edges, error, stray).ratio for edges in columns])
    # The tail is taken to fall off like a power of e, as far as its upper quarter shows.
    upper = ratios[len(ratios) * 3 // 4 :]
    bar = float(upper[0] + _TAIL * (upper - upper[0]).mean())
    return _Usual(error, stray, max(_LEAST, bar))


def _ratios(edges: Edges, error: float, stray: float) -> Floats:
    """Return log likelihood ratios of each offset against none, shape (offsets, edges)."""
    across, along = _OFFSETS[:, :1], _OFFSETS[:, 1:]
    foretold = along - edges.slope[None] * across
    own = (error * edges.error)[None]
    # What an offset across the join foretells is no surer than the slope, which bends meanwhile.
    spread = np.sqrt(own**2 * (1 + across**2) + (0.05 * across) ** 2 + (0.03 * foretold) ** 2)
    result: Floats = _likely(edges.jump[None] - foretold, spread, stray)
    result -= _likely(edges.jump[None], own, stray)
    return result


def _likely(off: Floats, spread: Floats, stray: float) -> Floats:
    """Return log likelihoods of jumps that are so far off, some of them strays."""
    squares = np.minimum((off / spread) ** 2, 600) / 2
    # Some edges err by more than others like them: two bells, one in the other.
    near = (1 - _LOOSE) * np.exp(-squares) + _LOOSE / _LOOSER * np.exp(-squares / _LOOSER**2)
    near *= (1 - stray) / (spread * math.sqrt(2 * math.pi))
    result: Floats = np.log(near + stray / _ANYWHERE)
    return result


def _best(edges: Edges, error: float, stray: float) -> _Run:
    """Return the run of edges and the offset of the highest likelihood ratio."""
    count = len(edges.jump)
    if not count:
        return _Run(0.0, 0, 0, 0)
    sums = np.zeros((len(_OFFSETS), count + 1))
    np.cumsum(_ratios(edges, error, stray), axis=1, out=sums[:, 1:])
    # The best run that ends with an edge begins where the sum before it was least.
    runs = sums[:, 1:] - np.minimum.accumulate(sums[:, :-1], axis=1) - _RARER[:, None]
    offset, last = (int(k) for k in np.unravel_index(runs.argmax(), runs.shape))
    first = int(sums[offset, : last + 1].argmin())
    return _Run(float(runs[offset, last]) - math.log(count), offset, first, last)
