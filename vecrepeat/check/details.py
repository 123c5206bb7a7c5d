"""Lines too thin, gaps too narrow and details too small for a process, by exact geometry.

A shape is thinner than w exactly where a disc of diameter w does not fit: what opening it
(eroding, then dilating, by w / 2) takes away. Gaps likewise, by closing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.check.plane import Plane
from vecrepeat.repeat.model import Placement
from vecrepeat.repeat.wrap import Floats, Ints, Shapes
from vecrepeat.scene.outline import DEFAULT_TOLERANCE

LONG = 3.0
"""What is at least so many limits long is a line or a gap, and no mere corner or detail."""

SEGMENTS = 4
"""Edges to a quarter of the discs: they are true to 2 % of half a limit.

What is thinner than a limit by less than the 5 % that discs grow by coming back is not told.
"""


class Thin(NamedTuple):
    """Places of one placement that are too fine.

    Attributes:
        placement: whose.
        kind: ``line``, ``gap`` or ``detail``.
        width: of the narrowest in mm.
        places: all of them, mm of the tile.
    """

    placement: int
    kind: str
    width: float
    places: BaseGeometry


def too_fine(plane: Plane, line: float, gap: float, detail: float) -> list[Thin]:
    """Return lines thinner than, gaps narrower than and details smaller than limits in mm.

    A motif is looked at once for each of its sizes: moved, turned or mirrored it is as fine.
    """
    placements = plane.repeat.placements
    alike: dict[tuple[object, ...], list[int]] = {}
    for k, placement in enumerate(placements):
        alike.setdefault(_size_key(placement, k), []).append(k)
    groups = list(alike.values())
    found = []
    for thin in _too_fine(plane.of([group[0] for group in groups]), line, gap, detail):
        group = groups[thin.placement]
        inward = placements[group[0]].transform.inverse()
        for k in group:
            places = thin.places
            if k != group[0]:
                places = shapely.transform(places, (placements[k].transform @ inward).apply)
            found.append(thin._replace(placement=k, places=places))
    return sorted(found, key=lambda thin: thin.placement)


def _size_key(placement: Placement, number: int) -> tuple[object, ...]:
    """Return what placements share that are as fine as each other."""
    transform = placement.transform
    if not transform.is_similarity():
        return (number,)
    return (id(placement.motif), round(math.hypot(transform.a, transform.b), 9))


def _too_fine(plane: Plane, line: float, gap: float, detail: float) -> list[Thin]:
    merged: dict[tuple[int, str], Thin] = {}
    for kind, places, owner in (
        *_slight(plane, line, detail),
        _necks(plane, line),
        _gaps(plane, gap),
    ):
        for k in np.unique(owner).tolist():
            # Made small, an outline may cross itself by its rounding.
            mine = shapely.make_valid(places[owner == k])
            measure = _extent if kind == "detail" else _width
            width = min(measure(place) for place in mine[:50])
            thin = Thin(k, kind, width, shapely.union_all(mine))
            if before := merged.get((k, kind)):
                both = shapely.union_all([before.places, thin.places])
                thin = thin._replace(width=min(before.width, width), places=both)
            merged[k, kind] = thin
    return list(merged.values())


def _width(shape: BaseGeometry) -> float:
    """Return the width of a shape at its widest."""
    circle = shapely.maximum_inscribed_circle(shape, tolerance=max(1e-4, shape.length * 1e-4))
    return float(2 * shapely.length(circle))


def _extent(shape: BaseGeometry) -> float:
    return float(2 * shapely.minimum_bounding_radius(shape))


def _sides(shapes: Shapes) -> Floats:
    """Return the widths and heights of boxes, shape (n, 2)."""
    boxes = shapely.bounds(shapes)
    sides: Floats = boxes[:, 2:] - boxes[:, :2]
    return sides


def _slight(plane: Plane, line: float, detail: float) -> Iterator[tuple[str, Shapes, Ints]]:
    """Yield painted shapes that are a thin line as a whole, or a speck."""
    tree, owner = plane.repeat.index
    parts, part = shapely.get_parts(tree.geometries, return_index=True)
    owner = owner[part]
    # A shape holds a disc of radius area / perimeter, so most need no erosion to be told fit.
    slim = shapely.area(parts) <= shapely.length(parts) * line / 2
    # Nor need those be measured that are wide enough for their boxes to tell.
    extent = _sides(parts).max(axis=1)
    close = slim | (extent < detail)
    extent[close] = 2 * shapely.minimum_bounding_radius(parts[close])
    # Where the process prints neither a line nor a dot of that size, one name is enough.
    # What is smaller than outlines are true to is what clipping leaves, and no paint.
    speck = (extent < detail) & (extent > DEFAULT_TOLERANCE)
    yield "detail", parts[speck], owner[speck]
    slim &= ~speck & (extent >= LONG * line)
    slim &= 2 * shapely.area(parts) > DEFAULT_TOLERANCE * shapely.length(parts)
    parts, owner = parts[slim], owner[slim]
    lost = shapely.is_empty(shapely.buffer(parts, -line / 2))
    yield "line", parts[lost], owner[lost]


def _necks(plane: Plane, limit: float) -> tuple[str, Shapes, Ints]:
    """Return stems and necks thinner than a limit between or beside wider places."""
    parts, owner = shapely.get_parts(plane.outlines, return_index=True)
    body = shapely.buffer(parts, -limit / 2, quad_segs=SEGMENTS)
    keep = ~shapely.is_empty(body)
    parts, owner, body = parts[keep], owner[keep], body[keep]
    opened = shapely.buffer(body, limit / 2 * 1.05, quad_segs=SEGMENTS)
    rest = shapely.difference(parts, opened)

    def finer(shapes: Shapes) -> Shapes:
        opened = shapely.buffer(shapely.buffer(shapes, -limit / 4), limit / 4 * 1.05)
        lost: Shapes = shapely.difference(shapes, opened)
        return lost

    return ("line", *_long(parts, rest, finer, owner, limit))


def _gaps(plane: Plane, limit: float) -> tuple[str, Shapes, Ints]:
    """Return gaps narrower than a limit within a motif's painted area."""
    shapes = plane.outlines
    rest, owner = _closing(shapes, limit), np.arange(len(shapes))
    return ("gap", *_long(shapes, rest, lambda some: _closing(some, limit / 2), owner, limit))


