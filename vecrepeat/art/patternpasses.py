"""How a pattern's content is drawn: as bars over all tiles, or as copies, cut or not.

Copies that only abut would show joins, as two antialiased edges never add up to one. So
where the content runs on from tile to tile, it is drawn across the joins:

* a flat-coloured leaf that covers a band right across the tile becomes one bar over all tiles;
* an opaque flat-coloured run that crosses the tile's edge just as its own continuation enters
  at the far side isn't cut there; of those of its leaves that are one another's continuation
  one is drawn, and as one path over all tiles where that can be.

Only what else crosses the tile's edge is cut to the tile, copy by copy.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.patterntiles import PatternTile
from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.scene.areas import intersection, union
from vecrepeat.scene.nodes import Group, Image, Node, Path, Text
from vecrepeat.scene.outline import Outliner
from vecrepeat.scene.segments import segments_of
from vecrepeat.scene.visit import walk

_CLOSE = 1e-4
"""How far a continuation may be off and still be one, as a share of the tile's smaller side."""


@dataclass(frozen=True, eq=False)
class Leaf:
    """A drawn node of a pattern that is taken as a whole.

    Attributes:
        node: what is drawn.
        matrix: from what it stands in to the tile's coordinates.
        area: what it paints, in the tile's coordinates; None where that is not known.
        colour: the one flat colour it is painted in, or "".
        opacity: of that colour.
    """

    node: Node
    matrix: Affine
    area: BaseGeometry | None
    colour: str
    opacity: float

    @property
    def in_tile(self) -> Node:
        """The node in the tile's coordinates."""
        return self.node if self.matrix == IDENTITY else Group((self.node,), self.matrix)


@dataclass(frozen=True)
class Bar:
    """A flat band right across the tile, in both directions where it covers the tile."""

    box: Rect
    across: bool
    down: bool
    colour: str
    opacity: float


@dataclass
class RunCopies:
    """Leaves that are drawn at every tile.

    Attributes:
        leaves: the originals.
        clipped: whether each copy is cut to its tile.
        reach: what they paint where they run on across the joins, in the tile's coordinates.
        joined: for each leaf, whether all its copies may be one path.
    """

    leaves: list[Leaf]
    clipped: bool
    reach: Rect | None = None
    joined: tuple[bool, ...] = ()


def passes_of(content: Sequence[Node], tile: PatternTile) -> list[Bar | RunCopies]:
    """Return how a pattern's content is drawn, from the bottom to the top.

    Each pass is drawn at every tile before the next one. That is the order within each
    tile, and what runs on across a join runs on in that same order.
    """
    leaves = _leaves(content, tile)
    planned: list[Bar | RunCopies] = []
    index = 0
    while index < len(leaves):
        run = [leaves[index]]
        bar = _as_bar(run[0], tile)
        if bar is not None:
            planned.append(bar)
            index += 1
            continue
        for leaf in leaves[index + 1 :]:
            if not (run[0].colour and run[0].colour == leaf.colour):
                break
            if run[0].opacity < 1 or leaf.opacity < 1 or _as_bar(leaf, tile) is not None:
                break
            run.append(leaf)
        index += len(run)
        areas = [leaf.area for leaf in run if leaf.area is not None]
        known = len(areas) == len(run)
        clipped = not known or any(_crosses(area, tile) for area in areas)
        one = RunCopies(run, clipped)
        flat = run[0].colour and run[0].opacity == 1
        if clipped and known and flat and _runs_on(union(areas), tile):
            run = _without_twins(run, tile)
            bounds = [leaf.area.bounds for leaf in run if leaf.area is not None]
            one = RunCopies(
                run,
                clipped=False,
                reach=Rect.enclosing([Rect.of(b) for b in bounds]),
                joined=tuple(_may_be_joined(leaf) for leaf in run),
            )
        last = planned[-1] if planned else None
        if isinstance(last, RunCopies) and last.reach is None and one.reach is None:
            last.leaves += one.leaves
            last.clipped = last.clipped or one.clipped
        else:
            planned.append(one)
    return planned


def _leaves(content: Sequence[Node], tile: PatternTile) -> list[Leaf]:
    """Return what the content is made of: what stands below groups without effects."""
    found: list[tuple[Node, Affine]] = []
    todo = [(node, tile.content) for node in reversed(content)]
    while todo:
        node, matrix = todo.pop()
        if isinstance(node, Group) and node.is_plain:
            matrix = matrix @ node.transform
            todo += [(child, matrix) for child in reversed(node.children)]
        else:
            found.append((node, matrix))
    parts = Outliner(0.2 * _CLOSE * min(tile.width, tile.height)).parts(found)
    leaves = []
    for (node, matrix), painted in zip(found, parts, strict=True):
        area = union(list(painted)) if _measurable(node) else None
        if area is not None and area.is_empty:
            continue
        colour, opacity = ("", 1.0) if area is None else _flat(node)
        leaves.append(Leaf(node, matrix, area, colour, opacity))
    return leaves


