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
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.areas import as_parts

GRID = 2.0**-20
"""The grid in mm: about a nanometre."""


def snapped(area: BaseGeometry) -> BaseGeometry:
    """Return an area with its corners on the grid; valid, whatever it was."""
    rounded = polygonal(shapely.transform(area, lambda xy: np.round(xy / GRID) * GRID))
    if shapely.is_valid(rounded):
        return rounded
    # Snap rounding mends what plain rounding has crossed, at several times the cost.
    return polygonal(shapely.set_precision(area, GRID))


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


def difference(area: BaseGeometry, taken: BaseGeometry) -> BaseGeometry:
    """Return an area less another."""
    if taken.is_empty:
        return area
    return snapped(shapely.difference(area, taken))


def polygonal(geometry: BaseGeometry) -> BaseGeometry:
    """Return the polygons of a geometry, without the points and lines of areas that touch."""
    if geometry.geom_type in ("Polygon", "MultiPolygon"):
        return geometry
    parts = [p for p in shapely.get_parts(geometry) if p.geom_type == "Polygon"]
    return shapely.MultiPolygon(parts) if parts else shapely.Polygon()
