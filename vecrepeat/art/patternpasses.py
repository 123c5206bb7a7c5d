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
import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from lxml import etree
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.build import Builder
from vecrepeat.art.normalform import drawn_children, matrix_of
from vecrepeat.art.patterntiles import Tile
from vecrepeat.art.shapes import SHAPES, shape_segments
from vecrepeat.art.style import inherited_properties, property_of
from vecrepeat.art.xml import DESCRIPTIVE, SVG, local
from vecrepeat.geometry import Affine, Rect
from vecrepeat.scene.areas import intersection, union
from vecrepeat.scene.nodes import Group
from vecrepeat.scene.outline import Outliner

_CLOSE = 1e-4
"""How far a continuation may be off and still be one, as a share of the tile's smaller side."""

MARKERS = ("marker-start", "marker-mid", "marker-end")
"""The properties that put markers on a path."""

_EFFECTS = ("opacity", "clip-path", "mask", "filter", "style")
_FLAT_RE = re.compile("#[0-9a-fA-F]{6}")


@dataclass(frozen=True)
class _Leaf:
    """A drawn element of a pattern that is taken as a whole.

    Attributes:
        element: the original, in its pattern.
        matrix: from its parent's units to the tile's coordinates.
        area: what it paints, in the tile's coordinates; None where that is not known.
        colour: the one flat colour it is painted in, or "".
        opacity: of that colour.
    """

    element: etree._Element
    matrix: Affine
    area: BaseGeometry | None
    colour: str
    opacity: float


@dataclass(frozen=True)
class Bar:
    """A flat band right across the tile, in both directions where it covers the tile."""

    box: Rect
    across: bool
    down: bool
    colour: str
    opacity: float


@dataclass
class Copies:
    """Elements of one parent that are drawn at every tile.

    Attributes:
        elements: the originals.
        matrix: from their parent's units to the tile's coordinates.
        clipped: whether each copy is cut to its tile.
        reach: what they paint where they run on across the joins, in the tile's coordinates.
        joined: for each element, whether all its copies may be one path.
    """

    elements: list[etree._Element]
    matrix: Affine
    clipped: bool
    reach: Rect | None = None
    joined: tuple[bool, ...] = ()


def passes_of(
    pattern: etree._Element, tile: Tile, definitions: Mapping[str, etree._Element]
) -> list[Bar | Copies]:
    """Return how the content is drawn, from the bottom to the top.

    Each pass is drawn at every tile before the next one. That is the order within each
    tile, and what runs on across a join runs on in that same order.
    """
    leaves = _leaves(pattern, tile, definitions)
    planned: list[Bar | Copies] = []
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
            if leaf.element.getparent() is not run[0].element.getparent():
                break
            if run[0].opacity < 1 or leaf.opacity < 1 or _as_bar(leaf, tile) is not None:
                break
            run.append(leaf)
        index += len(run)
        areas = [leaf.area for leaf in run if leaf.area is not None]
        known = len(areas) == len(run)
        clipped = not known or any(_crosses(area, tile) for area in areas)
        one = Copies([leaf.element for leaf in run], run[0].matrix, clipped)
        if (
            clipped
            and known
            and run[0].colour
            and run[0].opacity == 1
            and _runs_on(union(areas), tile)
        ):
            run = _without_twins(run, tile)
            bounds = [leaf.area.bounds for leaf in run if leaf.area is not None]
            one = Copies(
                [leaf.element for leaf in run],
                run[0].matrix,
                clipped=False,
                reach=Rect.enclosing([Rect.of(b) for b in bounds]),
                joined=tuple(_may_be_joined(leaf) for leaf in run),
            )
        last = planned[-1] if planned else None
        if (
            isinstance(last, Copies)
            and last.reach is None
            and one.reach is None
            and last.elements[0].getparent() is one.elements[0].getparent()
        ):
            last.elements += one.elements
            last.clipped = last.clipped or one.clipped
        else:
            planned.append(one)
    return planned


