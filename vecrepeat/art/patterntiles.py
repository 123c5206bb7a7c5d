"""The lattice of a pattern: its tile as a shape sees it, and which tiles meet a box.

Source: SVG 2 §14.3, *Patterns*. Where its wording leaves the content of a pattern with ``x``
and ``y`` where it is, every renderer moves it along, and so do we: the content's origin is
the tile's corner.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import shapely
from lxml import etree
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.page import Viewport, parse_view_box, user_length
from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.scene.fit import view_box_transform

MAX_TILES = 4_000
"""A fill of more copies than this is left to the renderer."""

_EPSILON = 1e-5
"""What counts as nothing, as a share of the tile's larger side."""

_UNIT = Viewport(1.0, 1.0)


@dataclass(frozen=True)
class PatternTile:
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


def tile_of(pattern: etree._Element, box: Rect) -> PatternTile | None:
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
    matrix = Affine.from_svg(pattern.get("patternTransform"))
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
    return PatternTile(matrix @ Affine.translation(x, y), width, height, content)


def tiles_in(
    tile: PatternTile, box: Rect, reach: Rect | None = None
) -> list[tuple[int, int]] | float:
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
