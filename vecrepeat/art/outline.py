"""The painted outline of motifs: fills, strokes and clip paths as shapely polygons.

All shapes of a drawing are flattened, made into rings and buffered together, so that the
cost per motif is a few vectorised calls.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from lxml import etree
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.areas import MAX_SIDES, Parts, as_parts, enclosed, intersection, union
from vecrepeat.art.normalform import DEFINITIONS
from vecrepeat.art.page import Viewport, user_length
from vecrepeat.art.paths import SHAPES, Segments, path_segments, shape_segments, tight_box
from vecrepeat.art.polylines import Polylines, Shape, Stroke, mapped
from vecrepeat.art.properties import PAINTED
from vecrepeat.art.strokes import stroke_areas
from vecrepeat.art.style import inherited_properties
from vecrepeat.art.xml import DESCRIPTIVE, local
from vecrepeat.geometry import IDENTITY, Affine, Rect

DEFAULT_TOLERANCE = 0.02
"""Greatest distance in mm between a curve and its outline."""

_REGION = {"x": ("x", -0.1), "y": ("y", -0.1), "width": ("x", 1.2), "height": ("y", 1.2)}
_UNIT_BOX = Viewport(1.0, 1.0)


@dataclass
class Outliner:
    """Collects the shapes of many motifs and outlines them in one go.

    Args:
        definitions: elements by id, for clip paths.
        tolerance: flattening tolerance in mm.
    """

    definitions: Mapping[str, etree._Element]
    tolerance: float = DEFAULT_TOLERANCE
    _shapes: list[Shape] = field(default_factory=list)
    _clips: dict[tuple[str, Affine], BaseGeometry] = field(default_factory=dict)

    def parts(
        self, motifs: Sequence[tuple[etree._Element, Affine, Mapping[str, str]]]
    ) -> list[Parts]:
        """Return the painted area of each motif in mm, in parts that may overlap.

        Args:
            motifs: for each, its element in normal form, the map from its parent's user
                units to mm, and the inherited properties in force at its parent.

        Returns:
            For each motif an array of polygons and multipolygons whose union is its outline;
            empty where nothing is painted. Uniting them costs more than all the rest, and
            most questions need no union.
        """
        self._shapes = []
        for index, (element, matrix, inherited) in enumerate(motifs):
            self._walk(element, matrix, {**PAINTED, **inherited}, index, ())
        found: list[list[BaseGeometry]] = [[] for _ in motifs]
        for shape, areas in zip(self._shapes, self._paint(self._shapes), strict=True):
            found[shape.motif].extend(areas)
        return [as_parts(parts) for parts in found]

    def _walk(
        self,
        element: etree._Element,
        matrix: Affine,
        inherited: Mapping[str, str],
        motif: int,
        clips: tuple[BaseGeometry, ...],
    ) -> None:
        name = local(element)
        if not name or name in DEFINITIONS or name in DESCRIPTIVE:
            return
        if element.get("display") == "none" or _number(element.get("opacity"), 1.0) == 0:
            return
        own = {k: v for k in PAINTED if (v := element.get(k)) is not None}
        style = {**inherited, **own} if own else inherited
        matrix = matrix @ matrix_of(element)
        if matrix.determinant == 0:
            return
        link = element.get("clip-path")
        if link and link != "none":
            clip = self.clip_area(url_id(link), matrix, element)
            if clip is not None:
                clips = (*clips, clip)
        if name == "g":
            for child in element:
                self._walk(child, matrix, style, motif, clips)
            return
        if style["visibility"] != "visible":
            return
        fill_rule: str | None = None
        if style["fill"] != "none" and _number(style["fill-opacity"], 1.0) > 0:
            fill_rule = style["fill-rule"]
        if name in SHAPES:
            segments = shape_segments(element)
            stroke = _stroke(style)
            if len(segments.points) and (fill_rule or stroke):
                shape = Shape(motif, segments, matrix, fill_rule, stroke, clips)
                self._shapes.append(shape)
        elif name == "image":
            box = image_box(element)
            if box is not None:
                self._shapes.append(Shape(motif, box, matrix, "nonzero", None, clips))

    def clip_area(
        self,
        key: str,
        matrix: Affine,
        target: etree._Element,
        using: tuple[str, ...] = (),
    ) -> BaseGeometry | None:
        """Return the area a clip path leaves visible, in mm; None where it is not one.

        Args:
            key: the clip path's id.
            matrix: from the clipped element's user units to mm.
            target: the clipped element, for clips in units of its bounding box.
            using: ids of the clip paths being worked out, against endless chains.
        """
        clip = self.definitions.get(key)
        if clip is None or local(clip) != "clipPath" or key in using:
            return None
        if self._goes_by_target(clip):
            return self._clip_area(key, clip, matrix, target, using)
        # Drawings put one clip on many elements, and clips on clips would multiply.
        if (key, matrix) not in self._clips:
            self._clips[key, matrix] = self._clip_area(key, clip, matrix, target, using)
        return self._clips[key, matrix]

    def _goes_by_target(self, clip: etree._Element) -> bool:
        """Whether a clip path, or one that it is cut to, goes by the box of what it clips."""
        seen: set[str] = set()
        while clip.get("clipPathUnits") != "objectBoundingBox":
            link = url_id(clip.get("clip-path") or "")
            outer = self.definitions.get(link)
            if outer is None or link in seen or local(outer) != "clipPath":
                return False
            seen.add(link)
            clip = outer
        return True

    def _clip_area(
        self,
        key: str,
        clip: etree._Element,
        matrix: Affine,
        target: etree._Element,
        using: tuple[str, ...],
    ) -> BaseGeometry:
        if clip.get("clipPathUnits") == "objectBoundingBox":
            box = self.object_box(target)
            if box is None:
                return shapely.Polygon()
            x0, y0, x1, y1 = box
            matrix = matrix @ Affine(x1 - x0, 0.0, 0.0, y1 - y0, x0, y0)
        shapes: list[Shape] = []

        def visit(
            element: etree._Element,
            at: Affine,
            inherited: Mapping[str, str],
            inner: tuple[BaseGeometry, ...],
        ) -> None:
            if element.get("display") == "none":
                return
            style = {**inherited, **{k: v for k in PAINTED if (v := element.get(k)) is not None}}
            at = at @ matrix_of(element)
            link = element.get("clip-path")
            if element is not clip and link and link != "none":
                area = self.clip_area(url_id(link), at, element, (*using, key))
                inner = inner if area is None else (*inner, area)
            if local(element) in ("g", "clipPath"):
                for child in element:
                    visit(child, at, style, inner)
            elif local(element) in SHAPES and style["visibility"] == "visible":
                rule = style["clip-rule"]
                shapes.append(Shape(0, shape_segments(element), at, rule, None, inner))

        visit(clip, matrix, {**PAINTED, **inherited_properties(clip)}, ())
        area = union([part for areas in self._paint(shapes) for part in areas])
        link = clip.get("clip-path")
        if link:
            outer = self.clip_area(url_id(link), matrix, target, (*using, key))
            if outer is not None:
                area = intersection(area, outer)
        return area

    def object_box(self, target: etree._Element) -> Rect | None:
        """Return an element's bounding box of geometry without strokes, in its user space."""
        boxes: list[Rect] = []

        def visit(element: etree._Element, matrix: Affine) -> None:
            if local(element) == "g":
                for child in element:
                    visit(child, matrix @ matrix_of(child))
            elif local(element) in SHAPES or local(element) == "image":
                shaped = local(element) in SHAPES
                segments = shape_segments(element) if shaped else image_box(element)
                if segments is not None and len(segments.points):
                    boxes.append(tight_box(mapped(segments.points, matrix), segments.straight))

        visit(target, IDENTITY)
        if not boxes:
            return None
        box = Rect.enclosing(boxes)
        return box if box.width > 0 and box.height > 0 else None

    def _paint(self, shapes: Sequence[Shape]) -> list[list[BaseGeometry]]:
        """Return the painted areas of each shape in mm, cut to its clips; none are empty."""
        lines = Polylines.of(shapes, self.tolerance)
        areas: list[list[BaseGeometry]] = [[] for _ in shapes]
        _fill_areas(shapes, lines, areas)
        stroke_areas(shapes, lines, areas)
        for shape, painted in zip(shapes, areas, strict=True):
            for clip in shape.clips:
                painted[:] = [intersection(area, clip) for area in painted]
            painted[:] = [area for area in painted if not area.is_empty]
        return areas


