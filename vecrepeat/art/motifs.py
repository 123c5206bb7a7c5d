"""Finding the motifs on a page: top-level groups and loose shapes, below any layers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely

from vecrepeat.art.page import Page
from vecrepeat.core.allowance import PLACEMENTS, REACH
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import IDENTITY, Affine
from vecrepeat.core.names import listed, unique
from vecrepeat.repeat.model import Ground
from vecrepeat.scene.areas import Parts
from vecrepeat.scene.nodes import Clip, Group, Node, Path
from vecrepeat.scene.outline import Outliner
from vecrepeat.scene.visit import title_of, walk

_SPAN = 0.6
"""A group that spans this share of the page both ways is a wrapper rather than a motif."""

_EDGE = 0.05
"""A page-filling rectangle may fall short of the page by so much (mm)."""


@dataclass(frozen=True, eq=False)
class PlacedNode:
    """A node and the frame it stands in.

    Attributes:
        node: what is drawn.
        matrix: from the user units that it stands in to mm of the page.
    """

    node: Node
    matrix: Affine

    @property
    def scene(self) -> Group:
        """The node as a scene of its own, in mm of the page."""
        return Group((self.node,), self.matrix)


@dataclass
class Finder:
    """Finds ground and motifs of a page.

    Args:
        page: the page.
        outliner: outlines nodes in mm.
        refine: given a node and its area by geometry, returns its area by measurement where
            geometry can't tell. That is slow, so that finding goes by geometry as far as it can.
        chosen: by identity, the nodes that the user's selector has marked; none for no selector.
        loose: they are one motif together: nothing is a ground, and none is measured by itself.
    """

    page: Page
    outliner: Outliner
    refine: Callable[[PlacedNode, Parts], Parts]
    chosen: dict[int, Node] | None = None
    loose: bool = False
    notes: list[str] = field(default_factory=list)
    ground: Ground | None = None
    _known: dict[int, tuple[Node, Parts]] = field(default_factory=dict)
    _measured: dict[int, tuple[Node, Parts]] = field(default_factory=dict)

    def find(self, root: Group) -> list[PlacedNode]:
        """Return the motifs in stacking order, and set :attr:`ground` where there is one."""
        # What acts on the whole drawing acts on each motif: they part company in the repeat.
        nodes = self._parted(PlacedNode(root, self.page.to_mm))
        if self.chosen is not None:
            # The ground is no motif: it is looked for whatever the selector picks.
            first = [
                n for n in self._painted(nodes[:1], self.roughly) if id(n.node) not in self.chosen
            ]
            self.ground = self._as_ground(first[0]) if first else None
            nodes = nodes[1:] if self.ground is not None else nodes
            nodes = [found for node in nodes for found in self._chosen(node)]
            return self._painted(nodes, self.roughly if self.loose else self.parts)
        for _ in range(10):
            nodes = self._painted(nodes, self.roughly)
            below = self._descend(nodes)
            if below is None:
                break
            nodes = below
        if self.loose:
            return nodes
        return self._without_ground(self._painted(nodes, self.parts))

    def parts(self, nodes: Sequence[PlacedNode]) -> list[Parts]:
        """Return each node's painted area in mm of the page, as parts that may overlap.

        Raises:
            InputError: there are more than :data:`PLACEMENTS` nodes.
        """
        for placed, parts in zip(nodes, self.roughly(nodes), strict=True):
            if id(placed.node) not in self._measured:
                self._measured[id(placed.node)] = (placed.node, self.refine(placed, parts))
        return [self._measured[id(n.node)][1] for n in nodes]

    def roughly(self, nodes: Sequence[PlacedNode]) -> list[Parts]:
        """Return each node's area as geometry tells it, measured where it tells of none.

        Raises:
            InputError: there are more than :data:`PLACEMENTS` nodes.
        """
        if len(nodes) > PLACEMENTS:
            raise InputError(
                f"it holds more than {PLACEMENTS:,} motifs",
                hint="group the shapes that belong together",
            )
        missing = [n for n in nodes if id(n.node) not in self._known]
        found = self.outliner.parts([(n.node, n.matrix) for n in missing])
        for placed, parts in zip(missing, found, strict=True):
            known = parts if len(parts) else self.refine(placed, parts)
            self._known[id(placed.node)] = (placed.node, known)
        return [self._known[id(n.node)][1] for n in nodes]

    def _parted(self, placed: PlacedNode) -> list[PlacedNode]:
        """Return what a group holds, each under what acts on the group as a whole."""
        group = placed.node
        assert isinstance(group, Group)
        matrix = placed.matrix @ group.transform
        if group.is_plain:
            return [PlacedNode(child, matrix) for child in group.children]
        found = []
        for child in group.children:
            alone = replace(group, children=(child,), transform=IDENTITY, name=child.name, role="")
            if self.chosen is not None and id(child) in self.chosen:
                self.chosen[id(alone)] = alone
            found.append(PlacedNode(alone, matrix))
        return found

    def _chosen(self, placed: PlacedNode) -> list[PlacedNode]:
        assert self.chosen is not None
        if id(placed.node) in self.chosen:
            return [placed]
        if not isinstance(placed.node, Group):
            return []
        if not any(id(node) in self.chosen for node, _ in walk(placed.node)):
            return []
        return [found for child in self._parted(placed) for found in self._chosen(child)]

    def _painted(
        self, nodes: list[PlacedNode], areas: Callable[[Sequence[PlacedNode]], list[Parts]]
    ) -> list[PlacedNode]:
        kept, empty = [], []
        for placed, parts in zip(nodes, areas(nodes), strict=True):
            if len(parts):
                kept.append(placed)
            elif placed.node.name and _is_drawn(placed.node):
                empty.append(f"“{placed.node.name}”")
        if empty:
            paint = "paints nothing and is" if len(empty) == 1 else "paint nothing and are"
            self.notes.append(f"empty: {listed(empty)} {paint} left out")
        return kept

    def _descend(self, nodes: list[PlacedNode]) -> list[PlacedNode] | None:
        """Return the nodes one level down, or None where they are the motifs already."""
        rest = nodes[1:] if nodes and self._as_ground(nodes[0]) is not None else nodes
        first = nodes[: len(nodes) - len(rest)]
        if len(rest) == 1 and (inner := self._wrapped(rest[0])) is not None:
            return first + inner
        taken = [self._taken_apart(node) for node in rest]
        layers = [t if t is not None and _is_layer(t) else None for t in taken]
        if not any(layers) and self._all_layers(rest, taken):
            layers = taken
        if not any(layers):
            return None
        below = list(first)
        for node, layer in zip(rest, layers, strict=True):
            below.extend([node] if layer is None else self._parted(layer))
        return below

    def _taken_apart(self, placed: PlacedNode) -> PlacedNode | None:
        """Return a group of which nothing acts on the whole, so that it may be taken apart.

        A clip that only cuts at the page's edge, where motifs are meant to cross, is dropped. Of a
        loose motif it stays where it cuts: no viewer shows what lies beyond.
        """
        group = placed.node
        if not isinstance(group, Group) or group.role not in ("", "layer"):
            return None
        if group.clip is not None:
            bare = replace(group, clip=None)
            if not bare.is_plain or not self._clips_to_page(group.clip, placed):
                return None
            free = PlacedNode(bare, placed.matrix)
            if not self.loose:
                self.notes.append(
                    "a clip at the page's edge is ignored, so that motifs may cross it"
                )
            return None if self.loose and self._leaves_page(free) else free
        return placed if group.is_plain else None

    def _clips_to_page(self, clip: Clip, placed: PlacedNode) -> bool:
        assert isinstance(placed.node, Group)
        area = self.outliner.clip_area(clip, placed.matrix @ placed.node.transform)
        width, height = float(self.page.width), float(self.page.height)
        inner = shapely.box(_EDGE, _EDGE, width - _EDGE, height - _EDGE)
        return bool(area.covers(inner))

    def _leaves_page(self, placed: PlacedNode) -> bool:
        x0, y0, x1, y1 = shapely.total_bounds(self.roughly([placed])[0])
        width, height = float(self.page.width), float(self.page.height)
        return bool(min(x0, y0) < -_EDGE or x1 > width + _EDGE or y1 > height + _EDGE)

    def _spans_page(self, placed: PlacedNode, share: float) -> bool:
        x0, y0, x1, y1 = shapely.total_bounds(self.roughly([placed])[0])
        return bool(
            x1 - x0 >= share * float(self.page.width) and y1 - y0 >= share * float(self.page.height)
        )

    def _wrapped(self, placed: PlacedNode) -> list[PlacedNode] | None:
        """Return what the only group on the page holds, or None where it is a motif itself."""
        whole = self._taken_apart(placed)
        if whole is None:
            return None
        group = whole.node
        assert isinstance(group, Group)
        inner = self._parted(whole)
        if len(inner) > PLACEMENTS:
            return None
        areas = self.roughly(inner)
        children = [child for child, parts in zip(inner, areas, strict=True) if len(parts)]
        if group.role == "layer":
            return inner if children else None
        if len(children) == 1:
            # A group round one group; the name, if there is only one, stays with the motif.
            only = children[0].node
            wraps = isinstance(only, Group) and only.role in ("", "layer")
            return inner if wraps and (only.name or not group.name) else None
        grouped = any(isinstance(child.node, Group) for child in children)
        if grouped and self._spans_page(placed, _SPAN):
            return inner
        painted = [parts for parts in areas if len(parts)]
        return inner if painted and _clusters(painted) > 1 else None

    def _all_layers(self, nodes: list[PlacedNode], taken: Sequence[PlacedNode | None]) -> bool:
        """Whether every group looks like a layer: page-wide, holding named groups."""
        if not 1 < len(nodes) <= 12:
            return False
        for placed, apart in zip(nodes, taken, strict=True):
            if apart is None or not self._spans_page(placed, _SPAN):
                return False
            assert isinstance(apart.node, Group)
            inner = [c for c in apart.node.children if isinstance(c, Group)]
            if len(inner) < 2 or not all(c.name for c in inner):
                return False
        return True

    def _without_ground(self, nodes: list[PlacedNode]) -> list[PlacedNode]:
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

    def _fills_page(self, placed: PlacedNode) -> bool:
        parts = self.parts([placed])[0]
        x0, y0, x1, y1 = shapely.total_bounds(parts)
        width, height = float(self.page.width), float(self.page.height)
        if not (x0 <= _EDGE and y0 <= _EDGE and x1 >= width - _EDGE and y1 >= height - _EDGE):
            return False
        if max(x1 - x0, y1 - y0) > REACH * max(width, height):
            return False
        area = float(shapely.union_all(parts).area)
        return bool(abs(area - (x1 - x0) * (y1 - y0)) <= 1e-6 * area)

    def _as_ground(self, placed: PlacedNode) -> Ground | None:
        """Return the ground a page-filling, flat-coloured rectangle stands for."""
        if self.loose:
            return None
        node, opacity = placed.node, 1.0
        while isinstance(node, Group):
            opacity *= node.opacity
            if len(node.children) != 1 or not replace(node, opacity=1.0).is_plain:
                return None
            node = node.children[0]
        if not isinstance(node, Path) or node.fill is None or node.stroke is not None:
            return None
        if not isinstance(node.fill.paint, str) or not self._fills_page(placed):
            return None
        return Ground(node.fill.paint, opacity * node.fill.opacity)


def _is_drawn(node: Node) -> bool:
    """Whether a node is more than groups within groups: editors leave empty layers."""
    return not isinstance(node, Group) or any(_is_drawn(child) for child in node.children)


def _is_layer(placed: PlacedNode) -> bool:
    return isinstance(placed.node, Group) and placed.node.role == "layer"


def _clusters(motifs: Sequence[Parts]) -> int:
    """Return into how many groups of touching painted areas the motifs fall."""
    parts = np.concatenate(motifs)
    owner = np.repeat(np.arange(len(motifs)), [len(p) for p in motifs])
    left, right = shapely.STRtree(parts).query(parts, predicate="intersects")
    # Each takes the lowest number of those that it touches, until all have that of their group.
    label = np.arange(len(motifs))
    while True:
        lowest = label.copy()
        np.minimum.at(lowest, owner[left], label[owner[right]])
        if (lowest == label).all():
            return len(np.unique(label))
        label = lowest[lowest]


def unique_names(nodes: Sequence[Node]) -> list[str]:
    """Return a name for each motif, different for each: its label, or its kind and number."""
    taken: set[str] = set()
    names: list[str] = []
    for index, node in enumerate(nodes, 1):
        name = unique(node.name or f"{_kind(node)} {index}", taken, "{} ({})")
        taken.add(name)
        names.append(name)
    return names


def _kind(node: Node) -> str:
    """Return what a node draws, in a word."""
    if isinstance(node, Group):
        return node.role if node.role not in ("", "layer") else "group"
    return title_of(node)
