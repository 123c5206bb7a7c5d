"""SVG's structure brought to one simple normal form.

After :func:`normalise` a tree holds only groups, shapes, pictures, text and definitions:
every ``use``, ``symbol``, nested ``svg``, ``switch`` and link has been expanded into plain
groups, every length is a plain number of user units, every ``transform`` one matrix, and
gradients and patterns no longer inherit from templates. Everything after this stage, our
own geometry and every renderer alike, sees only that.

Sources: SVG 2 §5 (document structure), §8 (coordinates), §14 (paint servers).
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

from lxml import etree
from svgelements import Matrix

from vecrepeat.art.page import (
    Page,
    Viewport,
    parse_view_box,
    user_length,
    view_box_transform,
)
from vecrepeat.art.xml import HREF, MAX_ELEMENTS, SVG, XML, attributes, href, local, remove, take
from vecrepeat.errors import InputError
from vecrepeat.geometry import IDENTITY, Affine, number

DESCRIPTIVE = frozenset(("title", "desc", "metadata"))
PAINT_SERVERS = frozenset(("linearGradient", "radialGradient", "pattern"))
DEFINITIONS = PAINT_SERVERS | {"defs", "clipPath", "mask", "filter", "marker", "symbol"}
_DRAWN = frozenset(
    {"g", "path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "image"}
    | {"text", "tspan", "textPath", "stop"}
)
_DROPPED = {
    "script": "scripts are dropped",
    "foreignObject": "foreign content (foreignObject) is left out",
    "animate": "animation is dropped",
    "animateTransform": "animation is dropped",
    "animateMotion": "animation is dropped",
    "animateColor": "animation is dropped",
    "set": "animation is dropped",
}

LABEL = "data-label"
"""Where a drawing program's own label is kept."""

KIND = "data-kind"
"""What a group stands for that only carries the opacity of a shape."""

LAYER = "data-layer"
"""What marks a group that a drawing program calls a layer."""

CHOSEN = "data-chosen"
"""Marks what the user's selector picked, set before styles are resolved."""

_XYWH = {"x": "x", "y": "y", "width": "x", "height": "y"}
_LENGTHS: dict[str, dict[str, str]] = {
    "rect": {**_XYWH, "rx": "x", "ry": "y"},
    "image": _XYWH,
    "circle": {"cx": "x", "cy": "y", "r": "xy"},
    "ellipse": {"cx": "x", "cy": "y", "rx": "x", "ry": "y"},
    "line": {"x1": "x", "y1": "y", "x2": "x", "y2": "y"},
    "marker": {"refX": "x", "refY": "y", "markerWidth": "x", "markerHeight": "y"},
}
# Definitions whose lengths are user units only when their units attribute says so.
_UNIT_LENGTHS: dict[str, tuple[str, dict[str, str]]] = {
    "linearGradient": ("gradientUnits", {"x1": "x", "y1": "y", "x2": "x", "y2": "y"}),
    "radialGradient": (
        "gradientUnits",
        {"cx": "x", "cy": "y", "r": "xy", "fx": "x", "fy": "y", "fr": "xy"},
    ),
    "pattern": ("patternUnits", _XYWH),
    "mask": ("maskUnits", _XYWH),
    "filter": ("filterUnits", _XYWH),
}
_REGION = {"x": "-10%", "y": "-10%", "width": "120%", "height": "120%"}
_DEFAULT_SHARES: dict[str, dict[str, str]] = {
    "linearGradient": {"x2": "100%"},
    "radialGradient": {"cx": "50%", "cy": "50%", "r": "50%"},
    "mask": _REGION,
    "filter": _REGION,
}
_TEXT_LISTS = {"x": "x", "y": "y", "dx": "x", "dy": "y"}
_FONT_SIZES = {
    "xx-small": 9.6,
    "x-small": 12.0,
    "small": 13.333333333333334,
    "medium": 16.0,
    "large": 19.2,
    "x-large": 24.0,
    "xx-large": 32.0,
}
_MAX_DEPTH = 260


@dataclass
class _Context:
    """What the walk carries downwards."""

    viewport: Viewport
    font_size: float
    depth: int
    using: tuple[str, ...] = ()


