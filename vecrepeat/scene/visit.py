"""Questions that many ask of a scene: what is in it, in what paint, and the same scene changed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from vecrepeat.core.geometry import IDENTITY, Affine
from vecrepeat.core.units import MM_PER_INCH
from vecrepeat.scene.nodes import (
    Box,
    Data,
    Element,
    Gradient,
    Group,
    Image,
    Mask,
    Node,
    Paint,
    Path,
    Text,
)

PAINTS = ("fill", "stroke", "stop-color", "flood-color", "lighting-color")
"""Attributes of elements that hold paint."""


def walk(node: Node, matrix: Affine = IDENTITY) -> Iterator[tuple[Node, Affine]]:
    """Yield a node and all below it, in stacking order, with the frame each is drawn in.

    What clips and masks hold is not looked into.

    Args:
        node: the scene.
        matrix: from the user units that it stands in to those that are wanted.

    Yields:
        A node, and the map from its user units (for a group those inside) to the wanted ones.
    """
    todo = [(node, matrix)]
    while todo:
        current, at = todo.pop()
        if isinstance(current, Group):
            at = at @ current.transform
            todo += [(child, at) for child in reversed(current.children)]
        yield current, at


def elements(element: Element) -> Iterator[Element]:
    """Yield an element, all it holds and all it refers to."""
    todo: list[str | Element] = [element]
    while todo:
        current = todo.pop()
        if isinstance(current, Element):
            yield current
            todo += reversed(current.content)
            todo += [value for _, value in current.attributes if isinstance(value, Element)]


def _with_masks(node: Node) -> Iterator[Node]:
    """Yield a node and all below it, and what masks hold."""
    for current, _ in walk(node):
        yield current
        mask = current.mask if isinstance(current, Group) else None
        while mask is not None:
            for child in mask.children:
                yield from _with_masks(child)
            mask = mask.mask


def holds_text(node: Node) -> bool:
    """Whether live text is drawn anywhere in a scene, its masks included."""
    return any(isinstance(current, Text) for current in _with_masks(node))


def holds_lettering(node: Node) -> bool:
    """Whether a scene shows lettering that its drawing has as text, live or made outlines.

    Letters that were drawn as paths look like any other shape.
    """
    nodes = [current for current, _ in walk(node)]
    outlined = any(isinstance(one, Group) and one.role == "text" for one in nodes)
    return outlined or any(isinstance(one, Text) for one in nodes)


def is_filtered(node: Node) -> bool:
    """Whether anything in a scene goes through a filter, its masks included."""
    for current in _with_masks(node):
        if isinstance(current, Group) and current.filter is not None:
            return True
        if isinstance(current, Text) and any(e.tag == "filter" for e in elements(current.element)):
            return True
    return False


def is_translucent(node: Node) -> bool:
    """Whether any paint or group of a scene lets through what lies below."""
    for current, _ in walk(node):
        if isinstance(current, Group) and 0 < current.opacity < 1:
            return True
        for part in current.paints if isinstance(current, Path) else ():
            fades = isinstance(part.paint, Gradient) and part.paint.is_translucent
            if part.opacity < 1 or fades:
                return True
    return False


def colours_of(node: Node) -> tuple[str, ...]:
    """Return the colours a scene is painted with, as ``#rrggbb``, each once as it is met.

    Fills and strokes of shapes and text, stops of gradients and what patterns hold; pictures,
    masks and filters are not looked into.
    """
    found: dict[str, None] = {}
    for current, _ in walk(node):
        if isinstance(current, Path):
            for part in current.paints:
                found.update(dict.fromkeys(_paint_colours(part.paint)))
        elif isinstance(current, Text):
            found.update(dict.fromkeys(_written_colours(current.element)))
    return tuple(found)


def _paint_colours(paint: Paint) -> tuple[str, ...]:
    """Return the colours of a paint, as ``#rrggbb``."""
    if isinstance(paint, str):
        return (paint,)
    if isinstance(paint, Gradient):
        return tuple(stop.colour for stop in paint.stops)
    return tuple(_written_colours(paint))


def _written_colours(element: Element) -> Iterator[str]:
    for part in elements(element):
        for name, value in part.attributes:
            if name in PAINTS[:3] and isinstance(value, str) and value.startswith("#"):
                yield value


