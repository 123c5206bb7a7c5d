"""Pattern fills drawn out as clipped copies of the pattern's content.

Renderers paint a ``pattern`` through a resampled surface, which blurs it or shows its joins
wherever its tile isn't a whole number of device pixels. Drawn out, it is plain vectors. What the
copies are is planned in ``patternpasses``.

Source: SVG 2 §14.3, *Patterns*.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from lxml import etree
from numpy.typing import NDArray

from vecrepeat.art.patternpasses import Bar, Leaf, RunCopies, passes_of
from vecrepeat.art.patterntiles import MAX_TILES, PatternTile, tile_of, tiles_in
from vecrepeat.art.shapes import written
from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.scene.nodes import Box, Clip, Data, Fill, Group, Node, Path
from vecrepeat.scene.outline import object_box
from vecrepeat.scene.segments import Segments, segments_of
from vecrepeat.scene.visit import title_of, walk

if TYPE_CHECKING:
    from vecrepeat.art.build import Builder

MAX_ADDED = 200_000
"""The most nodes that one drawing's pattern fills may come to."""


class UndrawnError(Exception):
    """A fill is left to the renderer; the message says why."""


@dataclass
class Patterns:
    """Draws out the pattern fills of a drawing.

    Args:
        builder: builds what patterns hold.

    Attributes:
        notes: what came out other than asked, a sentence each.
    """

    builder: Builder
    notes: dict[str, None] = field(default_factory=dict)
    _added: int = 0

    def filled(
        self,
        path: Path,
        key: str,
        pattern: etree._Element,
        opacity: float,
        even_odd: bool,
        within: Rect | None,
    ) -> Group | str | None:
        """Return what fills a path, in its user space; None where nothing does.

        A text is the colour named beside a pattern that is in error, for the caller to find.

        Args:
            path: the path.
            key: the pattern's id.
            pattern: the ``pattern`` element.
            opacity: of the fill, above 0.
            even_odd: the path's fill rule.
            within: the bounding box that the pattern goes by, if that is not the path's own.

        Raises:
            UndrawnError: it would take more than :data:`MAX_TILES` copies or, in all,
                :data:`MAX_ADDED` nodes.
        """
        box = object_box(path)
        if box is None or not (box.width > 0 and box.height > 0):
            # A line has no inside to fill.
            return None
        tile = tile_of(pattern, within or box)
        content = self.builder.once(("in", key), lambda: self.builder.children(pattern, key))
        if tile is None or not content:
            why = "it has no size" if tile is None else "it is empty"
            self.notes[f"the pattern “{key}” paints nothing: {why}"] = None
            # A pattern in error gives way to the colour named after it (SVG 2 §13.2).
            return "" if tile is None else None
        tiles = tiles_in(tile, box)
        count = tiles if isinstance(tiles, float) else len(tiles)
        size = sum(1 for node in content for _ in walk(node)) + 1
        too_many = count > MAX_TILES or self._added + count * size > MAX_ADDED
        if isinstance(tiles, float) or too_many:
            shown = f"{count:,.0f}" if count < 1e15 else f"{count:.0e}"
            raise UndrawnError(f"it would take {shown} copies")
        drawn = tuple(self._drawn(key, content, tile, tiles, box))
        self._added += sum(1 for node in drawn for _ in walk(node))
        inside = Clip((Path(path.outline, Fill(even_odd=even_odd)),))
        return Group((Group(drawn, tile.frame),), opacity=opacity, clip=inside)

    def leave(self, path: Path, why: UndrawnError) -> None:
        """Note that a fill is left to the renderer."""
        text = f"the pattern fill of “{title_of(path)}” is left to the renderer: {why}"
        self.notes[text] = None

    def _drawn(
        self,
        key: str,
        content: Sequence[Node],
        tile: PatternTile,
        tiles: Sequence[tuple[int, int]],
        box: Rect,
    ) -> list[Node]:
        """Return the content at every tile, in the tile's coordinates."""
        at = ("passes", key, tile.width, tile.height, tile.content)
        found: list[Node] = []
        for one in self.builder.once(at, lambda: passes_of(content, tile)):
            if isinstance(one, Bar):
                found += _bars(one, tile, tiles)
            else:
                within = tiles if one.reach is None else tiles_in(tile, box, one.reach)
                assert not isinstance(within, float)
                found += self._copies(one, tile, within)
        return found

    def _copies(
        self, copies: RunCopies, tile: PatternTile, tiles: Sequence[tuple[int, int]]
    ) -> list[Node]:
        found: list[Node] = []
        nodes = [leaf.in_tile for leaf in copies.leaves]
        if copies.reach is not None:
            # Flat, opaque and of one colour: the order among them is nothing that shows.
            moves = np.array(tiles, float) * (tile.width, tile.height)
            rows = list(zip(copies.leaves, copies.joined, strict=True))
            found += [_joined(leaf, moves) for leaf, join in rows if join]
            nodes = [leaf.in_tile for leaf, join in rows if not join]
        cut = Clip((Path(Box(0.0, 0.0, tile.width, tile.height), Fill()),))
        clip = cut if copies.clipped else None
        for i, j in tiles if nodes else ():
            move = Affine.translation(i * tile.width, j * tile.height)
            found.append(Group(tuple(nodes), move, clip=clip))
        return found


def _bars(bar: Bar, tile: PatternTile, tiles: Sequence[tuple[int, int]]) -> list[Node]:
    """Return a band once across all tiles, for each of the rows or columns it isn't one with."""
    columns = sorted({i for i, _ in tiles})
    rows = sorted({j for _, j in tiles})
    found: list[Node] = []
    # Round the outermost tiles there is room to spare; the clip path cuts it off.
    for i in [0] if bar.across else columns:
        for j in [0] if bar.down else rows:
            x0, x1 = bar.box.x0 + i * tile.width, bar.box.x1 + i * tile.width
            y0, y1 = bar.box.y0 + j * tile.height, bar.box.y1 + j * tile.height
            if bar.across:
                x0, x1 = (columns[0] - 0.5) * tile.width, (columns[-1] + 1.5) * tile.width
            if bar.down:
                y0, y1 = (rows[0] - 0.5) * tile.height, (rows[-1] + 1.5) * tile.height
            found.append(Path(Box(x0, y0, x1 - x0, y1 - y0), Fill(bar.colour, bar.opacity)))
    return found


def _joined(leaf: Leaf, moves: NDArray[np.float64]) -> Group:
    """Return all copies of a path as one path.

    Args:
        leaf: a path.
        moves: where the copies go, in the tile's coordinates, shape (n, 2).
    """
    path = leaf.node
    assert isinstance(path, Path)
    segments = segments_of(path.outline)
    shifts = leaf.matrix._replace(e=0.0, f=0.0).inverse().apply(moves)
    count = len(segments.closed)
    all_of_them = Segments(
        (segments.points[None] + shifts[:, None, None, :]).reshape(-1, 4, 2),
        np.tile(segments.straight, len(moves)),
        np.concatenate([segments.subpath + n * count for n in range(len(moves))]),
        np.tile(segments.closed, len(moves)),
        np.tile(segments.vertex, len(moves)),
    )
    fill = None if path.fill is None else replace(path.fill, even_odd=False)
    whole = replace(path, outline=Data(written(all_of_them)), fill=fill, name="")
    return Group((whole,), leaf.matrix)
