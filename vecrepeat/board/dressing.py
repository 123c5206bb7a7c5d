"""The cloth in one of its recipe's colourways: the same motifs in other colours."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from vecrepeat.board.cloth import pictures
from vecrepeat.colour.colourway import in_colourway
from vecrepeat.colour.colourways import recipe_colourway
from vecrepeat.repeat.model import Placement
from vecrepeat.sources.source import Source


def dressed(source: Source, name: str) -> dict[str, Any]:
    """Return what is drawn otherwise in a colourway.

    Args:
        source: what was read.
        name: of one of its recipe's colourways, or "" for the colours as drawn.

    Raises:
        InputError: there is no such colourway, or it names a colour that the palette has not.
    """
    # Each motif once, placed or not: the tray shows them all.
    motifs = source.pool.motifs
    repeat = replace(source.page, placements=tuple(Placement(m) for m in motifs.values()))
    if name:
        repeat = in_colourway(repeat, *recipe_colourway(source, name))
    ground = repeat.ground
    return {
        "ground": None if ground is None else ground.colour,
        "groundOpacity": 1.0 if ground is None else ground.opacity,
        "pictures": pictures(repeat),
    }
