"""Filters restated for resvg, so that a hair's breadth of scale does not move what they draw.

resvg cuts offsets down to whole pixels: 1.9999 px are 1. What is drawn a little smaller (see
:data:`vecrepeat.draw.resvg.SHRINKS`) would have shadows a whole pixel off wherever an offset is a
whole number of pixels.
"""

from __future__ import annotations

from dataclasses import replace

from vecrepeat.core.geometry import Affine, number
from vecrepeat.scene.nodes import Element, Group, Node
from vecrepeat.scene.visit import rewritten

SPARE = 2**-12
"""By how much offsets are made larger: more than any shrinking, and a pixel only on thousands."""


def with_offsets_kept(scene: Node) -> Node:
    """Return a scene with its filters' offsets a hair's breadth larger."""
    return rewritten(scene, _kept)


def _kept(node: Node, _: Affine) -> Node:
    if not isinstance(node, Group) or node.filter is None:
        return node
    steps = tuple(s if isinstance(s, str) else _larger(s) for s in node.filter.steps)
    return replace(node, filter=replace(node.filter, steps=steps))


def _larger(element: Element) -> Element:
    """Return an element, and those in it, with larger offsets."""
    offsets = ("dx", "dy") if element.tag in ("feOffset", "feDropShadow") else ()
    attributes = tuple(
        (name, _stretched(value) if name in offsets and isinstance(value, str) else value)
        for name, value in element.attributes
    )
    content = tuple(part if isinstance(part, str) else _larger(part) for part in element.content)
    return Element(element.tag, attributes, content)


def _stretched(value: str) -> str:
    try:
        return number(float(value) * (1 + SPARE))
    except (ValueError, OverflowError):
        return value
