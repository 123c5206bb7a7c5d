"""Pattern fills inside motifs, drawn out as clipped copies of the pattern's content.

Renderers paint a ``pattern`` through a resampled surface, which blurs it or shows its joins
wherever its tile isn't a whole number of device pixels. Drawn out, it is plain vectors.

Here is which shapes that is done for, and what becomes of them. What the copies are is planned
in ``patternpasses`` and written in ``patterncopies``.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from lxml import etree

from vecrepeat.art.definitions import NAMES, Definitions
from vecrepeat.art.names import label_of
from vecrepeat.art.normalform import KIND, drawn_children, elements_by_id, url_id
from vecrepeat.art.patterncopies import GEOMETRY, Copier, draw_bar
from vecrepeat.art.patternpasses import MARKERS, Bar, Copies, passes_of
from vecrepeat.art.patterntiles import MAX_TILES, Tile, tile_of, tiles_in
from vecrepeat.art.pinning import Pins, object_box
from vecrepeat.art.shapes import SHAPES
from vecrepeat.art.style import property_of
from vecrepeat.art.xml import DESCRIPTIVE, SVG, attributes, local, take
from vecrepeat.errors import InputError
from vecrepeat.geometry import IDENTITY, Affine, Rect, number

MAX_ADDED = 200_000
"""The most elements that one drawing's pattern fills may come to."""

_MAX_DEPTH = 16
_MOVED = ("id", "transform", "opacity", "clip-path", "mask", "filter", "style", "display")


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
    worker = _Expander(file, Definitions(root, elements_by_id(root)))
    worker.within(root, ())
    return tuple(worker.notes)


@dataclass
class _Expander:
    """Expands the pattern fills of a drawing.

    Attributes:
        file: the drawing's name, for errors.
        definitions: its definitions.
        notes: what came out other than asked, a sentence each.
    """

    file: Path | str
    definitions: Definitions
    notes: dict[str, None] = field(default_factory=dict)
    _pins: Pins = field(init=False)
    _copier: Copier = field(init=False)
    _written: int = 0
    _done: set[str] = field(default_factory=set)
    _passes: dict[tuple[str, float, float, Affine], list[Bar | Copies]] = field(
        default_factory=dict
    )

    def __post_init__(self) -> None:
        self._pins = Pins(self.definitions)
        self._copier = Copier(self.definitions)

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
                self.within(self.definitions.by_id[key], (*using, key))
                self._done.add(key)
            ready.append((shape, key))
        # Boxes of groups are measured while the shapes in them are still what they were.
        pinned = [self._pins.pin(shape, top) for shape, _ in ready]
        for (shape, key), sound in zip(ready, pinned, strict=True):
            if sound:
                self._expand(shape, key)
            else:
                self.note(
                    f"the pattern fill of “{_name(shape)}” is left to the renderer: a clip, mask "
                    "or filter on it goes by a box that can't be measured"
                )

    @property
    def _added(self) -> int:
        """How many elements have been added to the drawing."""
        return self._written + self.definitions.added

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
                server = self.definitions.by_id.get(key) if key else None
                if server is not None and local(server) == "pattern":
                    yield element, key
            else:
                stack.extend((child, fill) for child in reversed(element))

    def _expand(self, shape: etree._Element, key: str) -> None:
        pattern = self.definitions.by_id[key]
        if property_of(shape, "visibility") != "visible":
            return
        box = object_box(shape)
        if box is None or not (box.width > 0 and box.height > 0):
            # A line has no inside to fill.
            shape.set("fill", "none")
            return
        tile = tile_of(pattern, box)
        content = list(drawn_children(pattern))
        if tile is None or not content:
            self.note(
                f"the pattern “{key}” paints nothing: "
                + ("it has no size" if tile is None else "it is empty")
            )
            # A pattern in error gives way to the colour named after it (SVG 2 §13.2).
            fallback = property_of(shape, "fill").partition(")")[2].strip()
            shape.set("fill", fallback if tile is None and fallback else "none")
            return
        opacity = min(1.0, max(0.0, float(property_of(shape, "fill-opacity"))))
        if opacity == 0:
            shape.set("fill", "none")
            return
        if _borrows_fill(shape, self.definitions.by_id):
            self.note(
                f"the pattern fill of “{_name(shape)}” is left to the renderer: its markers "
                "borrow it"
            )
            return
        size = sum(1 for child in content for _ in child.iter()) + 1
        tiles = tiles_in(tile, box)
        count = tiles if isinstance(tiles, float) else len(tiles)
        if (
            isinstance(tiles, float)
            or count > MAX_TILES
            or self._added + count * size + 8 > MAX_ADDED
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
        tile: Tile,
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
        for name in (*_MOVED, *NAMES):
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
        for one in self._passes_for(key, tile):
            if isinstance(one, Bar):
                draw_bar(placed, one, tile, tiles)
            else:
                within = tiles if one.reach is None else tiles_in(tile, box, one.reach)
                assert not isinstance(within, float)
                self._copier.draw(placed, one, tile, within)
        if after is not None:
            group.append(after)
        self._written += sum(1 for _ in group.iter())

    def _clip_of(self, shape: etree._Element) -> str:
        """Return the id of a new clip path: the inside of a shape, in its own user space."""
        clip = self.definitions.new_clip()
        kept = {k: v for k, v in attributes(shape).items() if k in GEOMETRY}
        inside = etree.SubElement(clip, str(shape.tag), kept)
        rule = property_of(shape, "fill-rule")
        if rule != property_of(self.definitions.root, "clip-rule"):
            inside.set("clip-rule", rule)
        return self.definitions.add(clip, "area")

    def _passes_for(self, key: str, tile: Tile) -> list[Bar | Copies]:
        cached = (key, tile.width, tile.height, tile.content)
        if cached not in self._passes:
            self._passes[cached] = passes_of(
                self.definitions.by_id[key], tile, self.definitions.by_id
            )
        return self._passes[cached]


def _strokes(shape: etree._Element) -> tuple[etree._Element | None, etree._Element | None]:
    """Return what is painted of a shape before and after its fill (SVG 2 §13.8)."""
    stroked = property_of(shape, "stroke") != "none" and property_of(shape, "stroke-width") != "0"
    marked = any(property_of(shape, name) != "none" for name in MARKERS)
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
        for name in (*_MOVED, *NAMES):
            take(clone, name)
        clone.set("fill", "none")
        if stroked and not paints[0]:
            clone.set("stroke", "none")
        if marked and not paints[1]:
            for name in MARKERS:
                clone.set(name, "none")
        return clone

    return part(order[:at]), part(order[at + 1 :])


def _borrows_fill(shape: etree._Element, definitions: Mapping[str, etree._Element]) -> bool:
    """Whether a shape's markers are painted with its own fill (``context-fill``)."""
    for name in MARKERS:
        marker = definitions.get(url_id(property_of(shape, name)))
        if marker is not None and any(
            "context-fill" in value for part in marker.iter() for value in part.attrib.values()
        ):
            return True
    return False


def _name(shape: etree._Element) -> str:
    return label_of(shape) or local(shape)
