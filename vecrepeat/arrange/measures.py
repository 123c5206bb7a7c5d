"""How even an arrangement is, and how much of the cloth it paints."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from vecrepeat.arrange.clearances import Clearances
from vecrepeat.arrange.crowd import Crowd
from vecrepeat.arrange.settling import moved

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Evenness:
    """How alike the gaps of an arrangement are. Lengths in mm.

    Attributes:
        nearest_mean: mean distance from a motif's outline to the nearest other's.
        nearest_spread: standard deviation of that distance.
        void_mean: mean radius of the voids: discs that touch art all round.
        void_spread: standard deviation of their radii.
        voids: how many voids there are on one period.
    """

    nearest_mean: float
    nearest_spread: float
    void_mean: float
    void_spread: float
    voids: int

    def as_dict(self) -> dict[str, float]:
        """Return the figures as plain data, lengths in mm."""
        return {
            "nearest_mean_mm": round(self.nearest_mean, 3),
            "nearest_spread_mm": round(self.nearest_spread, 3),
            "void_mean_mm": round(self.void_mean, 3),
            "void_spread_mm": round(self.void_spread, 3),
            "voids": self.voids,
        }


def coverage(crowd: Crowd) -> float:
    """Return the share of the cloth that motifs paint; they must not overlap."""
    return float((crowd.shapes.area[crowd.shape] * crowd.scale**2).sum()) / crowd.torus.area


def nearest_gaps(crowd: Crowd) -> Floats:
    """Return each motif's distance to the nearest other, in mm, own copies left out.

    Between shells: too small by the shells' slack at most.
    """
    best = np.full(len(crowd), np.inf)
    if not len(crowd):
        return best
    shells = crowd.shells(np.arange(len(crowd)))
    reach = math.sqrt(crowd.torus.area / len(crowd)) / 2
    missing = np.arange(len(crowd))
    while len(missing):
        pairs = crowd.pairs(reach, missing)
        one, other, dx, dy = pairs.only(pairs.one != pairs.other)
        gaps = shapely.distance(shells[one], moved(shells[other], dx, dy))
        np.minimum.at(best, one, gaps)
        # Beyond the reach there may be a nearer one that was not asked.
        if reach > 4 * crowd.torus.depth:
            break
        missing = missing[best[missing] > reach]
        reach *= 2
    return best


def least_gap(crowd: Crowd) -> float | None:
    """Return the least distance between two painted outlines, own copies included, in mm.

    Exact: shells say where to look, and the outlines are measured.
    """
    if not len(crowd):
        return None
    shells = crowd.shells(np.arange(len(crowd)))
    shapely.prepare(shells)
    reach = crowd.torus.shortest / 256
    best = math.inf
    while True:
        pairs = crowd.pairs(reach)
        # Each pair once; to its own copies a motif is as near one way as the other.
        pairs = pairs.only(pairs.one <= pairs.other)
        there = moved(shells[pairs.other], pairs.dx, pairs.dy)
        # Whether shells are within reach is told far sooner than how far they are.
        near = shapely.dwithin(shells[pairs.one], there, reach)
        pairs, there = pairs.only(near), there[near]
        gaps = shapely.distance(shells[pairs.one], there)
        for k in np.argsort(gaps, kind="stable").tolist():
            if gaps[k] >= best:
                break
            one, other = (crowd.outlines(field[k : k + 1])[0] for field in pairs[:2])
            copy = moved(np.array([other]), pairs.dx[k : k + 1], pairs.dy[k : k + 1])
            best = min(best, float(shapely.distance(one, copy[0])))
        if best <= reach:
            return best
        reach *= 2


def evenness(crowd: Crowd, clearances: Clearances) -> Evenness:
    """Return how even a crowd is.

    Args:
        crowd: the motifs.
        clearances: of the same crowd.
    """
    gaps = nearest_gaps(crowd)
    gaps = gaps[np.isfinite(gaps)]
    voids = void_radii(clearances)
    return Evenness(
        float(gaps.mean()) if len(gaps) else 0.0,
        float(gaps.std()) if len(gaps) else 0.0,
        float(voids.mean()) if len(voids) else 0.0,
        float(voids.std()) if len(voids) else 0.0,
        len(voids),
    )


def void_radii(clearances: Clearances) -> Floats:
    """Return the radii of all voids, in mm, to about half a cell of the raster.

    A void is a point that is further from all art than any point around it.
    """
    found = clearances.map
    peak = found > clearances.cell
    for di in range(-2, 3):
        for dj in range(-2, 3):
            if (di, dj) != (0, 0):
                there = np.roll(found, (di, dj), (0, 1))
                # Of equals the first counts.
                peak &= (found > there) | ((found == there) & ((di, dj) > (0, 0)))
    radii: Floats = found[peak].astype(np.float64)
    return radii