def _as_bar(leaf: Leaf, tile: PatternTile) -> Bar | None:
    """Return a leaf as a bar where, within its tile, it is a rectangle right across it."""
    if leaf.area is None or not leaf.colour:
        return None
    x0, y0, x1, y1 = leaf.area.bounds
    near = tile.nothing
    across = x0 <= near and x1 >= tile.width - near
    down = y0 <= near and y1 >= tile.height - near
    if not (across or down):
        return None
    x0, y0 = max(x0, 0.0), max(y0, 0.0)
    x1, y1 = min(x1, tile.width), min(y1, tile.height)
    if x1 <= x0 or y1 <= y0:
        return None
    inside = shapely.box(x0, y0, x1, y1)
    if float(intersection(leaf.area, inside).area) < (1 - 1e-6) * float(inside.area):
        return None
    return Bar(Rect(x0, y0, x1, y1), across, down, leaf.colour, leaf.opacity)


def _crosses(area: BaseGeometry, tile: PatternTile) -> bool:
    x0, y0, x1, y1 = area.bounds
    near = tile.nothing
    return bool(x0 < -near or y0 < -near or x1 > tile.width + near or y1 > tile.height + near)


def _runs_on(area: BaseGeometry, tile: PatternTile) -> bool:
    """Whether all that an area paints beyond the tile is in the tile too, a period away.

    Then copies that aren't cut paint what cut ones would.
    """
    x0, y0, x1, y1 = area.bounds
    columns = range(math.floor(x0 / tile.width), math.ceil(x1 / tile.width))
    rows = range(math.floor(y0 / tile.height), math.ceil(y1 / tile.height))
    if len(columns) * len(rows) > 49:
        return False
    room = shapely.buffer(
        intersection(area, tile.box), _CLOSE * min(tile.width, tile.height), quad_segs=2
    )
    shapely.prepare(room)
    for i in columns:
        for j in rows:
            if (i, j) == (0, 0):
                continue
            dx, dy = i * tile.width, j * tile.height
            there = shapely.box(dx, dy, dx + tile.width, dy + tile.height)
            piece = intersection(area, there)
            if piece.is_empty or float(piece.area) <= tile.nothing**2:
                continue
            moved = shapely.transform(piece, lambda xy, by=(dx, dy): xy - by)
            if not room.covers(moved):
                return False
    return True


def _without_twins(run: list[Leaf], tile: PatternTile) -> list[Leaf]:
    """Leave out each leaf that is another one a period away: copies of one draw both."""
    kept: list[Leaf] = []
    period = np.array([tile.width, tile.height])
    close = _CLOSE * float(period.min())
    for leaf in run:
        area = leaf.area
        assert area is not None
        for other in kept:
            assert other.area is not None
            apart = np.array(area.bounds) - np.array(other.area.bounds)
            by = np.round(apart[:2] / period) * period
            if np.abs(apart - np.tile(by, 2)).max() > close:
                continue
            moved = shapely.transform(other.area, lambda xy, by=by: xy + by)
            rest = shapely.symmetric_difference(area, moved).area
            if rest <= close * max(float(area.length), close):
                break
        else:
            kept.append(leaf)
    return kept


def _may_be_joined(leaf: Leaf) -> bool:
    """Whether a leaf's copies can be subpaths of one path, with one edge for all of them.

    Then where they meet or overlap there is neither a join nor an edge drawn twice.
    """
    path, area = leaf.node, leaf.area
    if not isinstance(path, Path):
        return False
    if path.stroke is not None:
        return path.fill is None or not _has_inside(path)
    # Overlapping copies of what winds both ways would cut each other out.
    single = len(segments_of(path.outline).closed) == 1
    return single and area is not None and area.geom_type == "Polygon" and not area.interiors


def _measurable(node: Node) -> bool:
    """Whether a node's outline shows all it paints."""
    return not any(
        isinstance(part, Text)
        or (isinstance(part, Group) and (part.filter, part.blend) != (None, "normal"))
        for part, _ in walk(node)
    )


def _flat(node: Node) -> tuple[str, float]:
    """Return the one flat colour a node paints, and its opacity; "" where it isn't so."""
    paints: set[tuple[str, float]] = set()
    both = False
    for part, _ in walk(node):
        if isinstance(part, Group):
            if part.opacity != 1 or part.mask is not None:
                return "", 1.0
            continue
        if isinstance(part, Image | Text):
            return "", 1.0
        fill = part.fill if part.fill is not None and _has_inside(part) else None
        mine = [one for one in (fill, part.stroke) if one is not None]
        for one in mine:
            if not isinstance(one.paint, str):
                return "", 1.0
            paints.add((one.paint, one.opacity))
        both = both or len(mine) > 1
    if len(paints) != 1:
        return "", 1.0
    colour, opacity = paints.pop()
    # Two translucent paints, one on the other, are no one colour.
    return ("", 1.0) if both and opacity < 1 else (colour, opacity)


def _has_inside(path: Path) -> bool:
    """Whether there is anything of a path to fill: not of single straight lines."""
    segments = segments_of(path.outline)
    lines = segments.straight.all() and np.bincount(segments.subpath, minlength=1).max() < 2
    return not lines
