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
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from lxml import etree

from vecrepeat.art.lengths import plain_lengths
from vecrepeat.art.normalform import (
    CHOSEN,
    DEFINITIONS,
    KIND,
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
from vecrepeat.art.transforms import one_matrix, transform_of
from vecrepeat.art.uses import check_uses
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
        if name not in ("g", *DEFINITIONS) and element.get("opacity") is not None:
            _opacity_to_group(element)
        if len(element):
            self.children(
                element, _Context(context.viewport, size, context.depth + 1, context.using)
            )
        if name == "clipPath":
            _flatten_clip(element)

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


def _flatten_clip(clip: etree._Element) -> None:
    """Take the groups that ``use`` has left in a clip path apart: it may hold only shapes.

    A group's own clip stays on a shape that has none; where both have one they can't be merged
    on one element, and the group stays.
    """
    for group in [child for child in clip if local(child) == "g"]:
        matrix = transform_of(group.get("transform"))
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
            moved = matrix @ transform_of(child.get("transform"))
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
    _drop_foreign(root)
    originals = elements_by_id(copy.deepcopy(root))
    check_uses(root, originals, file)
    worker = _Normaliser(file, originals)
    viewport = page.viewport
    plain_lengths(root, "svg", viewport, 16.0)
    one_matrix(root, viewport)
    size = float(root.get("font-size") or 16.0)
    worker.children(root, _Context(viewport, size, 1))
    return tuple(worker.notes)
