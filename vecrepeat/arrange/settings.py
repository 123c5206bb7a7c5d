"""What a designer asks of an arrangement."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from vecrepeat.core.allowance import PLACEMENTS
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.model import Motif, Placement
from vecrepeat.repeat.ranks import DIRECTIONS, Rank


class Ranked(NamedTuple):
    """A motif and its rank."""

    motif: Motif
    rank: Rank


def mean_square(scale: tuple[float, float]) -> float:
    """Return the mean of the squares of scales spread evenly from the smallest to the largest."""
    low, high = scale
    return (low * low + low * high + high * high) / 3


@dataclass(frozen=True)
class RankSettings:
    """How many motifs of a rank, and how large.

    Attributes:
        count: placements on one tile, shared out evenly among the rank's motifs. Where
            neither this nor ``coverage`` is given, each motif is placed once.
        coverage: the share of the cloth, 0 to 1, that the rank is to paint.
        scale: the smallest and the largest scale; 1 is the size it is drawn at.
        give: the share by which motifs may grow or shrink from that, to fill the cloth better.
    """

    count: int | None = None
    coverage: float | None = None
    scale: tuple[float, float] = (1.0, 1.0)
    give: float = 0.0

    def check(self, rank: str) -> None:
        """Raise InputError where the settings make no sense."""
        if self.count is not None and self.coverage is not None:
            raise InputError(
                f"{rank}: a count and a coverage exclude each other", hint="give one of them"
            )
        if self.count is not None and not 0 <= self.count <= PLACEMENTS:
            raise InputError(
                f"{rank}: a count of {self.count} is out of range (0 to {PLACEMENTS:,})"
            )
        if self.coverage is not None and not 0 <= self.coverage <= 1:
            raise InputError(
                f"{rank}: a coverage of {self.coverage:g} is out of range (0 to 1)",
                hint="1 means as many as fit",
            )
        _check_scale(rank, self.scale)
        if not 0 <= self.give <= 0.5:
            raise InputError(f"{rank}: sizes may give way by 0 to 0.5, not {self.give:g}")

    @property
    def largest(self) -> float:
        """The largest scale that any of its motifs may get."""
        return self.scale[1] * (1 + self.give)


@dataclass(frozen=True)
class ArrangeSettings:
    """What toss and fill are both told.

    Attributes:
        clearance: the least distance in mm between the painted outlines of any two motifs,
            copies and what is there already included.
        direction: ``one-way`` (all upright), ``two-way`` (up and down), ``four-way`` or
            ``free``.
        sway: how far in degrees a motif may lean to either side of its direction.
        flip: whether motifs may be mirrored.
        same_apart: the least distance in mm between the anchors of two placements of the same
            motif, copies included. What the lattice itself repeats is not held to it.
        seed: a whole number from 0; the same seed gives the same arrangement.
        even: even out the gaps (relaxation).
        rounds: how many rounds of evening out.
    """

    clearance: float = 3.0
    direction: str = "free"
    sway: float = 0.0
    flip: bool = False
    same_apart: float = 0.0
    seed: int = 1
    even: bool = True
    rounds: int = 80

    def check(self) -> None:
        """Raise InputError where the settings make no sense."""
        check_length("the clearance", self.clearance)
        check_direction(self.direction)
        if not 0 <= self.sway <= 180:
            raise InputError(f"a sway of {self.sway:g}° is out of range (0 to 180)")
        if self.seed < 0:
            raise InputError("a seed is a whole number from 0")
        if not 0 <= self.rounds <= 10_000:
            raise InputError(f"{self.rounds} rounds of evening out are out of range (0 to 10,000)")
        check_length("the distance between the same motif", self.same_apart)


@dataclass(frozen=True)
class TossSettings(ArrangeSettings):
    """What a toss is to be like.

    Attributes:
        hero: count or coverage and scale of the heroes.
        secondary: likewise of the secondaries.
        filler: likewise of the fillers.
        sizes: by motif, a factor on the scales of what is counted; 1 where it is not given.
        along: lines whose ways motifs turn to, points in mm, or the name of a wave; see
            :class:`vecrepeat.arrange.flow.Flow`. Directions are then told from there, and free
            is as one-way.
        pinned: what stays where it lies, each counted among its rank; in a layout that turns,
            without its images.
    """

    hero: RankSettings = field(default_factory=RankSettings)
    secondary: RankSettings = field(default_factory=RankSettings)
    filler: RankSettings = field(default_factory=RankSettings)
    sizes: Mapping[str, float] = field(default_factory=dict)
    along: Sequence[NDArray[np.float64]] | str = field(default=(), compare=False)
    pinned: tuple[Placement, ...] = ()

    def of(self, rank: Rank) -> RankSettings:
        """Return the settings of a rank."""
        return {
            Rank.HERO: self.hero,
            Rank.SECONDARY: self.secondary,
            Rank.FILLER: self.filler,
        }[rank]

    def check(self) -> None:
        """Raise InputError where the settings make no sense."""
        for rank in Rank:
            self.of(rank).check(rank)
        super().check()


@dataclass(frozen=True)
class FillSettings(ArrangeSettings):
    """What filling is to be like; evening out moves fillers alone.

    Attributes:
        smallest: diameter in mm of the smallest void to fill: what is narrower stays empty.
        count: the most fillers to place on one tile; None for as many as fit.
        scale: the smallest and the largest scale of a filler.
    """

    rounds: int = 40
    smallest: float = 0.0
    count: int | None = None
    scale: tuple[float, float] = (1.0, 1.0)

    def check(self) -> None:
        """Raise InputError where the settings make no sense."""
        _check_scale("fill", self.scale)
        super().check()
        check_length("the smallest void", self.smallest)
        if self.count is not None and self.count < 0:
            raise InputError("a count of fillers can't be negative")


def checked(ranked: Sequence[tuple[Motif, Rank | str]]) -> list[Ranked]:
    """Return motifs and ranks.

    Raises:
        InputError: there is nothing to place, a motif paints nothing or is listed twice, or
            a rank is not known.
    """
    if not ranked:
        raise InputError("there are no motifs to place", hint="give at least one a rank")
    for motif, rank in ranked:
        if rank not in set(Rank):
            raise InputError(
                f"the rank “{rank}” is not known",
                element=motif.name,
                hint="use hero, secondary or filler",
            )
        if not len(motif.parts) or motif.outline.is_empty:
            raise InputError("a motif that paints nothing can't be placed", element=motif.name)
    names = [motif.name for motif, _ in ranked]
    for name in names:
        if names.count(name) > 1:
            raise InputError("it is listed twice", element=name, hint="give a motif one rank")
    return [Ranked(motif, Rank(rank)) for motif, rank in ranked]


def check_direction(name: str) -> None:
    """Raise InputError where a direction is not known."""
    if name not in DIRECTIONS:
        raise InputError(
            f"the direction “{name}” is not known", hint=f"use {', '.join(DIRECTIONS)}"
        )


def check_length(what: str, value: float) -> None:
    """Raise InputError where a length is negative or no number."""
    if not (math.isfinite(value) and value >= 0):
        raise InputError(f"{what} must be 0 mm or more")


def _check_scale(what: str, scale: tuple[float, float]) -> None:
    low, high = scale
    if not 0.01 <= low <= high <= 100:
        raise InputError(
            f"{what}: scales from {low:g} to {high:g} are no range",
            hint="give the smaller first, from 0.01 to 100",
        )