def matrix_of(element: etree._Element) -> Affine:
    """Return the transform of an element in normal form."""
    return Affine.from_svg(element.get("transform"))


def box_region(effect: etree._Element, box: Rect) -> dict[str, float]:
    """Return x, y, width and height of a mask's or filter's region, given in shares of a box.

    Source: SVG 1.1 §14.4 and §15.5.
    """
    shares = []
    for name, (axis, default) in _REGION.items():
        share = user_length(effect.get(name), axis, _UNIT_BOX)
        shares.append(default if share is None else share)
    x, y, width, height = shares
    return {
        "x": box.x0 + x * box.width,
        "y": box.y0 + y * box.height,
        "width": width * box.width,
        "height": height * box.height,
    }


def url_id(text: str) -> str:
    """Return the id in ``url(#id)``, or "" where there is none."""
    start = text.find("url(")
    if start < 0:
        return ""
    inner = text[start + 4 :].partition(")")[0].strip().strip("\"'")
    return inner[1:] if inner.startswith("#") else ""


def image_box(element: etree._Element) -> Segments | None:
    """Return an image's rectangle as segments, or None where its size is not given."""
    try:
        x, y = float(element.get("x", 0)), float(element.get("y", 0))
        w, h = float(element.get("width", "nan")), float(element.get("height", "nan"))
    except ValueError:
        return None
    if not (w > 0 and h > 0):
        return None
    return path_segments(f"M{x!r},{y!r}H{x + w!r}V{y + h!r}H{x!r}Z")


