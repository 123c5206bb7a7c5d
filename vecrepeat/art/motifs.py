"""Finding the motifs on a page: top-level groups and loose shapes, below any layers."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from lxml import etree

from vecrepeat.allowance import PLACEMENTS, REACH
from vecrepeat.art.areas import Parts
from vecrepeat.art.normalform import CHOSEN, KIND, LABEL, LAYER, drawn_children
from vecrepeat.art.outline import Outliner, matrix_of, url_id
from vecrepeat.art.page import Page
from vecrepeat.art.paths import SHAPES
from vecrepeat.art.style import INHERITED, property_of
from vecrepeat.art.xml import DESCRIPTIVE, SVG, attributes, local, take
from vecrepeat.errors import InputError
from vecrepeat.geometry import Affine
from vecrepeat.names import listed
from vecrepeat.repeat import Ground

_LAYER_RE = re.compile(
    r"(layer|artboard|calque|ebene|capa|livello)(\d*|[\s_:.-].*)", re.IGNORECASE | re.DOTALL
)
_SPAN = 0.6
"""A group that spans this share of the page both ways is a wrapper rather than a motif."""

_EDGE = 0.05
"""A page-filling rectangle may fall short of the page by so much (mm)."""


@dataclass(frozen=True, eq=False)
class Node:
    """A drawn element and the frame it stands in.

    Attributes:
        element: in normal form.
        matrix: from its parent's user units to mm of the page.
        inherited: inherited properties in force at its parent.
    """

    element: etree._Element
    matrix: Affine
    inherited: Mapping[str, str]


def placed_elements(node: Node) -> Iterator[tuple[etree._Element, Affine]]:
    """Yield a node's element and all SVG elements below it, in document order, and their frames.

    Titles and descriptions are left out: nothing in them is drawn, or in normal form.

    Yields:
        The element, and the map from its user units, its own transform included, to mm.
    """
    todo = [(node.element, node.matrix)]
    while todo:
        element, matrix = todo.pop()
        matrix = matrix @ matrix_of(element)
        yield element, matrix
        below = element.iterchildren(f"{{{SVG}}}*", reversed=True)
        todo.extend((child, matrix) for child in below if local(child) not in DESCRIPTIVE)


@dataclass
class Finder:
    """Finds ground and motifs of a page.

    Args:
        page: the page.
        outliner: outlines elements in mm.
        refine: given a node and its area by geometry, returns its area by measurement where
            geometry can't tell.
    """

    page: Page
    outliner: Outliner
    refine: Callable[[Node, Parts], Parts]
    notes: list[str] = field(default_factory=list)
    ground: Ground | None = None
    _known: dict[etree._Element, Parts] = field(default_factory=dict)

    def find(self, root: etree._Element, chosen: bool) -> list[Node]:
        """Return the motifs in stacking order, and set :attr:`ground` where there is one.

        Args:
            root: the document in normal form.
            chosen: whether a selector has marked the motifs with :data:`CHOSEN`.
        """
        # What acts on the whole drawing acts on each motif: they part company in the repeat.
        _hand_down(root)
        top = Node(root, self.page.to_mm, {})
        nodes = self._children(top)
        if chosen:
            # The ground is no motif: it is looked for whatever the selector picks.
            first = [n for n in self._painted(nodes[:1]) if not n.element.get(CHOSEN)]
            self.ground = self._as_ground(first[0]) if first else None
            nodes = nodes[1:] if self.ground is not None else nodes
            nodes = [found for node in nodes for found in self._chosen(node)]
            return self._painted(nodes)
        for _ in range(10):
            nodes = self._painted(nodes)
            below = self._descend(nodes)
            if below is None:
                break
            nodes = below
        return self._without_ground(nodes)

    def parts(self, nodes: Sequence[Node]) -> list[Parts]:
        """Return each node's painted area in mm of the page, as parts that may overlap.

        Raises:
            InputError: there are more than :data:`PLACEMENTS` nodes.
        """
        if len(nodes) > PLACEMENTS:
            raise InputError(
                f"it holds more than {PLACEMENTS:,} motifs",
                hint="group the shapes that belong together",
            )
        missing = [n for n in nodes if n.element not in self._known]
        found = self.outliner.parts([(n.element, n.matrix, n.inherited) for n in missing])
        for node, parts in zip(missing, found, strict=True):
            self._known[node.element] = self.refine(node, parts)
        return [self._known[n.element] for n in nodes]

    def _children(self, node: Node) -> list[Node]:
        element = node.element
        matrix = node.matrix @ matrix_of(element)
        own = {k: v for k, v in attributes(element).items() if k in INHERITED}
        inherited = {**node.inherited, **own}
        return [Node(child, matrix, inherited) for child in drawn_children(element)]

    def _chosen(self, node: Node) -> list[Node]:
        if node.element.get(CHOSEN):
            return [node]
        element = node.element
        if local(element) != "g" or not any(e.get(CHOSEN) for e in element.iter()):
            return []
        _hand_down(node.element)
        return [found for child in self._children(node) for found in self._chosen(child)]

    def _painted(self, nodes: list[Node]) -> list[Node]:
        kept, empty = [], []
        for node, parts in zip(nodes, self.parts(nodes), strict=True):
            if len(parts):
                kept.append(node)
            elif (label := node.element.get("id")) and _is_drawn(node.element):
                empty.append(f"“{label}”")
        if empty:
            paint = "paints nothing and is" if len(empty) == 1 else "paint nothing and are"
            self.notes.append(f"empty: {listed(empty)} {paint} left out")
        return kept

    def _descend(self, nodes: list[Node]) -> list[Node] | None:
        """Return the nodes one level down, or None where they are the motifs already."""
        rest = nodes[1:] if nodes and self._as_ground(nodes[0]) is not None else nodes
        first = nodes[: len(nodes) - len(rest)]
        if len(rest) == 1 and self._is_wrapper(rest[0]):
            return first + self._children(rest[0])
        layers = [self._is_layer(node) for node in rest]
        if not any(layers) and self._all_layers(rest):
            layers = [True] * len(rest)
        if not any(layers):
            return None
        below = list(first)
        for node, layer in zip(rest, layers, strict=True):
            below.extend(self._children(node) if layer else [node])
        return below

    def _is_group(self, node: Node) -> bool:
        """Whether a group may be taken apart: nothing acts on it as a whole."""
        element = node.element
        if local(element) != "g" or element.get("style") or element.get(KIND):
            return False
        if element.get("opacity") not in (None, "1"):
            return False
        if any(element.get(k) not in (None, "none") for k in ("mask", "filter")):
            return False
        link = element.get("clip-path")
        if link in (None, "none"):
            return True
        return self._clips_to_page(node, url_id(str(link)))

    def _clips_to_page(self, node: Node, key: str) -> bool:
        """Drop a clip that only cuts at the page's edge, where motifs are meant to cross."""
        area = self.outliner.clip_area(key, node.matrix @ matrix_of(node.element), node.element)
        width, height = float(self.page.width), float(self.page.height)
        inner = shapely.box(_EDGE, _EDGE, width - _EDGE, height - _EDGE)
        if area is None or not area.covers(inner):
            return False
        del node.element.attrib["clip-path"]
        self._known.pop(node.element, None)
        self.notes.append("a clip at the page's edge is ignored, so that motifs may cross it")
        return True

    def _is_layer(self, node: Node) -> bool:
        element = node.element
        if not self._is_group(node):
            return False
        if element.get(LAYER):
            return True
        names = (element.get(LABEL), element.get("data-name"), element.get("id"))
        return any(name and _LAYER_RE.fullmatch(name.strip()) for name in names)

    def _spans_page(self, node: Node, share: float) -> bool:
        x0, y0, x1, y1 = shapely.total_bounds(self.parts([node])[0])
        return bool(
            x1 - x0 >= share * float(self.page.width) and y1 - y0 >= share * float(self.page.height)
        )

    def _is_wrapper(self, node: Node) -> bool:
        """Whether the only group on the page holds motifs rather than being one."""
        if not self._is_group(node):
            return False
        inner = self._children(node)
        if len(inner) > PLACEMENTS:
            return False
        # Geometry will do here: measuring is slow, and what is no wrapper is measured as one.
        roughly = self.outliner.parts([(n.element, n.matrix, n.inherited) for n in inner])
        areas = [
            parts if len(parts) else self.parts([child])[0]
            for child, parts in zip(inner, roughly, strict=True)
        ]
        children = [child for child, parts in zip(inner, areas, strict=True) if len(parts)]
        if self._is_layer(node):
            return bool(children)
        if len(children) == 1:
            # A group round one group; the name, if there is only one, stays with the motif.
            only = children[0].element
            return local(only) == "g" and bool(label_of(only) or not label_of(node.element))
        grouped = any(local(child.element) == "g" for child in children)
        if grouped and self._spans_page(node, _SPAN):
            return True
        painted = [parts for parts in areas if len(parts)]
        return bool(painted) and _clusters(painted) > 1

    def _all_layers(self, nodes: list[Node]) -> bool:
        """Whether every group looks like a layer: page-wide, holding named groups."""
        if not 1 < len(nodes) <= 12:
            return False
        for node in nodes:
            if not self._is_group(node) or not self._spans_page(node, _SPAN):
                return False
            inner = [c for c in drawn_children(node.element) if local(c) == "g"]
            if len(inner) < 2 or not all(label_of(c) for c in inner):
                return False
        return True

    def _without_ground(self, nodes: list[Node]) -> list[Node]:
        if not nodes:
            return nodes
        self.ground = self._as_ground(nodes[0])
        if self.ground is not None:
            return nodes[1:]
        if self._fills_page(nodes[0]):
            self.notes.append(
                "the page-filling rectangle is not one flat colour: it is kept as a motif, "
                "and its edges may show"
            )
        return nodes

    def _fills_page(self, node: Node) -> bool:
        parts = self.parts([node])[0]
        x0, y0, x1, y1 = shapely.total_bounds(parts)
        width, height = float(self.page.width), float(self.page.height)
        if not (x0 <= _EDGE and y0 <= _EDGE and x1 >= width - _EDGE and y1 >= height - _EDGE):
            return False
        if max(x1 - x0, y1 - y0) > REACH * max(width, height):
            return False
        area = float(shapely.union_all(parts).area)
        return bool(abs(area - (x1 - x0) * (y1 - y0)) <= 1e-6 * area)

    def _as_ground(self, node: Node) -> Ground | None:
        """Return the ground a page-filling, flat-coloured rectangle stands for."""
        if not self._fills_page(node):
            return None
        element, opacity = node.element, 1.0
        while True:
            if any(element.get(k) not in (None, "none") for k in ("mask", "filter", "clip-path")):
                return None
            if element.get("style"):
                return None
            opacity *= float(element.get("opacity") or 1)
            children = list(drawn_children(element))
            if local(element) != "g" or len(children) != 1:
                break
            element = children[0]
        if local(element) not in SHAPES:
            return None
        fill = property_of(element, "fill")
        if not re.fullmatch("#[0-9a-fA-F]{6}", fill) or property_of(element, "stroke") != "none":
            return None
        return Ground(fill.lower(), opacity * float(property_of(element, "fill-opacity")))