def _closing(shapes: Shapes, limit: float) -> Shapes:
    wider = shapely.buffer(shapes, limit / 2, quad_segs=SEGMENTS)
    closed = shapely.buffer(wider, -limit / 2 * 1.05, quad_segs=SEGMENTS)
    rest: Shapes = shapely.difference(closed, shapes)
    return rest


def _long(
    shapes: Shapes, rest: Shapes, finer: Callable[[Shapes], Shapes], owner: Ints, limit: float
) -> tuple[Shapes, Ints]:
    """Return the long pieces that keep their width, of what opening or closing made differ.

    A tip that tapers to nothing is no thin line: opened with half the disc it is half as long,
    while a line of even width is either as long or gone. ``rest`` is what a disc of the limit
    takes away from each shape or fills in; ``finer`` tells that for a disc of half the size.
    """
    pieces, index = shapely.get_parts(rest, return_index=True)
    # Most are scraps, and their boxes tell that they can't be so long.
    large = np.hypot(*_sides(pieces).T) >= LONG * limit
    pieces, index = pieces[large], index[large]
    length = 2 * shapely.minimum_bounding_radius(pieces)
    # What is finer than outlines are true to is where two of them part company, and no paint.
    real = shapely.area(pieces) > DEFAULT_TOLERANCE * length
    long = (length >= LONG * limit) & real
    pieces, index, length = pieces[long], index[long], length[long]
    which = np.unique(index)
    # No disc reaches farther than its own size: the shapes round the pieces are enough.
    around = shapely.bounds(pieces) + np.array([-2, -2, 2, 2]) * limit
    windows = shapely.box(*around.T)
    near = [shapely.union_all(windows[index == k]) for k in which]
    fine = finer(shapely.intersection(shapes[which], near))
    fine, fine_index = shapely.get_parts(fine, return_index=True)
    fine_index = which[fine_index]
    kept = np.zeros(len(pieces), bool)
    for k in range(len(pieces)):
        within = fine[fine_index == index[k]]
        within = within[shapely.intersects(within, pieces[k])]
        longest = max((_extent(p) for p in within), default=0.0)
        kept[k] = not 0.2 < longest / length[k] < 0.8
    return pieces[kept], owner[index[kept]]