@dataclass
class _Normaliser:
    file: Path | str
    originals: dict[str, etree._Element]
    notes: dict[str, None] = field(default_factory=dict)
    added: int = 0
    clips: int = 0

    def note(self, text: str) -> None:
        self.notes[text] = None

    def children(self, parent: etree._Element, context: _Context) -> None:
        if context.depth > _MAX_DEPTH:
            raise InputError(
                f"elements and their references nest more than {_MAX_DEPTH} deep", file=self.file
            )
        in_text = local(parent) in ("text", "tspan", "textPath")
        for child in list(parent):
            self.element(child, context, in_text)

    def element(self, element: etree._Element, context: _Context, in_text: bool) -> None:
        name = local(element)
        if name in DESCRIPTIVE:
            return
        if name in _DROPPED:
            self.note(_DROPPED[name])
        if element.get("display") == "none" and name not in DEFINITIONS:
            label = element.get("id")
            self.note(f"hidden: “{label}” is left out" if label else "a hidden element is left out")
            remove(element)
            return
        _keep_known_attributes(element)
        if name == "a":
            element.tag = f"{{{SVG}}}{'tspan' if in_text else 'g'}"
            take(element, "href")
            take(element, HREF)
            name = local(element)
        if name == "switch":
            _keep_first_match(element)
            element.tag = f"{{{SVG}}}g"
            name = "g"
        if name == "use":
            self.use(element, context)
            return
        if name == "svg":
            self.viewport(element, context)
            return
        if name not in _DRAWN and name not in DEFINITIONS and not name.startswith("fe"):
            remove(element)
            return
        if name in PAINT_SERVERS:
            self.inherit_template(element)
        self.lengths(element, name, context)
        _one_matrix(element, context.viewport)
        size = float(element.get("font-size") or context.font_size)
        if name not in ("g", *DEFINITIONS) and element.get("opacity") is not None:
            _opacity_to_group(element)
        if len(element):
            self.children(
                element, _Context(context.viewport, size, context.depth + 1, context.using)
            )
        if name == "clipPath":
            _flatten_clip(element)

    def lengths(self, element: etree._Element, name: str, context: _Context) -> None:
        """Turn every length of the element into a plain number of user units."""
        viewport = context.viewport
        size = element.get("font-size")
        if size is not None:
            value = _FONT_SIZES.get(size)
            if value is None and size in ("larger", "smaller"):
                value = context.font_size * (1.2 if size == "larger" else 1 / 1.2)
            if value is None and size.endswith("%"):
                share = user_length(size[:-1], "x", viewport)
                value = None if share is None else share / 100 * context.font_size
            if value is None:
                value = user_length(size, "xy", viewport, context.font_size)
            _set(element, "font-size", value)
        font_size = float(element.get("font-size") or context.font_size)
        table = dict(_LENGTHS.get(name, {}))
        if name in _UNIT_LENGTHS:
            units, candidates = _UNIT_LENGTHS[name]
            if element.get(units) == "userSpaceOnUse":
                table = candidates
                # The defaults are shares of the viewport, which is another one after this.
                for attribute, default in _DEFAULT_SHARES.get(name, {}).items():
                    if element.get(attribute) is None:
                        element.set(attribute, default)
        for attribute, axis in table.items():
            text = element.get(attribute)
            if text is not None and text.strip() != "auto":
                _set(element, attribute, user_length(text, axis, viewport, font_size))
            elif text is not None:
                del element.attrib[attribute]
        for attribute in ("stroke-width", "stroke-dashoffset"):
            text = element.get(attribute)
            if text is not None:
                _set(element, attribute, user_length(text, "xy", viewport, font_size))
        for attribute, axis in (_TEXT_LISTS if name in ("text", "tspan") else {}).items():
            if element.get(attribute) is not None:
                self.list_of_lengths(element, attribute, axis, viewport, font_size)
        dashes = element.get("stroke-dasharray")
        if dashes is not None and dashes != "none":
            self.list_of_lengths(element, "stroke-dasharray", "xy", viewport, font_size)

    def list_of_lengths(
        self, element: etree._Element, name: str, axis: str, viewport: Viewport, font_size: float
    ) -> None:
        values = [
            user_length(part, axis, viewport, font_size)
            for part in element.get(name, "").replace(",", " ").split()
        ]
        good = [number(v) for v in values if v is not None]
        if len(good) == len(values):
            element.set(name, " ".join(good))
        else:
            del element.attrib[name]

    def use(self, use: etree._Element, context: _Context) -> None:
        """Replace a ``use`` by a group that holds a copy of what it refers to."""
        link = href(use)
        target = self.originals.get(link[1:]) if link.startswith("#") else None
        if target is None:
            outside = link and not link.startswith("#")
            self.note(
                f"the external reference “{link[:60]}” is left out"
                if outside
                else f"a <use> of “{link[:60]}” is left out: nothing there has that id"
            )
            remove(use)
            return
        key = link[1:]
        if key in context.using or len(context.using) > 50:
            self.note(f"a <use> of “{key[:60]}” inside itself is left out")
            remove(use)
            return
        self.added += sum(1 for _ in target.iter())
        if self.added > MAX_ELEMENTS:
            raise InputError(
                f"its <use> elements expand to more than {MAX_ELEMENTS:,} elements",
                file=self.file,
                element=key,
            )
        clone = copy.deepcopy(target)
        clone.tail = None
        for element in clone.iter():
            # The id stays with the original: references by id keep meaning that one.
            take(element, "id")
        width, height = use.get("width"), use.get("height")
        self.lengths(use, "g", context)
        font_size = float(use.get("font-size") or context.font_size)
        x = user_length(use.get("x"), "x", context.viewport, font_size) or 0.0
        y = user_length(use.get("y"), "y", context.viewport, font_size) or 0.0
        for attribute in ("x", "y", "width", "height", "href", HREF):
            take(use, attribute)
        for child in list(use):
            if local(child) not in DESCRIPTIVE:
                use.remove(child)
        use.tag = f"{{{SVG}}}g"
        _one_matrix(use, context.viewport)
        if x or y:
            own = _matrix_of(use.get("transform"))
            use.set("transform", (own @ Affine.translation(x, y)).svg())
        use.append(clone)
        inner = _Context(context.viewport, font_size, context.depth + 1, (*context.using, key))
        if local(clone) in ("symbol", "svg"):
            for attribute, text in (("width", width), ("height", height)):
                if text is not None:
                    clone.set(attribute, text)
                elif local(clone) == "symbol":
                    take(clone, attribute)
            self.viewport(clone, inner)
        else:
            self.element(clone, inner, in_text=False)

    def viewport(self, element: etree._Element, context: _Context) -> None:
        """Turn a nested ``svg`` (or an instance of a ``symbol``) into groups and a clip."""
        viewport, font_size = context.viewport, context.font_size
        x = user_length(element.get("x"), "x", viewport, font_size) or 0.0
        y = user_length(element.get("y"), "y", viewport, font_size) or 0.0
        width = user_length(element.get("width") or "100%", "x", viewport, font_size)
        height = user_length(element.get("height") or "100%", "y", viewport, font_size)
        width = viewport.width if width is None else width
        height = viewport.height if height is None else height
        view_box = parse_view_box(element.get("viewBox"))
        if width <= 0 or height <= 0 or (view_box is not None and min(view_box[2:]) <= 0):
            remove(element)
            return
        fit = IDENTITY
        inside = Viewport(width, height)
        if view_box is not None:
            fit = view_box_transform(
                view_box, Fraction(width), Fraction(height), element.get("preserveAspectRatio")
            )
            inside = Viewport(float(view_box[2]), float(view_box[3]))
        clipped = element.get("overflow", "hidden") not in ("visible", "auto")
        for attribute in ("x", "y", "width", "height", "viewBox", "preserveAspectRatio", "version"):
            take(element, attribute)
        element.tag = f"{{{SVG}}}g"
        _one_matrix(element, viewport)
        content = list(element)
        inner = etree.Element(f"{{{SVG}}}g")
        if (matrix := Affine.translation(x, y) @ fit) != IDENTITY:
            inner.set("transform", matrix.svg())
        for child in content:
            if local(child) not in DESCRIPTIVE:
                inner.append(child)
        if clipped:
            self.clips += 1
            clip_id = f"viewport-clip-{self.clips}"
            while clip_id in self.originals:
                clip_id += "-"
            clip = etree.SubElement(element, f"{{{SVG}}}clipPath", id=clip_id)
            etree.SubElement(
                clip,
                f"{{{SVG}}}rect",
                x=number(x),
                y=number(y),
                width=number(width),
                height=number(height),
            )
            wrapper = etree.SubElement(element, f"{{{SVG}}}g")
            wrapper.set("clip-path", f"url(#{clip_id})")
            wrapper.append(inner)
        else:
            element.append(inner)
        self.lengths(element, "g", context)
        size = float(element.get("font-size") or font_size)
        self.children(inner, _Context(inside, size, context.depth + 2, context.using))

    def inherit_template(self, server: etree._Element) -> None:
        """Give a gradient or pattern what it takes from the ones its ``href`` names."""
        seen = {server.get("id", "")}
        link = href(server)
        take(server, "href")
        take(server, HREF)
        kind = local(server)
        while link.startswith("#") and link[1:] not in seen:
            seen.add(link[1:])
            template = self.originals.get(link[1:])
            if template is None or local(template) not in PAINT_SERVERS:
                break
            shared = ("gradientUnits", "gradientTransform", "spreadMethod")
            for key, value in attributes(template).items():
                if key in ("id", "href", HREF) or key in server.attrib:
                    continue
                if local(template) == kind or key in shared:
                    server.set(key, value)
            holds = any(local(child) not in DESCRIPTIVE for child in server)
            if not holds and (local(template) == "pattern") == (kind == "pattern"):
                for child in template:
                    if local(child) not in DESCRIPTIVE:
                        server.append(copy.deepcopy(child))
            link = href(template)


