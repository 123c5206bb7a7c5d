"""The painted outline of motifs: fills, strokes and clip paths as shapely polygons.

All shapes of a drawing are flattened, made into rings and buffered together, so that the
cost per motif is a few vectorised calls.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from lxml import etree
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.paths import SHAPES, Segments, flatten, path_segments, shape_segments
from vecrepeat.art.structure import DEFINITIONS, DESCRIPTIVE
from vecrepeat.art.xml import local
from vecrepeat.geometry import IDENTITY, Affine

DEFAULT_TOLERANCE = 0.02
"""Greatest distance in mm between a curve and its outline."""

ARC_TOLERANCE = 0.001
"""Greatest distance in mm between a round join or cap and its outline."""

Parts = NDArray[np.object_]
"""Polygons whose union is a painted area."""

_INHERITED = {
    "fill": "black",
    "fill-rule": "nonzero",
    "clip-rule": "nonzero",
    "fill-opacity": "1",
    "stroke": "none",
    "stroke-width": "1",
    "stroke-opacity": "1",
    "stroke-linecap": "butt",
    "stroke-linejoin": "miter",
    "stroke-miterlimit": "4",
    "visibility": "visible",
}


@dataclass(frozen=True, eq=False)
class _Stroke:
    width: float
    cap: str
    join: str
    miter_limit: float


@dataclass(frozen=True, eq=False)
class _Shape:
    """One painted shape: segments in user space and how they are painted."""

    motif: int
    segments: Segments
    matrix: Affine
    fill_rule: str | None
    stroke: _Stroke | None
    clips: tuple[BaseGeometry, ...]


@dataclass
class Outliner:
    """Collects the shapes of many motifs and outlines them in one go.

    Args:
        definitions: elements by id, for clip paths.
        tolerance: flattening tolerance in mm.
    """

    definitions: Mapping[str, etree._Element]
    tolerance: float = DEFAULT_TOLERANCE
    _shapes: list[_Shape] = field(default_factory=list)

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
            self._walk(element, matrix, {**_INHERITED, **inherited}, index, ())
        found: list[list[BaseGeometry]] = [[] for _ in motifs]
        for shape, areas in zip(self._shapes, self._paint(self._shapes), strict=True):
            for clip in shape.clips:
                areas = [_intersection(area, clip) for area in areas]
            found[shape.motif].extend(area for area in areas if not area.is_empty)
        return [_array(parts) for parts in found]

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
        own = {k: v for k in _INHERITED if (v := element.get(k)) is not None}
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
                shape = _Shape(motif, segments, matrix, fill_rule, stroke, clips)
                self._shapes.append(shape)
        elif name == "image":
            box = image_box(element)
            if box is not None:
                self._shapes.append(_Shape(motif, box, matrix, "nonzero", None, clips))

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
        if clip.get("clipPathUnits") == "objectBoundingBox":
            box = self._box(target)
            if box is None:
                return shapely.Polygon()
            x0, y0, x1, y1 = box
            matrix = matrix @ Affine(x1 - x0, 0.0, 0.0, y1 - y0, x0, y0)
        shapes: list[_Shape] = []

        def visit(
            element: etree._Element,
            at: Affine,
            inherited: Mapping[str, str],
            inner: tuple[BaseGeometry, ...],
        ) -> None:
            if element.get("display") == "none":
                return
            style = {**inherited, **{k: v for k in _INHERITED if (v := element.get(k)) is not None}}
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
                shapes.append(_Shape(0, shape_segments(element), at, rule, None, inner))

        visit(clip, matrix, {**_INHERITED, **inherited_of(clip)}, ())
        parts: list[BaseGeometry] = []
        for shape, areas in zip(shapes, self._paint(shapes), strict=True):
            for inner in shape.clips:
                areas = [_intersection(area, inner) for area in areas]
            parts.extend(area for area in areas if not area.is_empty)
        area = _union(parts)
        link = clip.get("clip-path")
        if link:
            outer = self.clip_area(url_id(link), matrix, target, (*using, key))
            if outer is not None:
                area = _intersection(area, outer)
        return area

    def _box(self, target: etree._Element) -> tuple[float, float, float, float] | None:
        """Return an element's bounding box of geometry without strokes, in its user space."""
        boxes: list[NDArray[np.float64]] = []

        def visit(element: etree._Element, matrix: Affine) -> None:
            if local(element) == "g":
                for child in element:
                    visit(child, matrix @ matrix_of(child))
            elif local(element) in SHAPES:
                segments = shape_segments(element)
                if len(segments.points):
                    points = _mapped(segments.points, matrix)
                    xy, _ = flatten(points, segments.straight, self.tolerance)
                    boxes.append(np.concatenate([xy, points[:, 0]]))

        visit(target, IDENTITY)
        if not boxes:
            return None
        everything = np.concatenate(boxes)
        (x0, y0), (x1, y1) = everything.min(axis=0), everything.max(axis=0)
        if x1 <= x0 or y1 <= y0:
            return None
        return (float(x0), float(y0), float(x1), float(y1))

    def _paint(self, shapes: Sequence[_Shape]) -> list[list[BaseGeometry]]:
        """Return the painted areas of each shape in mm, clips not yet applied."""
        lines = _Polylines.of(shapes, self.tolerance)
        areas: list[list[BaseGeometry]] = [[] for _ in shapes]
        _add_fills(shapes, lines, areas)
        _add_strokes(shapes, lines, areas)
        return areas


