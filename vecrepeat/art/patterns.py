"""Pattern fills inside motifs, drawn out as clipped copies of the pattern's content.

Renderers paint a ``pattern`` through a resampled surface, which blurs it or shows its joins
wherever its tile isn't a whole number of device pixels. Drawn out, it is plain vectors.

Copies that only abut would show joins too, as two antialiased edges never add up to one. So
where the content runs on from tile to tile, it is drawn across the joins:

* a flat-coloured leaf that covers a band right across the tile becomes one bar over all tiles;
* an opaque flat-coloured run that crosses the tile's edge just as its own continuation enters
  at the far side isn't cut there; of those of its leaves that are one another's continuation
  one is drawn, and as one path over all tiles where that can be.

Only what else crosses the tile's edge is cut to the tile, copy by copy.

Source: SVG 2 §14.3, *Patterns*. Where its wording leaves the content of a pattern with ``x``
and ``y`` where it is, every renderer moves it along, and so do we: the content's origin is
the tile's corner.
"""

from __future__ import annotations

import copy
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import numpy as np
import shapely
from lxml import etree
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.areas import intersection, union
from vecrepeat.art.motifs import label_of
from vecrepeat.art.outline import Outliner, image_box, matrix_of, url_id
from vecrepeat.art.page import Viewport, parse_view_box, user_length, view_box_transform
from vecrepeat.art.paths import SHAPES, shape_segments, tight_box
from vecrepeat.art.polylines import mapped
from vecrepeat.art.structure import (
    CHOSEN,
    DEFINITIONS,
    DESCRIPTIVE,
    KIND,
    LABEL,
    drawn_children,
    elements_by_id,
)
from vecrepeat.art.style import INHERITED, INITIAL, inherited_properties, property_of
from vecrepeat.art.xml import SVG, attributes, local, take
from vecrepeat.errors import InputError
from vecrepeat.geometry import IDENTITY, Affine, Rect, number

MAX_TILES = 4_000
"""A fill of more copies than this is left to the renderer."""

MAX_ADDED = 200_000
"""The most elements that one drawing's pattern fills may come to."""

_MAX_DEPTH = 16
_EPSILON = 1e-5
"""What counts as nothing, as a share of the tile's larger side."""

_CLOSE = 1e-4
"""How far a continuation may be off and still be one, as a share of the tile's smaller side."""

_GEOMETRY = frozenset(
    {"d", "points", "x", "y", "width", "height", "rx", "ry", "cx", "cy", "r"}
    | {"x1", "y1", "x2", "y2"}
)
_MOVED = ("id", "transform", "opacity", "clip-path", "mask", "filter", "style", "display")
_NAMES = (LABEL, CHOSEN, "aria-label", "data-name")
_MARKERS = ("marker-start", "marker-mid", "marker-end")
_EFFECTS = ("opacity", "clip-path", "mask", "filter", "style")
_BAKED = INHERITED - {"color", "cursor", "pointer-events"}
_FLAT_RE = re.compile("#[0-9a-fA-F]{6}")
_URL_RE = re.compile(r"url\([^)]*\)")
_REGION = {"x": "-10%", "y": "-10%", "width": "120%", "height": "120%"}
_UNIT = Viewport(1.0, 1.0)


def expand_patterns(root: etree._Element, file: Path | str) -> tuple[str, ...]:
    """Replace every pattern fill of a shape by clipped copies of the pattern's content.

    A shape becomes a group that keeps its name, place and effects. It holds the copies, cut to
    the shape, and the shape itself without a fill where it has a stroke or markers. Strokes
    and text that a pattern paints stay as they are, and so do the patterns themselves.

    Args:
        root: the ``svg`` element of a tree in normal form, ``currentColor`` resolved; changed
            in place.
        file: its name, for errors.

    Returns:
        Notes, a sentence each, on fills that paint nothing, go in circles, or would take more
        than :data:`MAX_TILES` copies or, in all, :data:`MAX_ADDED` elements. The latter are
        left to the renderer.

    Raises:
        InputError: patterns nest more than 16 deep.

    Source: SVG 2 §14.3, *Patterns*; §13.8, *paint-order*.
    """
    if next(root.iter(f"{{{SVG}}}pattern"), None) is None:
        return ()
    worker = _Expander(root, file, elements_by_id(root))
    worker.within(root, ())
    return tuple(worker.notes)


