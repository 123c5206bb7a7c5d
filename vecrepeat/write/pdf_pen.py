"""The stream being written: its state, paths as operators, and what soft masks are made of.

Standard: ISO 32000-1 §8.4 (graphics state), §8.5.2 (path construction), §11.6.5 (soft masks).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from pikepdf import Dictionary, Name, Object

from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.scene.nodes import Image, Node, Path, Stroke
from vecrepeat.scene.polylines import mapped
from vecrepeat.scene.segments import Floats, Segments, rect_segments, segments_of
from vecrepeat.scene.visit import walk
from vecrepeat.write.pdf_resources import Resources, decimal, digits_for, numbers


@dataclass
class StreamPen:
    """The stream being written and where it stands.

    Attributes:
        to_form: from the current user units to the stream's own.
        grey: whether colours are written as the luminance that a mask is made of.
        scale: mm of paper to the stream's own unit.
        out: what has been written.
        state: operators in force, by what they set.
    """

    to_form: Affine
    grey: bool = False
    scale: float = 1.0
    out: list[str] = field(default_factory=list)
    state: dict[str, str] = field(default_factory=dict)

    def set(self, what: str, operator: str) -> None:
        """Write an operator of the graphics state unless it is in force."""
        if self.state.get(what) != operator:
            self.state[what] = operator
            self.out.append(operator)

    @property
    def digits(self) -> int:
        """Decimals of coordinates in the current user units."""
        return digits_for(self.scale * self.to_form.stretch)

    def inner(self, *, grey: bool) -> StreamPen:
        """Return the pen of a form whose units are this pen's current user units."""
        return StreamPen(IDENTITY, grey, self.scale * self.to_form.stretch)


def masked(resources: Resources, content: str, box: Rect, masks: list[Object], space: str) -> str:
    """Return content under soft masks: a graphics state holds one, so each takes a group."""
    for mask in masks:
        form = resources.form(content, box, group=space)
        name = resources.named("XObject", form)
        content = f"q /{resources.state(SMask=mask)} gs /{name} Do Q"
    return content


def soft_mask(kind: str, form: Object) -> Dictionary:
    """Return a soft-mask dictionary (§11.6.5.2): outside the form nothing shows."""
    mask = Dictionary(Type=Name.Mask, S=Name(f"/{kind}"), G=form)
    if kind == "Luminosity":
        mask.BC = numbers([0.0])
    return mask


def area_text(box: Rect) -> str:
    return " ".join(decimal(v) for v in (box.x0, box.y0, box.width, box.height)) + " re"


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