def _flatten_clip(clip: etree._Element) -> None:
    """Take the groups that ``use`` has left in a clip path apart: it may hold only shapes.

    A group's own clip stays on a shape that has none; where both have one they can't be merged
    on one element, and the group stays.
    """
    for group in [child for child in clip if local(child) == "g"]:
        matrix = _matrix_of(group.get("transform"))
        link = group.get("clip-path")
        inner = [child for child in group if local(child) not in DESCRIPTIVE]
        if link is not None and any(
            child.get("clip-path") is not None or child.get("transform") is not None
            for child in inner
        ):
            continue
        own = {k: v for k, v in attributes(group).items() if k not in ("id", "transform")}
        for child in inner:
            for key, value in own.items():
                if child.get(key) is None:
                    child.set(key, value)
            moved = matrix @ _matrix_of(child.get("transform"))
            if moved != IDENTITY:
                child.set("transform", moved.svg())
            group.addprevious(child)
        clip.remove(group)
    if any(local(child) == "g" and child.get("clip-path") is None for child in clip):
        _flatten_clip(clip)


def _opacity_to_group(element: etree._Element) -> None:
    """Move a leaf's opacity to a group, so that its fill and stroke fade as one (SVG 2 §13.3)."""
    parent = element.getparent()
    if parent is None or local(parent) in ("text", "tspan", "textPath", "clipPath"):
        return
    group = etree.Element(f"{{{SVG}}}g", opacity=take(element, "opacity") or "1")
    group.tail, element.tail = element.tail, None
    group.set(KIND, local(element))
    parent.replace(element, group)
    # What names and cuts the element stays on the outside, with it its place in the tree.
    for attribute in (
        *("id", "transform", "clip-path", "mask", "filter", "style", "display"),
        *(LABEL, CHOSEN, "aria-label", "data-name"),
    ):
        value = take(element, attribute)
        if value is not None:
            group.set(attribute, value)
    for child in [c for c in element if local(c) in DESCRIPTIVE]:
        group.append(child)
    group.append(element)