def matrix_of(element: etree._Element) -> Affine:
    """Return the transform of an element in normal form."""
    text = element.get("transform")
    if text is None:
        return IDENTITY
    kind, _, rest = text.partition("(")
    values = tuple(float(v) for v in rest.rstrip(")").split())
    return Affine.translation(*values) if kind == "translate" else Affine(*values)


def url_id(text: str) -> str:
    """Return the id in ``url(#id)``, or "" where there is none."""
    start = text.find("url(")
    if start < 0:
        return ""
    inner = text[start + 4 :].partition(")")[0].strip().strip("\"'")
    return inner[1:] if inner.startswith("#") else ""


def inherited_of(element: etree._Element) -> dict[str, str]:
    """Return the inherited properties set on an element's ancestors and itself."""
    found: dict[str, str] = {}
    node: etree._Element | None = element
    while node is not None:
        for name in _INHERITED:
            value = node.get(name)
            if value is not None:
                found.setdefault(name, value)
        node = node.getparent()
    return found


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


def _stroke(style: Mapping[str, str]) -> _Stroke | None:
    width = _number(style["stroke-width"], 1.0)
    if style["stroke"] == "none" or width <= 0 or _number(style["stroke-opacity"], 1.0) <= 0:
        return None
    return _Stroke(
        width,
        style["stroke-linecap"],
        style["stroke-linejoin"],
        max(1.0, _number(style["stroke-miterlimit"], 4.0)),
    )


def _mapped(points: NDArray[np.float64], matrix: Affine) -> NDArray[np.float64]:
    return matrix.apply(points.reshape(-1, 2)).reshape(points.shape)


