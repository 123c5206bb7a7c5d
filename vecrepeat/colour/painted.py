"""What a motif paints, shape by shape and in stacking order: areas and what fills them.

A motif's outline says where it paints; a palette or a separation must know with what. Its fills
and strokes are outlined each on its own, and handed on with their paints, the last on top.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import reduce
from typing import NamedTuple

import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.core.geometry import IDENTITY, Affine
from vecrepeat.repeat.model import Motif
from vecrepeat.scene import kinds
from vecrepeat.scene.areas import intersection, union
from vecrepeat.scene.kinds import Feature
from vecrepeat.scene.nodes import Gradient, Group, Node, Path
from vecrepeat.scene.outline import DEFAULT_TOLERANCE, Outliner, shape_of
from vecrepeat.scene.polylines import PaintedShape

BEYOND_SHAPES = frozenset(
    (
        *(kinds.TEXT, kinds.IMAGE, kinds.MASK, kinds.FILTER, kinds.BLEND),
        *(kinds.PATTERN, kinds.NON_SCALING),
    )
)
"""Features whose ink is not what the fills and strokes of shapes say."""

Colour = str | Gradient
"""``#rrggbb`` or a gradient: what areas are told of."""


class PaintLayer(NamedTuple):
    """One fill or stroke.

    Attributes:
        area: what it covers, in mm, as a polygon or multipolygon.
        paint: what with; a gradient's matrix leads to mm.
        opacity: 0 to 1, without that of the groups it stands in.
    """

    area: BaseGeometry
    paint: Colour
    opacity: float


class Veil(NamedTuple):
    """Layers that fade as one (SVG 2 §3.5, *Group opacity*).

    Attributes:
        layers: what is drawn first, the last on top.
        opacity: 0 to 1.
    """

    layers: tuple[PaintLayer | Veil, ...]
    opacity: float


def beyond_shapes(motif: Motif) -> tuple[Feature, ...]:
    """Return the features for which :func:`painted_layers` can't tell where the ink is."""
    return tuple(feature for feature in motif.features if feature.kind in BEYOND_SHAPES)


def painted_layers(
    motif: Motif, *, tolerance: float = DEFAULT_TOLERANCE
) -> tuple[PaintLayer | Veil, ...]:
    """Return a motif's fills and strokes in stacking order, the last on top, in its own mm.

    Pictures, text, masks, filters and blend modes are not looked into; see
    :func:`beyond_shapes`. Polygons are at most ``tolerance`` mm off a curve.
    """
    outliner = Outliner(tolerance)
    shapes: list[PaintedShape] = []
    layers = _walked(motif.scene, IDENTITY, (), outliner, shapes)
    # All are outlined in one go, which takes a third of the time.
    painted = outliner.painted([replace(shape, clips=()) for shape in shapes])
    areas = (
        reduce(intersection, shape.clips, union(parts))
        for shape, parts in zip(shapes, painted, strict=True)
    )
    return _with_areas(layers, areas)


def _walked(
    node: Node,
    matrix: Affine,
    clips: tuple[BaseGeometry, ...],
    outliner: Outliner,
    shapes: list[PaintedShape],
) -> list[PaintLayer | Veil]:
    """Return what a node paints, and add a shape for each layer whose area is still to come.

    ``matrix`` leads from what the node stands in to mm, where it is cut to ``clips``.
    """
    found: list[PaintLayer | Veil] = []
    if isinstance(node, Path):
        for part in (node.stroke, node.fill) if node.stroke_first else (node.fill, node.stroke):
            if part is None:
                continue
            alone = replace(
                node,
                fill=node.fill if part is node.fill else None,
                stroke=node.stroke if part is node.stroke else None,
            )
            shape = shape_of(alone, matrix, 0, clips)
            paint = part.paint
            if isinstance(paint, Gradient):
                paint = replace(paint, matrix=matrix @ paint.matrix)
            # Patterns are not looked into.
            if shape is not None and isinstance(paint, str | Gradient):
                found.append(PaintLayer(shapely.Polygon(), paint, part.opacity))
                shapes.append(shape)
    elif isinstance(node, Group) and node.opacity > 0:
        inner = matrix @ node.transform
        if inner.determinant == 0:
            return []
        if node.clip is not None:
            clips = (*clips, outliner.clip_area(node.clip, inner))
        for child in node.children:
            found += _walked(child, inner, clips, outliner, shapes)
        if found and node.opacity < 1:
            return [Veil(tuple(found), node.opacity)]
    return found


def _with_areas(
    layers: Iterable[PaintLayer | Veil], areas: Iterator[BaseGeometry]
) -> tuple[PaintLayer | Veil, ...]:
    """Return layers with their areas, without those that paint nothing."""
    found: list[PaintLayer | Veil] = []
    for layer in layers:
        if isinstance(layer, Veil):
            if inner := _with_areas(layer.layers, areas):
                found.append(layer._replace(layers=inner))
        elif not (area := next(areas)).is_empty:
            found.append(layer._replace(area=area))
    return tuple(found)
