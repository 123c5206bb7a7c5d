"""Elements kept as they are, for what only an engine reads: live text, filters, patterns."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from lxml import etree

from vecrepeat.art.css_values import number_text, split_alpha
from vecrepeat.art.normalform import BOX, CHOSEN, KIND, LABEL, LAYER
from vecrepeat.art.style import INHERITED, INITIAL, inherited_properties
from vecrepeat.art.xml import DESCRIPTIVE, HREF, XML, attributes, local, real
from vecrepeat.scene.nodes import BLACK, Element

if TYPE_CHECKING:
    from vecrepeat.art.build import Builder

HEX_RE = re.compile("#[0-9a-fA-F]{6}")
_URL_RE = re.compile(r"url\(\s*[\"']?#([^)\"']*)[\"']?\s*\)")
_BAKED = INHERITED - {"color", "cursor", "pointer-events"}
_TEXTS = frozenset(("text", "tspan", "textPath"))
_COLOURS = ("stop", "flood", "lighting")


def paint_of(style: Mapping[str, str], name: str) -> tuple[str, float]:
    """Return a paint with its colour worked out and made opaque, and its opacity.

    Args:
        style: properties in force, in normal form.
        name: ``fill``, ``stroke``, or ``stop`` and the like for the property ``stop-color``.

    Source: CSS Color 4 §6.2: ``currentColor`` inherits as a keyword.
    """
    key = name if name in ("fill", "stroke") else f"{name}-color"
    value = style.get(key, INITIAL[key])
    opaque, alpha = split_alpha(value.replace("currentColor", style.get("color", BLACK)))
    return opaque, min(max(real(style.get(f"{name}-opacity"), 1.0), 0.0), 1.0) * alpha


def function_of(text: str, style: Mapping[str, str]) -> str:
    """Return filter functions with ``currentColor`` in them worked out."""
    if "currentcolor" not in text.lower():
        return text
    return re.sub("(?i)currentcolor", style.get("color", BLACK), text)


@dataclass
class Elements:
    """Turns elements into values, with the definitions that they refer to in their places.

    Args:
        builder: knows the definitions.
    """

    builder: Builder

    def referred(self, key: str, target: etree._Element) -> Element:
        """Return a definition as it is, without links in it that lead back to itself."""

        def build() -> Element:
            with self.builder.within(key):
                return self.kept(target, inherited_properties(target))

        return self.builder.once(("kept", key), build)

    def kept(self, element: etree._Element, inherited: Mapping[str, str]) -> Element:
        """Return an element as it is, with all it inherits written on it."""
        return self._kept(element, inherited, {k: inherited[k] for k in inherited if k in _BAKED})

    def _kept(
        self, element: etree._Element, inherited: Mapping[str, str], baked: Mapping[str, str]
    ) -> Element:
        self.builder.count(1)
        name = local(element)
        own = attributes(element)
        style = {**inherited, **{k: v for k, v in own.items() if k in INHERITED}}
        written: list[tuple[str, str | Element]] = []
        for key, value in {**baked, **own, **_plain_colours(inherited, style, own)}.items():
            if key in ("id", LABEL, LAYER, CHOSEN, KIND, BOX, "data-name", "aria-label"):
                continue
            if key == HREF and element.get("href") is not None:
                # The plain one counts where both are there (SVG 2 §16.1.6).
                continue
            if key in ("href", HREF):
                target = self.builder.definitions.get(value[1:]) if value[:1] == "#" else None
                if target is not None and value[1:] not in self.builder.using:
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
                content.append(self._kept(child, style, {}))
            if keeps_text and child.tail:
                content.append(child.tail)
        return Element(name, tuple(written), tuple(content))

    def _value(self, value: str) -> str | Element:
        match = _URL_RE.fullmatch(value.strip()) or _URL_RE.match(value.strip())
        if match is None:
            return value
        target = self.builder.definitions.get(match[1])
        if target is None or match[1] in self.builder.using:
            colour = HEX_RE.search(value.partition(")")[2])
            return colour[0] if colour else "none"
        return self.referred(match[1], target)


def _plain_colours(
    inherited: Mapping[str, str], style: Mapping[str, str], own: Mapping[str, str]
) -> dict[str, str]:
    """Return what an element's colours are written as where engines might differ over them."""
    found: dict[str, str] = {}
    for name in ("fill", "stroke"):
        asked = style.get(name, "") + inherited.get(name, "")
        if "rgba(" in asked or "currentColor" in asked:
            found[name], opacity = paint_of(style, name)
            found[f"{name}-opacity"] = number_text(opacity)
    for name in _COLOURS:
        asked = own.get(f"{name}-color", "")
        if "rgba(" in asked or "currentColor" in asked:
            here = {**own, "color": style.get("color", BLACK)}
            found[f"{name}-color"], opacity = paint_of(here, name)
            # Light has no alpha (Filter Effects 1 §9.15).
            if name != "lighting":
                found[f"{name}-opacity"] = number_text(opacity)
    if "filter" in own:
        found["filter"] = function_of(own["filter"], style)
    return found
