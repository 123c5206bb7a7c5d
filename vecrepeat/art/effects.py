"""What acts on an element as a whole, in its user space: clip paths, masks and filters.

Sources: SVG 2 §14.5, CSS Masking 1 §6 and §8, Filter Effects 1 §5 and §9.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from lxml import etree

from vecrepeat.art.elements import function_of
from vecrepeat.art.gradients import from_unit
from vecrepeat.art.lengths import REGION, XYWH
from vecrepeat.art.normalform import label_of, url_id
from vecrepeat.art.page import Viewport, user_length
from vecrepeat.art.shapes import SHAPES, outline_of
from vecrepeat.art.style import INHERITED, inherited_properties, property_of
from vecrepeat.art.xml import attributes, local
from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.scene.nodes import (
    BLACK,
    Clip,
    Element,
    Fill,
    Filter,
    Group,
    Mask,
    Node,
    Path,
    Text,
)

if TYPE_CHECKING:
    from vecrepeat.art.build import Builder

_FUNCTION_RE = re.compile(r"url\([^)]*\)|[a-z-]+\((?:[^()]|\([^()]*\))*\)", re.IGNORECASE)
_UNIT_BOX = Viewport(1.0, 1.0)


@dataclass
class Effects:
    """The clip paths, masks and filters of a drawing.

    Args:
        builder: builds what masks hold.
    """

    builder: Builder

    def clip(self, key: str, box: Rect | None) -> Clip | None:
        """Return a clip path for what has a box, or None where there is none of that id."""
        target = self._target(key, "clipPath", "clip-path")
        if target is None:
            return None

        def build() -> Clip:
            with self.builder.within(key):
                return self._built_clip(target, box)

        return self.builder.once((key, box if self._is_by_box(target) else None), build)

    def _target(self, key: str, kind: str, by: str) -> etree._Element | None:
        """Return the element that a property refers to; it is noted where there is none."""
        if not key or key in self.builder.using:
            return None
        target = self.builder.definitions.get(key)
        if target is None or local(target) != kind:
            self.builder.miss(by, key)
            return None
        return target

    def _is_by_box(self, clip: etree._Element) -> bool:
        """Whether a clip path, or one that it is cut to, goes by the box of what it clips."""
        seen: set[str] = set()
        while clip.get("clipPathUnits") != "objectBoundingBox":
            link = url_id(clip.get("clip-path", ""))
            outer = self.builder.definitions.get(link)
            if outer is None or link in seen or local(outer) != "clipPath":
                return False
            seen.add(link)
            clip = outer
        return True

    def _built_clip(self, target: etree._Element, box: Rect | None) -> Clip:
        name = label_of(target)
        inherited = inherited_properties(target)
        own = {k: v for k, v in attributes(target).items() if k in INHERITED}
        matrix = Affine.from_svg(target.get("transform"))
        if target.get("clipPathUnits") == "objectBoundingBox":
            if box is None or box.width <= 0 or box.height <= 0:
                return Clip((), name=name)
            matrix = from_unit(box) @ matrix
        children = [*self._clip_children(target, {**inherited, **own})]
        if matrix != IDENTITY:
            children = [_moved(child, matrix) for child in children]
        outer = url_id(target.get("clip-path", ""))
        return Clip(tuple(children), self.clip(outer, box), name)

    def _clip_children(self, above: etree._Element, inherited: Mapping[str, str]) -> Iterator[Node]:
        for element in above:
            if element.get("display") == "none":
                continue
            self.builder.count(1)
            own = {k: v for k, v in attributes(element).items() if k in INHERITED}
            style = {**inherited, **own}
            name = local(element)
            nodes: list[Node]
            if name == "g":
                # A clip path may hold no groups: what acts on one acts on each thing in it.
                nodes = [*self._clip_children(element, style)]
            elif name == "text":
                nodes = [Text(self.builder.elements.kept(element, style), label_of(element))]
            elif name in SHAPES and style.get("visibility", "visible") == "visible":
                outline = outline_of(element)
                if outline is None:
                    continue
                even_odd = style.get("clip-rule") == "evenodd"
                nodes = [Path(outline, Fill(BLACK, 1.0, even_odd))]
            else:
                continue
            link = url_id(element.get("clip-path", ""))
            box = self.builder.box_of(Group(tuple(nodes))) if link else None
            clip = self.clip(link, box) if link else None
            matrix = Affine.from_svg(element.get("transform"))
            if name == "text":
                matrix = IDENTITY
            for node in nodes:
                if clip is not None:
                    yield Group((node,), matrix, clip=clip)
                else:
                    yield node if matrix == IDENTITY else _moved(node, matrix)

    def mask(self, key: str, box: Rect | None) -> Mask | None:
        target = self._target(key, "mask", "mask")
        if target is None:
            return None
        name = label_of(target)
        by_box = target.get("maskContentUnits") == "objectBoundingBox"
        if target.get("maskUnits") == "userSpaceOnUse":
            x, y, w, h = (float(target.get(k, 0)) for k in ("x", "y", "width", "height"))
            region = Rect(x, y, x + max(w, 0.0), y + max(h, 0.0))
        elif box is None:
            return Mask((), Rect(0.0, 0.0, 0.0, 0.0), name=name)
        else:
            region = _region(target, box)
        if by_box and box is None:
            return Mask((), region, name=name)
        children = self.builder.once(("in", key), lambda: self.builder.children(target, key))
        if by_box and box is not None:
            children = (Group(children, from_unit(box)),)
        with self.builder.within(key):
            return Mask(
                children,
                region,
                alpha=target.get("mask-type") == "alpha",
                linear=property_of(target, "color-interpolation") == "linearRGB",
                mask=self.mask(url_id(target.get("mask", "")), box),
                clip=self.clip(url_id(target.get("clip-path", "")), box),
                name=name,
            )

    def filter(self, element: etree._Element, box: Rect | None) -> Filter | None:
        steps: list[str | Element] = []
        region: Rect | None = None
        name = ""
        found = _FUNCTION_RE.findall(element.get("filter", ""))
        for step in found:
            key = url_id(step)
            if not key:
                steps.append(function_of(step, {"color": property_of(element, "color")}))
                continue
            target = self.builder.definitions.get(key)
            if target is None or local(target) != "filter" or key in self.builder.using:
                # A chain that refers to what is no filter counts for nothing.
                self.builder.miss("filter", key)
                return None
            name = name or label_of(target)
            steps.append(self.builder.elements.referred(key, target))
            if len(found) == 1:
                region = _filter_region(target, box)
        return Filter(tuple(steps), region, name) if steps else None


def _moved(node: Node, matrix: Affine) -> Node:
    if isinstance(node, Text):
        own = dict(node.element.attributes)
        own["transform"] = (matrix @ Affine.from_svg(str(own.get("transform", "")))).svg()
        return replace(node, element=replace(node.element, attributes=tuple(own.items())))
    if isinstance(node, Group):
        return replace(node, transform=matrix @ node.transform)
    return Group((node,), matrix)


def _region(effect: etree._Element, box: Rect) -> Rect:
    """Return a mask's or filter's region, given in shares of a box (SVG 1.1 §14.4, §15.5)."""
    shares = []
    for name, default in REGION.items():
        share = user_length(effect.get(name, default), XYWH[name], _UNIT_BOX)
        rested = user_length(default, "x", _UNIT_BOX) if share is None else share
        shares.append(rested or 0.0)
    x, y, width, height = shares
    x, y = box.x0 + x * box.width, box.y0 + y * box.height
    return Rect(x, y, x + width * box.width, y + height * box.height)


def _filter_region(target: etree._Element, box: Rect | None) -> Rect | None:
    """Return a filter's region in the user space of what it acts on (Filter Effects 1 §9.2)."""
    if target.get("filterUnits") != "userSpaceOnUse":
        return None if box is None else _region(target, box)
    if any(target.get(name) is None for name in REGION):
        return None
    x, y, w, h = (float(target.get(name, 0)) for name in REGION)
    return Rect(x, y, x + w, y + h)
