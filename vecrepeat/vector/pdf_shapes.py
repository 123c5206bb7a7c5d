"""Shapes as PDF path operators, and how far elements reach.

Standard: ISO 32000-1 §8.5.2 (path construction).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from lxml import etree

from vecrepeat.art.normalform import DEFINITIONS
from vecrepeat.art.outline import image_box, matrix_of
from vecrepeat.art.paths import SHAPES, Floats, Segments, shape_segments, tight_box
from vecrepeat.art.polylines import mapped
from vecrepeat.art.style import INHERITED
from vecrepeat.art.xml import DESCRIPTIVE, attributes, local
from vecrepeat.geometry import Affine, Rect
from vecrepeat.vector.pdf_resources import decimal

Style = Mapping[str, str]


def styled(element: etree._Element, inherited: Style) -> Style:
    """Return the inherited properties in force on an element."""
    own = {k: v for k, v in attributes(element).items() if k in INHERITED}
    return {**inherited, **own} if own else inherited


def drawn(element: etree._Element) -> Iterator[etree._Element]:
    """Yield the children of an element that draw."""
    for child in element:
        name = local(child)
        if not name or name in DEFINITIONS or name in DESCRIPTIVE or child.get("display") == "none":
            continue
        yield child


def segments_of(element: etree._Element) -> Segments | None:
    """Return the outline of a shape or a picture's frame; None where there is nothing."""
    name = local(element)
    segments = shape_segments(element) if name in SHAPES else None
    if name == "image":
        segments = image_box(element)
    return segments if segments is not None and len(segments.points) else None


def path_text(segments: Segments, digits: int, matrix: Affine | None = None) -> str:
    """Return segments as path operators.

    Args:
        segments: of one or more subpaths.
        digits: decimals of coordinates.
        matrix: what to map them by.
    """
    points: Floats = segments.points
    if matrix is not None:
        points = mapped(points, matrix)
    out: list[str] = []
    last = -1
    rows = points.reshape(-1, 8).tolist()
    ends = np.append(segments.subpath[1:] != segments.subpath[:-1], True)
    for row, straight, subpath, end in zip(
        rows, segments.straight.tolist(), segments.subpath.tolist(), ends.tolist(), strict=True
    ):
        if subpath != last:
            start = row[:2]
            out.append(f"{decimal(row[0], digits)} {decimal(row[1], digits)} m")
            last = subpath
        closing = end and bool(segments.closed[subpath])
        if not straight:
            out.append(" ".join(decimal(v, digits) for v in row[2:]) + " c")
        elif not (closing and row[6:] == start):
            # The last side of a closed shape is drawn by closing it.
            out.append(f"{decimal(row[6], digits)} {decimal(row[7], digits)} l")
        if closing:
            out.append("h")
    return "\n".join(out)


def number(style: Style, name: str, default: float) -> float:
    """Return a property that is a number, or its default where it is none."""
    try:
        return float(style.get(name, default))
    except ValueError:
        return default


def dashes_of(style: Style) -> list[float]:
    """Return the dashes of a stroke, none where they come to nothing (SVG 2 §13.5.6)."""
    text = style.get("stroke-dasharray", "none")
    try:
        dashes = [] if text == "none" else [float(v) for v in text.replace(",", " ").split()]
    except ValueError:
        return []
    return dashes if sum(dashes) > 0 and min(dashes) >= 0 else []


def fills(style: Style) -> bool:
    """Whether a shape's inside is painted."""
    return style.get("fill", "#000000") != "none"


def strokes(style: Style) -> bool:
    """Whether a shape's outline is painted."""
    return style.get("stroke", "none") != "none" and number(style, "stroke-width", 1.0) > 0


def reach(style: Style) -> float:
    """Return how far a stroke can lie outside its shape."""
    if not strokes(style):
        return 0.0
    miter = style.get("stroke-linejoin", "miter") == "miter"
    factor = max(number(style, "stroke-miterlimit", 4.0), 1.5) if miter else 1.5
    return number(style, "stroke-width", 1.0) / 2 * factor


def object_box(element: etree._Element) -> Rect | None:
    """Return an element's object bounding box in its user units (SVG 2 §8.10): no strokes."""
    boxes = [
        tight_box(mapped(segments.points, matrix), segments.straight)
        for leaf, matrix in _leaves(element)
        if (segments := segments_of(leaf)) is not None
    ]
    return Rect.enclosing(boxes) if boxes else None


def painted_box(element: etree._Element, style: Style) -> Rect | None:
    """Return bounds of all that an element paints, in its user units, strokes included.

    They may be too large but never too small.
    """
    boxes: list[Rect] = []

    def visit(node: etree._Element, matrix: Affine, inherited: Style) -> None:
        segments = segments_of(node)
        if segments is not None:
            by = reach(inherited) * matrix.stretch
            points = mapped(segments.points, matrix).reshape(-1, 2)
            boxes.append(Rect.of((*points.min(axis=0), *points.max(axis=0))).grown(by))
        for child in drawn(node):
            visit(child, matrix @ matrix_of(child), styled(child, inherited))

    visit(element, Affine(), style)
    return Rect.enclosing(boxes) if boxes else None


def _leaves(element: etree._Element) -> Iterator[tuple[etree._Element, Affine]]:
    queue = [(element, Affine())]
    while queue:
        node, matrix = queue.pop()
        yield node, matrix
        queue += [(child, matrix @ matrix_of(child)) for child in drawn(node)]