@dataclass(frozen=True, eq=False)
class _Polylines:
    """All subpaths of many shapes as polylines in mm.

    Attributes:
        coords: vertices, shape (m, 2), repeated points removed.
        start: first vertex of each polyline, shape (n + 1,).
        shape: index of the shape each polyline belongs to, shape (n,).
        closed: whether each polyline is closed, shape (n,).
    """

    coords: NDArray[np.float64]
    start: NDArray[np.int64]
    shape: NDArray[np.int64]
    closed: NDArray[np.bool_]

    @classmethod
    def of(cls, shapes: Sequence[_Shape], tolerance: float) -> _Polylines:
        used = [s for s in shapes if len(s.segments.points)]
        if not used:
            none = np.empty(0, np.int64)
            return cls(np.empty((0, 2)), np.zeros(1, np.int64), none, np.empty(0, bool))
        points = np.concatenate([_mapped(s.segments.points, s.matrix) for s in used])
        straight = np.concatenate([s.segments.straight for s in used])
        counts = np.array([len(s.segments.closed) for s in used])
        offsets = np.concatenate([[0], np.cumsum(counts)[:-1]])
        subpath = np.concatenate(
            [s.segments.subpath + o for s, o in zip(used, offsets, strict=True)]
        )
        closed = np.concatenate([s.segments.closed for s in used])
        index = {id(s): k for k, s in enumerate(shapes)}
        shape = np.repeat(np.array([index[id(s)] for s in used]), counts)
        xy, segment = flatten(points, straight, tolerance)
        # Each polyline is its first segment's start followed by all the chords' ends.
        heads = np.flatnonzero(np.diff(subpath, prepend=-1))
        line_of = subpath[segment]
        coords = np.concatenate([points[heads, 0], xy])
        line = np.concatenate([subpath[heads], line_of])
        order = np.argsort(line, kind="stable")
        coords, line = coords[order], line[order]
        fresh = np.ones(len(coords), bool)
        same = (line[1:] == line[:-1]) & (np.abs(np.diff(coords, axis=0)).max(axis=1) < 1e-12)
        fresh[1:] = ~same
        coords, line = coords[fresh], line[fresh]
        start = np.searchsorted(line, np.arange(len(closed) + 1))
        return cls(coords, start, shape, closed)

    def __len__(self) -> int:
        return len(self.shape)

    def points(self, k: int) -> NDArray[np.float64]:
        return self.coords[self.start[k] : self.start[k + 1]]

    def linestrings(self, which: NDArray[np.int64]) -> NDArray[np.object_]:
        """Return polylines as shapely linestrings; each must have two points or more."""
        return _build(shapely.linestrings, self, which)

    def rings(self, which: NDArray[np.int64]) -> NDArray[np.object_]:
        """Return polylines as shapely linear rings; each must have three points or more."""
        return _build(shapely.linearrings, self, which)


def _build(make: object, lines: _Polylines, which: NDArray[np.int64]) -> NDArray[np.object_]:
    lengths = lines.start[which + 1] - lines.start[which]
    owner = np.repeat(np.arange(len(which)), lengths)
    first = np.cumsum(lengths) - lengths
    take = np.arange(len(owner)) - first[owner] + lines.start[which][owner]
    result: NDArray[np.object_] = make(lines.coords[take], indices=owner)  # type: ignore[operator]
    return result


def _add_fills(
    shapes: Sequence[_Shape], lines: _Polylines, areas: list[list[BaseGeometry]]
) -> None:
    sizes = np.diff(lines.start)
    filled = np.array([s.fill_rule is not None for s in shapes], bool)
    which = np.flatnonzero((sizes >= 3) & filled[lines.shape]) if len(lines) else np.empty(0, int)
    if not len(which):
        return
    rings = lines.rings(which)
    polygons = shapely.polygons(rings)
    valid = shapely.is_valid(polygons)
    owners: dict[int, list[int]] = defaultdict(list)
    for k, owner in enumerate(lines.shape[which]):
        owners[int(owner)].append(k)
    for owner, ks in owners.items():
        if len(ks) == 1 and valid[ks[0]]:
            areas[owner].append(polygons[ks[0]])
            continue
        even_odd = shapes[owner].fill_rule == "evenodd"
        ccw = shapely.is_ccw(rings[ks])
        alike = not even_odd and (ccw.all() or not ccw.any())
        if valid[ks].all() and (alike or _boxes_apart(shapely.bounds(polygons[ks]))):
            # Rings that run the same way never cancel: each one's area is painted.
            areas[owner].extend(polygons[ks])
            continue
        nested = _nested_area(polygons[ks], even_odd) if valid[ks].all() else None
        areas[owner].append(filled_area(rings[ks], even_odd) if nested is None else nested)


def _boxes_apart(bounds: NDArray[np.float64]) -> bool:
    if len(bounds) > 200:
        return False
    x0, y0, x1, y1 = bounds.T
    meet = (
        (x0[:, None] <= x1[None])
        & (x1[:, None] >= x0[None])
        & (y0[:, None] <= y1[None])
        & (y1[:, None] >= y0[None])
    )
    return int(meet.sum()) == len(bounds)


