"""The colours a motif is painted with."""

from __future__ import annotations

import re
from collections.abc import Mapping

from lxml import etree

from vecrepeat.art.normalform import DEFINITIONS
from vecrepeat.art.outline import url_id
from vecrepeat.art.paths import SHAPES
from vecrepeat.art.xml import DESCRIPTIVE, local

_HEX_RE = re.compile("#[0-9a-fA-F]{6}")
_TEXT = frozenset(("text", "tspan", "textPath"))
_INITIAL = {"fill": "#000000", "stroke": "none", "visibility": "visible"}


def paint_colours(
    element: etree._Element,
    inherited: Mapping[str, str],
    definitions: Mapping[str, etree._Element],
) -> tuple[str, ...]:
    """Return the colours an element in normal form is painted with, as ``#rrggbb``.

    Fills and strokes of shapes and text, gradient stops, and the shapes in patterns; in the
    order they are met, without repeats. Pictures and filters are not looked into.

    Args:
        element: the motif's element.
        inherited: the inherited properties in force at its parent.
        definitions: elements by id.
    """
    found: dict[str, None] = {}
    seen: set[str] = set()

    def paint(value: str) -> None:
        key = url_id(value)
        server = definitions.get(key) if key else None
        if server is None:
            if match := _HEX_RE.search(value):
                found[match.group().lower()] = None
        elif key not in seen:
            seen.add(key)
            for stop in server:
                if local(stop) == "stop":
                    paint(stop.get("stop-color", "#000000"))
                elif local(server) == "pattern":
                    visit(stop, {})

    def visit(node: etree._Element, above: Mapping[str, str]) -> None:
        name = local(node)
        if not name or name in DEFINITIONS or name in DESCRIPTIVE or node.get("display") == "none":
            return
        style = {key: node.get(key) or above.get(key) or value for key, value in _INITIAL.items()}
        if (name in SHAPES or name in _TEXT) and style["visibility"] == "visible":
            for key in ("fill", "stroke"):
                if style[key] != "none":
                    paint(style[key])
        for child in node:
            visit(child, style)

    visit(element, inherited)
    return tuple(found)
