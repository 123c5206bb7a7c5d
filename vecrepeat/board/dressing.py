"""The cloth in one of its recipe's colourways: the same motifs in other colours."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from vecrepeat.colour.colourway import completed
from vecrepeat.colour.recolour import recoloured
from vecrepeat.errors import InputError
from vecrepeat.repeat import Placement
from vecrepeat.sources import Source


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
        way = _way(source, name)
        art = {colour for motif in motifs.values() for colour in motif.colours}
        if repeat.ground is not None:
            art.add(repeat.ground.colour)
        ground = way.get("ground", "")
        colours = completed(_colours(source, way), sorted(art))
        repeat = recoloured(repeat, colours, None if ground == "none" else ground)
    ground = repeat.ground
    return {
        "ground": None if ground is None else ground.colour,
        "groundOpacity": 1.0 if ground is None else ground.opacity,
        "motifs": {p.motif.name: p.motif.markup for p in repeat.placements},
        "resources": dict(repeat.resources),
    }


def _way(source: Source, name: str) -> Mapping[str, Any]:
    for way in source.recipe.colourways if source.recipe else ():
        if way["name"] == name:
            return way
    raise InputError(f"the recipe has no colourway “{name[:60]}”")


def _colours(source: Source, way: Mapping[str, Any]) -> dict[str, str]:
    palette = source.recipe.palette if source.recipe else {}
    found = {}
    for key, colour in way.get("colours", {}).items():
        old = palette.get(key, key)
        if not old.startswith("#"):
            raise InputError(f"the palette has no colour “{key}”", hint="[palette] names colours")
        found[old] = colour
    return found
