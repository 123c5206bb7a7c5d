"""Gradients and effects in units of a text's bounding box, fixed to that box.

The box of text is that of its character cells (SVG 2 §11.4); the paths it turns into have
another.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass

from lxml import etree

from vecrepeat.art.characters import LeftError, real
from vecrepeat.art.lengths import box_region
from vecrepeat.art.normalform import url_id
from vecrepeat.art.style import property_of
from vecrepeat.art.xml import attributes, local, take
from vecrepeat.core.geometry import Affine, Rect, number

_GRADIENT_DEFAULTS = {
    "linearGradient": {"x1": 0.0, "y1": 0.0, "x2": 1.0, "y2": 0.0},
    "radialGradient": {"cx": 0.5, "cy": 0.5, "r": 0.5},
}


@dataclass
class BoxUnits:
    """The definitions of a document that may be in units of a text's bounding box.

    Attributes:
        ids: elements by id; new definitions are added.
    """

    ids: dict[str, etree._Element]

    def check(self, text: etree._Element, box: Rect | None) -> None:
        """Raise where an effect's content is in units of the text's bounding box."""
        units = {"clip-path": "clipPathUnits", "mask": "maskContentUnits"}
        units["filter"] = "primitiveUnits"
        for name, attribute in units.items():
            element = self.ids.get(url_id(text.get(name) or ""))
            if element is not None and element.get(attribute) == "objectBoundingBox":
                raise LeftError(f"its {name} is in units of its bounding box")
        if box is None and any(text.get(k) not in (None, "none") for k in ("mask", "filter")):
            raise LeftError("it has no extent for its mask or filter")

    def fix(self, text: etree._Element, paths: list[etree._Element], box: Rect | None) -> None:
        """Fix what hangs on the box: paints of the paths, and the text's mask and filter.

        Raises:
            LeftError: a paint can't be fixed; nothing has been changed.
        """
        painted = [(path, self._paints(path, text, box)) for path in paths]
        for path, paints in painted:
            for name, key in paints:
                rest = (path.get(name) or property_of(text, name)).partition(")")[2]
                path.set(name, f"url(#{self._fixed(key, box)}){rest}")
        for name in ("mask", "filter"):
            effect = self._in_box_units(text.get(name))
            if effect is not None:
                text.set(name, f"url(#{self._fixed(effect, box)})")

    def _in_box_units(self, value: str | None) -> str | None:
        """Return the id of a definition that hangs on the bounding box, or None."""
        key = url_id(value or "")
        element = self.ids.get(key)
        if element is None:
            return None
        name = local(element)
        units = {"pattern": "patternUnits", "mask": "maskUnits", "filter": "filterUnits"}
        attribute = units.get(name, "gradientUnits" if name in _GRADIENT_DEFAULTS else "")
        if attribute and element.get(attribute) != "userSpaceOnUse":
            return key
        if name == "pattern" and element.get("patternContentUnits") == "objectBoundingBox":
            return key
        return None

    def _paints(
        self, path: etree._Element, text: etree._Element, box: Rect | None
    ) -> list[tuple[str, str]]:
        """Return which paints of a path hang on the bounding box, with their ids."""
        found = []
        for name in ("fill", "stroke"):
            key = self._in_box_units(path.get(name) or property_of(text, name))
            if key is None:
                continue
            if local(self.ids[key]) == "pattern":
                raise LeftError("its paint is a pattern in units of its bounding box")
            if box is not None:
                found.append((name, key))
        return found

    def _fixed(self, key: str, box: Rect | None) -> str:
        """Return the id of a copy of a definition, made to fit a bounding box in user units."""
        assert box is not None
        original = self.ids[key]
        clone = copy.deepcopy(original)
        clone.tail = None
        for inner in clone.iter():
            take(inner, "id")
        x0, y0, x1, y1 = box
        name = local(clone)
        if name in _GRADIENT_DEFAULTS:
            for attribute, default in _GRADIENT_DEFAULTS[name].items():
                clone.set(attribute, number(_share(clone.get(attribute), default)))
            for attribute in ("fx", "fy", "fr"):
                if (value := clone.get(attribute)) is not None:
                    clone.set(attribute, number(_share(value, 0.5)))
            own = Affine.from_svg(clone.get("gradientTransform"))
            fit = Affine(x1 - x0, 0.0, 0.0, y1 - y0, x0, y0) @ own
            clone.set("gradientTransform", fit.svg())
            clone.set("gradientUnits", "userSpaceOnUse")
        else:
            for attribute, side in box_region(clone, box).items():
                clone.set(attribute, number(side))
            clone.set(f"{name}Units", "userSpaceOnUse")
        count = 1
        while (fresh := f"{key}-text-{count}") in self.ids:
            count += 1
            if _alike(self.ids[fresh], clone):
                return fresh
        clone.set("id", fresh)
        self.ids[fresh] = clone
        original.addnext(clone)
        return fresh


def _alike(one: etree._Element, other: etree._Element) -> bool:
    names = set(attributes(one)) | set(attributes(other))
    return all(one.get(k) == other.get(k) for k in names if k != "id")


def _share(text: str | None, default: float) -> float:
    if text is None:
        return default
    text = text.strip()
    return real(text[:-1], 100 * default) / 100 if text.endswith("%") else real(text, default)
