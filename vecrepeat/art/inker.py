"""What each motif is made of and where it paints, measured where geometry can't tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import shapely
from lxml import etree
from shapely.geometry.base import BaseGeometry

from vecrepeat.art import kinds
from vecrepeat.art.allowance import Allowance, SpentError
from vecrepeat.art.areas import Parts, as_parts
from vecrepeat.art.features import features_of
from vecrepeat.art.fonts import generic_families
from vecrepeat.art.fragments import closure, motif_markup, resource_markup
from vecrepeat.art.motifs import Node, label_of, placed_elements
from vecrepeat.art.outline import Outliner, box_region, url_id
from vecrepeat.art.page import Page
from vecrepeat.art.xml import local
from vecrepeat.errors import InputError
from vecrepeat.geometry import Affine, Rect
from vecrepeat.repeat import Feature

_MEASURED = frozenset(
    (kinds.TEXT, kinds.MASK, kinds.FILTER, kinds.MARKER, kinds.NON_SCALING, kinds.IMAGE)
)
"""Kinds whose ink is not where the geometry is."""

_SPREADING = frozenset((kinds.TEXT, kinds.MARKER, kinds.NON_SCALING))
"""Kinds whose ink may lie outside all boxes known beforehand."""

_SCOPE = "ink"
_REGION = ("x", "y", "width", "height")


@dataclass
class Inker:
    """Answers for a page's nodes what they use and where they paint.

    Args:
        page: the page.
        outliner: outlines elements in mm.
        definitions: elements by id.
        file: the drawing's name, for errors.
    """

    page: Page
    outliner: Outliner
    definitions: Mapping[str, etree._Element]
    file: Path | str
    notes: list[str] = field(default_factory=list)
    _allowance: Allowance = field(default_factory=Allowance)
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
        if kinds.FILTER in used and not used & (_MEASURED - {kinds.FILTER}):
            from vecrepeat.art.spread import filtered_area

            told = filtered_area(node, self.outliner, self.definitions, self._filter_area)
            if told is not None:
                return told
        # Few drawings need measuring; the rest do not wait for what it takes.
        from vecrepeat.art.ink import measure
        from vecrepeat.resvg import ResvgError, ResvgTimeError

        page = Rect(0.0, 0.0, float(self.page.width), float(self.page.height))
        region = page.grown(max(page.width, page.height))
        near = None
        if len(parts):
            near = Rect.of(shapely.total_bounds(parts))
            region = Rect.enclosing([region, near])
        resources = [
            resource_markup(self.definitions[key], _SCOPE)
            for key in closure(node.element, node.inherited, self.definitions)
        ]
        name = label_of(node.element) or local(node.element)
        try:
            with self._allowance.motif():
                measured, _ = measure(
                    motif_markup(node, _SCOPE),
                    resources,
                    region,
                    fonts=generic_families() if kinds.TEXT in used else (),
                    near=near,
                    within=None if used & _SPREADING else self._bounds(node, parts),
                    allowance=self._allowance,
                )
        except (ResvgTimeError, SpentError) as error:
            raise self._too_slow(name) from error
        except ResvgError as error:
            self.notes.append(
                f"“{name}”: where it paints could not be measured ({error}); "
                "its shapes are taken instead"
            )
            return parts if len(parts) else as_parts([shapely.box(*page)])
        return measured

    def _too_slow(self, name: str) -> InputError:
        return InputError(
            "its filters, masks or text take too long to draw",
            file=self.file,
            element=name,
            hint="simplify or rasterise them",
        )

    def _bounds(self, node: Node, parts: Parts) -> Rect | None:
        """Return where all that a node paints and filters lies, in mm; None where unknown."""
        boxes = [Rect.of(shapely.total_bounds(parts))] if len(parts) else []
        for element, matrix in placed_elements(node):
            if element.get("filter", "none") != "none":
                region = self._filter_region(element, matrix)
                if region is None:
                    return None
                boxes.append(region)
        return Rect.enclosing(boxes) if boxes else None

    def regions(self, node: Node) -> tuple[Rect, ...]:
        """Return the bounds of what each filter of a node works on, in mm, where that is known."""
        if not any(feature.kind == kinds.FILTER for feature in self.features(node)):
            return ()
        regions = [self._filter_region(*placed) for placed in placed_elements(node)]
        return tuple(region for region in regions if region is not None)

    def _filter_region(self, element: etree._Element, matrix: Affine) -> Rect | None:
        """Return the bounds of an element's filter region in mm."""
        area = self._filter_area(element, matrix)
        return None if area is None else Rect.of(area.bounds)

    def _filter_area(self, element: etree._Element, matrix: Affine) -> BaseGeometry | None:
        """Return an element's filter region in mm (Filter Effects 1 §9.2)."""
        link = element.get("filter")
        definition = self.definitions.get(url_id(link)) if link else None
        if definition is None:
            return None
        by_box = definition.get("filterUnits") != "userSpaceOnUse"
        box = self.outliner.object_box(element) if by_box else None
        if box is not None:
            region = box_region(definition, box)
        elif by_box or any(definition.get(name) is None for name in _REGION):
            return None
        else:
            region = {name: float(definition.get(name, 0)) for name in _REGION}
        x, y, w, h = (region[name] for name in _REGION)
        return shapely.transform(shapely.box(x, y, x + w, y + h), matrix.apply)
