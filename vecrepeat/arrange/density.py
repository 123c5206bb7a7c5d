"""How full a toss is, in the trade's words: airy, medium, packed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

import shapely

from vecrepeat.arrange.settings import mean_square
from vecrepeat.arrange.shapes import grown_by
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.repeat.ranks import Rank


class Density(NamedTuple):
    """What one of the words means; shares were set by eye, on tosses of clip art and emoji.

    Attributes:
        share: of the cloth that motifs take, holes and narrow gaps in them included, 0 to 1.
        gap: the least clearance over the tile's shorter side.
    """

    share: float
    gap: float


_DENSITIES = {
    "airy": Density(0.27, 1 / 50),
    "medium": Density(0.42, 1 / 80),
    "packed": Density(0.55, 1 / 120),
}

_PARTS = {Rank.HERO: 0.47, Rank.SECONDARY: 0.31, Rank.FILLER: 0.22}
"""How a share is divided among the ranks (common practice, no source)."""


def clearance_of(density: str, page: Repeat) -> float:
    """Return a density's clearance on a page in mm."""
    return round(float(min(page.width, page.height)) * _DENSITIES[density].gap, 2)


def counts_of(
    density: str,
    page: Repeat,
    ranked: Sequence[tuple[Motif, str]],
    scales: Mapping[str, tuple[float, float]],
) -> dict[str, int]:
    """Return how many placements of each rank a density asks for: each motif once at least.

    Args:
        density: airy, medium or packed.
        page: the art on its layout; where that turns, placements are of the part it turns.
        ranked: motifs and their ranks.
        scales: the smallest and the largest scale of each rank.
    """
    turns = len(page.symmetry.transforms) if page.symmetry else 1
    share, gap = _DENSITIES[density].share, clearance_of(density, page)
    room = float(page.lattice.area) / turns * share
    groups = {rank: [m for m, r in ranked if r == rank] for rank in Rank}
    groups = {rank: group for rank, group in groups.items() if group}
    whole = sum(_PARTS[rank] for rank in groups)
    found = {}
    for rank, group in groups.items():
        # Lines paint next to nothing, and yet keep their clearance.
        takes = [max(bulk(motif), share * _with_clearance(motif, gap)) for motif in group]
        each = sum(takes) / len(group) * mean_square(scales[rank])
        found[str(rank)] = max(len(group), round(room * _PARTS[rank] / whole / each))
    return found


@lru_cache(maxsize=1024)
def bulk(motif: Motif) -> float:
    """Return the area of a motif's silhouette in mm², holes and narrow gaps in it included."""
    reach = 0.03 * math.hypot(motif.box.width, motif.box.height)
    outline = grown_by(motif.outline.simplify(reach / 6), reach, quad_segs=3)
    rings = [shapely.Polygon(part.exterior) for part in shapely.get_parts(outline).tolist()]
    return float(shapely.union_all(rings).buffer(-reach, quad_segs=3).area)


@lru_cache(maxsize=1024)
def _with_clearance(motif: Motif, gap: float) -> float:
    """Return the area in mm² of a motif and half the clearance about it."""
    return float(grown_by(motif.outline.simplify(gap / 12), gap / 2, quad_segs=3).area)