def rewritten(
    node: Node, change: Callable[[Node, Affine], Node], matrix: Affine = IDENTITY
) -> Node:
    """Return a scene with every node changed, those within a group before the group.

    Args:
        node: the scene.
        change: given a node and the frame it is drawn in, as :func:`walk` tells it, returns what
            takes its place; the same node where nothing changes.
        matrix: from the user units that the scene stands in to those of the frames.
    """
    if isinstance(node, Group):
        inside = matrix @ node.transform
        children = []
        for child in node.children:
            children.append(rewritten(child, change, inside))
        if any(new is not old for new, old in zip(children, node.children, strict=True)):
            node = replace(node, children=tuple(children))
        return change(node, inside)
    return change(node, matrix)


def repainted(node: Node, change: Callable[[Paint], Paint]) -> Node:
    """Return a scene in other paint; pictures keep theirs, and so do masks: theirs is no paint.

    Args:
        node: the scene.
        change: what takes a paint's place; of text and filters it is asked for colours.
    """

    def one(current: Node, _: Affine) -> Node:
        if isinstance(current, Path):
            fill, stroke = current.fill, current.stroke
            if fill is not None and (paint := change(fill.paint)) is not fill.paint:
                current = replace(current, fill=replace(fill, paint=paint))
            if stroke is not None and (paint := change(stroke.paint)) is not stroke.paint:
                current = replace(current, stroke=replace(stroke, paint=paint))
        elif isinstance(current, Text):
            current = replace(current, element=repainted_element(current.element, change))
        elif isinstance(current, Group) and current.filter is not None:
            steps = tuple(
                step if isinstance(step, str) else repainted_element(step, change)
                for step in current.filter.steps
            )
            current = replace(current, filter=replace(current.filter, steps=steps))
        return current

    return rewritten(node, one)


def repainted_element(element: Element, change: Callable[[Paint], Paint]) -> Element:
    """Return an element, and all it holds and refers to but masks, in other colours."""
    attributes = []
    for name, value in element.attributes:
        if isinstance(value, Element):
            value = value if value.tag == "mask" else repainted_element(value, change)
        elif name in PAINTS and value.startswith("#"):
            found = change(value)
            value = found if isinstance(found, str) else value
        attributes.append((name, value))
    content = tuple(
        part if isinstance(part, str) else repainted_element(part, change)
        for part in element.content
    )
    return Element(element.tag, tuple(attributes), content)


def effective_dpi(image: Image, matrix_to_mm: Affine) -> float | None:
    """Return how many of a picture's pixels print on an inch, in the direction with the fewest.

    Args:
        image: the picture.
        matrix_to_mm: from the user units it stands in to mm of the print.

    Returns:
        The resolution in pixels per inch; None where the picture has no pixels or no scale.
    """
    if not min(image.pixels):
        return None
    across, down = image.box.width / image.pixels[0], image.box.height / image.pixels[1]
    fit = image.aspect.split()
    if fit[:1] == ["defer"]:
        fit = fit[1:]
    if fit[:1] != ["none"]:
        across = down = (max if fit[1:2] == ["slice"] else min)(across, down)
    a, b, c, d, _, _ = matrix_to_mm
    longest = max(across * (a * a + b * b) ** 0.5, down * (c * c + d * d) ** 0.5)
    return float(MM_PER_INCH) / longest if longest > 0 else None


def title_of(node: Node | Mask) -> str:
    """Return what the drawing calls a node, else what it is in SVG's words."""
    if node.name:
        return node.name
    if isinstance(node, Path):
        if isinstance(node.outline, Data):
            return "path"
        if isinstance(node.outline, Box):
            return "rect"
        return "circle" if node.outline.rx == node.outline.ry else "ellipse"
    return {Group: "g", Image: "image", Text: "text", Mask: "mask"}[type(node)]


def blends_below(node: Node) -> bool:
    """Whether anything in a scene blends with what lies below the whole of it.

    What is isolated (Compositing and Blending 1 §2.1.1) blends with nothing outside.
    """
    if isinstance(node, Text):
        return any("mix-blend-mode" in str(a) for e in elements(node.element) for a in e.attributes)
    if not isinstance(node, Group):
        return False
    if node.blend != "normal":
        return True
    return node.is_plain and any(map(blends_below, node.children))
