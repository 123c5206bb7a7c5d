"""Elements kept as they are, for what only an engine reads: live text, filters, patterns."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from lxml import etree

from vecrepeat.art.normalform import CHOSEN, KIND, LABEL, LAYER
from vecrepeat.art.style import INHERITED, inherited_properties
from vecrepeat.art.xml import DESCRIPTIVE, HREF, XML, attributes, local
from vecrepeat.scene.nodes import Element

HEX_RE = re.compile("#[0-9a-fA-F]{6}")
_URL_RE = re.compile(r"url\(\s*[\"']?#([^)\"']*)[\"']?\s*\)")
_BAKED = INHERITED - {"color", "cursor", "pointer-events"}
_TEXTS = frozenset(("text", "tspan", "textPath"))


@dataclass
class Elements:
    """Turns elements into values, with the definitions that they refer to in their places.

    Attributes:
        definitions: elements by id.
        using: ids of the definitions that are being built, against those that go in circles.
    """

    definitions: Mapping[str, etree._Element]
    using: list[str]

    def referred(self, key: str, target: etree._Element) -> Element:
        """Return a definition as it is, without links in it that lead back to itself."""
        self.using.append(key)
        try:
            return self.kept(target, inherited_properties(target))
        finally:
            self.using.pop()

    def kept(self, element: etree._Element, inherited: Mapping[str, str] | None = None) -> Element:
        """Return an element as it is, with all it inherits written on it."""
        name = local(element)
        baked = {k: v for k, v in (inherited or {}).items() if k in _BAKED}
        written: list[tuple[str, str | Element]] = []
        for key, value in {**baked, **attributes(element)}.items():
            if key in ("id", LABEL, LAYER, CHOSEN, KIND, "data-name", "aria-label"):
                continue
            if key == HREF and element.get("href") is not None:
                # The plain one counts where both are there (SVG 2 §16.1.6).
                continue
            if key in ("href", HREF):
                target = self.definitions.get(value[1:]) if value.startswith("#") else None
                if target is not None and value[1:] not in self.using:
                    written.append(("href", self.referred(value[1:], target)))
                elif not value.startswith("#"):
                    written.append(("href", value))
            elif key.startswith(f"{{{XML}}}"):
                written.append((f"xml:{key.partition('}')[2]}", value))
            elif not key.startswith("{"):
                written.append((key, self._value(value)))
        content: list[str | Element] = []
        keeps_text = name in _TEXTS
        if keeps_text and element.text:
            content.append(element.text)
        for child in element:
            if local(child) and local(child) not in DESCRIPTIVE:
                content.append(self.kept(child))
            if keeps_text and child.tail:
                content.append(child.tail)
        return Element(name, tuple(written), tuple(content))

    def _value(self, value: str) -> str | Element:
        match = _URL_RE.fullmatch(value.strip()) or _URL_RE.match(value.strip())
        if match is None:
            return value
        target = self.definitions.get(match[1])
        if target is None or match[1] in self.using:
            colour = HEX_RE.search(value.partition(")")[2])
            return colour[0] if colour else "none"
        return self.referred(match[1], target)
