"""From normal form to the scene: the last that is seen of SVG's elements.

Each shape gets the paint that is in force on it, each gradient, clip and mask the user space of
what it acts on. What refers to nothing is as good as not written, as Filter Effects 1 §5, CSS
Masking 1 §6 and SVG 2 §13.2 say.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from lxml import etree

from vecrepeat.art.lengths import box_region
from vecrepeat.art.markers import Markers
from vecrepeat.art.names import label_of
from vecrepeat.art.normalform import (
    CHOSEN,
    DEFINITIONS,
    KIND,
    LABEL,
    LAYER,
    drawn_children,
    url_id,
)
from vecrepeat.art.shapes import SHAPES, image_box, outline_of
from vecrepeat.art.style import INHERITED, INITIAL, inherited_properties
from vecrepeat.art.xml import DESCRIPTIVE, HREF, XML, attributes, href, local
from vecrepeat.geometry import IDENTITY, Affine, Rect
from vecrepeat.names import listed
from vecrepeat.scene.nodes import (
    BLACK,
    Clip,
    Data,
    Element,
    Fill,
    Filter,
    Gradient,
    Group,
    Image,
    Mask,
    Node,
    Paint,
    Path,
    Stop,
    Stroke,
    Text,
)
from vecrepeat.scene.outline import object_box
from vecrepeat.scene.visit import holds_text

Style = Mapping[str, str]

_HEX_RE = re.compile("#[0-9a-fA-F]{6}")
_URL_RE = re.compile(r"url\(\s*[\"']?#([^)\"']*)[\"']?\s*\)")
_FUNCTION_RE = re.compile(r"url\([^)]*\)|[a-z-]+\((?:[^()]|\([^()]*\))*\)", re.IGNORECASE)
_LAYER_RE = re.compile(
    r"(layer|artboard|calque|ebene|capa|livello)(\d*|[\s_:.-].*)", re.IGNORECASE | re.DOTALL
)
_BAKED = INHERITED - {"color", "cursor", "pointer-events"}
_REGION = ("x", "y", "width", "height")
_TEXTS = frozenset(("text", "tspan", "textPath"))


@dataclass
class Builder:
    """Builds the scene of a drawing.

    Args:
        definitions: elements by id, in normal form.

    Attributes:
        chosen: the nodes, by identity, of what the user's selector has marked.
        missing: what refers to a definition that is not there, by name.
        using: ids of the definitions that are being built, against those that go in circles.
        context: what ``context-fill`` and ``context-stroke`` mean (SVG 2 §13.2).
    """

    definitions: Mapping[str, etree._Element]
    chosen: dict[int, Node] = field(default_factory=dict)
    missing: dict[str, None] = field(default_factory=dict)
    using: list[str] = field(default_factory=list)
    context: Mapping[str, Paint | None] = field(default_factory=dict)
    _gradients: dict[Any, Paint | None] = field(default_factory=dict)
    _clips: dict[Any, Clip | None] = field(default_factory=dict)

    def notes(self) -> Iterator[str]:
        """Yield what was left out, a sentence each."""
        if self.missing:
            names = listed([f"“{name}”" for name in self.missing])
            yield f"what {names} refer{'s' if len(self.missing) == 1 else ''} to is not there"

    def root(self, root: etree._Element) -> Group:
        """Return a whole drawing as a group in the user units of its root."""
        node = self.node(root, {})
        return node if isinstance(node, Group) else Group(() if node is None else (node,))

    def node(self, element: etree._Element, inherited: Style) -> Node | None:
        """Return what an element draws, or None where it draws nothing.

        Args:
            element: in normal form.
            inherited: the inherited properties in force at its parent.
        """
        name = local(element)
        if not name or name in DEFINITIONS or name in DESCRIPTIVE:
            return None
        if element.get("display") == "none":
            return None
        own = {k: v for k, v in attributes(element).items() if k in INHERITED}
        style = {**inherited, **own} if own else inherited
        node: Node | None
        if name in ("g", "svg"):
            node = self._group(element, style)
        elif name in SHAPES:
            node = self._shape(element, style)
        elif name == "image":
            node = self._image(element, style)
        elif name == "text":
            node = Text(self._element(element, style), label_of(element))
        else:
            return None
        if node is not None and name not in ("g", "svg"):
            node = self._acted_on(element, name, node)
        if element.get(CHOSEN) and node is not None:
            self.chosen[id(node)] = node
        return node

    # ------------------------------------------------------------------------------- nodes

    def _group(self, element: etree._Element, style: Style) -> Node:
        found = (self.node(child, style) for child in element)
        children = tuple(child for child in found if child is not None)
        group = Group(children, name=label_of(element), role=element.get(KIND, ""))
        names = (element.get(LABEL), element.get("data-name"), element.get("id"))
        if element.get(LAYER) or any(n and _LAYER_RE.fullmatch(n.strip()) for n in names):
            group = replace(group, role="layer")
        acted_on = self._acted_on(element, "g", group)
        assert isinstance(acted_on, Group | Text)
        if isinstance(acted_on, Text):
            return acted_on
        plain = acted_on.is_plain and not acted_on.name and not acted_on.role
        if plain and acted_on.transform == IDENTITY and len(children) == 1:
            return children[0]
        return acted_on

    def _acted_on(self, element: etree._Element, name: str, node: Node) -> Node:
        """Return a node with what acts on its element as a whole."""
        matrix = Affine.from_svg(element.get("transform"))
        opacity = min(max(float(element.get("opacity", 1)), 0.0), 1.0)
        style = _declared(element.get("style", ""))
        links = {
            key: url_id(value)
            for key in ("clip-path", "mask", "filter")
            if (value := element.get(key, "none")) != "none"
        }
        acts = bool(links) or opacity != 1 or bool(style)
        if not acts and matrix == IDENTITY:
            return node
        box = _box_of(node) if links else None
        if box is None and links and holds_text(node) and self._goes_by_box(links):
            # Only an engine with fonts knows the box that its clips and masks go by.
            return Text(self._element(element, inherited_properties(element)), label_of(element))
        group = node if isinstance(node, Group) and name == "g" else Group((node,), name=node.name)
        if group is not node:
            node = replace(node, name="")
            group = replace(group, children=(node,), role=name)
        clip = self.clip(links.get("clip-path", ""), box, element)
        mask = self._mask(links.get("mask", ""), box, element)
        return replace(
            group,
            transform=matrix,
            opacity=opacity,
            blend=style.get("mix-blend-mode", "normal"),
            isolated=style.get("isolation") == "isolate",
            clip=clip,
            mask=mask,
            filter=self._filter(element, box) if "filter" in links else None,
        )

    def _goes_by_box(self, links: Mapping[str, str]) -> bool:
        """Whether a clip or mask goes by the box of what it acts on."""
        clip = self.definitions.get(links.get("clip-path", ""))
        mask = self.definitions.get(links.get("mask", ""))
        if clip is not None and clip.get("clipPathUnits") == "objectBoundingBox":
            return True
        return mask is not None and (
            mask.get("maskUnits") != "userSpaceOnUse"
            or mask.get("maskContentUnits") == "objectBoundingBox"
        )

    def _shape(self, element: etree._Element, style: Style) -> Node:
        outline = outline_of(element)
        name = label_of(element)
        if outline is None or style.get("visibility", "visible") != "visible":
            # It counts still for the box of what it stands in, and where names are told.
            return Path(outline or Data(""), name=name)
        path = Path(outline, name=name)
        fill = self._paint(style.get("fill", BLACK), path, element)
        opacity = _share(style, "fill-opacity")
        if fill is not None and opacity > 0:
            even_odd = style.get("fill-rule") == "evenodd"
            path = replace(path, fill=Fill(fill, opacity, even_odd))
        path = replace(path, stroke=self._stroke(element, style, path))
        order = [w for w in style.get("paint-order", "normal").split() if w != "normal"]
        order += [w for w in ("fill", "stroke", "markers") if w not in order]
        if path.fill and path.stroke and order.index("stroke") < order.index("fill"):
            path = replace(path, stroke_first=True)
        rendering = style.get("shape-rendering", "auto")
        if rendering != "auto":
            path = replace(path, rendering=rendering)
        return Markers(self, element, style, path).drawn(order)

    def _stroke(self, element: etree._Element, style: Style, path: Path) -> Stroke | None:
        value = style.get("stroke", "none")
        if value == "none":
            return None
        width, opacity = _number(style, "stroke-width", 1.0), _share(style, "stroke-opacity")
        paint = self._paint(value, path, element) if width > 0 and opacity > 0 else None
        if paint is None:
            return None
        return Stroke(
            paint,
            width,
            opacity,
            style.get("stroke-linecap", "butt"),
            style.get("stroke-linejoin", "miter"),
            max(1.0, _number(style, "stroke-miterlimit", 4.0)),
            _dashes(style.get("stroke-dasharray", "none")),
            _number(style, "stroke-dashoffset", 0.0),
            element.get("vector-effect", "none") != "non-scaling-stroke",
        )

    def _image(self, element: etree._Element, style: Style) -> Node | None:
        box = image_box(element)
        if box is None or style.get("visibility", "visible") != "visible":
            return None
        rendering = style.get("image-rendering", "auto")
        return Image(
            href(element),
            box,
            element.get("preserveAspectRatio", ""),
            "" if rendering == "auto" else rendering,
            label_of(element),
        )

    # ------------------------------------------------------------------------------- paint

    def _paint(self, value: str, path: Path, element: etree._Element) -> Paint | None:
        """Return a paint, or None where it leaves the shape bare (SVG 2 §13.2)."""
        if value.startswith("context-"):
            return self.context.get(value.split()[0])
        if "url(" not in value:
            match = _HEX_RE.search(value)
            return match[0].lower() if match else None
        key = url_id(value)
        server = self.definitions.get(key)
        kind = "" if server is None else local(server)
        if server is not None and kind in ("linearGradient", "radialGradient"):
            by_box = server.get("gradientUnits") != "userSpaceOnUse"
            box = object_box(path) if by_box else None
            if by_box and (box is None or box.width <= 0 or box.height <= 0):
                return _stops_alone(server)
            if (key, box) not in self._gradients:
                self._gradients[key, box] = gradient_of(server, box)
            return self._gradients[key, box]
        if server is not None and kind == "pattern":
            with_cycle = key in self.using
            return None if with_cycle else self._referred(key, server)
        # What refers to nothing falls back on the colour given with it.
        self.miss(element)
        match = _HEX_RE.search(value.partition(")")[2])
        return match[0].lower() if match else None

    def miss(self, element: etree._Element) -> None:
        """Note that an element refers to what is not there."""
        self.missing[label_of(element) or local(element)] = None

    # -------------------------------------------------------------- clips, masks and filters

    def clip(
        self, key: str, box: Rect | None, element: etree._Element, outer: bool = True
    ) -> Clip | None:
        """Return a clip path for what has a box, or None where there is none of that id."""
        target = self.definitions.get(key)
        if not key or target is None or local(target) != "clipPath" or key in self.using:
            if key:
                self.miss(element)
            return None
        at = (key, box if self._is_by_box(target) else None)
        if at not in self._clips:
            self.using.append(key)
            try:
                self._clips[at] = self._built_clip(target, box)
            finally:
                self.using.pop()
        return self._clips[at]

    def _is_by_box(self, clip: etree._Element) -> bool:
        """Whether a clip path, or one that it is cut to, goes by the box of what it clips."""
        seen: set[str] = set()
        while clip.get("clipPathUnits") != "objectBoundingBox":
            link = url_id(clip.get("clip-path", ""))
            outer = self.definitions.get(link)
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
            matrix = _from_unit(box) @ matrix
        children = [*self._clip_children(target, {**inherited, **own})]
        if matrix != IDENTITY:
            children = [_moved(child, matrix) for child in children]
        outer = url_id(target.get("clip-path", ""))
        return Clip(tuple(children), self.clip(outer, box, target), name)

    def _clip_children(self, above: etree._Element, inherited: Style) -> Iterator[Node]:
        for element in drawn_children(above):
            if element.get("display") == "none":
                continue
            own = {k: v for k, v in attributes(element).items() if k in INHERITED}
            style = {**inherited, **own}
            name = local(element)
            node: Node
            if name == "g":
                node = Group(tuple(self._clip_children(element, style)))
            elif name == "text":
                node = Text(self._element(element, style), label_of(element))
            elif name in SHAPES and style.get("visibility", "visible") == "visible":
                outline = outline_of(element)
                if outline is None:
                    continue
                even_odd = style.get("clip-rule") == "evenodd"
                node = Path(outline, Fill(BLACK, 1.0, even_odd))
            else:
                continue
            link = url_id(element.get("clip-path", ""))
            clip = self.clip(link, _box_of(node), element) if link else None
            matrix = Affine.from_svg(element.get("transform"))
            if clip is not None or (matrix != IDENTITY and not isinstance(node, Text)):
                node = Group((node,), matrix, clip=clip)
            yield node

    def _mask(self, key: str, box: Rect | None, element: etree._Element) -> Mask | None:
        target = self.definitions.get(key)
        if not key or target is None or local(target) != "mask" or key in self.using:
            if key:
                self.miss(element)
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
        self.using.append(key)
        try:
            inherited = inherited_properties(target)
            own = {k: v for k, v in attributes(target).items() if k in INHERITED}
            style = {**inherited, **own}
            found = (self.node(child, style) for child in target)
            children = tuple(child for child in found if child is not None)
            if by_box and box is not None:
                children = (Group(children, _from_unit(box)),)
            return Mask(
                children,
                region,
                alpha=target.get("mask-type") == "alpha",
                linear=style.get("color-interpolation") == "linearRGB",
                mask=self._mask(url_id(target.get("mask", "")), box, target),
                clip=self.clip(url_id(target.get("clip-path", "")), box, target),
                name=name,
            )
        finally:
            self.using.pop()

    def _filter(self, element: etree._Element, box: Rect | None) -> Filter | None:
        steps: list[str | Element] = []
        region: Rect | None = None
        name = ""
        found = _FUNCTION_RE.findall(element.get("filter", ""))
        for step in found:
            key = url_id(step)
            if not key:
                steps.append(step)
                continue
            target = self.definitions.get(key)
            if target is None or local(target) != "filter" or key in self.using:
                # A chain that refers to what is no filter counts for nothing.
                self.miss(element)
                return None
            name = name or label_of(target)
            steps.append(self._referred(key, target))
            if len(found) == 1:
                region = _filter_region(target, box)
        return Filter(tuple(steps), region, name) if steps else None

    # ------------------------------------------------------------------- elements as they are

    def _referred(self, key: str, target: etree._Element) -> Element:
        self.using.append(key)
        try:
            return self._element(target, inherited_properties(target))
        finally:
            self.using.pop()

    def _element(self, element: etree._Element, inherited: Style | None = None) -> Element:
        """Return an element as it is, with all it inherits written on it."""
        name = local(element)
        baked = {k: v for k, v in (inherited or {}).items() if k in _BAKED}
        written: list[tuple[str, str | Element]] = []
        for key, value in {**baked, **attributes(element)}.items():
            if key in ("id", LABEL, LAYER, CHOSEN, KIND, "data-name", "aria-label"):
                continue
            if key in ("href", HREF):
                target = self.definitions.get(value[1:]) if value.startswith("#") else None
                if target is not None and value[1:] not in self.using:
                    written.append(("href", self._referred(value[1:], target)))
                elif not value.startswith("#"):
                    written.append(("href", value))
            elif key.startswith(f"{{{XML}}}"):
                written.append((f"xml:{key.partition('}')[2]}", value))
            elif not key.startswith("{"):
                written.append((key, self._value(key, value, element)))
        content: list[str | Element] = []
        keeps_text = name in _TEXTS
        if keeps_text and element.text:
            content.append(element.text)
        for child in element:
            if local(child) and local(child) not in DESCRIPTIVE:
                content.append(self._element(child))
            if keeps_text and child.tail:
                content.append(child.tail)
        return Element(name, tuple(written), tuple(content))

    def _value(self, key: str, value: str, element: etree._Element) -> str | Element:
        match = _URL_RE.fullmatch(value.strip()) or _URL_RE.match(value.strip())
        if match is None:
            return value
        target = self.definitions.get(match[1])
        if target is None or match[1] in self.using:
            self.miss(element)
            colour = _HEX_RE.search(value.partition(")")[2])
            return colour[0] if colour else "none"
        return self._referred(match[1], target)


def gradient_of(server: etree._Element, box: Rect | None) -> Paint | None:
    """Return a gradient as it lies on a shape; a colour where it is flat, None for nothing.

    Args:
        server: a ``linearGradient`` or ``radialGradient`` in normal form.
        box: the shape's bounds, for gradients in units of it.

    Source: SVG 2 §14.2; the last stop is the colour of a gradient without extent.
    """
    stops = _stops(server)
    if not stops:
        return None
    if len(stops) == 1:
        return _flat(stops[0])
    matrix = Affine.from_svg(server.get("gradientTransform"))
    if box is not None:
        matrix = _from_unit(box) @ matrix
    if abs(matrix.determinant) < 1e-30:
        return _flat(stops[-1])
    radial = local(server) == "radialGradient"
    if radial:
        cx, cy, r = (_length(server, key, 0.5) for key in ("cx", "cy", "r"))
        if not r > 0:
            return _flat(stops[-1])
        fx, fy = _length(server, "fx", cx), _length(server, "fy", cy)
        line: tuple[float, ...] = (fx, fy, _length(server, "fr", 0.0), cx, cy, r)
    else:
        ends = (("x1", 0.0), ("y1", 0.0), ("x2", 1.0), ("y2", 0.0))
        line = tuple(_length(server, key, default) for key, default in ends)
        if line[:2] == line[2:]:
            return _flat(stops[-1])
    spread = server.get("spreadMethod", "pad")
    spread = spread if spread in ("reflect", "repeat") else "pad"
    return Gradient(radial, line, matrix, spread, stops, label_of(server))


def _flat(stop: Stop) -> Paint | None:
    """Return the paint of one stop."""
    if stop.opacity == 1:
        return stop.colour
    if stop.opacity == 0:
        return None
    clear = (replace(stop, offset=0.0), replace(stop, offset=1.0))
    return Gradient(False, (0.0, 0.0, 1.0, 0.0), IDENTITY, "pad", clear)


def _stops_alone(server: etree._Element) -> Paint | None:
    """Return what a gradient by the box paints where the box has no area: nothing but one stop."""
    stops = _stops(server)
    return _flat(stops[0]) if len(stops) == 1 else None


def _stops(server: etree._Element) -> tuple[Stop, ...]:
    """Return a gradient's stops, offsets made to rise (SVG 2 §14.2.4.2)."""
    found: list[Stop] = []
    for stop in server:
        if local(stop) != "stop":
            continue
        at = min(1.0, max(0.0, _fraction(stop.get("offset", "0"))))
        at = max(at, found[-1].offset) if found else at
        opacity = min(max(float(stop.get("stop-opacity", 1)), 0.0), 1.0)
        found.append(Stop(at, stop.get("stop-color", BLACK).lower(), opacity))
    return tuple(found)


