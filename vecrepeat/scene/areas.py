"""Areas as shapely polygons: sets of parts, and what rings enclose under a fill rule."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

MAX_CROSSINGS = 300_000
"""The most crossings of its own outline at which a shape's area is worked out exactly."""

MAX_TESTS = 1_000_000_000
"""The most steps, faces times sides, that working out which faces are inside may take."""

MAX_SIDES = 300_000
"""The most sides of a shape that crosses itself whose area is worked out exactly."""

_KEPT = 0.5
"""Share of an area that mending by structure keeps, if it does not lose a ring."""

_PROBED = (20, 1_000)
"""Sides that are looked at to estimate the crossings: the few tell where there are very many."""

Parts = NDArray[np.object_]
"""Polygons and multipolygons, shape (n,), whose union is an area; they may overlap."""


def as_parts(parts: Sequence[BaseGeometry]) -> Parts:
    """Return geometries as an object array of shape (n,)."""
    array = np.empty(len(parts), dtype=object)
    array[:] = parts
    return array


def intersection(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Return the area two areas share."""
    try:
        return _polygonal(shapely.intersection(one, other))
    except shapely.errors.GEOSException:
        return _polygonal(shapely.intersection(shapely.make_valid(one), shapely.make_valid(other)))


def mended(areas: NDArray[np.object_]) -> NDArray[np.object_]:
    """Return areas of which rounding, of a turn say, has crossed what barely touches, valid."""
    crossed = np.flatnonzero(~shapely.is_valid(areas))
    found = areas.copy()
    found[crossed] = shapely.make_valid(areas[crossed], method="structure", keep_collapsed=False)
    # By structure some rings come out empty (GEOS 3.14); by lines they do not.
    for k in crossed:
        if found[k].area < _KEPT * areas[k].area:
            found[k] = _polygonal(shapely.make_valid(areas[k]))
    return found


def union(parts: Sequence[BaseGeometry]) -> BaseGeometry:
    """Return the area of all parts together."""
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
    winding number of one of its points. Where there are too many for that, the area is their
    convex hull, which has the same bounds and holds it.
    """
    if _too_tangled(rings):
        return _polygonal(shapely.MultiPoint(shapely.get_coordinates(rings)).convex_hull)
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
    return union(list(faces[_is_inside(winding, even_odd)]))


def _too_tangled(rings: Parts) -> bool:
    """Whether rings have too many sides or, by a sample of them, cross too often."""
    count = int(shapely.get_num_coordinates(rings).sum())
    if count <= _PROBED[-1]:
        return False
    if count > MAX_SIDES:
        return True
    coords, ring = shapely.get_coordinates(rings, return_index=True)
    steps = np.flatnonzero(ring[1:] == ring[:-1])
    ends = np.stack([coords[steps], coords[steps + 1]], axis=1)
    sides = shapely.linestrings(ends)
    tree = shapely.STRtree(sides)
    for probed, most in zip(_PROBED, (10, 1), strict=True):
        sample = sides[:: max(1, len(sides) // probed)]
        # Each meets itself and its two neighbours.
        meets = len(tree.query(sample, predicate="intersects")[0]) / len(sample) - 3
        crossings = max(0.0, meets) * len(sides) / 2
        if max(crossings / MAX_CROSSINGS, crossings * count / MAX_TESTS) > most:
            return True
    return False


def enclosed(
    rings: Parts, polygons: Parts, valid: NDArray[np.bool_], even_odd: bool
) -> list[BaseGeometry]:
    """Return the parts of the area that one shape's rings enclose under its fill rule.

    Args:
        rings: linear rings, shape (n,).
        polygons: the polygon within each.
        valid: whether each of those is a valid polygon.
        even_odd: the fill rule, else nonzero.
    """
    if not valid.all():
        return [filled_area(rings, even_odd)]
    if len(rings) == 1:
        return [polygons[0]]
    ccw = shapely.is_ccw(rings)
    alike = not even_odd and (ccw.all() or not ccw.any())
    if alike or _boxes_apart(shapely.bounds(polygons)):
        # Rings that run the same way never cancel: each one's area is painted.
        return list(polygons)
    nested = _nested_area(polygons, even_odd)
    return [filled_area(rings, even_odd) if nested is None else nested]
