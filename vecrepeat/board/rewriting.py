"""What a moment says of motifs and of arranging, written into a recipe's text."""

from __future__ import annotations

from typing import Any

from vecrepeat.board.state import State
from vecrepeat.core.geometry import number
from vecrepeat.recipe.edit import with_motifs, with_settings


def with_arranging(text: str, base: State, now: State) -> str:
    """Return a recipe's text with what has changed of its motifs and of how they are arranged."""
    rows: dict[str, dict[str, Any]] = {}
    for name in {**base.motifs, **now.motifs}:
        before, after = base.motifs.get(name, {}), now.motifs.get(name, {})
        changed = {key: after.get(key) for key in {**before, **after}}
        changed = {key: v for key, v in changed.items() if before.get(key) != v}
        width = changed.get("width")
        if width is not None:
            changed["width"] = f"{number(width)}mm"
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