def _fraction(text: str) -> float:
    """Return a number or a percentage; what is neither is nought."""
    text = text.strip()
    try:
        return float(text[:-1]) / 100 if text.endswith("%") else float(text)
    except ValueError:
        return 0.0


def _length(server: etree._Element, name: str, default: float) -> float:
    text = server.get(name)
    return default if text is None else _fraction(text)


def _dashes(text: str) -> tuple[float, ...]:
    """Return the dashes of a stroke, none where they come to nothing (SVG 2 §13.5.6)."""
    try:
        dashes = () if text == "none" else tuple(map(float, text.replace(",", " ").split()))
    except ValueError:
        return ()
    return dashes if dashes and sum(dashes) > 0 and min(dashes) >= 0 else ()


def _number(style: Style, name: str, default: float) -> float:
    try:
        return float(style.get(name, default))
    except ValueError:
        return default


def _share(style: Style, name: str) -> float:
    return min(max(_number(style, name, 1.0), 0.0), 1.0)


def _declared(text: str) -> dict[str, str]:
    """Return what a ``style`` attribute of normal form declares but for what goes by itself."""
    items = (item.partition(":") for item in text.split(";"))
    found = {name.strip(): value.strip() for name, _, value in items if value.strip()}
    return {name: value for name, value in found.items() if value != INITIAL.get(name)}


