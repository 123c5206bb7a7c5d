"""What each motif is made of and where it paints, measured where geometry can't tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import shapely
from lxml import etree

from vecrepeat.art import features as kinds
from vecrepeat.art.areas import Parts, as_parts
from vecrepeat.art.features import features_of
from vecrepeat.art.fragments import closure, motif_markup, resource_markup
from vecrepeat.art.motifs import Node, label_of
from vecrepeat.art.outline import Outliner, matrix_of, url_id
from vecrepeat.art.page import Page
from vecrepeat.art.xml import SVG, local
from vecrepeat.geometry import Affine, Rect
from vecrepeat.repeat import Feature

_MEASURED = frozenset(
    (kinds.TEXT, kinds.MASK, kinds.FILTER, kinds.MARKER, kinds.NON_SCALING, kinds.IMAGE)
)
"""Kinds whose ink is not where the geometry is."""

_SCOPE = "ink"


@dataclass
class Inker:
    """Answers for a page's nodes what they use and where they paint.

    Args:
        page: the page.
        outliner: outlines elements in mm.
        definitions: elements by id.
    """

    page: Page
    outliner: Outliner
    definitions: Mapping[str, etree._Element]
    notes: list[str] = field(default_factory=list)
    _features: dict[etree._Element, tuple[Feature, ...]] = field(default_factory=dict)

    def features(self, node: Node) -> tuple[Feature, ...]:
        """Return what a node makes use of beyond plain fills and strokes."""
        if node.element not in self._features:
            found = features_of(node.element, node.inherited, self.definitions)
            self._features[node.element] = found
        return self._features[node.element]

    def refine(self, node: Node, parts: Parts) -> Parts:
        """Return a node's painted area in mm, measured where geometry can't tell."""
        used = {feature.kind for feature in self.features(node)}
        if not used & _MEASURED:
            return parts
        # Few drawings need measuring; the rest do not wait for what it takes.
        from vecrepeat.art.ink import measure
        from vecrepeat.resvg import ResvgError

        page = Rect(0.0, 0.0, float(self.page.width), float(self.page.height))
        region = page.grown(max(page.width, page.height))
        near = None
        if len(parts):
            near = Rect(*(float(v) for v in shapely.total_bounds(parts)))
            region = _united(region, near)
        resources = [
            resource_markup(self.definitions[key], _SCOPE)
            for key in closure(node.element, node.inherited, self.definitions)
        ]
        try:
            measured, _ = measure(
                motif_markup(node, _SCOPE), resources, region, fonts=kinds.TEXT in used, near=near
            )
        except ResvgError as error:
            name = label_of(node.element) or local(node.element)
            self.notes.append(
                f"“{name}”: where it paints could not be measured ({error}); "
                "its shapes are taken instead"
            )
            return parts if len(parts) else as_parts([shapely.box(*page)])
        return measured

    def extent(self, node: Node, parts: Parts) -> Rect | None:
        """Return what a renderer works on to draw a node, in mm, or None where that is its box."""
        if not any(feature.kind == kinds.FILTER for feature in self.features(node)):
            return None
        extent = Rect(*(float(v) for v in shapely.total_bounds(parts)))
        top = node.matrix
        todo: list[tuple[etree._Element, Affine]] = [(node.element, top)]
        while todo:
            element, matrix = todo.pop()
            matrix = matrix @ matrix_of(element)
            region = self._filter_region(element, matrix)
            if region is not None:
                extent = _united(extent, region)
            todo.extend((child, matrix) for child in element.iterchildren(f"{{{SVG}}}*"))
        return extent

    def _filter_region(self, element: etree._Element, matrix: Affine) -> Rect | None:
        """Return an element's filter region in mm (Filter Effects 1 §9.2)."""
        link = element.get("filter")
        definition = self.definitions.get(url_id(link)) if link else None
        if definition is None:
            return None
        by_box = definition.get("filterUnits") != "userSpaceOnUse"
        box = self.outliner.object_box(element) if by_box else None
        defaults = {"x": -0.1, "y": -0.1, "width": 1.2, "height": 1.2}
        try:
            x, y, w, h = (
                _share(definition.get(name), default) for name, default in defaults.items()
            )
        except ValueError:
            return None
        if by_box:
            if box is None:
                return None
            x, y = box.x0 + x * box.width, box.y0 + y * box.height
            w, h = w * box.width, h * box.height
        elif any(definition.get(name) is None for name in defaults):
            return None
        corners = shapely.get_coordinates(shapely.box(x, y, x + w, y + h))
        mapped = matrix.apply(corners)
        (x0, y0), (x1, y1) = mapped.min(axis=0), mapped.max(axis=0)
        return Rect(float(x0), float(y0), float(x1), float(y1))


def _share(text: str | None, default: float) -> float:
    if text is None:
        return default
    return float(text[:-1]) / 100 if text.endswith("%") else float(text)


def _united(one: Rect, other: Rect) -> Rect:
    return Rect(
        min(one.x0, other.x0),
        min(one.y0, other.y0),
        max(one.x1, other.x1),
        max(one.y1, other.y1),
    )