@dataclass(frozen=True)
class _Tile:
    """A pattern as one shape sees it.

    Attributes:
        frame: from the tile's coordinates, its corner at the origin, to the shape's user units.
        width: the tile's, in its own coordinates.
        height: the tile's.
        content: from the content's units to the tile's coordinates.
    """

    frame: Affine
    width: float
    height: float
    content: Affine

    @property
    def box(self) -> BaseGeometry:
        """The tile's rectangle."""
        return shapely.box(0.0, 0.0, self.width, self.height)

    @property
    def nothing(self) -> float:
        """A length that can't be seen at any scale."""
        return _EPSILON * max(self.width, self.height)


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
class _Bar:
    """A flat band right across the tile, in both directions where it covers the tile."""

    box: Rect
    across: bool
    down: bool
    colour: str
    opacity: float


@dataclass
class _Copies:
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


@dataclass
class _Expander:
    root: etree._Element
    file: Path | str
    definitions: dict[str, etree._Element]
    notes: dict[str, None] = field(default_factory=dict)
    added: int = 0
    _defs: etree._Element | None = None
    _done: set[str] = field(default_factory=set)
    _count: int = 0
    _pinned: dict[tuple[str, Rect], str] = field(default_factory=dict)
    _passes: dict[tuple[str, float, float, Affine], list[_Bar | _Copies]] = field(
        default_factory=dict
    )
    _tile_clips: dict[tuple[float, float], str] = field(default_factory=dict)

    def within(self, top: etree._Element, using: tuple[str, ...]) -> None:
        """Expand the pattern fills of all shapes under an element.

        Args:
            top: the root, or a pattern.
            using: ids of the patterns that are being expanded.
        """
        if len(using) > _MAX_DEPTH:
            raise InputError(
                f"patterns nest more than {_MAX_DEPTH} deep", file=self.file, element=using[0]
            )
        found = list(self._shapes(top))
        ready: list[tuple[etree._Element, str]] = []
        for shape, key in found:
            if key in using:
                self.note(f"the pattern “{key}” inside itself is left out")
                shape.set("fill", "none")
                continue
            if key not in self._done:
                self.within(self.definitions[key], (*using, key))
                self._done.add(key)
            ready.append((shape, key))
        # Boxes of groups are measured while the shapes in them are still what they were.
        pinned = [self._pin(shape, top) for shape, _ in ready]
        for (shape, key), sound in zip(ready, pinned, strict=True):
            if sound:
                self._expand(shape, key)
            else:
                self.note(
                    f"the pattern fill of “{_name(shape)}” is left to the renderer: a clip, mask "
                    "or filter on it goes by a box that can't be measured"
                )

    def note(self, text: str) -> None:
        self.notes[text] = None

    def _shapes(self, top: etree._Element) -> Iterator[tuple[etree._Element, str]]:
        """Yield the shapes filled with a pattern, and its id."""
        above = property_of(top, "fill")
        stack = [(child, above) for child in reversed(top)]
        while stack:
            element, fill = stack.pop()
            name = local(element)
            if not name or name in ("clipPath", "pattern", "symbol") or name in DESCRIPTIVE:
                continue
            fill = element.get("fill") or fill
            if name in SHAPES:
                key = url_id(fill)
                server = self.definitions.get(key) if key else None
                if server is not None and local(server) == "pattern":
                    yield element, key
            else:
                stack.extend((child, fill) for child in reversed(element))

    # The shape.

    def _expand(self, shape: etree._Element, key: str) -> None:
        pattern = self.definitions[key]
        if property_of(shape, "visibility") != "visible":
            return
        box = _object_box(shape)
        if box is None or not (box.width > 0 and box.height > 0):
            # A line has no inside to fill.
            shape.set("fill", "none")
            return
        tile = _resolved(pattern, box)
        content = list(drawn_children(pattern))
        if tile is None or not content:
            self.note(
                f"the pattern “{key}” paints nothing: "
                + ("it has no size" if tile is None else "it is empty")
            )
            shape.set("fill", "none")
            return
        opacity = min(1.0, max(0.0, float(property_of(shape, "fill-opacity"))))
        if opacity == 0:
            shape.set("fill", "none")
            return
        if _borrows_fill(shape, self.definitions):
            self.note(
                f"the pattern fill of “{_name(shape)}” is left to the renderer: its markers "
                "borrow it"
            )
            return
        size = sum(1 for child in content for _ in child.iter()) + 1
        tiles = _tiles(tile, box)
        count = tiles if isinstance(tiles, float) else len(tiles)
        if (
            isinstance(tiles, float)
            or count > MAX_TILES
            or self.added + count * size + 8 > MAX_ADDED
        ):
            shown = f"{count:,.0f}" if count < 1e15 else f"{count:.0e}"
            self.note(
                f"the pattern fill of “{_name(shape)}” is left to the renderer: it would take "
                f"{shown} copies"
            )
            return
        self._replace(shape, key, tile, tiles, box, opacity)

    def _replace(
        self,
        shape: etree._Element,
        key: str,
        tile: _Tile,
        tiles: Sequence[tuple[int, int]],
        box: Rect,
        opacity: float,
    ) -> None:
        parent = shape.getparent()
        assert parent is not None
        clip = self._clip_of(shape)
        before, after = _strokes(shape)
        group = etree.Element(f"{{{SVG}}}g")
        group.set(KIND, local(shape))
        group.tail, shape.tail = shape.tail, None
        parent.replace(shape, group)
        # What names and cuts the shape stays on the outside, with it its place in the tree.
        for name in (*_MOVED, *_NAMES):
            value = take(shape, name)
            if value is not None:
                group.set(name, value)
        for child in [c for c in shape if local(c) in DESCRIPTIVE]:
            group.append(child)
        if before is not None:
            group.append(before)
        painted = etree.SubElement(group, f"{{{SVG}}}g")
        painted.set("clip-path", f"url(#{clip})")
        if opacity < 1:
            painted.set("opacity", number(opacity))
        placed = etree.SubElement(painted, f"{{{SVG}}}g")
        if tile.frame != IDENTITY:
            placed.set("transform", tile.frame.svg())
        for one in self._passes_of(key, tile):
            if isinstance(one, _Bar):
                _draw_bar(placed, one, tile, tiles)
            else:
                within = tiles if one.reach is None else _tiles(tile, box, one.reach)
                assert not isinstance(within, float)
                self._draw_copies(placed, one, tile, within)
        if after is not None:
            group.append(after)
        self.added += sum(1 for _ in group.iter())

    def _draw_copies(
        self,
        placed: etree._Element,
        copies: _Copies,
        tile: _Tile,
        tiles: Sequence[tuple[int, int]],
    ) -> None:
        """Draw a pass of copies, its inherited properties as they were in the pattern."""
        baked = _baked(inherited_properties(copies.elements[0]), placed)
        if baked:
            placed = etree.SubElement(placed, f"{{{SVG}}}g", baked)
        masters = [_bare_copy(element) for element in copies.elements]
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

    # Clip paths.

    def _define(self, element: etree._Element, kind: str) -> str:
        """Add a definition under an id of its own."""
        if self._defs is None:
            self._defs = etree.SubElement(self.root, f"{{{SVG}}}defs")
        while True:
            self._count += 1
            key = f"pattern-{kind}-{self._count}"
            if key not in self.definitions:
                break
        element.set("id", key)
        self._defs.append(element)
        self.definitions[key] = element
        self.added += sum(1 for _ in element.iter())
        return key

    def _new_clip(self) -> etree._Element:
        clip = etree.Element(f"{{{SVG}}}clipPath")
        if self.root.get("visibility") not in (None, "visible"):
            clip.set("visibility", "visible")
        return clip

    def _clip_of(self, shape: etree._Element) -> str:
        """Return the id of a new clip path: the inside of a shape, in its own user space."""
        clip = self._new_clip()
        kept = {k: v for k, v in attributes(shape).items() if k in _GEOMETRY}
        inside = etree.SubElement(clip, str(shape.tag), kept)
        rule = property_of(shape, "fill-rule")
        if rule != property_of(self.root, "clip-rule"):
            inside.set("clip-rule", rule)
        return self._define(clip, "area")

    def _tile_clip(self, tile: _Tile) -> str:
        key = (tile.width, tile.height)
        if key not in self._tile_clips:
            clip = self._new_clip()
            sides = {"width": number(tile.width), "height": number(tile.height)}
            etree.SubElement(clip, f"{{{SVG}}}rect", sides)
            self._tile_clips[key] = self._define(clip, "tile")
        return self._tile_clips[key]

    # Effects measured by boxes.

    def _pin(self, shape: etree._Element, top: etree._Element) -> bool:
        """Give effects in units of a box that of today, as the copies will change the box.

        Returns:
            Whether the effects on the shape and on the groups round it will stay what they are.
        """
        element: etree._Element | None = shape
        while element is not None and element is not top and local(element) not in DEFINITIONS:
            for name in ("clip-path", "mask", "filter"):
                key = url_id(element.get(name, ""))
                if not key or not self._by_box(key, ()):
                    continue
                box = _object_box(element)
                pinned = None if box is None else self._pinned_to(key, box)
                if pinned is None:
                    return False
                # A list of filters has room for others.
                new = _URL_RE.sub(f"url(#{pinned})", element.get(name, ""), count=1)
                element.set(name, new)
            element = element.getparent()
        return True

    def _by_box(self, key: str, using: tuple[str, ...]) -> bool:
        effect = self.definitions.get(key)
        if effect is None or key in using or len(using) > _MAX_DEPTH:
            return False
        kind, by_box = local(effect), "objectBoundingBox"
        if kind == "clipPath":
            outer = url_id(effect.get("clip-path", ""))
            return effect.get("clipPathUnits") == by_box or self._by_box(outer, (*using, key))
        if kind == "mask":
            return (
                effect.get("maskUnits", by_box) == by_box
                or effect.get("maskContentUnits") == by_box
            )
        if kind == "filter":
            return (
                effect.get("filterUnits", by_box) == by_box
                or effect.get("primitiveUnits") == by_box
            )
        return False

    def _pinned_to(self, key: str, box: Rect) -> str | None:
        """Return the id of an effect's copy in user units, as it is for one box."""
        if (key, box) in self._pinned:
            return self._pinned[key, box]
        effect, by_box = self.definitions[key], "objectBoundingBox"
        if local(effect) == "filter" and effect.get("primitiveUnits") == by_box:
            return None
        if not (box.width > 0 and box.height > 0):
            return None
        clone = copy.deepcopy(effect)
        clone.tail = None
        for part in clone.iter():
            take(part, "id")
        for name, value in _baked(inherited_properties(effect), self.root).items():
            if clone.get(name) is None:
                clone.set(name, value)
        frame = Affine(box.width, 0.0, 0.0, box.height, box.x0, box.y0)
        if local(effect) == "clipPath":
            if take(clone, "clipPathUnits") == by_box:
                for child in clone:
                    if local(child):
                        child.set("transform", (frame @ matrix_of(child)).svg())
            outer = url_id(clone.get("clip-path", ""))
            if outer and self._by_box(outer, (key,)):
                pinned = self._pinned_to(outer, box)
                if pinned is None:
                    return None
                clone.set("clip-path", f"url(#{pinned})")
        else:
            units = "maskUnits" if local(effect) == "mask" else "filterUnits"
            if clone.get(units, by_box) == by_box:
                _region_in_user_units(clone, box)
                clone.set(units, "userSpaceOnUse")
            if take(clone, "maskContentUnits") == by_box:
                inner = etree.Element(f"{{{SVG}}}g", transform=frame.svg())
                inner.extend(list(clone))
                clone.append(inner)
        self._pinned[key, box] = self._define(clone, "effect")
        return self._pinned[key, box]

    # The pattern's content.

    def _passes_of(self, key: str, tile: _Tile) -> list[_Bar | _Copies]:
        cached = (key, tile.width, tile.height, tile.content)
        if cached not in self._passes:
            self._passes[cached] = self._planned(self.definitions[key], tile)
        return self._passes[cached]

    def _planned(self, pattern: etree._Element, tile: _Tile) -> list[_Bar | _Copies]:
        """Return how the content is drawn, from the bottom to the top.

        Each pass is drawn at every tile before the next one. That is the order within each
        tile, and what runs on across a join runs on in that same order.
        """
        leaves = self._leaves(pattern, tile)
        planned: list[_Bar | _Copies] = []
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
            one = _Copies([leaf.element for leaf in run], run[0].matrix, clipped)
            if (
                clipped
                and known
                and run[0].colour
                and run[0].opacity == 1
                and _runs_on(union(areas), tile)
            ):
                run = _without_twins(run, tile)
                bounds = [leaf.area.bounds for leaf in run if leaf.area is not None]
                x0, y0, x1, y1 = shapely.total_bounds(shapely.box(*np.transpose(bounds)))
                one = _Copies(
                    [leaf.element for leaf in run],
                    run[0].matrix,
                    clipped=False,
                    reach=Rect(float(x0), float(y0), float(x1), float(y1)),
                    joined=tuple(_may_be_joined(leaf) for leaf in run),
                )
            last = planned[-1] if planned else None
            if (
                isinstance(last, _Copies)
                and last.reach is None
                and one.reach is None
                and last.elements[0].getparent() is one.elements[0].getparent()
            ):
                last.elements += one.elements
                last.clipped = last.clipped or one.clipped
            else:
                planned.append(one)
        return planned

    def _leaves(self, pattern: etree._Element, tile: _Tile) -> list[_Leaf]:
        """Return what the content is made of: what stands below groups without effects."""
        found: list[tuple[etree._Element, Affine]] = []

        def visit(parent: etree._Element, matrix: Affine) -> None:
            for child in drawn_children(parent):
                if local(child) == "g" and not any(child.get(k) for k in _EFFECTS):
                    visit(child, matrix @ matrix_of(child))
                else:
                    found.append((child, matrix))

        visit(pattern, tile.content)
        outliner = Outliner(self.definitions, 0.2 * _CLOSE * min(tile.width, tile.height))
        parts = outliner.parts([(e, m, inherited_properties(e)) for e, m in found])
        leaves = []
        for (element, matrix), painted in zip(found, parts, strict=True):
            area = union(list(painted)) if _measurable(element) else None
            if area is not None and area.is_empty:
                continue
            colour, opacity = ("", 1.0) if area is None else _flat(element)
            leaves.append(_Leaf(element, matrix, area, colour, opacity))
        return leaves


