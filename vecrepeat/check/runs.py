"""Runs of edges along a join that one offset explains: the search, and what tells errors.

Shared by the two ways of following edges, :mod:`vecrepeat.check.nudges` and
:mod:`vecrepeat.check.slips`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from vecrepeat.check.follow import REACH, Edges, Floats

OFFSETS = np.array(
    [
        (dx, dy)
        for dx in range(-REACH, REACH + 1)
        for dy in range(-REACH, REACH + 1)
        if (dx, dy) != (0, 0)
    ]
)

LEAST = 8.0
"""Log likelihood ratio below which nothing is told: 1 in 3,000 if edges were all there is."""

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
    """Return by how much jumps err where nothing is out of place.

    Args:
        off: jumps against the error that the edges themselves let expect.
    """
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

    Args:
        ratios: log likelihood ratios, shape (offsets, edges).
        rarer: how much each offset must earn, shape (offsets,).
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


def parts(edges: Edges, best: Callable[[Edges], Run], bar: float) -> list[Nudge]:
    """Return the parts out of place, one best run after another while it is above the bar."""
    found: list[Nudge] = []
    for _ in range(_MOST_PARTS):
        run = best(edges)
        if run.ratio < bar:
            break
        dx, dy = (int(v) for v in OFFSETS[run.offset])
        first, last = (int(edges.place[k]) for k in (run.first, run.last))
        _told(found, Nudge(dx, dy, first, last, run.last - run.first + 1))
        rest = np.ones(len(edges.jump), bool)
        rest[run.first : run.last + 1] = False
        edges = edges.only(rest)
    return found


def _told(found: list[Nudge], nudge: Nudge) -> None:
    """Add a part to those found; what lies out of place alike is one part."""
    for k, other in enumerate(found):
        if (other.across, other.along) == (nudge.across, nudge.along):
            found[k] = nudge._replace(
                first=min(other.first, nudge.first),
                last=max(other.last, nudge.last),
                edges=other.edges + nudge.edges,
            )
            return
    found.append(nudge)
