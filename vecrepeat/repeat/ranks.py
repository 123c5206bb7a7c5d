"""How much motifs count in an arrangement, and how they may be turned: words shared by all."""

from __future__ import annotations

from enum import StrEnum


class Rank(StrEnum):
    """How much a motif counts in a layout: heroes are placed first, fillers last."""

    HERO = "hero"
    SECONDARY = "secondary"
    FILLER = "filler"


RANKS = tuple(Rank)
"""All ranks, heroes first."""

DIRECTIONS: dict[str, tuple[float, ...]] = {
    "one-way": (0.0,),
    "two-way": (0.0, 180.0),
    "four-way": (0.0, 90.0, 180.0, 270.0),
    "free": (),
}
"""The turns in degrees that each direction allows; free turning has no list."""

DENSITIES = ("airy", "medium", "packed")
"""How full a toss may be."""