def _resolved(pattern: etree._Element, box: Rect) -> _Tile | None:
    """Return a pattern as a shape of that bounding box sees it; None where it paints nothing.

    The box is in the shape's user units.
    """
    by_box = pattern.get("patternUnits") != "userSpaceOnUse"

    def length(name: str, axis: str) -> float:
        value = user_length(pattern.get(name), axis, _UNIT)
        return 0.0 if value is None or not math.isfinite(value) else value

    x, y, width, height = (
        length(name, axis) for name, axis in zip(("x", "y", "width", "height"), "xyxy", strict=True)
    )
    if by_box:
        x, width = box.x0 + x * box.width, width * box.width
        y, height = box.y0 + y * box.height, height * box.height
    if not (width > 0 and height > 0):
        return None
    text = pattern.get("patternTransform")
    matrix = IDENTITY
    if text:
        # The normal form writes a patternTransform as it does a transform.
        matrix = matrix_of(etree.Element("g", transform=text))
    if not (matrix.determinant and all(math.isfinite(v) for v in matrix)):
        return None
    view_box = parse_view_box(pattern.get("viewBox"))
    content = IDENTITY
    if view_box is not None and min(view_box[2:]) >= 0:
        if not min(view_box[2:]):
            return None
        aspect = pattern.get("preserveAspectRatio")
        content = view_box_transform(view_box, Fraction(width), Fraction(height), aspect)
    elif pattern.get("patternContentUnits") == "objectBoundingBox":
        content = Affine.scaling(box.width, box.height)
    return _Tile(matrix @ Affine.translation(x, y), width, height, content)


