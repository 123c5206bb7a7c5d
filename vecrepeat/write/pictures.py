"""How sharp the pictures in a repeat print."""

from __future__ import annotations

import math
from fractions import Fraction

from vecrepeat.core.units import format_mm
from vecrepeat.repeat.model import Motif, Repeat

LIMIT = 150
"""Pictures with fewer pixels to the inch look coarse in print (common practice, no source)."""


def coarse_pictures(
    repeat: Repeat, scale: Fraction | float, limit: Fraction | float = LIMIT
) -> list[str]:
    """Return a sentence for each motif whose pictures print with fewer than ``limit`` dpi.

    Where a motif is placed several times, the largest of its placements counts.

    Args:
        repeat: the endless cloth.
        scale: lengths in print over lengths as drawn.
        limit: the fewest pixels per inch that need no warning.

    Returns:
        Sentences that name the motif, its effective dpi and the largest width of the repeat
        (of its tile, as for ``--repeat-width``) that keeps it at ``limit`` or above.
    """
    drawn: dict[Motif, float] = {}
    for placement in repeat.placements:
        motif = placement.motif
        if motif.dpi is not None and placement.transform.stretch > 0:
            dpi = motif.dpi / placement.transform.stretch
            drawn[motif] = min(dpi, drawn.get(motif, math.inf))
    sentences = []
    for motif, dpi in drawn.items():
        printed = dpi / float(scale)
        # By rounding alone no picture is coarse.
        if printed >= float(limit) * (1 - 1e-9):
            continue
        widest = math.floor(float(repeat.width) * dpi / float(limit) * 10 + 1e-6) / 10
        sentences.append(
            f"“{motif.name}” prints at {math.floor(printed * 10 + 1e-6) / 10:g} dpi: "
            f"up to a repeat width of {format_mm(widest)} it keeps {float(limit):g} dpi or more"
        )
    return sentences
