"""A pattern's content written out over tiles, as its passes have it."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from lxml import etree
from numpy.typing import NDArray

from vecrepeat.art.definitions import Definitions, baked, bare_copy
from vecrepeat.art.normalform import matrix_of
from vecrepeat.art.patternpasses import Bar, Copies
from vecrepeat.art.patterntiles import Tile
from vecrepeat.art.shapes import shape_segments
from vecrepeat.art.style import inherited_properties, property_of
from vecrepeat.art.xml import SVG, attributes
from vecrepeat.geometry import IDENTITY, Affine, number

GEOMETRY = frozenset(
    {"d", "points", "x", "y", "width", "height", "rx", "ry", "cx", "cy", "r"}
    | {"x1", "y1", "x2", "y2"}
)
"""The attributes that say where a shape is."""


@dataclass
class Copier:
    """Draws copies of patterns' content.

    Attributes:
        definitions: the drawing's; clip paths of tiles are added.
    """

    definitions: Definitions
    _tile_clips: dict[tuple[float, float], str] = field(default_factory=dict)

    def draw(
        self,
        placed: etree._Element,
        copies: Copies,
        tile: Tile,
        tiles: Sequence[tuple[int, int]],
    ) -> None:
        """Draw a pass of copies, its inherited properties as they were in the pattern."""
        look = baked(inherited_properties(copies.elements[0]), placed)
        if look:
            placed = etree.SubElement(placed, f"{{{SVG}}}g", look)
        masters = [bare_copy(element) for element in copies.elements]
        if copies.reach is not None:
            # Flat, opaque and of one colour: the order among them is nothing that shows.
            moves = np.array(tiles, float) * (tile.width, tile.height)
            for master, join in zip(masters, copies.joined, strict=True):
                if join:
                    placed.append(_joined(master, copies.matrix, moves))
            masters = [m for m, join in zip(masters, copies.joined, strict=True) if not join]
        for i, j in tiles if masters else ():
            spot = etree.SubElement(placed, f"{{{SVG}}}g")
            move = Affine.translation(i * tile.width, j * tile.height)
            inner = spot
            if copies.clipped:
                spot.set("clip-path", f"url(#{self._tile_clip(tile)})")
                if copies.matrix != IDENTITY:
                    inner = etree.SubElement(spot, f"{{{SVG}}}g", transform=copies.matrix.svg())
            else:
                move = move @ copies.matrix
            if move != IDENTITY:
                spot.set("transform", move.svg())
            inner.extend(copy.deepcopy(master) for master in masters)

    def _tile_clip(self, tile: Tile) -> str:
        key = (tile.width, tile.height)
        if key not in self._tile_clips:
            clip = self.definitions.new_clip()
            sides = {"width": number(tile.width), "height": number(tile.height)}
            etree.SubElement(clip, f"{{{SVG}}}rect", sides)
            self._tile_clips[key] = self.definitions.add(clip, "tile")
        return self._tile_clips[key]


def draw_bar(
    placed: etree._Element, bar: Bar, tile: Tile, tiles: Sequence[tuple[int, int]]
) -> None:
    """Draw a band once across all tiles, for each of the rows or columns it isn't one with."""
    columns = sorted({i for i, _ in tiles})
    rows = sorted({j for _, j in tiles})
    paint = {"fill": bar.colour, "fill-opacity": number(bar.opacity), "stroke": "none"}
    look = {k: v for k, v in paint.items() if v != property_of(placed, k)}
    if property_of(placed, "visibility") != "visible":
        look["visibility"] = "visible"
    # Round the outermost tiles there is room to spare; the clip path cuts it off.
    for i in [0] if bar.across else columns:
        for j in [0] if bar.down else rows:
            x0, x1 = bar.box.x0 + i * tile.width, bar.box.x1 + i * tile.width
            y0, y1 = bar.box.y0 + j * tile.height, bar.box.y1 + j * tile.height
            if bar.across:
                x0, x1 = (columns[0] - 0.5) * tile.width, (columns[-1] + 1.5) * tile.width
            if bar.down:
                y0, y1 = (rows[0] - 0.5) * tile.height, (rows[-1] + 1.5) * tile.height
            sides = {"x": x0, "y": y0, "width": x1 - x0, "height": y1 - y0}
            where = {name: number(value) for name, value in sides.items()}
            etree.SubElement(placed, f"{{{SVG}}}rect", {**where, **look})


def _joined(master: etree._Element, matrix: Affine, moves: NDArray[np.float64]) -> etree._Element:
    """Return all copies of a shape as one path.

    Args:
        master: the shape, still with a transform of its own.
        matrix: from its parent's units to the tile's coordinates.
        moves: where the copies go, in the tile's coordinates, shape (n, 2).
    """
    segments = shape_segments(master)
    whole = matrix @ matrix_of(master)
    shifts = whole._replace(e=0.0, f=0.0).inverse().apply(moves)
    first = np.flatnonzero(np.diff(segments.subpath, prepend=-1))
    starts = set(first.tolist())
    ends = {
        end - 1: bool(closed)
        for end, closed in zip(
            [*first[1:].tolist(), len(segments.points)], segments.closed.tolist(), strict=True
        )
    }
    out: list[str] = []
    for shift in shifts:
        for k, (p, straight) in enumerate(
            zip((segments.points + shift).tolist(), segments.straight.tolist(), strict=True)
        ):
            if k in starts:
                out.append(f"M{_pair(p[0])}")
            out.append(
                f"L{_pair(p[3])}" if straight else f"C{_pair(p[1])} {_pair(p[2])} {_pair(p[3])}"
            )
            if ends.get(k):
                out.append("Z")
    path = etree.Element(f"{{{SVG}}}path", d="".join(out))
    for name, value in attributes(master).items():
        if name not in GEOMETRY and name != "transform":
            path.set(name, value)
    path.set("fill-rule", "nonzero")
    if whole != IDENTITY:
        path.set("transform", whole.svg())
    return path


def _pair(point: Sequence[float]) -> str:
    return f"{number(point[0])} {number(point[1])}"