def _tiles(tile: _Tile, box: Rect, reach: Rect | None = None) -> list[tuple[int, int]] | float:
    """Return the tiles that meet a box in the shape's user units, row by row.

    Args:
        tile: the pattern.
        box: what is filled.
        reach: what a copy paints, where it is more than the tile.

    Returns:
        Their lattice indices, or where there are far too many only about how many.
    """
    corners = np.array([(x, y) for x in (box.x0, box.x1) for y in (box.y0, box.y1)])
    inner = tile.frame.inverse().apply(corners) / (tile.width, tile.height)
    x0, y0, x1, y1 = (0.0, 0.0, tile.width, tile.height) if reach is None else reach
    low = inner.min(axis=0) - (x1 / tile.width, y1 / tile.height)
    high = inner.max(axis=0) - (x0 / tile.width, y0 / tile.height)
    # Tiles that only touch the box paint nothing in it.
    first, last = np.floor(low + _EPSILON) + 1, np.ceil(high - _EPSILON) - 1
    with np.errstate(over="ignore", invalid="ignore"):
        about = float(np.prod(np.maximum(last - first + 1, 1.0)))
    if not about <= 64 * MAX_TILES or not np.abs(inner).max() < 1e12:
        return about if about == about else math.inf
    last = np.maximum(first, last)
    j, i = (
        grid.ravel()
        for grid in np.meshgrid(
            np.arange(int(first[1]), int(last[1]) + 1),
            np.arange(int(first[0]), int(last[0]) + 1),
            indexing="ij",
        )
    )
    # With the tile's own axes settled, the box's decide whether the two meet.
    x = i[:, None] * tile.width + np.array([x0, x1, x1, x0])
    y = j[:, None] * tile.height + np.array([y0, y0, y1, y1])
    at = tile.frame.apply(np.stack([x, y], axis=-1).reshape(-1, 2)).reshape(-1, 4, 2)
    slack = _EPSILON * max(box.width, box.height, tile.width, tile.height)
    meets = (
        (at.max(axis=1) > (box.x0 + slack, box.y0 + slack))
        & (at.min(axis=1) < (box.x1 - slack, box.y1 - slack))
    ).all(axis=1)
    if min(box.width, box.height) <= 2 * slack:
        meets[:] = True
    return list(zip(i[meets].tolist(), j[meets].tolist(), strict=True))