def _keep_known_attributes(element: etree._Element) -> None:
    """Drop event handlers and foreign attributes, but keep what names a layer or a motif."""
    # A property that is no presentation attribute (SVG 2 §13.7.3): CairoSVG takes it for one.
    take(element, "marker")
    for key, value in attributes(element).items():
        if key.startswith("on"):
            del element.attrib[key]
        elif key.startswith("{") and key != HREF and not key.startswith(f"{{{XML}}}"):
            name = etree.QName(key).localname
            if name == "label":
                element.set(LABEL, value)
            elif name == "groupmode" and value == "layer":
                element.set(LAYER, "layer")
            del element.attrib[key]


def _set(element: etree._Element, name: str, value: float | None) -> None:
    """Write a length, or take the attribute away where it was no length."""
    if value is None or value != value or value in (float("inf"), float("-inf")):
        del element.attrib[name]
    else:
        element.set(name, number(value))


@lru_cache(maxsize=4096)
def _matrix_of(text: str | None) -> Affine:
    """Return a transform list as one matrix; a list in error is the identity (SVG 2 §8.5)."""
    if not text or not text.strip():
        return IDENTITY
    try:
        m = Matrix(text)
        values = tuple(float(v) for v in (m.a, m.b, m.c, m.d, m.e, m.f))
    except (ValueError, TypeError, IndexError, AttributeError, ZeroDivisionError, OverflowError):
        return IDENTITY
    if not all(abs(v) < 1e12 for v in values):
        return Affine(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    return Affine(*values)


def _one_matrix(element: etree._Element, viewport: Viewport) -> None:
    """Fold ``transform`` and ``transform-origin`` into one matrix."""
    for attribute in ("transform", "gradientTransform", "patternTransform"):
        text = element.get(attribute)
        if text is None:
            continue
        matrix = _matrix_of(text)
        if attribute == "transform" and (origin := element.get("transform-origin")):
            x, y = _origin(origin, viewport)
            matrix = Affine.translation(x, y) @ matrix @ Affine.translation(-x, -y)
        if matrix == IDENTITY:
            del element.attrib[attribute]
        else:
            element.set(attribute, matrix.svg())
    take(element, "transform-origin")


_KEYWORDS = {"left": "0%", "top": "0%", "center": "50%", "right": "100%", "bottom": "100%"}


def _origin(text: str, viewport: Viewport) -> tuple[float, float]:
    """Return a transform-origin in user units (CSS Transforms 1 §6, view-box reference)."""
    parts = text.replace(",", " ").split()[:2]
    if len(parts) == 1:
        parts = [parts[0], "50%"] if parts[0] not in ("top", "bottom") else ["50%", parts[0]]
    elif parts[0] in ("top", "bottom") or parts[1] in ("left", "right"):
        parts.reverse()
    x = user_length(_KEYWORDS.get(parts[0], parts[0]), "x", viewport)
    y = user_length(_KEYWORDS.get(parts[1], parts[1]), "y", viewport)
    return (x or 0.0, y or 0.0)


def _keep_first_match(switch: etree._Element) -> None:
    """Keep the first child whose conditions hold (SVG 2 §5.10, language English or none)."""
    chosen = False
    for child in list(switch):
        if local(child) in DESCRIPTIVE:
            continue
        languages = child.get("systemLanguage")
        holds = (
            bool(local(child))
            and local(child) != "foreignObject"
            and not child.get("requiredExtensions", "").strip()
            and (
                languages is None
                or any(part.strip().lower().split("-")[0] == "en" for part in languages.split(","))
            )
        )
        if holds and not chosen:
            chosen = True
            for attribute in ("systemLanguage", "requiredExtensions", "requiredFeatures"):
                take(child, attribute)
        else:
            remove(child)


def elements_by_id(root: etree._Element) -> dict[str, etree._Element]:
    """Return the first element of each id."""
    found: dict[str, etree._Element] = {}
    for element in root.iter(f"{{{SVG}}}*"):
        key = element.get("id")
        if key:
            found.setdefault(key, element)
    return found


def normalise(root: etree._Element, page: Page, file: Path | str) -> tuple[str, ...]:
    """Bring a tree with resolved styles to normal form, in place.

    Args:
        root: the document's ``svg`` element, styles already presentation attributes.
        page: its page, for percentages.
        file: its name, for errors.

    Returns:
        Notes on what was left out.

    Raises:
        InputError: references nest too deep or expand to too many elements.
    """
    worker = _Normaliser(file, elements_by_id(copy.deepcopy(root)))
    viewport = page.viewport
    worker.lengths(root, "svg", _Context(viewport, 16.0, 0))
    _one_matrix(root, viewport)
    size = float(root.get("font-size") or 16.0)
    worker.children(root, _Context(viewport, size, 1))
    return tuple(worker.notes)


def drawn_children(element: etree._Element) -> Iterator[etree._Element]:
    """Yield the children that paint: not definitions, descriptions or foreign elements."""
    for child in element:
        name = local(child)
        if name and name not in DEFINITIONS and name not in DESCRIPTIVE and name != "style":
            yield child
