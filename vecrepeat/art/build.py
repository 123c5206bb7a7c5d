"""Builds the scene from a drawing in normal form; nothing after it sees SVG's elements.

Each shape gets the paint that is in force on it, each gradient, clip and mask the user space of
what it acts on. What refers to nothing is as good as not written, as Filter Effects 1 §5, CSS
Masking 1 §6 and SVG 2 §13.2 say.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from lxml import etree

from vecrepeat.art.effects import Effects
from vecrepeat.art.elements import HEX_RE, Elements, paint_of
from vecrepeat.art.gradients import gradient_of, stop_alone
from vecrepeat.art.images import pixels_of
from vecrepeat.art.markers import Markers
from vecrepeat.art.normalform import (
    BOX,
    CHOSEN,
    DEFINITIONS,
    KIND,
    LABEL,
    LAYER,
    label_of,
    url_id,
)
from vecrepeat.art.patterns import Patterns, UndrawnError
from vecrepeat.art.shapes import SHAPES, image_box, outline_of
from vecrepeat.art.style import INHERITED, INITIAL, inherited_properties, style_pairs
from vecrepeat.art.tally import MAX_BUILT, Tally
from vecrepeat.art.xml import DESCRIPTIVE, attributes, href, local, real
from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.scene.nodes import (
    Data,
    Fill,
    Group,
    Image,
    Node,
    Paint,
    Path,
    Stroke,
    Text,
)
from vecrepeat.scene.outline import object_box
from vecrepeat.scene.visit import holds_text

Style = Mapping[str, str]

_LAYER_RE = re.compile(
    r"(layer|artboard|calque|ebene|capa|livello)(\d*|[\s_:.-].*)", re.IGNORECASE | re.DOTALL
)


@dataclass
class Builder(Tally):
    """Builds the scene of a drawing.

    Args:
        definitions: elements by id, in normal form.

    Attributes:
        chosen: the nodes, by identity, of what the user's selector has marked.
        missing: a sentence for each effect that is referred to and not there.
        patterns: draws out its pattern fills.
        elements: keeps elements as they are.
    """

    definitions: Mapping[str, etree._Element]
    chosen: dict[int, Node] = field(default_factory=dict)
    missing: dict[str, None] = field(default_factory=dict)
    _shapes: dict[int, tuple[Node, Path]] = field(default_factory=dict)
    _effects: Effects = field(init=False)
    patterns: Patterns = field(init=False)
    elements: Elements = field(init=False)

    def __post_init__(self) -> None:
        self._effects = Effects(self)
        self.patterns = Patterns(self)
        self.elements = Elements(self)

    def notes(self) -> Iterator[str]:
        """Yield a sentence for each thing that was left out or changed."""
        yield from self.patterns.notes
        yield from self.missing

    def root(self, root: etree._Element) -> Group:
        """Return a whole drawing as a group in the user units of its root.

        Raises:
            InputError: its effects use one another too often or nest too deep, or its lines fall
                into too many dashes.
        """
        self.most = MAX_BUILT + sum(1 for _ in root.iter())
        own = {k: v for k, v in attributes(root).items() if k in INHERITED}
        node = self._acted_on(root, "g", Group(self._inside(root, own)))
        return node if isinstance(node, Group) else Group((node,))

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
        self.count(1)
        own = {k: v for k, v in attributes(element).items() if k in INHERITED}
        style = {**inherited, **own} if own else inherited
        node: Node | None
        if name == "g":
            node = self._group(element, style)
        elif name in SHAPES:
            node = self._shape(element, style)
        elif name == "image":
            node = self._image(element, style)
        elif name == "text":
            node = Text(self.elements.kept(element, style), label_of(element))
        else:
            return None
        if node is not None and name != "g":
            node = self._acted_on(element, name, node)
        if element.get(CHOSEN) and node is not None:
            self.chosen[id(node)] = node
        return node

    # ------------------------------------------------------------------------------- nodes

    def _group(self, element: etree._Element, style: Style) -> Node:
        children = self._inside(element, style)
        group = Group(children, name=label_of(element), role=element.get(KIND, ""))
        names = (element.get(LABEL), element.get("data-name"), element.get("id"))
        if element.get(LAYER) or any(n and _LAYER_RE.fullmatch(n.strip()) for n in names):
            group = replace(group, role="layer")
        return self._acted_on(element, "g", group)

    def _inside(self, element: etree._Element, style: Style) -> tuple[Node, ...]:
        found = []
        # Frames are counted: what nests as deep as a drawing may must not be too deep here.
        for child in element:
            node = self.node(child, style)
            if node is not None:
                found.append(node)
        return tuple(found)

    def _acted_on(self, element: etree._Element, name: str, node: Node) -> Node:
        """Return a node with what acts on its element as a whole."""
        matrix = Affine.from_svg(element.get("transform"))
        opacity = min(max(float(element.get("opacity", 1)), 0.0), 1.0)
        # What goes by itself is as good as not written.
        pairs = style_pairs(element) if element.get("style") else ()
        style = {name: value for name, value in pairs if value and value != INITIAL.get(name)}
        links = {
            key: url_id(value)
            for key in ("clip-path", "mask", "filter")
            if (value := element.get(key, "none")) != "none"
        }
        acts = bool(links) or opacity != 1 or bool(style)
        if not acts and matrix == IDENTITY:
            return node
        box = (_cells(element) or self.box_of(node)) if links else None
        if box is None and links and holds_text(node) and self._goes_by_box(links):
            # Only an engine with fonts knows the box that its clips and masks go by.
            return Text(
                self.elements.kept(element, inherited_properties(element)), label_of(element)
            )
        if isinstance(node, Group) and name == "g":
            children, role = node.children, node.role
        else:
            bare = replace(node, name="") if node.name else node
            if id(node) in self._shapes:
                self._shapes[id(bare)] = (bare, self._shapes[id(node)][1])
            children, role = (bare,), name
        return Group(
            children,
            matrix,
            opacity,
            style.get("mix-blend-mode", "normal"),
            style.get("isolation") == "isolate",
            self._effects.clip(links.get("clip-path", ""), box),
            self._effects.mask(links.get("mask", ""), box),
            self._effects.filter(element, box) if "filter" in links else None,
            node.name,
            role,
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
        outline, name = outline_of(element), label_of(element)
        if outline is None or style.get("visibility", "visible") != "visible":
            # It counts still for the box of what it stands in, and where names are told.
            return Path(outline or Data(""), name=name)
        rendering = style.get("shape-rendering", "auto")
        rendering = "" if rendering == "auto" else rendering
        unpainted = Path(outline, rendering=rendering, name=name)
        box = _cells(element.getparent())
        fill = self._fill(element, style, unpainted, box)
        stroke = self._stroke(element, style, unpainted, box)
        flat = fill if isinstance(fill, Fill) else None
        path = Path(outline, flat, stroke, False, rendering, name)
        order = ["fill", "stroke", "markers"]
        if "paint-order" in style:
            asked = [w for w in style["paint-order"].split() if w in order]
            order = asked + [w for w in order if w not in asked]
        marks = tuple(Markers(self, element, style, path).drawn())
        if not marks and not isinstance(fill, Group):
            first = flat and stroke and order.index("stroke") < order.index("fill")
            return replace(path, stroke_first=True) if first else path
        bare = replace(path, name="")
        phases: dict[str, tuple[Node, ...]] = {
            "fill": (replace(bare, stroke=None),) if path.fill else (),
            "stroke": (replace(bare, fill=None),) if path.stroke else (),
            "markers": marks,
        }
        if isinstance(fill, Group):
            phases["fill"] = (fill,)
        found = tuple(node for phase in order for node in phases.get(phase, ()))
        group = Group(found, name=path.name, role=local(element))
        self._shapes[id(group)] = (group, Path(outline))
        return group

    def box_of(self, node: Node) -> Rect | None:
        """Return the box that a clip, mask or filter on a node goes by, in its user space."""
        if isinstance(node, Group) and id(node) not in self._shapes:
            node = replace(node, transform=IDENTITY)
        return object_box(node, self._shapes)

    def _fill(
        self, element: etree._Element, style: Style, path: Path, box: Rect | None
    ) -> Fill | Group | None:
        """Return how a path is filled; a pattern is drawn out as copies wherever it can be."""
        value, opacity = paint_of(style, "fill")
        even_odd = style.get("fill-rule") == "evenodd"
        if opacity == 0 or value == "none":
            return None
        key = url_id(value)
        server = self.definitions.get(key)
        if server is not None and local(server) == "pattern":
            if key in self.using:
                self.patterns.notes[f"the pattern “{key}” inside itself is left out"] = None
                return None
            try:
                if self._borrows_fill(style):
                    raise UndrawnError("its markers borrow it")
                found = self.patterns.filled(path, key, server, opacity, even_odd, box)
            except UndrawnError as why:
                self.patterns.leave(path, why)
                return Fill(self.elements.referred(key, server), opacity, even_odd)
            if not isinstance(found, str):
                return found
            match = HEX_RE.search(value.partition(")")[2])
            return Fill(match[0].lower(), opacity, even_odd) if match else None
        paint = self._paint(value, path, box)
        return None if paint is None else Fill(paint, opacity, even_odd)

    def _borrows_fill(self, style: Style) -> bool:
        """Whether a path's markers are painted with its own fill (``context-fill``)."""
        links = (url_id(style.get(f"marker-{place}", "")) for place in ("start", "mid", "end"))
        markers = (self.definitions.get(link) for link in links if link)
        return any(
            "context-fill" in value
            for marker in markers
            if marker is not None
            for part in marker.iter()
            for value in part.attrib.values()
        )

    def children(self, above: etree._Element, key: str) -> tuple[Node, ...]:
        """Return what a definition holds, with all it inherits there.

        Args:
            above: the definition.
            key: its id.
        """
        own = {k: v for k, v in attributes(above).items() if k in INHERITED}
        style = {**inherited_properties(above), **own}
        with self.within(key):
            return self._inside(above, style)

    def _stroke(
        self, element: etree._Element, style: Style, path: Path, box: Rect | None
    ) -> Stroke | None:
        value, opacity = paint_of(style, "stroke")
        width = real(style.get("stroke-width"), 1.0)
        if value == "none" or not (width > 0 and opacity > 0):
            return None
        paint = self._paint(value, path, box)
        if paint is None:
            return None
        dashes = _dashes(style.get("stroke-dasharray", "none"))
        if dashes:
            self.count_dashes(element, path, dashes)
        return Stroke(
            paint,
            width,
            opacity,
            style.get("stroke-linecap", "butt"),
            style.get("stroke-linejoin", "miter"),
            max(1.0, real(style.get("stroke-miterlimit"), 4.0)),
            dashes,
            real(style.get("stroke-dashoffset"), 0.0),
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
            pixels_of(href(element)),
            element.get("preserveAspectRatio", ""),
            "" if rendering == "auto" else rendering,
            label_of(element),
        )

    # ------------------------------------------------------------------------------- paint

    def _paint(self, value: str, path: Path, box: Rect | None) -> Paint | None:
        """Return a paint, or None where it leaves the shape bare (SVG 2 §13.2).

        Args:
            value: a paint in normal form.
            path: what it paints.
            box: the bounding box that it goes by, if that is not the path's own.
        """
        if value.startswith("context-"):
            return self.context.get(value.split()[0])
        if "url(" not in value:
            match = HEX_RE.search(value)
            return match[0].lower() if match else None
        key = url_id(value)
        server = self.definitions.get(key)
        kind = "" if server is None else local(server)
        if server is not None and kind in ("linearGradient", "radialGradient"):
            by_box = server.get("gradientUnits") != "userSpaceOnUse"
            box = (box or object_box(path)) if by_box else None
            if by_box and (box is None or box.width <= 0 or box.height <= 0):
                return stop_alone(server)
            return self.once((key, box), lambda: gradient_of(server, box))
        if server is not None and kind == "pattern":
            with_cycle = key in self.using
            return None if with_cycle else self.elements.referred(key, server)
        # What refers to nothing falls back on the colour given with it.
        match = HEX_RE.search(value.partition(")")[2])
        return match[0].lower() if match else None

    def miss(self, name: str, key: str) -> None:
        """Note an effect that is not there: what refers to it is drawn without."""
        note = f"the {name} “{key[:60]}” is not in the drawing: it is left out"
        self.missing[note] = None


def _cells(element: etree._Element | None) -> Rect | None:
    """Return the bounding box that is told of an element, or None."""
    text = None if element is None else element.get(BOX)
    return Rect(*map(float, text.split())) if text else None


def _dashes(text: str) -> tuple[float, ...]:
    """Return the dashes of a stroke, none where they come to nothing (SVG 2 §13.5.6)."""
    try:
        dashes = () if text == "none" else tuple(map(float, text.replace(",", " ").split()))
    except ValueError:
        return ()
    return dashes if dashes and sum(dashes) > 0 and min(dashes) >= 0 else ()