def _draw_bar(
    placed: etree._Element, bar: _Bar, tile: _Tile, tiles: Sequence[tuple[int, int]]
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


def _as_bar(leaf: _Leaf, tile: _Tile) -> _Bar | None:
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
    return _Bar(Rect(x0, y0, x1, y1), across, down, leaf.colour, leaf.opacity)


def _crosses(area: BaseGeometry, tile: _Tile) -> bool:
    x0, y0, x1, y1 = area.bounds
    near = tile.nothing
    return bool(x0 < -near or y0 < -near or x1 > tile.width + near or y1 > tile.height + near)


def _runs_on(area: BaseGeometry, tile: _Tile) -> bool:
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


def _without_twins(run: list[_Leaf], tile: _Tile) -> list[_Leaf]:
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
        if name not in _GEOMETRY and name != "transform":
            path.set(name, value)
    path.set("fill-rule", "nonzero")
    if whole != IDENTITY:
        path.set("transform", whole.svg())
    return path


def _pair(point: Sequence[float]) -> str:
    return f"{number(point[0])} {number(point[1])}"


def _measurable(element: etree._Element) -> bool:
    """Whether an element's outline shows all it paints."""
    for part in element.iter(f"{{{SVG}}}*"):
        if local(part) in ("text", "tspan", "textPath"):
            return False
        if part.get("filter") not in (None, "none") or part.get("style"):
            return False
        if local(part) in SHAPES and any(property_of(part, m) != "none" for m in _MARKERS):
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


def _baked(inside: Mapping[str, str], place: etree._Element) -> dict[str, str]:
    """Return the properties to set so that at ``place`` those of elsewhere are inherited."""
    outside = {**inherited_properties(place), **attributes(place)}
    baked: dict[str, str] = {}
    for name in sorted(_BAKED):
        value = inside.get(name, INITIAL[name])
        if value != outside.get(name, INITIAL[name]):
            baked[name] = "16" if (name, value) == ("font-size", "medium") else value
    return baked


def _bare_copy(element: etree._Element) -> etree._Element:
    """Return a copy without ids, names and definitions: references mean the originals."""
    clone = copy.deepcopy(element)
    clone.tail = None
    for part in list(clone.iter()):
        take(part, "id", *_NAMES)
        if local(part) in DEFINITIONS or local(part) in DESCRIPTIVE:
            above = part.getparent()
            if above is not None:
                above.remove(part)
    return clone


def _strokes(shape: etree._Element) -> tuple[etree._Element | None, etree._Element | None]:
    """Return what is painted of a shape before and after its fill (SVG 2 §13.8)."""
    stroked = property_of(shape, "stroke") != "none" and property_of(shape, "stroke-width") != "0"
    marked = any(property_of(shape, name) != "none" for name in _MARKERS)
    order = [w for w in property_of(shape, "paint-order").split() if w != "normal"]
    order += [w for w in ("fill", "stroke", "markers") if w not in order]
    at = order.index("fill")

    def part(phases: Sequence[str]) -> etree._Element | None:
        paints = ("stroke" in phases and stroked, "markers" in phases and marked)
        if not any(paints):
            return None
        clone = copy.deepcopy(shape)
        clone.tail = None
        for child in [c for c in clone if local(c) in DESCRIPTIVE]:
            clone.remove(child)
        for name in (*_MOVED, *_NAMES):
            take(clone, name)
        clone.set("fill", "none")
        if stroked and not paints[0]:
            clone.set("stroke", "none")
        if marked and not paints[1]:
            for name in _MARKERS:
                clone.set(name, "none")
        return clone

    return part(order[:at]), part(order[at + 1 :])


def _borrows_fill(shape: etree._Element, definitions: Mapping[str, etree._Element]) -> bool:
    """Whether a shape's markers are painted with its own fill (``context-fill``)."""
    for name in _MARKERS:
        marker = definitions.get(url_id(property_of(shape, name)))
        if marker is not None and any(
            "context-fill" in value for part in marker.iter() for value in part.attrib.values()
        ):
            return True
    return False


def _region_in_user_units(effect: etree._Element, box: Rect) -> None:
    """Write the region of a mask or filter, in shares of a box, in user units."""
    starts = {"x": box.x0, "y": box.y0, "width": 0.0, "height": 0.0}
    for name, axis in zip(_REGION, "xyxy", strict=True):
        share = user_length(effect.get(name), axis, _UNIT)
        if share is None:
            share = user_length(_REGION[name], axis, _UNIT) or 0.0
        side = box.width if axis == "x" else box.height
        effect.set(name, number(starts[name] + share * side))


def _object_box(element: etree._Element) -> Rect | None:
    """Return an element's object bounding box in its own user units (SVG 2 §8.10).

    Returns:
        The box of its geometry, without strokes; None where there is none, or text, whose box
        isn't known.
    """
    boxes: list[Rect] = []

    def visit(part: etree._Element, matrix: Affine) -> bool:
        name = local(part)
        if name == "g":
            return all(visit(c, matrix @ matrix_of(c)) for c in drawn_children(part))
        if name in SHAPES or name == "image":
            segments = image_box(part) if name == "image" else shape_segments(part)
            if segments is not None and len(segments.points):
                boxes.append(tight_box(mapped(segments.points, matrix), segments.straight))
            return True
        return name not in ("text", "tspan", "textPath")

    if not visit(element, IDENTITY) or not boxes:
        return None
    x0, y0, x1, y1 = (
        f(side) for f, side in zip((min, min, max, max), zip(*boxes, strict=True), strict=True)
    )
    return Rect(x0, y0, x1, y1)


def _name(shape: etree._Element) -> str:
    return label_of(shape) or local(shape)