def _is_inside(winding: NDArray[np.int64], even_odd: bool) -> NDArray[np.bool_]:
    """Return which winding numbers count as inside (SVG 2 §13.4.2)."""
    inside: NDArray[np.bool_] = winding % 2 != 0 if even_odd else winding != 0
    return inside


def _nested_area(polygons: Parts, even_odd: bool) -> BaseGeometry | None:
    """Return the area of rings that lie inside or outside one another, or None if any meet.

    This is the usual case, a shape with holes, and far quicker than :func:`filled_area`.
    """
    tree = shapely.STRtree(polygons)
    outer, inner = tree.query(polygons, predicate="contains_properly")
    meet, _ = tree.query(polygons, predicate="intersects")
    if len(meet) != len(polygons) + 2 * len(outer):
        return None
    # Sign of the shoelace sum: which way round each ring runs.
    turn = np.where(shapely.is_ccw(shapely.get_exterior_ring(polygons)), 1, -1)
    around = np.bincount(inner, turn[outer], len(polygons)).astype(np.int64)
    depth = np.bincount(inner, minlength=len(polygons))
    inside, outside = _is_inside(around + turn, even_odd), _is_inside(around, even_odd)
    holes: dict[int, list[BaseGeometry]] = {int(k): [] for k in np.flatnonzero(inside & ~outside)}
    for hole in np.flatnonzero(outside & ~inside):
        shells = [int(k) for k in outer[inner == hole] if int(k) in holes]
        holes[max(shells, key=lambda k: depth[k])].append(polygons[hole].exterior)
    parts = [shapely.Polygon(polygons[k].exterior, rings) for k, rings in holes.items()]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def filled_area(rings: Parts, even_odd: bool) -> BaseGeometry:
    """Return the area that rings enclose under a fill rule (SVG 2 §13.4.2).

    The rings are cut at all their crossings into faces; each face is inside or not by the
    winding number of one of its points.
    """
    lines = shapely.union_all([shapely.LineString(ring.coords) for ring in rings])
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    if not len(faces):
        return shapely.Polygon()
    probes = shapely.get_coordinates(shapely.point_on_surface(faces))
    winding = np.zeros(len(probes), np.int64)
    for ring in rings:
        xy = shapely.get_coordinates(ring)
        (ax, ay), (bx, by) = xy[:-1].T, xy[1:].T
        for start in range(0, len(probes), 256):
            px, py = probes[start : start + 256, 0:1], probes[start : start + 256, 1:2]
            side = (bx - ax) * (py - ay) - (px - ax) * (by - ay)
            up = (ay <= py) & (by > py) & (side > 0)
            down = (ay > py) & (by <= py) & (side < 0)
            winding[start : start + 256] += up.sum(axis=1) - down.sum(axis=1)
    return _union(list(faces[_is_inside(winding, even_odd)]))


def _add_strokes(
    shapes: Sequence[_Shape], lines: _Polylines, areas: list[list[BaseGeometry]]
) -> None:
    groups: dict[tuple[str, str, float, Affine | None], list[int]] = defaultdict(list)
    for k, owner in enumerate(lines.shape):
        shape = shapes[int(owner)]
        if shape.stroke is None:
            continue
        s = shape.stroke
        # Under an uneven stretch a stroke is widened in its own space, then stretched.
        frame = None if shape.matrix.is_similarity() else shape.matrix
        groups[(s.cap, s.join, s.miter_limit, frame)].append(k)
    for (cap, join, miter_limit, frame), members in groups.items():
        which = np.array(members)
        local_lines = lines if frame is None else _mapped_lines(lines, frame.inverse())
        radii = np.empty(len(which))
        for n, k in enumerate(which):
            shape = shapes[int(lines.shape[k])]
            assert shape.stroke is not None
            scale = math.sqrt(abs(shape.matrix.determinant)) if frame is None else 1.0
            radii[n] = shape.stroke.width / 2 * scale
        arc = ARC_TOLERANCE / (1.0 if frame is None else frame.stretch)
        for k, area in zip(
            which, _buffered(local_lines, which, radii, cap, join, miter_limit, arc), strict=True
        ):
            if frame is not None:
                area = shapely.transform(area, frame.apply)
            areas[int(lines.shape[k])].append(area)


