"""Ditsy: small motifs scattered close and even over the cloth, none above another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from vecrepeat.arrange.results import Arrangement
from vecrepeat.arrange.settings import (
    ArrangeSettings,
    RankSettings,
    TossSettings,
    check_length,
    checked,
)
from vecrepeat.arrange.torus import Torus
from vecrepeat.arrange.tossing import toss
from vecrepeat.core.allowance import PLACEMENTS
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.repeat.ranks import Rank

_APART = 1.15
"""How far the same motif keeps from itself, in mean distances between motifs."""

_LEAST = 0.5
"""A motif less than so long, beside the largest, would be a speck: it is brought to that."""

_VARY = (0.85, 1.1)
"""Scales about the size asked for: small differences keep a scatter alive."""


@dataclass(frozen=True)
class DitsySettings(ArrangeSettings):
    """What a ditsy is to be like.

    Attributes:
        size: the longer side of the largest motif in mm; None for a twelfth of the tile's
            shorter side. All others keep their proportion to it, down to half as long.
        count: motifs on a tile; None for as many as ``spacing`` says.
        spacing: the mean distance between motifs' middles, in sizes.
        same_apart: 0 keeps the same motif a little further apart than neighbours are.
    """

    clearance: float = 1.5
    flip: bool = True
    size: float | None = None
    count: int | None = None
    spacing: float = 0.8

    def check(self) -> None:
        """Raise InputError where the settings make no sense."""
        super().check()
        if self.size is not None:
            check_length("the size", self.size)
            if not self.size:
                raise InputError("the size must be more than 0 mm")
        if self.count is not None and not 1 <= self.count <= PLACEMENTS:
            raise InputError(f"a count of {self.count} is out of range (1 to {PLACEMENTS:,})")
        if not 0.5 <= self.spacing <= 20:
            raise InputError(f"a spacing of {self.spacing:g} is out of range (0.5 to 20)")


def lay_ditsy(
    repeat: Repeat,
    ranked: Sequence[tuple[Motif, Rank | str]],
    settings: DitsySettings | None = None,
) -> Arrangement:
    """Scatter motifs, all small and of one rank.

    Args:
        repeat: its tile and layout are used, its placements are not.
        ranked: motifs; their ranks are of no account.
        settings: what the ditsy is to be like.

    Raises:
        InputError: settings that make no sense, or motifs that paint nothing.
    """
    settings = settings or DitsySettings()
    settings.check()
    motifs = [motif for motif, _ in checked(ranked)]
    tile = float(min(repeat.width, repeat.height))
    size = settings.size or tile / 12
    long = {m.name: max(m.box.width, m.box.height) for m in motifs}
    largest = max(long.values())
    scale = size / largest
    sizes = {name: max(1.0, _LEAST * largest / own) for name, own in long.items()}
    torus = Torus(repeat, settings.clearance)
    mean = size * settings.spacing
    count = settings.count or max(1, round(torus.region_area / mean**2))
    apart = settings.same_apart
    if not apart and len(motifs) > 3:
        apart = _APART * math.sqrt(torus.region_area / count)
    return toss(
        repeat,
        [(motif, Rank.FILLER) for motif in motifs],
        TossSettings(
            clearance=settings.clearance,
            direction=settings.direction,
            sway=settings.sway,
            flip=settings.flip,
            same_apart=apart,
            seed=settings.seed,
            even=settings.even,
            rounds=settings.rounds,
            sizes=sizes,
            filler=RankSettings(count=count, scale=(_VARY[0] * scale, _VARY[1] * scale)),
        ),
    )
