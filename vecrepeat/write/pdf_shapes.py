"""Shapes as PDF path operators, and how far nodes reach.

Standard: ISO 32000-1 §8.5.2 (path construction).
"""

from __future__ import annotations

import numpy as np

from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.scene.nodes import Image, Node, Path, Stroke
from vecrepeat.scene.polylines import mapped
from vecrepeat.scene.segments import Floats, Segments, rect_segments, segments_of
from vecrepeat.scene.visit import walk
from vecrepeat.write.pdf_resources import decimal


def path_text(segments: Segments, digits: int, matrix: Affine | None = None) -> str:
    """Return segments as path operators.

    Args:
        segments: of one or more subpaths.
        digits: decimals of coordinates.
        matrix: what to map them by.
    """
    points: Floats = segments.points
    if matrix is not None:
        points = mapped(points, matrix)
    out: list[str] = []
    last = -1
    rows = points.reshape(-1, 8).tolist()
    ends = np.append(segments.subpath[1:] != segments.subpath[:-1], True)
    for row, straight, subpath, end in zip(
        rows, segments.straight.tolist(), segments.subpath.tolist(), ends.tolist(), strict=True
    ):
        if subpath != last:
            start = row[:2]
            out.append(f"{decimal(row[0], digits)} {decimal(row[1], digits)} m")
            last = subpath
        closing = end and bool(segments.closed[subpath])
        if not straight:
            out.append(" ".join(decimal(v, digits) for v in row[2:]) + " c")
        elif not (closing and row[6:] == start):
            # The last side of a closed shape is drawn by closing it.
            out.append(f"{decimal(row[6], digits)} {decimal(row[7], digits)} l")
        if closing:
            out.append("h")
    return "\n".join(out)


def reach(stroke: Stroke | None) -> float:
    """Return how far a stroke can lie outside its shape."""
    if stroke is None:
        return 0.0
    factor = max(stroke.miter_limit, 1.5) if stroke.join == "miter" else 1.5
    return stroke.width / 2 * factor


def painted_box(node: Node) -> Rect | None:
    """Return bounds of all that a node paints, in the units it stands in, strokes included.

    They may be too large but never too small.
    """
    boxes: list[Rect] = []
    for current, matrix in walk(node, IDENTITY):
        if isinstance(current, Path):
            segments, by = segments_of(current.outline), reach(current.stroke)
        elif isinstance(current, Image):
            segments, by = rect_segments(current.box), 0.0
        else:
            continue
        if len(segments.points):
            points = mapped(segments.points, matrix).reshape(-1, 2)
            bounds = Rect.of((*points.min(axis=0), *points.max(axis=0)))
            boxes.append(bounds.grown(by * matrix.stretch))
    return Rect.enclosing(boxes) if boxes else None
