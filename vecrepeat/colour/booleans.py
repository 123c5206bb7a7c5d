"""Set operations on areas whose corners lie on one fine grid.

In floating point, moving a polygon by a lattice vector rounds every corner by itself, which
can cross two edges that barely miss each other; set operations then go wrong by whole areas.
On a grid of a binary fraction of a millimetre every move by a multiple of it is exact, so an
area that is valid once stays valid wherever it is used.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vecrepeat.scene.areas import as_parts

GRID = 2.0**-20
"""The grid in mm: about a nanometre."""


def snapped(area: BaseGeometry) -> BaseGeometry:
    """Return an area with its corners on the grid; valid, whatever it was."""
    whole = polygonal(area)
    rounded = shapely.transform(whole, lambda xy: np.round(xy / GRID) * GRID)
    if shapely.is_valid(rounded):
        return rounded
    # Snap rounding mends what plain rounding has crossed, at many times the cost: try those
    # polygons alone that are crossed.
    parts = shapely.get_parts(rounded)
    crossed = ~shapely.is_valid(parts)
    mended = _snap_rounded(shapely.get_parts(whole)[crossed])
    local = polygonal(shapely.geometrycollections([*parts[~crossed], *_polygons(mended)]))
    if shapely.is_valid(local):
        return local
    return polygonal(_snap_rounded(np.array([whole], dtype=object))[0])


def _snap_rounded(areas: NDArray[np.object_]) -> NDArray[np.object_]:
    # Snap rounding asks for valid areas.
    invalid = ~shapely.is_valid(areas)
    areas[invalid] = shapely.make_valid(areas[invalid])
    result: NDArray[np.object_] = shapely.set_precision(areas, GRID)
    return result


def _polygons(geometries: NDArray[np.object_]) -> list[BaseGeometry]:
    """Return the polygons that geometries are made of, collections in collections included."""
    parts = shapely.get_parts(shapely.get_parts(geometries))
    return [part for part in parts if part.geom_type == "Polygon" and not part.is_empty]


def moved(area: BaseGeometry, dx: float, dy: float) -> BaseGeometry:
    """Return an area on the grid moved by the multiple of the grid nearest to (dx, dy)."""
    shift = np.round(np.array([dx, dy]) / GRID) * GRID
    return shapely.transform(area, lambda xy: xy + shift)


def union(areas: Sequence[BaseGeometry]) -> BaseGeometry:
    """Return the area of all areas together."""
    if not areas:
        return shapely.Polygon()
    if len(areas) == 1:
        return areas[0]
    # Most art lies apart: only what touches is worth uniting.
    return snapped(shapely.disjoint_subset_union_all(as_parts(list(areas))))


def intersection(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Return the area that two areas share."""
    return snapped(shapely.intersection(one, other))


def within(area: BaseGeometry, box: BaseGeometry) -> BaseGeometry:
    """Return the part of an area in an upright box; polygons wholly in it are not looked at."""
    parts = shapely.get_parts(area)
    x0, y0, x1, y1 = shapely.bounds(parts).T
    left, top, right, bottom = box.bounds
    inside = (x0 >= left) & (y0 >= top) & (x1 <= right) & (y1 <= bottom)
    cut = shapely.get_parts([intersection(part, box) for part in parts[~inside]])
    kept = [*parts[inside], *(part for part in cut if not part.is_empty)]
    return kept[0] if len(kept) == 1 else shapely.MultiPolygon(kept)


def difference(area: BaseGeometry, taken: BaseGeometry) -> BaseGeometry:
    """Return an area less another."""
    if taken.is_empty:
        return area
    return snapped(shapely.difference(area, taken))


def polygonal(geometry: BaseGeometry) -> BaseGeometry:
    """Return the polygons of a geometry, without the points and lines of areas that touch."""
    if geometry.geom_type in ("Polygon", "MultiPolygon"):
        return geometry
    parts = _polygons(np.array([geometry], dtype=object))
    return shapely.MultiPolygon(parts) if parts else shapely.Polygon()
