"""How well a toss is composed, in figures and in plain words.

The measures and what each counts for are ours, set by looking at tosses (no source).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vecrepeat.arrange.crowd import Crowd, Ints
from vecrepeat.arrange.likeness import weights
from vecrepeat.arrange.measures import Evenness
from vecrepeat.arrange.torus import Torus
from vecrepeat.core.units import counted
from vecrepeat.repeat.model import Ground
from vecrepeat.sources.looks import ALIKE, GREY, main_colour

Floats = NDArray[np.float64]

NEIGHBOURS = 1.5
"""Motifs count as side by side whose middles are no further apart than this, in mean distances."""

_MOST = 2500
"""The most motifs that are held against each other one by one."""

_CELLS = 16
"""Cells of the repeat each way, of which windows of half of it are made."""


@dataclass(frozen=True)
class Score:
    """How well a toss is composed.

    Attributes:
        apart: how far motifs are from the nearest of their kind, on the mean, by how far they
            would be were the same places dealt out at random; 1 is chance. None where no motif
            is there twice.
        twins: how many pairs of one motif lie side by side on a period of the cloth.
        same_colour: the share of neighbours that are of one main colour, 0 to 1; None where no
            motif tells its colour.
        unevenness: the standard deviation of the gaps, by their mean.
        lightest: the least that a window of half the repeat weighs, by the mean; a motif weighs
            its painted area by how far its main colour is from the ground's.
        heaviest: the most, likewise.
    """

    apart: float | None
    twins: int
    same_colour: float | None
    unevenness: float
    lightest: float
    heaviest: float

    @property
    def points(self) -> int:
        """Out of 100: 35 for kinds apart, 20 for colours, 25 for even gaps, 20 for balance."""
        apart = 1.0 if self.apart is None else _share(self.apart - 1, 0.6)
        colour = 1 - _share(self.same_colour or 0.0, 0.5)
        even = 1 - _share(self.unevenness, 0.5)
        balanced = 1 - _share(self._off_balance, 0.8)
        return round(35 * apart + 20 * colour + 25 * even + 20 * balanced)

    @property
    def _off_balance(self) -> float:
        return max(self.heaviest - 1, 1 - self.lightest)

    @property
    def words(self) -> str:
        """Why, in plain words."""
        alike = "no two alike side by side"
        if self.twins:
            alike = f"{counted(self.twins, 'pair')} alike side by side"
        if self.same_colour is None:
            colours = ""
        elif self.same_colour < 0.15:
            colours = ", colours well mixed"
        else:
            colours = f", {self.same_colour:.0%} of neighbours share a colour"
        gaps = (
            "gaps even"
            if self.unevenness < 0.2
            else "gaps lively"
            if self.unevenness < 0.4
            else "gaps uneven"
        )
        off = self._off_balance
        balance = (
            "weight balanced" if off <= 0.2 else f"weight up to {off:.0%} off over half a repeat"
        )
        return f"{alike}{colours}, {gaps}, {balance}"

    def as_dict(self) -> dict[str, Any]:
        """Return the figures as plain data."""
        return {
            "points": self.points,
            "same_motif_apart": None if self.apart is None else round(self.apart, 3),
            "same_motif_neighbours": self.twins,
            "same_colour_neighbours": (
                None if self.same_colour is None else round(self.same_colour, 3)
            ),
            "gap_unevenness": round(self.unevenness, 3),
            "lightest_window": round(self.lightest, 3),
            "heaviest_window": round(self.heaviest, 3),
            "words": self.words,
        }


def score(crowd: Crowd, evenness: Evenness, ground: Ground | None) -> Score | None:
    """Return how well a crowd is composed; None where there are not two, or too many to tell.

    Args:
        crowd: the motifs.
        evenness: of its gaps.
        ground: what lies behind them; white where it is None.
    """
    n = len(crowd)
    if not 2 <= n <= _MOST:
        return None
    colours = [main_colour(shape.motif) for shape in crowd.shapes.all]
    lab = np.array([colour or GREY for colour in colours])
    known = np.array([colour is not None for colour in colours])[crowd.shape]
    kind = crowd.shapes.kind[crowd.shape]
    at = np.stack([crowd.x, crowd.y], axis=1)
    far = np.concatenate([crowd.torus.distances(at[k : k + 64], at) for k in range(0, n, 64)])
    np.fill_diagonal(far, np.inf)
    close = far <= NEIGHBOURS * math.sqrt(crowd.torus.area / n)
    mine = lab[crowd.shape]
    alike = np.sqrt(((mine[:, None] - mine[None]) ** 2).sum(axis=2)) <= ALIKE
    alike &= known[:, None] & known[None]
    weight = weights(crowd.shapes, ground)[crowd.shape] * crowd.scale**2
    lightest, heaviest = _windows(crowd, weight)
    unevenness = evenness.nearest_spread / max(evenness.nearest_mean, 1e-9)
    return Score(
        _apart(far, kind),
        int((close & (kind[:, None] == kind[None])).sum()) // 2,
        float((close & alike).sum() / max(1, close.sum())) if known.any() else None,
        unevenness,
        lightest,
        heaviest,
    )


def _apart(far: Floats, kind: Ints) -> float | None:
    """Return the mean distance to the nearest of one's kind, by what is to be expected of chance.

    Dealt out at random, the first of a motif's kind is its m-th neighbour with a probability
    that counting tells: all n − 1 others are among those no nearer, and one is the m-th.
    """
    n = len(far)
    nearest = np.where(kind[:, None] == kind[None], far, np.inf).min(axis=1)
    several = np.isfinite(nearest)
    if not several.any():
        return None
    by_order = np.sort(far, axis=1)[:, : n - 1].mean(axis=0)
    expected = 0.0
    for count in np.bincount(kind[several]).tolist():
        left, chance = 1.0, np.zeros(n - 1)
        for m in range(n - 1 if count else 0):
            hit = min(1.0, (count - 1) / (n - 1 - m))
            chance[m], left = left * hit, left * (1 - hit)
        expected += count * float(chance @ by_order)
    return float(nearest[several].sum() / expected)


def _windows(crowd: Crowd, weight: Floats) -> tuple[float, float]:
    """Return the least and the most that windows of half the repeat weigh, by the mean."""
    torus: Torus = crowd.torus
    # A motif's weight lies about its middle as a disc's does.
    steps = (np.arange(5) - 2) / 2.5
    dx, dy = (g.ravel() for g in np.meshgrid(steps, steps))
    inside = dx * dx + dy * dy <= 0.8
    radius = 0.8 * crowd.radius[:, None]
    x = (crowd.x[:, None] + radius * dx[inside]).ravel()
    y = (crowd.y[:, None] + radius * dy[inside]).ravel()
    u = np.floor((torus.along_a[0] * x + torus.along_a[1] * y) * _CELLS).astype(np.int64) % _CELLS
    v = np.floor((torus.along_b[0] * x + torus.along_b[1] * y) * _CELLS).astype(np.int64) % _CELLS
    cells = np.bincount(
        u * _CELLS + v, np.repeat(weight, inside.sum()), minlength=_CELLS**2
    ).reshape(_CELLS, _CELLS)
    for axis in (0, 1):
        cells = np.sum([np.roll(cells, -k, axis) for k in range(_CELLS // 2)], axis=0)
    mean = max(float(cells.mean()), 1e-12)
    return float(cells.min()) / mean, float(cells.max()) / mean


def _share(value: float, most: float) -> float:
    return min(1.0, max(0.0, value / most))
