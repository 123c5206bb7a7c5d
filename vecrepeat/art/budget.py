"""Bounds on what a drawing's effects and dashes multiply into.

A few lines of SVG can ask for more work than any machine has time for: masks that are masked
twice by masks that are masked twice …, a metre of line in dashes of a micrometre. What that
comes to is worked out before any of it is done, and a drawing past all proportion is refused
in a sentence. The bounds stand far above real drawings.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

import numpy as np
from lxml import etree

from vecrepeat.art.normalform import DEFINITIONS, url_id
from vecrepeat.art.shapes import SHAPES, shape_segments
from vecrepeat.art.totals import Edge, Total, total
from vecrepeat.art.xml import DESCRIPTIVE, SVG, href, local
from vecrepeat.core.allowance import NODES
from vecrepeat.core.errors import InputError
from vecrepeat.scene.pathdata import parse_path

MAX_FOLLOWED = 200_000
"""The most elements that effects may come to, each counted as often as something uses it."""

MAX_NESTING = 40
"""How deep effects may nest: renderers follow them by recursion."""

MAX_DASHES = 500_000
"""The most dashes of a drawing."""

_EFFECTS = ("clip-path", "mask", "filter")
_PAINTS = ("fill", "stroke", "marker-start", "marker-mid", "marker-end")
_FOLLOWED = ("clipPath", "mask", "filter", "marker", "pattern")


def check_effects(
    root: etree._Element, definitions: Mapping[str, etree._Element], file: Path | str
) -> None:
    """Refuse a drawing whose clips, masks, filters, markers and patterns come to too much.

    Args:
        root: the document in normal form.
        definitions: its elements by id.
        file: its name, for the error.

    Raises:
        InputError: they use one another so often, or nest so deep.
    """
    if next(root.iter(*(f"{{{SVG}}}{name}" for name in _FOLLOWED)), None) is None:
        return
    places = _Places(definitions)
    # Definitions count where they are used.
    drawn = total(root, lambda _: Total(1), places.edges)
    if drawn.size > MAX_FOLLOWED + sum(1 for _ in root.iter()):
        raise InputError(
            "its clips, masks, filters, markers and patterns use one another so often that they "
            f"come to more than {MAX_FOLLOWED:,} elements",
            file=file,
            hint="simplify them",
        )
    if drawn.depth > MAX_NESTING:
        raise InputError(
            f"its clips, masks, filters, markers and patterns nest more than {MAX_NESTING} deep",
            file=file,
            hint="simplify them",
        )


def check_nodes(root: etree._Element, file: Path | str) -> None:
    """Refuse a drawing whose paths are written with too many points.

    Args:
        root: the document in normal form.
        file: its name, for the error.

    Raises:
        InputError: there are more than :data:`vecrepeat.core.allowance.NODES`.
    """
    shapes = root.iter(*(f"{{{SVG}}}{name}" for name in ("path", "polygon", "polyline")))
    numbers = 0
    for shape in shapes:
        data = shape.get("d") or shape.get("points") or ""
        # Each begins after something else, and most have a place after the point.
        text = np.frombuffer(data.encode(), np.uint8)
        in_number = ((text >= ord("0")) & (text <= ord("9"))) | (text == ord("."))
        numbers += int((in_number[1:] & ~in_number[:-1]).sum())
        if numbers > 2 * NODES:
            raise InputError(
                f"its paths are written with more than {NODES:,} points",
                file=file,
                element=shape.get("id"),
                hint="simplify them, or place the drawing as a picture",
            )


class _Places:
    """Follows what elements hold and what acts on them.

    Properties that shapes inherit count where they are written, for all the shapes below.
    """

    def __init__(self, definitions: Mapping[str, etree._Element]) -> None:
        self._definitions = definitions
        self._below: dict[etree._Element, tuple[int, int]] = {}

    def edges(self, element: etree._Element) -> Iterator[Edge]:
        """Yield what is drawn to draw an element."""
        for child in element:
            name = local(child)
            if name and name not in DEFINITIONS and name not in DESCRIPTIVE:
                yield Edge(child)
        for property_ in _EFFECTS:
            if (target := self._followed(element.get(property_))) is not None:
                yield Edge(target, 1, 1)
        for property_ in _PAINTS:
            if (target := self._followed(element.get(property_))) is not None:
                shapes, vertices = self._shapes(element)
                yield Edge(target, vertices if property_ == "marker-mid" else shapes, 1)
        if local(element) == "feImage":
            shown = self._definitions.get(href(element)[1:])
            if shown is not None:
                yield Edge(shown, 1, 1)

    def _followed(self, value: str | None) -> etree._Element | None:
        key = url_id(value) if value else ""
        target = self._definitions.get(key) if key else None
        return target if target is not None and local(target) in _FOLLOWED else None

    def _shapes(self, element: etree._Element) -> tuple[int, int]:
        """Return how many shapes an element is or holds, and how many vertices within those."""
        if element not in self._below:
            shapes = vertices = 0
            for part in element.iter(*(f"{{{SVG}}}{name}" for name in SHAPES)):
                shapes += 1
                data = part.get("d")
                points = part.get("points")
                steps = len(parse_path(data).steps) if data else len((points or "").split())
                vertices += max(0, steps - 2)
            self._below[element] = (shapes, vertices)
        return self._below[element]


def check_dashes(root: etree._Element, file: Path | str) -> None:
    """Refuse a drawing whose dashed lines fall into too many dashes.

    Args:
        root: the document in normal form.
        file: its name, for the error.

    Raises:
        InputError: there are more than :data:`MAX_DASHES`.
    """
    dashes = 0.0
    todo = [(root, "none")]
    while todo:
        element, pattern = todo.pop()
        pattern = element.get("stroke-dasharray", pattern)
        if pattern != "none" and local(element) in SHAPES:
            dashes += _dashes(element, pattern)
            if dashes > MAX_DASHES:
                raise InputError(
                    f"its dashed lines fall into more than {MAX_DASHES:,} dashes",
                    file=file,
                    element=element.get("id"),
                    hint="make the dashes longer, or draw a tint instead",
                )
        todo += [(child, pattern) for child in element]


def _dashes(shape: etree._Element, pattern: str) -> float:
    """Return about how many dashes a shape's line falls into."""
    try:
        lengths = [float(v) for v in pattern.replace(",", " ").split()]
    except ValueError:
        return 0.0
    period = sum(lengths)
    if not period > 0 or min(lengths) < 0:
        return 0.0
    points = shape_segments(shape).points
    if not len(points):
        return 0.0
    # The control polygon is no shorter than the curve.
    line = float(np.hypot(*np.moveaxis(np.diff(points, axis=1), 2, 0)).sum())
    return line / period * len(lengths)