def _box_of(node: Node) -> Rect | None:
    """Return the box that a clip, mask or filter on a node goes by, in the node's user space."""
    if isinstance(node, Group):
        node = replace(node, transform=IDENTITY)
    return object_box(node)


def _from_unit(box: Rect) -> Affine:
    """Return the map from fractions of a box to its user space."""
    return Affine(box.width, 0.0, 0.0, box.height, box.x0, box.y0)


def _moved(node: Node, matrix: Affine) -> Node:
    if isinstance(node, Group):
        return replace(node, transform=matrix @ node.transform)
    return Group((node,), matrix)


def _region(effect: etree._Element, box: Rect) -> Rect:
    """Return a mask's or filter's region that is given in shares of a box."""
    x, y, w, h = box_region(effect, box).values()
    return Rect(x, y, x + w, y + h)


def _filter_region(target: etree._Element, box: Rect | None) -> Rect | None:
    """Return a filter's region in the user space of what it acts on (Filter Effects 1 §9.2)."""
    if target.get("filterUnits") != "userSpaceOnUse":
        return None if box is None else _region(target, box)
    if any(target.get(name) is None for name in _REGION):
        return None
    x, y, w, h = (float(target.get(name, 0)) for name in _REGION)
    return Rect(x, y, x + w, y + h)
