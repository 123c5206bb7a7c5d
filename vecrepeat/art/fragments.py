"""Motifs and definitions as pieces of SVG that stand on their own."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from lxml import etree

from vecrepeat.art.markup import references, scoped, to_markup
from vecrepeat.art.motifs import Node
from vecrepeat.art.style import INHERITED, inherited_properties
from vecrepeat.art.xml import SVG, attributes
from vecrepeat.xmltext import quoted


def closure(
    element: etree._Element,
    inherited: Mapping[str, str],
    definitions: Mapping[str, etree._Element],
) -> list[str]:
    """Return the ids of all definitions an element needs, directly or through others."""
    found: dict[str, None] = {}
    queue: list[tuple[etree._Element, Mapping[str, str]]] = [(element, inherited)]
    while queue:
        current, above = queue.pop()
        written = [above, *(attributes(part) for part in current.iter(f"{{{SVG}}}*"))]
        for key in (key for values in written for key in references(values)):
            if key in definitions and key not in found:
                found[key] = None
                definition = definitions[key]
                queue.append((definition, inherited_properties(definition)))
    return list(found)


def _baked(names: Iterable[tuple[str, str]]) -> dict[str, str]:
    return {key: value for key, value in names if key in INHERITED and key != "color"}


def motif_markup(node: Node, scope: str) -> str:
    """Return the motif in mm of the page, with all it inherits written on it."""

    def name(key: str) -> str:
        return f"{scope}-{key}"

    body = to_markup(node.element, name)
    inherited = _baked(node.inherited.items())
    outer = "".join(f" {k}={quoted(scoped(v, name))}" for k, v in inherited.items())
    return f'<g transform="{node.matrix.svg()}"{outer}>{body}</g>'


def resource_markup(element: etree._Element, scope: str) -> str:
    """Return a definition with all it inherits written on it."""
    inherited = _baked(inherited_properties(element).items())
    return to_markup(element, lambda key: f"{scope}-{key}", inherited)