def _is_drawn(element: etree._Element) -> bool:
    """Whether an element is more than groups within groups: editors leave empty layers."""
    return local(element) != "g" or any(_is_drawn(child) for child in drawn_children(element))


def _hand_down(group: etree._Element) -> None:
    """Move what acts on a group as a whole to groups round each of its children."""
    effects = {
        name: value
        for name in ("opacity", "clip-path", "mask", "filter", "style")
        if (value := take(group, name)) not in (None, "none")
    }
    if not effects:
        return
    for child in list(drawn_children(group)):
        wrapper = etree.Element(f"{{{SVG}}}g", {k: str(v) for k, v in effects.items()})
        group.replace(child, wrapper)
        wrapper.append(child)
        if label := label_of(child):
            wrapper.set(LABEL, label)
        if take(child, CHOSEN):
            wrapper.set(CHOSEN, "1")


def _clusters(motifs: Sequence[Parts]) -> int:
    """Return into how many groups of touching painted areas the motifs fall."""
    parts = np.concatenate(motifs)
    owner = np.repeat(np.arange(len(motifs)), [len(p) for p in motifs])
    left, right = shapely.STRtree(parts).query(parts, predicate="intersects")
    parent = np.arange(len(motifs))

    def root(k: int) -> int:
        while parent[k] != k:
            parent[k] = parent[parent[k]]
            k = int(parent[k])
        return k

    for one, other in np.unique(np.stack([owner[left], owner[right]], axis=1), axis=0):
        parent[root(int(one))] = root(int(other))
    return len({root(k) for k in range(len(motifs))})


def label_of(element: etree._Element) -> str:
    """Return the name a drawing gives an element, or "".

    The nearest to what a person wrote wins: a program's label, ``aria-label``, ``<title>``,
    ``data-name``, then the id.
    """
    title = next((c for c in element if local(c) == "title"), None)
    candidates = (
        element.get(LABEL),
        element.get("aria-label"),
        None if title is None else "".join(str(text) for text in title.itertext()),
        element.get("data-name"),
        element.get("id"),
    )
    for text in candidates:
        name = " ".join((text or "").split())
        if name:
            return name[:80]
    return ""


def _kind(element: etree._Element) -> str:
    """Return what an element draws, in a word."""
    if local(element) == "g":
        return element.get(KIND) or "group"
    return local(element)


def unique_names(elements: Sequence[etree._Element]) -> list[str]:
    """Return a name for each motif, different for each: its label, or its kind and number."""
    taken: set[str] = set()
    names: list[str] = []
    for index, element in enumerate(elements, 1):
        kind = _kind(element)
        base = label_of(element) or f"{kind} {index}"
        name, copy = base, 2
        while name in taken:
            name, copy = f"{base} ({copy})", copy + 1
        taken.add(name)
        names.append(name)
    return names