def _number(text: str | None, default: float) -> float:
    if text is None:
        return default
    try:
        return float(text)
    except ValueError:
        return default


def _stroke(style: Mapping[str, str]) -> Stroke | None:
    width = _number(style["stroke-width"], 1.0)
    if style["stroke"] == "none" or width <= 0 or _number(style["stroke-opacity"], 1.0) <= 0:
        return None
    dashes: tuple[float, ...] = ()
    if style["stroke-dasharray"] != "none":
        dashes = tuple(float(v) for v in style["stroke-dasharray"].replace(",", " ").split())
    if any(v < 0 for v in dashes) or sum(dashes) <= 0:
        dashes = ()
    return Stroke(
        width,
        style["stroke-linecap"],
        style["stroke-linejoin"],
        max(1.0, _number(style["stroke-miterlimit"], 4.0)),
        dashes,
        _number(style["stroke-dashoffset"], 0.0),
    )


def _fill_areas(shapes: Sequence[Shape], lines: Polylines, areas: list[list[BaseGeometry]]) -> None:
    """Add the area of every fill to the list of its shape."""
    filled = np.array([s.fill_rule is not None for s in shapes], bool)
    which = np.flatnonzero((np.diff(lines.start) >= 3) & filled[lines.shape])
    if not len(which):
        return
    rings = lines.rings(which)
    polygons = shapely.polygons(rings)
    # Looking for crossings takes minutes where an outline is very long.
    valid = shapely.get_num_coordinates(polygons) <= MAX_SIDES
    valid[valid] = shapely.is_valid(polygons[valid])
    owners: dict[int, list[int]] = defaultdict(list)
    for k, owner in enumerate(lines.shape[which].tolist()):
        owners[owner].append(k)
    for owner, ks in owners.items():
        even_odd = shapes[owner].fill_rule == "evenodd"
        areas[owner].extend(enclosed(rings[ks], polygons[ks], valid[ks], even_odd))
