"""What a motif paints, shape by shape and in stacking order: areas and what fills them.

A motif's outline says where it paints; a palette or a separation must know with what. Its fills
and strokes are outlined each on its own, and handed on with their paints, the last on top.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from shapely.geometry.base import BaseGeometry

from vecrepeat.core.geometry import IDENTITY, Affine
from vecrepeat.repeat.model import Motif
from vecrepeat.scene import kinds
from vecrepeat.scene.areas import intersection, union
from vecrepeat.scene.kinds import Feature
from vecrepeat.scene.nodes import Gradient, Group, Node, Paint, Path
from vecrepeat.scene.outline import DEFAULT_TOLERANCE, Outliner, shape_of
from vecrepeat.scene.polylines import Shape

BEYOND_SHAPES = frozenset(
    (
        *(kinds.TEXT, kinds.IMAGE, kinds.MASK, kinds.FILTER, kinds.BLEND),
        *(kinds.PATTERN, kinds.NON_SCALING),
    )
)
"""Features whose ink is not what the fills and strokes of shapes say."""


Colour = str | Gradient
"""``#rrggbb`` or a gradient: what areas are told of."""


class Layer(NamedTuple):
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

    layers: tuple[Layer | Veil, ...]
    opacity: float


def beyond_shapes(motif: Motif) -> tuple[Feature, ...]:
    """Return the features for which :func:`painted_layers` can't tell where the ink is."""
    return tuple(feature for feature in motif.features if feature.kind in BEYOND_SHAPES)


def painted_layers(
    motif: Motif, *, tolerance: float = DEFAULT_TOLERANCE
) -> tuple[Layer | Veil, ...]:
    """Return a motif's fills and strokes in stacking order, the last on top, in its own mm.

    Pictures, text, masks, filters and blend modes are not looked into; see
    :func:`beyond_shapes`.

    Args:
        motif: the motif.
        tolerance: the greatest distance in mm between a curve and its polygon.
    """
    reader = _Reader(tolerance)
    found = reader.walk(motif.scene, IDENTITY, ())
    areas = reader.areas()
    return tuple(layer for item in found if (layer := _settled(item, areas)) is not None)


class _Pending(NamedTuple):
    """A layer whose area is the reader's nth."""

    number: int
    paint: Colour
    opacity: float


class _PendingVeil(NamedTuple):
    layers: list[_Pending | _PendingVeil]
    opacity: float


def _settled(item: _Pending | _PendingVeil, areas: Sequence[BaseGeometry]) -> Layer | Veil | None:
    """Return a layer with its area, or None where it paints nothing."""
    if isinstance(item, _Pending):
        area = areas[item.number]
        return None if area.is_empty else Layer(area, item.paint, item.opacity)
    inner = (_settled(layer, areas) for layer in item.layers)
    layers = tuple(layer for layer in inner if layer is not None)
    return Veil(layers, item.opacity) if layers else None


class _Reader:
    """Collects the fills and strokes of a motif, so that all are outlined in one go."""

    def __init__(self, tolerance: float) -> None:
        self._outliner = Outliner(tolerance)
        self._shapes: list[Shape] = []

    def areas(self) -> list[BaseGeometry]:
        """Return the area of every fill and stroke met, by number."""
        bare = [replace(shape, clips=()) for shape in self._shapes]
        areas = []
        for shape, parts in zip(self._shapes, self._outliner.painted(bare), strict=True):
            area = union(parts)
            for clip in shape.clips:
                area = intersection(area, clip)
            areas.append(area)
        return areas

    def walk(
        self, node: Node, matrix: Affine, clips: tuple[BaseGeometry, ...]
    ) -> list[_Pending | _PendingVeil]:
        """Return what a node paints; ``matrix`` is from what it stands in to mm."""
        found: list[_Pending | _PendingVeil] = []
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
                paint = _in_mm(part.paint, matrix)
                if shape is not None and paint is not None:
                    found.append(_Pending(len(self._shapes), paint, part.opacity))
                    self._shapes.append(shape)
        elif isinstance(node, Group) and node.opacity > 0:
            inner = matrix @ node.transform
            if inner.determinant == 0:
                return []
            if node.clip is not None:
                clips = (*clips, self._outliner.clip_area(node.clip, inner))
            for child in node.children:
                found += self.walk(child, inner, clips)
            if found and node.opacity < 1:
                return [_PendingVeil(found, node.opacity)]
        return found


def _in_mm(paint: Paint, matrix: Affine) -> Colour | None:
    """Return a paint as it lies in mm; None for patterns, which are not looked into."""
    if isinstance(paint, Gradient):
        return replace(paint, matrix=matrix @ paint.matrix)
    return paint if isinstance(paint, str) else None