def _mapped_lines(lines: _Polylines, matrix: Affine) -> _Polylines:
    return _Polylines(matrix.apply(lines.coords), lines.start, lines.shape, lines.closed)


_CAPS = {"butt": "flat", "round": "round", "square": "square"}


def _buffered(
    lines: _Polylines,
    which: NDArray[np.int64],
    radii: NDArray[np.float64],
    cap: str,
    join: str,
    miter_limit: float,
    arc_tolerance: float,
) -> list[BaseGeometry]:
    """Return the area each polyline's stroke covers (SVG 2 §13.5)."""
    result: list[BaseGeometry] = [shapely.Polygon()] * len(which)
    sizes = lines.start[which + 1] - lines.start[which]
    widest = float(radii.max()) if len(radii) else 0.0
    bow = min(1.0, arc_tolerance / widest) if widest else 1.0
    quad_segs = max(4, math.ceil(math.pi / 4 / math.acos(1 - bow) if bow < 1 else 4))
    cap_style = _CAPS.get(cap, "flat")
    pointed = join not in ("round", "bevel")
    dots = np.flatnonzero(sizes == 1)
    for n in dots:
        # A subpath without length shows its caps only (SVG 2 §13.5.3).
        if cap != "butt":
            point = shapely.Point(lines.points(int(which[n]))[0])
            result[n] = shapely.buffer(point, radii[n], quad_segs=quad_segs, cap_style=cap_style)
    for closing in (False, True):
        enough = (sizes >= 3) & lines.closed[which] if closing else sizes >= 2
        if not closing:
            enough &= ~(lines.closed[which] & (sizes >= 3))
        chosen = np.flatnonzero(enough)
        if not len(chosen):
            continue
        curves = (lines.rings if closing else lines.linestrings)(which[chosen])
        sharpest = _sharpest_turn(lines, which[chosen], closing) if pointed else None
        for style, members in _by_join(join, sharpest, miter_limit):
            areas = shapely.buffer(
                curves[members],
                radii[chosen[members]],
                quad_segs=quad_segs,
                cap_style=cap_style,
                join_style=style,
                mitre_limit=miter_limit,
            )
            for n, area in zip(chosen[members], areas, strict=True):
                if pointed and style == "bevel":
                    points = lines.points(int(which[n]))
                    area = _union([area, *_miters(points, closing, radii[n], miter_limit)])
                result[n] = area
    return result


_SMOOTH = math.cos(math.radians(20))
"""Turns under 20° are steps of a flattened curve, not corners."""


def _by_join(
    join: str, sharpest: NDArray[np.float64] | None, miter_limit: float
) -> list[tuple[str, NDArray[np.bool_] | slice]]:
    """Return which shapely join draws which of the curves.

    Args:
        join: SVG's stroke-linejoin.
        sharpest: for miter joins, the cosine of each curve's sharpest turn.
        miter_limit: SVG's stroke-miterlimit.
    """
    if sharpest is None:
        return [(join, slice(None))]
    # Round joins keep the outline of a smooth curve exactly at half the width.
    smooth = sharpest > _SMOOTH
    # miter length / stroke width = 1 / sin(θ/2), θ between the segments; cos here is of π−θ.
    with np.errstate(divide="ignore"):
        over = 1 / np.sqrt(np.maximum((1 + sharpest) / 2, 0)) > miter_limit
    masks = {"round": smooth, "mitre": ~smooth & ~over, "bevel": ~smooth & over}
    return [(style, mask) for style, mask in masks.items() if mask.any()]


