"""What a motif is made of beyond plain fills and strokes: the kinds of :mod:`.kinds` it uses."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from lxml import etree

from vecrepeat.art.kinds import (
    BLEND,
    BOX_CLIP,
    CAPPED_DOT,
    CLIP,
    CLIP_PROPERTY,
    COLLAPSED,
    CONDITION,
    CONTEXT,
    DASHES,
    EVEN_ODD_CLIP,
    FILTER,
    FLAT_GRADIENT,
    FOCAL_CIRCLE,
    FOCUS,
    GRADIENT,
    HIDDEN_CLIP,
    IMAGE,
    JOIN,
    JOINED_CLIP,
    MARKER,
    MASK,
    MISSING,
    MITER,
    NESTED_CLIP,
    NON_SCALING,
    OPACITY,
    PAINT_ORDER,
    PATTERN,
    STRAY,
    STROKE_RESET,
    TEXT,
)
from vecrepeat.art.motifs import label_of
from vecrepeat.art.normalform import DEFINITIONS
from vecrepeat.art.outline import matrix_of, url_id
from vecrepeat.art.paths import SHAPES, shape_segments, tight_box
from vecrepeat.art.polylines import mapped
from vecrepeat.art.shapefaults import OWN_GEOMETRY, has_dot, meet, rule_matters, shape_errors
from vecrepeat.art.style import INHERITED, INITIAL, inherited_properties
from vecrepeat.art.xml import DESCRIPTIVE, SVG, attributes, href, local
from vecrepeat.geometry import Affine, Rect
from vecrepeat.repeat import Feature

_WANTED = {
    "fill": ("linearGradient", "radialGradient", "pattern"),
    "stroke": ("linearGradient", "radialGradient", "pattern"),
    "clip-path": ("clipPath",),
    "mask": ("mask",),
    "filter": ("filter",),
    "marker-start": ("marker",),
    "marker-mid": ("marker",),
    "marker-end": ("marker",),
}
"""Properties that refer to a definition, and the elements that may be one."""

_GEOMETRY = frozenset(name for names in OWN_GEOMETRY.values() for name in names)
_STRAYS = {name: _GEOMETRY - own for name, own in OWN_GEOMETRY.items()}
_NOTHING = frozenset[str]()
_CONDITIONS = frozenset(("requiredFeatures", "requiredExtensions", "systemLanguage"))
_FUNCTION_RE = re.compile(r"(?<![a-z-])(?!url\()[a-z-]+\(", re.IGNORECASE)


def features_of(
    element: etree._Element,
    inherited: Mapping[str, str],
    definitions: Mapping[str, etree._Element],
) -> tuple[Feature, ...]:
    """Return what a motif and all the definitions it uses, directly or not, make use of.

    Args:
        element: the motif's element, in normal form.
        inherited: the inherited properties in force at its parent.
        definitions: elements by id.

    Returns:
        Each feature once, in the order they are met.
    """
    walk = _Walk(definitions)
    walk.drawn(element, inherited)
    return tuple(walk.found)


@dataclass
class _Walk:
    """Collects features; each definition is walked once."""

    definitions: Mapping[str, etree._Element]
    found: dict[Feature, None] = field(default_factory=dict)
    seen: set[str] = field(default_factory=set)

    def note(self, kind: str, element: etree._Element) -> None:
        self.found[Feature(kind, label_of(element) or local(element))] = None

    def drawn(self, element: etree._Element, inherited: Mapping[str, str]) -> None:
        """Walk an element that paints, and what is below it."""
        # Not by recursion: what ``use`` has expanded may nest deep.
        queue = [(element, inherited)]
        while queue:
            current, above = queue.pop()
            name = local(current)
            if not name or name in DEFINITIONS or name in DESCRIPTIVE:
                continue
            style = self._one(current, name, above)
            queue += [(child, style) for child in reversed(current)]

    def _one(
        self, element: etree._Element, name: str, inherited: Mapping[str, str]
    ) -> Mapping[str, str]:
        """Note what one drawn element has; return the properties its children inherit."""
        written = attributes(element)
        own = {k: v for k, v in written.items() if k in INHERITED}
        style = {**inherited, **own} if own else inherited
        self._stroke_reset(element, own, inherited)
        self._references(element, name, written, style)
        if _blends(written.get("style", "")):
            self.note(BLEND, element)
        if written.get("opacity", "1") != "1":
            self.note(OPACITY, element)
        if "rect" in written.get("clip", ""):
            self.note(CLIP_PROPERTY, element)
        if not _CONDITIONS.isdisjoint(written):
            self.note(CONDITION, element)
        if not _STRAYS.get(name, _NOTHING).isdisjoint(written):
            self.note(STRAY, element)
        if name in ("text", "tspan", "textPath"):
            if name == "text":
                self.note(TEXT, element)
        elif name == "image":
            self.note(IMAGE, element)
        if name in SHAPES:
            self._shape(element, style)
        return style

    def _stroke_reset(
        self, element: etree._Element, own: Mapping[str, str], inherited: Mapping[str, str]
    ) -> None:
        """CairoSVG sets caps, joins and dashes on the way down, but never back to the default."""
        for name in ("stroke-linecap", "stroke-linejoin", "stroke-dasharray"):
            if name not in own:
                continue
            before, now = (_plain(name, v.get(name, INITIAL[name])) for v in (inherited, own))
            if now == INITIAL[name] != before:
                self.note(STROKE_RESET, element)

    def _references(
        self,
        element: etree._Element,
        name: str,
        written: Mapping[str, str],
        style: Mapping[str, str],
    ) -> None:
        """Note what an element refers to, and walk it."""
        paints = name in SHAPES or name in ("text", "tspan", "textPath")
        for property_, wanted in _WANTED.items():
            value = (style if property_ in INHERITED else written).get(property_, "none")
            if value == "none" or (property_ in INHERITED and not paints):
                continue
            if property_ == "filter" and _FUNCTION_RE.search(value):
                # A list of functions, or several links: no matter whether all are there.
                self.note(FILTER, element)
            if "url(" not in value:
                continue
            if property_.startswith("marker") and name not in SHAPES:
                continue
            key = url_id(value)
            target = self.definitions.get(key)
            if target is None or local(target) not in wanted:
                self.note(MISSING, element)
                if property_ in ("filter", "mask") or property_.startswith("marker"):
                    self.note({"filter": FILTER, "mask": MASK}.get(property_, MARKER), element)
                continue
            if property_ == "clip-path" and target.get("clipPathUnits") == "objectBoundingBox":
                self.note(BOX_CLIP, target)
            self.definition(key, target)
        link = href(element)
        if link.startswith("#") and link[1:] not in self.definitions:
            self.note(MISSING, element)

    def definition(self, key: str, target: etree._Element) -> None:
        """Walk a definition that is made use of."""
        if key in self.seen:
            return
        self.seen.add(key)
        name = local(target)
        inherited = {**inherited_properties(target)}
        inherited |= {k: v for k, v in attributes(target).items() if k in INHERITED}
        if name in ("linearGradient", "radialGradient"):
            self.note(GRADIENT, target)
            self._gradient(target)
        elif name == "clipPath":
            self.note(CLIP, target)
            self._clip(target, inherited)
        else:
            kind = {"pattern": PATTERN, "mask": MASK, "marker": MARKER, "filter": FILTER}[name]
            self.note(kind, target)
            for link in ("mask", "clip-path"):
                inner = self.definitions.get(url_id(target.get(link, "")))
                if inner is not None and local(inner) in ("mask", "clipPath"):
                    self.definition(url_id(target.get(link, "")), inner)
            if name == "filter":
                self._filter(target)
            else:
                for child in target:
                    self.drawn(child, inherited)

    def _filter(self, target: etree._Element) -> None:
        """Walk what a filter's pictures show."""
        for image in target.iter(f"{{{SVG}}}feImage"):
            link = href(image)
            if not link.startswith("#"):
                self.note(IMAGE, image)
                continue
            key = link[1:]
            shown = self.definitions.get(key)
            if shown is None:
                self.note(MISSING, image)
            elif key not in self.seen:
                self.seen.add(key)
                self.drawn(shown, inherited_properties(shown))

    def _gradient(self, gradient: etree._Element) -> None:
        def value(name: str, default: str) -> float:
            text = gradient.get(name, default).strip()
            scale = 0.01 if text.endswith("%") else 1.0
            try:
                return float(text.rstrip("%")) * scale
            except ValueError:
                return float("nan")

        # Without units of the box, a length not given is a share of the page: never this.
        stops = sum(local(child) == "stop" for child in gradient)
        matrix = Affine.from_svg(gradient.get("gradientTransform"))
        if abs(matrix.determinant) < 1e-12 or not stops:
            self.note(FLAT_GRADIENT, gradient)
        if local(gradient) == "linearGradient":
            x1, y1, y2 = (value(k, "0%") for k in ("x1", "y1", "y2"))
            x2 = value("x2", "100%")
            if (x1, y1) == (x2, y2):
                self.note(FLAT_GRADIENT, gradient)
            return
        cx, cy, r = (value(k, "50%") for k in ("cx", "cy", "r"))
        if not r > 0:
            self.note(FLAT_GRADIENT, gradient)
        fx = cx if gradient.get("fx") is None else value("fx", "50%")
        fy = cy if gradient.get("fy") is None else value("fy", "50%")
        if value("fr", "0%") != 0:
            self.note(FOCAL_CIRCLE, gradient)
        if r > 0 and np.hypot(fx - cx, fy - cy) >= 0.99 * r:
            self.note(FOCUS, gradient)

    def _shape(self, element: etree._Element, style: Mapping[str, str]) -> None:
        """Note what is unusual about a shape and its stroke."""
        visibility = style.get("visibility", "visible")
        if visibility == "collapse":
            self.note(COLLAPSED, element)
        stroked = style.get("stroke", "none") != "none" and _number(style, "stroke-width", 1) > 0
        if stroked:
            if style.get("paint-order", "normal") != "normal":
                self.note(PAINT_ORDER, element)
            if element.get("vector-effect", "none") == "non-scaling-stroke":
                self.note(NON_SCALING, element)
            if style.get("stroke-linejoin", "miter") not in ("miter", "round", "bevel"):
                self.note(JOIN, element)
            if _number(style, "stroke-miterlimit", 4) < 1:
                self.note(MITER, element)
            dashes = _plain("stroke-dasharray", style.get("stroke-dasharray", "none"))
            if dashes != "none":
                self.note(DASHES, element)
        for kind in shape_errors(element):
            self.note(kind, element)
        cap = style.get("stroke-linecap", "butt")
        if stroked and cap != "butt":
            dashes = _plain("stroke-dasharray", style.get("stroke-dasharray", "none"))
            empty_dash = any(float(v) == 0 for v in dashes.split()) if dashes != "none" else False
            if has_dot(element) or (cap == "square" and empty_dash):
                self.note(CAPPED_DOT, element)
        if any(style.get(k, "none").startswith("context-") for k in ("fill", "stroke")):
            self.note(CONTEXT, element)

    def _clip(self, clip: etree._Element, inherited: Mapping[str, str]) -> None:
        """Note what CairoSVG would get wrong about a clip path."""
        link = clip.get("clip-path", "none")
        if link != "none":
            self._inner_clip(clip, link)
        boxes: list[Rect] = []
        rounded: list[bool] = []
        queue = [(child, matrix_of(clip), inherited) for child in reversed(clip)]
        while queue:
            element, above, style = queue.pop()
            name = local(element)
            if element.get("display") == "none":
                continue
            style = {**style, **{k: v for k, v in attributes(element).items() if k in INHERITED}}
            matrix = above @ matrix_of(element)
            link = element.get("clip-path", "none")
            if link != "none":
                self._inner_clip(element, link)
            if any(element.get(k, "none") != "none" for k in ("mask", "filter")):
                self.note(HIDDEN_CLIP, clip)
            if name == "g":
                queue += [(child, matrix, style) for child in reversed(element)]
            elif name == "text":
                self.note(TEXT, element)
                self.note(HIDDEN_CLIP, clip)
            elif name in SHAPES:
                if style.get("visibility", "visible") != "visible":
                    self.note(HIDDEN_CLIP, clip)
                    continue
                for kind in shape_errors(element):
                    self.note(kind, element)
                segments = shape_segments(element)
                if not len(segments.points):
                    continue
                if style.get("clip-rule") == "evenodd" and rule_matters(segments):
                    self.note(EVEN_ODD_CLIP, clip)
                boxes.append(tight_box(mapped(segments.points, matrix), segments.straight))
                rounded.append(name == "rect" and any(element.get(k) for k in ("rx", "ry")))
        # One path of all shapes: where two overlap, opposite directions cancel, and a
        # rounded rectangle forgets those before it.
        if any(rounded[1:]) or meet(boxes):
            self.note(JOINED_CLIP, clip)

    def _inner_clip(self, element: etree._Element, link: str) -> None:
        key = url_id(link)
        target = self.definitions.get(key)
        if target is None or local(target) != "clipPath":
            self.note(MISSING, element)
            return
        self.note(NESTED_CLIP, element)
        self.definition(key, target)


def _blends(style: str) -> bool:
    return any(
        name.strip() == "mix-blend-mode" and value.strip() != "normal"
        for name, _, value in (item.partition(":") for item in style.split(";"))
    )


def _plain(name: str, value: str) -> str:
    """Return a stroke property's value, dashes that come to nothing being none."""
    if name != "stroke-dasharray" or value == "none":
        return value
    try:
        dashes = [float(v) for v in value.replace(",", " ").split()]
    except ValueError:
        return "none"
    return "none" if any(v < 0 for v in dashes) or sum(dashes) <= 0 else value


def _number(style: Mapping[str, str], name: str, default: float) -> float:
    try:
        return float(style.get(name, default))
    except ValueError:
        return default
