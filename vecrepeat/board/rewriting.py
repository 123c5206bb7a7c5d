"""What a page has changed, written into the text of a recipe or a collection."""

from __future__ import annotations

from typing import Any

import tomlkit

from vecrepeat.board.state import State
from vecrepeat.core.geometry import number
from vecrepeat.recipe.edit import with_colourways, with_motifs, with_settings
from vecrepeat.recipe.model import AS_DRAWN


def with_palette_colour(text: str, way: str, name: str, colour: str) -> str:
    """Return a collection's text with another colour in its palette, or in one of its colourways.

    Args:
        text: the collection's.
        way: the name of a colourway that it has, or :data:`AS_DRAWN` for the palette itself.
        name: the palette's.
        colour: ``#rrggbb``.
    """
    if way == AS_DRAWN:
        return with_settings(text, "palette", {name: colour})
    rows = tomlkit.parse(text.lstrip("\ufeff")).unwrap()["colourway"]
    for row in rows:
        if row["name"] == way:
            row["colours"] = {**row.get("colours", {}), name: colour}
    return with_colourways(text, rows)


LENGTHS = {"width", "least-line"}
"""Keys of a motif that a moment has in mm."""


def with_arranging(text: str, base: State, now: State) -> str:
    """Return a recipe's text with what has changed of its motifs and of how they are arranged."""
    rows: dict[str, dict[str, Any]] = {}
    for name in {**base.motifs, **now.motifs}:
        before, after = base.motifs.get(name, {}), now.motifs.get(name, {})
        changed = {key: after.get(key) for key in {**before, **after}}
        changed = {key: v for key, v in changed.items() if before.get(key) != v}
        for key, value in changed.items():
            if key in LENGTHS and value is not None:
                changed[key] = f"{number(value)}mm"
        if changed:
            rows[name] = changed
    if rows:
        text = with_motifs(text, rows)
    for way, keys in now.settings.items():
        before = base.settings.get(way, {})
        changed = {key: v for key, v in keys.items() if before.get(key) != v}
        gone = [key for key in before if key not in keys]
        if changed or gone:
            text = with_settings(text, way, changed, without=gone)
    return text
