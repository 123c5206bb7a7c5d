"""Effects in units of the box of what they act on, pinned to what that box is now.

Where the content of a shape or group is about to change, so does its box. Pinned to user
space, a clip path, mask or filter stays what it was.
"""

from __future__ import annotations

import copy
import re
from dataclasses import dataclass, field

from lxml import etree

from vecrepeat.art.definitions import Definitions, baked
from vecrepeat.art.lengths import box_region
from vecrepeat.art.normalform import DEFINITIONS, drawn_children, matrix_of, url_id
from vecrepeat.art.shapes import SHAPES, image_box, shape_segments
from vecrepeat.art.style import inherited_properties
from vecrepeat.art.xml import SVG, local, take
from vecrepeat.geometry import IDENTITY, Affine, Rect, number
from vecrepeat.scene.polylines import mapped
from vecrepeat.scene.segments import EMPTY, rect_segments, tight_box

_MAX_DEPTH = 16
_BY_BOX = "objectBoundingBox"
_URL_RE = re.compile(r"url\([^)]*\)")


@dataclass
class Pins:
    """Pins effects of a drawing, each once for each box.

    Attributes:
        definitions: the drawing's; pinned copies are added.
    """

    definitions: Definitions
    _pinned: dict[tuple[str, Rect], str] = field(default_factory=dict)

    def pin(self, shape: etree._Element, top: etree._Element) -> bool:
        """Pin the effects on a shape, and on the groups round it, that go by a box.

        Args:
            shape: what is about to change.
            top: the ancestor to stop at.

        Returns:
            Whether the effects on the shape and on the groups round it will stay what they are.
        """
        element: etree._Element | None = shape
        while element is not None and element is not top and local(element) not in DEFINITIONS:
            for name in ("clip-path", "mask", "filter"):
                key = url_id(element.get(name, ""))
                if not key or not self._by_box(key, ()):
                    continue
                box = object_box(element)
                pinned = None if box is None else self._pinned_to(key, box)
                if pinned is None:
                    return False
                # A list of filters has room for others.
                new = _URL_RE.sub(f"url(#{pinned})", element.get(name, ""), count=1)
                element.set(name, new)
            element = element.getparent()
        return True

    def _by_box(self, key: str, using: tuple[str, ...]) -> bool:
        effect = self.definitions.by_id.get(key)
        if effect is None or key in using or len(using) > _MAX_DEPTH:
            return False
        kind = local(effect)
        if kind == "clipPath":
            outer = url_id(effect.get("clip-path", ""))
            return effect.get("clipPathUnits") == _BY_BOX or self._by_box(outer, (*using, key))
        if kind == "mask":
            return (
                effect.get("maskUnits", _BY_BOX) == _BY_BOX
                or effect.get("maskContentUnits") == _BY_BOX
            )
        if kind == "filter":
            return (
                effect.get("filterUnits", _BY_BOX) == _BY_BOX
                or effect.get("primitiveUnits") == _BY_BOX
            )
        return False

    def _pinned_to(self, key: str, box: Rect) -> str | None:
        """Return the id of an effect's copy in user units, as it is for one box."""
        if (key, box) in self._pinned:
            return self._pinned[key, box]
        effect = self.definitions.by_id[key]
        if local(effect) == "filter" and effect.get("primitiveUnits") == _BY_BOX:
            return None
        if not (box.width > 0 and box.height > 0):
            return None
        clone = copy.deepcopy(effect)
        clone.tail = None
        for part in clone.iter():
            take(part, "id")
        for name, value in baked(inherited_properties(effect), self.definitions.root).items():
            if clone.get(name) is None:
                clone.set(name, value)
        frame = Affine(box.width, 0.0, 0.0, box.height, box.x0, box.y0)
        if local(effect) == "clipPath":
            if take(clone, "clipPathUnits") == _BY_BOX:
                for child in clone:
                    if local(child):
                        child.set("transform", (frame @ matrix_of(child)).svg())
            outer = url_id(clone.get("clip-path", ""))
            if outer and self._by_box(outer, (key,)):
                pinned = self._pinned_to(outer, box)
                if pinned is None:
                    return None
                clone.set("clip-path", f"url(#{pinned})")
        else:
            units = "maskUnits" if local(effect) == "mask" else "filterUnits"
            if clone.get(units, _BY_BOX) == _BY_BOX:
                for name, side in box_region(clone, box).items():
                    clone.set(name, number(side))
                clone.set(units, "userSpaceOnUse")
            if take(clone, "maskContentUnits") == _BY_BOX:
                inner = etree.Element(f"{{{SVG}}}g", transform=frame.svg())
                inner.extend(list(clone))
                clone.append(inner)
        self._pinned[key, box] = self.definitions.add(clone, "effect")
        return self._pinned[key, box]


def object_box(element: etree._Element) -> Rect | None:
    """Return an element's object bounding box in its own user units (SVG 2 §8.10).

    Returns:
        The box of its geometry, without strokes; None where there is none, or text, whose box
        isn't known.
    """
    boxes: list[Rect] = []

    def visit(part: etree._Element, matrix: Affine) -> bool:
        name = local(part)
        if name == "g":
            return all(visit(c, matrix @ matrix_of(c)) for c in drawn_children(part))
        if name in SHAPES or name == "image":
            segments = shape_segments(part) if name in SHAPES else EMPTY
            if name == "image" and (box := image_box(part)) is not None:
                segments = rect_segments(box)
            if len(segments.points):
                boxes.append(tight_box(mapped(segments.points, matrix), segments.straight))
            return True
        return name not in ("text", "tspan", "textPath")

    if not visit(element, IDENTITY) or not boxes:
        return None
    return Rect.enclosing(boxes)