def _leaves(
    pattern: etree._Element, tile: Tile, definitions: Mapping[str, etree._Element]
) -> list[_Leaf]:
    """Return what the content is made of: what stands below groups without effects."""
    found: list[tuple[etree._Element, Affine]] = []

    def visit(parent: etree._Element, matrix: Affine) -> None:
        for child in drawn_children(parent):
            if local(child) == "g" and not any(child.get(k) for k in _EFFECTS):
                visit(child, matrix @ matrix_of(child))
            else:
                found.append((child, matrix))

    visit(pattern, tile.content)
    outliner = Outliner(0.2 * _CLOSE * min(tile.width, tile.height))
    builder = Builder(definitions)
    nodes = [builder.node(e, inherited_properties(e)) or Group(()) for e, _ in found]
    parts = outliner.parts([(node, m) for node, (_, m) in zip(nodes, found, strict=True)])
    leaves = []
    for (element, matrix), painted in zip(found, parts, strict=True):
        area = union(list(painted)) if _measurable(element) else None
        if area is not None and area.is_empty:
            continue
        colour, opacity = ("", 1.0) if area is None else _flat(element)
        leaves.append(_Leaf(element, matrix, area, colour, opacity))
    return leaves


def _as_bar(leaf: _Leaf, tile: Tile) -> Bar | None:
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


def _crosses(area: BaseGeometry, tile: Tile) -> bool:
    x0, y0, x1, y1 = area.bounds
    near = tile.nothing
    return bool(x0 < -near or y0 < -near or x1 > tile.width + near or y1 > tile.height + near)


def _runs_on(area: BaseGeometry, tile: Tile) -> bool:
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


def _without_twins(run: list[_Leaf], tile: Tile) -> list[_Leaf]:
    """Leave out each leaf that is another one a period away: copies of one draw both."""
    kept: list[_Leaf] = []
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


def _may_be_joined(leaf: _Leaf) -> bool:
    """Whether a leaf's copies can be subpaths of one path, with one edge for all of them.

    Then where they meet or overlap there is neither a join nor an edge drawn twice.
    """
    element, area = leaf.element, leaf.area
    if local(element) not in SHAPES or element.get("clip-path") not in (None, "none"):
        return False
    filled = property_of(element, "fill") != "none" and _has_inside(element)
    if property_of(element, "stroke") != "none":
        return not filled
    # Overlapping copies of what winds both ways would cut each other out.
    single = len(shape_segments(element).closed) == 1
    return single and area is not None and area.geom_type == "Polygon" and not area.interiors


def _measurable(element: etree._Element) -> bool:
    """Whether an element's outline shows all it paints."""
    for part in element.iter(f"{{{SVG}}}*"):
        if local(part) in ("text", "tspan", "textPath"):
            return False
        if part.get("filter") not in (None, "none") or part.get("style"):
            return False
        if local(part) in SHAPES and any(property_of(part, m) != "none" for m in MARKERS):
            return False
    return True


def _flat(element: etree._Element) -> tuple[str, float]:
    """Return the one flat colour an element paints, and its opacity; "" where it isn't so."""
    paints: set[tuple[str, float]] = set()
    both = False
    for part in element.iter(f"{{{SVG}}}*"):
        name = local(part)
        if name in DESCRIPTIVE:
            continue
        if name not in SHAPES and name != "g":
            return "", 1.0
        if part.get("opacity") not in (None, "1") or part.get("mask") not in (None, "none"):
            return "", 1.0
        if name == "g" or property_of(part, "visibility") != "visible":
            continue
        mine = []
        for kind in ("fill", "stroke"):
            colour = property_of(part, kind)
            if colour == "none" or (kind == "stroke" and property_of(part, "stroke-width") == "0"):
                continue
            if kind == "fill" and not _has_inside(part):
                continue
            if not _FLAT_RE.fullmatch(colour):
                return "", 1.0
            mine.append((colour, float(property_of(part, f"{kind}-opacity"))))
        both = both or len(mine) > 1
        paints.update(mine)
    if len(paints) != 1:
        return "", 1.0
    colour, opacity = paints.pop()
    # Two translucent paints, one on the other, are no one colour.
    return ("", 1.0) if both and opacity < 1 else (colour, opacity)


def _has_inside(shape: etree._Element) -> bool:
    """Whether there is anything of a shape to fill: not of single straight lines."""
    segments = shape_segments(shape)
    lines = segments.straight.all() and np.bincount(segments.subpath, minlength=1).max() < 2
    return not lines
