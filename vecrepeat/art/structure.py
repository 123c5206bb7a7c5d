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
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from lxml import etree

from vecrepeat.art.lengths import one_matrix, plain_lengths, transform_of
from vecrepeat.art.normalform import (
    DEFINITIONS,
    LABEL,
    LAYER,
    PAINT_SERVERS,
    elements_by_id,
)
from vecrepeat.art.page import (
    Page,
    Viewport,
    parse_view_box,
    user_length,
)
from vecrepeat.art.switches import keep_first_match
from vecrepeat.art.xml import (
    DESCRIPTIVE,
    HREF,
    MAX_ELEMENTS,
    SVG,
    XML,
    attributes,
    href,
    local,
    remove,
    take,
)
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import IDENTITY, Affine, number
from vecrepeat.scene.fit import view_box_transform

_HIDDEN_ANYWAY = frozenset(("clipPath", "mask", "filter", "marker"))
"""Definitions that ``display`` does not apply to, as it does not to paint servers."""

_HOLDERS = tuple(f"{{{SVG}}}{name}" for name in sorted(PAINT_SERVERS | _HIDDEN_ANYWAY))
_DRAWN = frozenset(
    {"g", "path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "image"}
    | {"text", "tspan", "textPath"}
)
_DROPPED = {
    "script": "scripts are dropped",
    "foreignObject": "foreign content (foreignObject) is left out",
    **dict.fromkeys(
        ("animate", "animateTransform", "animateMotion", "animateColor", "set"),
        "animation is dropped",
    ),
}

_KEPT = frozenset((HREF, f"{{{XML}}}space", f"{{{XML}}}lang"))
"""The attributes in a namespace that drawing heeds."""

_MAX_DEPTH = 260
_MAX_USES = 50

MAX_CHARACTERS = 64 << 20
"""The most characters of attributes that ``use`` may add: copies take memory."""


@dataclass
class _Context:
    """What the walk carries downwards."""

    viewport: Viewport
    font_size: float
    depth: int
    using: tuple[str, ...] = ()


@dataclass
class _Normaliser:
    originals: dict[str, etree._Element]
    notes: dict[str, None] = field(default_factory=dict)
    added: int = 0
    clips: int = 0

    def note(self, text: str) -> None:
        self.notes[text] = None

    def children(self, parent: etree._Element, context: _Context) -> None:
        if context.depth > _MAX_DEPTH:
            raise InputError(f"elements and their references nest more than {_MAX_DEPTH} deep")
        in_text = local(parent) in ("text", "tspan", "textPath")
        for child in list(parent):
            self.element(child, context, in_text)

    def element(self, element: etree._Element, context: _Context, in_text: bool) -> None:
        name = local(element)
        if name in DESCRIPTIVE:
            # They are not drawn, so nothing places them; what it says need not make sense.
            take(element, "transform", "transform-origin")
            return
        if name in _DROPPED:
            self.note(_DROPPED[name])
        # Parts of a definition are not drawn, so they neither hide nor fade (SVG 2 §14.1.1).
        part = name == "stop" or name.startswith("fe")
        if part:
            take(element, "display", "opacity")
        if element.get("display") == "none" and name not in DEFINITIONS:
            label = element.get("id")
            self.note(f"hidden: “{label}” is left out" if label else "a hidden element is left out")
            if next(element.iter(*_HOLDERS), None) is None:
                remove(element)
                return
            # What it defines is there all the same (SVG 2 §14.1.1).
            element.tag = f"{{{SVG}}}defs"
            del element.attrib["display"]
            name = "defs"
        elif name in PAINT_SERVERS or name in _HIDDEN_ANYWAY:
            take(element, "display")
        if name == "a":
            element.tag = f"{{{SVG}}}{'tspan' if in_text else 'g'}"
            take(element, "href", HREF)
            name = local(element)
        if name == "switch":
            keep_first_match(element)
            element.tag = f"{{{SVG}}}g"
            name = "g"
        if name == "use":
            self.use(element, context)
            return
        if name == "svg":
            self.viewport(element, context)
            return
        if not part and name not in _DRAWN and name not in DEFINITIONS:
            remove(element)
            return
        if name in PAINT_SERVERS:
            self.inherit_template(element)
        plain_lengths(element, name, context.viewport, context.font_size)
        one_matrix(element, context.viewport)
        size = float(element.get("font-size") or context.font_size)
        if len(element):
            self.children(
                element, _Context(context.viewport, size, context.depth + 1, context.using)
            )

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
        if key in context.using or len(context.using) > _MAX_USES:
            self.note(f"a <use> of “{key[:60]}” inside itself is left out")
            remove(use)
            return
        self.added += sum(1 for _ in target.iter())
        if self.added > MAX_ELEMENTS:
            raise InputError(
                f"its <use> elements expand to more than {MAX_ELEMENTS:,} elements",
                element=key,
            )
        clone = copy.deepcopy(target)
        clone.tail = None
        for element in clone.iter():
            # The id stays with the original: references by id keep meaning that one.
            take(element, "id")
        width, height = use.get("width"), use.get("height")
        plain_lengths(use, "g", context.viewport, context.font_size)
        font_size = float(use.get("font-size") or context.font_size)
        x = user_length(use.get("x"), "x", context.viewport, font_size) or 0.0
        y = user_length(use.get("y"), "y", context.viewport, font_size) or 0.0
        for attribute in ("x", "y", "width", "height", "href", HREF):
            take(use, attribute)
        for child in list(use):
            if local(child) not in DESCRIPTIVE:
                use.remove(child)
        use.tag = f"{{{SVG}}}g"
        one_matrix(use, context.viewport)
        if x or y:
            own = transform_of(use.get("transform"))
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
        one_matrix(element, viewport)
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
        plain_lengths(element, "g", context.viewport, context.font_size)
        size = float(element.get("font-size") or font_size)
        self.children(inner, _Context(inside, size, context.depth + 2, context.using))

    def inherit_template(self, server: etree._Element) -> None:
        """Give a gradient or pattern what it takes from the ones its ``href`` names."""
        seen = {server.get("id", "")}
        link = href(server)
        take(server, "href", HREF)
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


def _check_uses(root: etree._Element, originals: Mapping[str, etree._Element]) -> None:
    """Refuse a drawing whose ``use`` elements come to too much, before they are expanded.

    Raises:
        InputError: they add more than 400,000 elements or 64 MiB of attributes.
    """
    known: dict[str, tuple[int, int]] = {}

    def added(holder: etree._Element, depth: int) -> tuple[int, int]:
        """Return how many elements, and characters of attributes, the uses in one add."""
        size = characters = 0
        for use in holder.iter(f"{{{SVG}}}use"):
            key = href(use)[1:]
            target = originals.get(key)
            if target is not None and key not in known and depth < _MAX_USES:
                # What leads back to itself counts nothing.
                known[key] = (0, 0)
                parts, letters = added(target, depth + 1)
                own = [sum(map(len, attributes(part).values())) for part in target.iter()]
                known[key] = (parts + len(own), letters + sum(own))
            parts, letters = known.get(key, (0, 0))
            size, characters = size + parts, characters + letters
            if size > MAX_ELEMENTS:
                raise InputError(
                    f"its <use> elements expand to more than {MAX_ELEMENTS:,} elements",
                    hint="repeat less: what a repeat shows again need not be drawn again",
                )
            if characters > MAX_CHARACTERS:
                raise InputError(
                    f"its <use> elements expand to more than {MAX_CHARACTERS >> 20} MiB",
                    hint="they copy large pictures or paths: make those smaller or use them less",
                )
        return size, characters

    added(root, 0)


def _drop_foreign(root: etree._Element) -> None:
    """Drop foreign elements, foreign attributes and event handlers.

    What names a layer or a motif is kept, and what the drawing's own metadata hold.
    """
    own = {part for child in root if local(child) == "metadata" for part in child.iter()}
    for element in [part for part in root.iter("*") if part not in own]:
        if not local(element):
            remove(element)
        # A property that is no presentation attribute (SVG 2 §13.7.3): CairoSVG takes it for one.
        take(element, "marker")
        for key, value in attributes(element).items():
            if key.startswith("{") and key not in _KEPT:
                name = etree.QName(key).localname
                if name == "label":
                    element.set(LABEL, value)
                elif name == "groupmode" and value == "layer":
                    element.set(LAYER, "layer")
            elif not key.startswith("on"):
                continue
            del element.attrib[key]


def normalise(root: etree._Element, page: Page) -> tuple[str, ...]:
    """Bring a tree with resolved styles to normal form, in place.

    Args:
        root: the document's ``svg`` element, styles already presentation attributes.
        page: its page, for percentages.

    Returns:
        Notes on what was left out.

    Raises:
        InputError: references nest too deep or expand to too many elements.
    """
    _drop_foreign(root)
    originals = elements_by_id(copy.deepcopy(root))
    _check_uses(root, originals)
    worker = _Normaliser(originals)
    viewport = page.viewport
    plain_lengths(root, "svg", viewport, 16.0)
    one_matrix(root, viewport)
    size = float(root.get("font-size") or 16.0)
    worker.children(root, _Context(viewport, size, 1))
    return tuple(worker.notes)
