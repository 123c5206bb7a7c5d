"""The painted outline of motifs: fills, strokes and clip paths as shapely polygons.

All shapes of a drawing are flattened, made into rings and buffered together, so that the
cost per motif is a few vectorised calls.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.scene.areas import MAX_SIDES, Parts, as_parts, enclosed, intersection, union
from vecrepeat.scene.nodes import Clip, Group, Image, Node, Path
from vecrepeat.scene.polylines import PaintedShape, Polylines, mapped
from vecrepeat.scene.segments import outline_box, rect_segments, segments_of, tight_box
from vecrepeat.scene.strokes import stroke_areas

DEFAULT_TOLERANCE = 0.02
"""Greatest distance in mm between a curve and its outline."""


@dataclass
class Outliner:
    """Outlines many nodes in one go.

    Args:
        tolerance: flattening tolerance in mm.
    """

    tolerance: float = DEFAULT_TOLERANCE
    _clips: dict[tuple[int, Affine], tuple[Clip, BaseGeometry]] = field(default_factory=dict)

    def parts(self, nodes: Sequence[tuple[Node, Affine]]) -> list[Parts]:
        """Return the painted area of each node in mm, in parts that may overlap.

        Masks, filters and live text are not looked into.

        Args:
            nodes: each with the map from the user units it stands in to mm.

        Returns:
            For each node an array of polygons and multipolygons whose union is its outline;
            empty where nothing is painted. Uniting them costs more than all the rest, and
            most questions need no union.
        """
        shapes: list[PaintedShape] = []
        for index, (node, matrix) in enumerate(nodes):
            self._walk(node, matrix, index, (), shapes)
        found: list[list[BaseGeometry]] = [[] for _ in nodes]
        for shape, areas in zip(shapes, self.painted(shapes), strict=True):
            found[shape.motif].extend(areas)
        return [as_parts(parts) for parts in found]

    def _walk(
        self,
        node: Node,
        matrix: Affine,
        motif: int,
        clips: tuple[BaseGeometry, ...],
        shapes: list[PaintedShape],
    ) -> None:
        if isinstance(node, Group):
            matrix = matrix @ node.transform
            if node.opacity == 0 or matrix.determinant == 0:
                return
            if node.clip is not None:
                clips = (*clips, self.clip_area(node.clip, matrix))
            for child in node.children:
                self._walk(child, matrix, motif, clips, shapes)
        elif isinstance(node, Path):
            shape = shape_of(node, matrix, motif, clips)
            if shape is not None:
                shapes.append(shape)
        elif isinstance(node, Image):
            box = rect_segments(node.box)
            shapes.append(PaintedShape(motif, box, matrix, "nonzero", None, clips))

    def clip_area(self, clip: Clip, matrix: Affine) -> BaseGeometry:
        """Return the area a clip leaves visible, in mm.

        Args:
            clip: the clip.
            matrix: from the clipped group's user units to mm.
        """
        # Drawings put one clip on many elements, and clips on clips would multiply.
        key = (id(clip), matrix)
        if key not in self._clips:
            self._clips[key] = (clip, self._clip_area(clip, matrix))
        return self._clips[key][1]

    def _clip_area(self, clip: Clip, matrix: Affine) -> BaseGeometry:
        shapes: list[PaintedShape] = []
        # A clip's groups hold nothing else than what counts for its area.
        for child in clip.children:
            self._walk(child, matrix, 0, (), shapes)
        area = union([part for areas in self.painted(shapes) for part in areas])
        if clip.clip is not None:
            area = intersection(area, self.clip_area(clip.clip, matrix))
        return area

    def painted(self, shapes: Sequence[PaintedShape]) -> list[list[BaseGeometry]]:
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


def shape_of(
    path: Path, matrix: Affine, motif: int = 0, clips: tuple[BaseGeometry, ...] = ()
) -> PaintedShape | None:
    """Return a path as a shape to be outlined, or None where it paints nothing."""
    if path.fill is None and path.stroke is None:
        return None
    segments = segments_of(path.outline)
    if not len(segments.points):
        return None
    rule = None
    if path.fill is not None:
        rule = "evenodd" if path.fill.even_odd else "nonzero"
    return PaintedShape(motif, segments, matrix, rule, path.stroke, clips)


def object_box(
    node: Node, shapes: Mapping[int, tuple[Node, Path]] = MappingProxyType({})
) -> Rect | None:
    """Return a node's bounding box in the user units it stands in (SVG 2 §8.10): no strokes.

    Shapes count that paint nothing; live text does not, whose box only its fonts know.

    Args:
        node: the node.
        shapes: by identity, nodes that stand for a path with markers or a pattern, and that path.
    """
    boxes: list[Rect] = []
    todo: list[tuple[Node, Affine]] = [(node, IDENTITY)]
    while todo:
        current, matrix = todo.pop()
        if id(current) in shapes:
            current = shapes[id(current)][1]
        if isinstance(current, Group):
            matrix = matrix @ current.transform
            todo += [(child, matrix) for child in current.children]
        elif isinstance(current, Path):
            if matrix == IDENTITY:
                box = outline_box(current.outline)
                boxes += [] if box is None else [box]
            elif len((segments := segments_of(current.outline)).points):
                boxes.append(tight_box(mapped(segments.points, matrix), segments.straight))
        elif isinstance(current, Image):
            points = rect_segments(current.box).points
            boxes.append(tight_box(mapped(points, matrix), np.ones(4, bool)))
    return Rect.enclosing(boxes) if boxes else None


def _fill_areas(
    shapes: Sequence[PaintedShape], lines: Polylines, areas: list[list[BaseGeometry]]
) -> None:
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
