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

from typing import NamedTuple

import numpy as np

from vecrepeat.check.follow import REACH, WINDOWS, Edges, follow, grain_of
from vecrepeat.check.pixels import Levels
from vecrepeat.check.runs import LEAST, OFFSETS, Nudge, Run, best_run, error_scale, near, parts
from vecrepeat.check.slips import slips

SAMPLES = 40
"""How many columns within the picture the join is compared with."""

_RARER = 2 * np.log1p(np.hypot(OFFSETS[:, 0], OFFSETS[:, 1]))
"""By how much of a log likelihood ratio large offsets must earn more than small ones."""

_ANYWHERE = 14.0
"""Pixels over which the jumps of edges that don't go on are spread."""

_TAIL = 6.0
"""How far out on the tail of the picture's own ratios a join must lie, in powers of e."""

_STRAYS = 6.0
"""Standard errors from which a jump is none of an edge that goes on."""

_BESIDE = 60
"""Pixels along the join within which two parts told are the same one."""


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


def nudges(grey: Levels, shift: int) -> list[Nudge]:
    """Return the parts out of place over an upright join.

    Args:
        grey: the picture.
        shift: by how many pixels it comes in lower on the join's right.
    """
    rows, width = grey.shape
    if rows < 2 * WINDOWS[-1] or width < 8 * REACH:
        return []
    found = slips(grey, shift)
    for nudge in _rough(grey, shift):
        beside = [n for n in found if _meet(n, nudge)]
        # Where both tell of the same part, more edges tell better; of as many, exact ones.
        if nudge.edges > sum(n.edges for n in beside):
            found = [n for n in found if n not in beside] + [nudge]
    return found


def _meet(one: Nudge, other: Nudge) -> bool:
    """Whether two parts told are the same one."""
    return one.first - _BESIDE < other.last and other.first < one.last + _BESIDE


def _rough(grey: Levels, shift: int) -> list[Nudge]:
    """Return the parts that edges tell which are followed over the nearest pixels only."""
    width = grey.shape[1]
    columns = np.unique(np.linspace(REACH, width - REACH, SAMPLES).astype(int))
    pairs = [(grey[:, c - 2 : c], grey[:, c : c + 2]) for c in columns]
    grain = grain_of(pairs)
    usual = _usual([follow(one, other, grain) for one, other in pairs])
    edges = follow(grey[:, -2:], np.roll(grey[:, :2], shift, axis=0), grain)
    return parts(edges, lambda some: _best(some, usual.error, usual.stray), usual.bar)


def _usual(columns: list[Edges]) -> _Usual:
    """Measure columns within the picture, where nothing is out of place."""
    off = np.concatenate([np.abs(edges.jump) / edges.error for edges in columns])
    error = error_scale(off)
    stray = (float((off > _STRAYS * error).sum()) + 1) / (len(off) + 100)
    ratios = np.sort([_best(edges, error, stray).ratio for edges in columns])
    # The tail is taken to fall off like a power of e, as far as its upper quarter shows.
    upper = ratios[len(ratios) * 3 // 4 :]
    bar = float(upper[0] + _TAIL * (upper - upper[0]).mean())
    return _Usual(error, stray, max(LEAST, bar))


def _best(edges: Edges, error: float, stray: float) -> Run:
    """Return the run of edges and the offset of the highest likelihood ratio."""
    across, along = OFFSETS[:, :1], OFFSETS[:, 1:]
    foretold = along - edges.slope[None] * across
    own = (error * edges.error)[None]
    # What an offset across the join foretells is no surer than the slope, which bends meanwhile.
    spread = np.sqrt(own**2 * (1 + across**2) + (0.05 * across) ** 2 + (0.03 * foretold) ** 2)
    stray_share = stray / _ANYWHERE
    ratios = np.log((1 - stray) * near(edges.jump[None] - foretold, spread) + stray_share)
    ratios -= np.log((1 - stray) * near(edges.jump[None], own) + stray_share)
    return best_run(ratios, _RARER)