def _sharpest_turn(
    lines: _Polylines, which: NDArray[np.int64], closed: bool
) -> NDArray[np.float64]:
    """Return the cosine of the sharpest turn of each polyline, 1 where it never turns."""
    first, last = lines.start[which], lines.start[which + 1] - 1
    coords = lines.coords
    ahead = np.diff(coords, axis=0, append=coords[-1:])
    inner = np.zeros(len(coords), bool)
    turn = np.ones(len(coords))
    length = np.hypot(*ahead.T)
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = ahead / length[:, None]
        turn[1:] = (unit[1:] * unit[:-1]).sum(axis=1)
    inner[:] = True
    inner[lines.start[:-1]] = False
    inner[lines.start[1:] - 1] = False
    turn[~inner] = 1.0
    sharpest = np.array([turn[a : b + 1].min() for a, b in zip(first, last, strict=True)])
    if closed:
        # The turn where a closed line meets its own start.
        same = np.abs(coords[first] - coords[last]).max(axis=1) < 1e-12
        tail = np.where(same, last - 1, last)
        arriving = coords[first] - coords[tail]
        leaving = coords[first + 1] - coords[first]
        norm = np.hypot(*arriving.T) * np.hypot(*leaving.T)
        sharpest = np.minimum(sharpest, (arriving * leaving).sum(axis=1) / norm)
        # A line closed by a stroke of its own turns at its last point too.
        before = coords[tail] - coords[tail - 1]
        norm = np.hypot(*before.T) * np.hypot(*arriving.T)
        closing = (before * arriving).sum(axis=1) / norm
        sharpest = np.where(same, sharpest, np.minimum(sharpest, closing))
    return sharpest


def _miters(
    points: NDArray[np.float64], closed: bool, radius: float, miter_limit: float
) -> list[BaseGeometry]:
    """Return the miters within the limit of a polyline drawn with bevel joins.

    shapely cuts a miter beyond its limit off *at* the limit; SVG then draws a plain bevel.
    """
    ring = points
    if closed and np.abs(points[0] - points[-1]).max() < 1e-12:
        ring = points[:-1]
    if closed:
        before, at, after = np.roll(ring, 1, axis=0), ring, np.roll(ring, -1, axis=0)
    else:
        before, at, after = ring[:-2], ring[1:-1], ring[2:]
    u, v = at - before, after - at
    u /= np.hypot(*u.T)[:, None]
    v /= np.hypot(*v.T)[:, None]
    half = np.sqrt((1 + np.clip((u * v).sum(axis=1), -1.0, 1.0)) / 2)
    turn = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    miters: list[BaseGeometry] = []
    for n in np.flatnonzero((half * miter_limit >= 1) & (np.abs(turn) > 1e-12)):
        side = -math.copysign(1.0, turn[n])
        normal_u = np.array([-u[n, 1], u[n, 0]]) * side
        normal_v = np.array([-v[n, 1], v[n, 0]]) * side
        middle = normal_u + normal_v
        tip = middle / np.hypot(*middle) / half[n]
        corner = np.array([np.zeros(2), normal_u, tip, normal_v])
        miters.append(shapely.Polygon(at[n] + radius * corner))
    return miters


def _array(parts: Sequence[BaseGeometry]) -> Parts:
    array = np.empty(len(parts), dtype=object)
    array[:] = parts
    return array


def _intersection(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    try:
        return _polygonal(shapely.intersection(one, other))
    except shapely.errors.GEOSException:
        return _polygonal(shapely.intersection(shapely.make_valid(one), shapely.make_valid(other)))


def _union(parts: list[BaseGeometry]) -> BaseGeometry:
    if not parts:
        return shapely.Polygon()
    if len(parts) == 1:
        return parts[0]
    try:
        return _polygonal(shapely.union_all(parts))
    except shapely.errors.GEOSException:
        return _polygonal(shapely.union_all(shapely.make_valid(np.array(parts))))


def _polygonal(geometry: BaseGeometry) -> BaseGeometry:
    """Drop the points and lines that set operations leave where areas only touch."""
    if geometry.geom_type in ("Polygon", "MultiPolygon"):
        return geometry
    parts = [p for p in shapely.get_parts(geometry) if p.geom_type in ("Polygon", "MultiPolygon")]
    return shapely.union_all(parts) if parts else shapely.Polygon()
