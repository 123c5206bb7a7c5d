"""Sizes that belong together: ranks by visual weight, and a ladder of printed sizes.

Drawings from many hands have no common scale: one is a page of A4, the next 32 px wide. So what
they are drawn at says nothing, and each gets a size for this tile.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import shapely

from vecrepeat.core.units import Size
from vecrepeat.repeat.model import Motif
from vecrepeat.repeat.ranks import Rank
from vecrepeat.sources.looks import Look
from vecrepeat.write.pictures import LIMIT

LADDER = {Rank.HERO: 1 / 3, Rank.SECONDARY: 1 / 6, Rank.FILLER: 1 / 12}
"""Visual sizes over the tile's shorter side (common practice, no source)."""

_FEW_COLOURS, _LINES = 2.0, 0.85
"""Motifs that seem to have fewer colours and paint less of their silhouettes are line drawings."""

_EVENER = 0.6
"""Their sizes differ by this power only: lines grow with them, and thick ones beside thin ones
look like the work of two hands."""

_FILLS = {Rank.HERO: 0.22, Rank.SECONDARY: 0.14, Rank.FILLER: 0.10}
"""The most of the cloth that one of each motif of a rank may take."""

_FEWEST, _HEROES, _LEADERS = 0.18, 0.34, 0.67
"""The fewest and the most heroes, and the most heroes and secondaries, as shares of all motifs."""

_SPREAD = 0.1
"""By how much the first and the last of a rank differ from its size."""

_LONGEST = 1.25
"""A thin motif, or one of lines, is at most so many times as long as its rank is large."""

_COARSEST = 0.6
"""Pictures of few pixels are made smaller for sharpness, but not below this share of their size."""

_CARD, _BOXY = 0.975, 1.0
"""A motif that fills so much of its box is a card; and by how much less it weighs, as a logarithm:
a large box among freely drawn shapes is all that is seen (set by eye)."""

_FINEST, _THICKER = 0.25, 1.6
"""Width in mm below which lines print badly (common practice, no source); and up to how many times
as large a motif of such lines is made for them."""


class Sized(NamedTuple):
    """A motif's rank, and its width on the cloth in mm."""

    rank: Rank
    width: float


def sizes(motifs: Sequence[Motif], seen: Sequence[Look], tile: Size) -> list[Sized]:
    """Return each motif's rank and width.

    Args:
        motifs: at least one.
        seen: their looks.
        tile: its size in mm.
    """
    side = float(min(tile))
    area = float(tile[0] * tile[1])
    lengths = {rank: share * side for rank, share in _ladder(seen).items()}
    # What has too few pixels for a hero had better not be one.
    sharp = [_sharpest(motif) for motif in motifs]
    weights = [
        look.weight
        + math.log(min(1.0, most / _length(look, lengths[Rank.HERO])))
        - _BOXY * _is_card(motif, look)
        for motif, look, most in zip(motifs, seen, sharp, strict=True)
    ]
    order = sorted(range(len(motifs)), key=lambda k: -weights[k])
    first, leaders = _cuts([weights[k] for k in order], seen, lengths, area)
    groups = {
        Rank.HERO: order[:first],
        Rank.SECONDARY: order[first:leaders],
        Rank.FILLER: order[leaders:],
    }
    # More motifs than the ladder has room for: all of it is smaller.
    taken = sum(
        seen[k].bulk * _length(seen[k], lengths[rank]) ** 2
        for rank, group in groups.items()
        for k in group
    )
    shrink = min(1.0, math.sqrt(area * sum(_FILLS.values()) / taken))
    found: dict[int, Sized] = {}
    for rank, group in groups.items():
        for place, k in enumerate(group):
            # Motifs of one kind are no stamps: the heaviest is a little larger.
            vary = 1 + _SPREAD * (1 - 2 * place / (len(group) - 1)) if len(group) > 1 else 1.0
            length = shrink * vary * _length(seen[k], lengths[rank])
            length = max(_COARSEST * length, min(sharp[k], length))
            length *= min(_THICKER, max(1.0, _FINEST / (_lines(motifs[k]) * length)))
            box = motifs[k].box
            found[k] = Sized(rank, length * box.width / max(box.width, box.height))
    return [found[k] for k in range(len(motifs))]


def _ladder(seen: Sequence[Look]) -> dict[Rank, float]:
    """Return each rank's size over the tile's shorter side."""
    count = len(seen)
    in_colour = sum(look.colours for look in seen) >= _FEW_COLOURS * count
    if in_colour or sum(look.solid for look in seen) >= _LINES * count:
        return LADDER
    middle = LADDER[Rank.SECONDARY]
    return {rank: middle * (size / middle) ** _EVENER for rank, size in LADDER.items()}


def _is_card(motif: Motif, look: Look) -> bool:
    sides = sorted((motif.box.width, motif.box.height))
    return look.bulk * look.solid * sides[1] >= _CARD * sides[0]


def _lines(motif: Motif) -> float:
    """Return how wide a motif's lines are on the mean, over its longer side."""
    parts = motif.parts
    width = 2 * float(shapely.area(parts).sum() / shapely.length(parts).sum())
    return width / max(motif.box.width, motif.box.height)


def _sharpest(motif: Motif) -> float:
    """Return the longest that a motif's longer side may be for its pictures to print sharp."""
    if motif.dpi is None:
        return math.inf
    return max(motif.box.width, motif.box.height) * motif.dpi / LIMIT


def _length(look: Look, size: float) -> float:
    """Return a motif's longer side where it is to look as large as ``size``."""
    return size * min(_LONGEST, 1 / look.girth)


def _cuts(
    weights: Sequence[float], seen: Sequence[Look], lengths: dict[Rank, float], area: float
) -> tuple[int, int]:
    """Return after how many motifs heroes end, and secondaries, where weights fall off most.

    Args:
        weights: the heaviest first.
        seen: all looks.
        lengths: the ranks' sizes in mm.
        area: the tile's, in mm².
    """
    count = len(weights)
    bulk = sum(look.bulk * _length(look, 1.0) ** 2 for look in seen) / count
    room = {rank: int(_FILLS[rank] * area / (bulk * length**2)) for rank, length in lengths.items()}
    heroes = max(1, min(room[Rank.HERO], round(_HEROES * count)))
    first = _widest_gap(weights, min(heroes, math.ceil(_FEWEST * count)), heroes)
    leaders = max(first, min(first + room[Rank.SECONDARY], round(_LEADERS * count)))
    return first, _widest_gap(weights, (first + leaders + 1) // 2, leaders)


def _widest_gap(weights: Sequence[float], low: int, high: int) -> int:
    """Return after how many weights, from ``low`` to ``high``, they fall off most."""
    at = [n for n in range(low, high + 1) if n < len(weights)]
    return max(at, key=lambda n: weights[n - 1] - weights[n], default=len(weights))
