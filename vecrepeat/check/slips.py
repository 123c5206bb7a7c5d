"""Parts of a plain drawing that are a few pixels out of place, told by an edge or two.

Like :mod:`vecrepeat.check.nudges`, with edges traced to hundredths of a pixel. What a jump that
means nothing looks like is read off hundreds of columns of the same picture, so that a single
edge tells where the drawing itself has none that jump so.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from vecrepeat.check.follow import Edges, Floats
from vecrepeat.check.pixels import Levels
from vecrepeat.check.runs import (
    OFFSETS,
    Nudge,
    Run,
    bell,
    best_run,
    error_scale,
    near,
    parts,
)
from vecrepeat.check.traced import DEPTH, FAR, trace

BLOCKS, BLOCK = 26, 12
"""In how many places of the picture how many gaps between columns are looked at."""

_RARER = 1 + 4 * np.log(np.hypot(OFFSETS[:, 0], OFFSETS[:, 1]))
"""By how much of a log likelihood ratio large offsets must earn more than small ones.

More than where edges are followed roughly: few edges leave open which of many offsets it is.
"""

_LEAST = 6.5
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


class _Usual(NamedTuple):
    """What is usual within a picture.

    Attributes:
        error: by how much jumps err, against what the edges themselves let expect.
        edges: how many were looked at.
        strays: jumps, square to their edges, of those that don't go on.
    """

    error: float
    edges: int
    strays: Floats


_SPOTLESS = _Usual(0.6, 100_000, np.empty(0))
"""A picture in which every jump means something."""


def slips(grey: Levels, shift: int) -> list[Nudge]:
    """Return the parts out of place over an upright join.

    Args:
        grey: the picture.
        shift: by how many pixels it comes in lower on the join's right.
    """
    if grey.shape[1] < 4 * DEPTH:
        return []
    right = np.roll(grey[:, :DEPTH], shift, axis=0)
    edges = trace(np.concatenate([grey[:, -DEPTH:], right], axis=1))[0]
    if _best(edges, _SPOTLESS).ratio < _LEAST:
        # The picture need not be measured: nothing would be told in any.
        return []
    usual = _usual(grey)
    return parts(edges, lambda some: _best(some, usual), _LEAST)


def _usual(grey: Levels) -> _Usual:
    """Measure gaps all over a picture, where nothing is out of place."""
    width = grey.shape[1]
    wide = min(BLOCK + 2 * DEPTH - 1, width)
    starts = np.unique(np.linspace(0, width - wide, BLOCKS).astype(int))
    gaps = [edges for s in starts for edges in trace(grey[:, s : s + wide])]
    jump = np.concatenate([edges.jump for edges in gaps])
    slant = np.hypot(1, np.concatenate([edges.slope for edges in gaps]))
    error = np.concatenate([edges.error for edges in gaps])
    askew = jump / slant
    return _Usual(error_scale(jump / error), len(jump), askew[np.abs(askew) > _STRAY])


def _best(edges: Edges, usual: _Usual) -> Run:
    """Return the run of edges and the offset of the highest likelihood ratio."""
    across, along = OFFSETS[:, :1], OFFSETS[:, 1:]
    foretold = along - edges.slope[None] * across
    slant = np.hypot(1, edges.slope)[None]
    own = (usual.error * edges.error)[None]
    stray = _stray(edges.jump / slant, usual) / slant
    ratios = np.log(_likely(edges.jump - foretold, own, slant) + stray)
    ratios -= np.log(_likely(edges.jump[None], own, slant) + stray)
    return best_run(ratios, _RARER)


def _likely(off: Floats, own: Floats, slant: Floats) -> Floats:
    """Return densities of jumps that are so far off, of edges that go on."""
    askew = bell(off, np.hypot(_RENDERER * slant, own))
    return (1 - _RENDERED) * near(off, own) + _RENDERED * askew


def _stray(askew: Floats, usual: _Usual) -> Floats:
    """Return densities of jumps, square to their edges, of edges that don't go on."""
    total = np.full_like(askew, 1 / (2 * FAR))
    for one in usual.strays:
        total += (bell(askew - one, _LIKE) + bell(askew + one, _LIKE)) / 2
    result: Floats = total / (usual.edges + 1)
    return result
