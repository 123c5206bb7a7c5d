"""Markers drawn out: each a group where it stands on its path.

Source: SVG 2 §13.7, *Markers*.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from lxml import etree

from vecrepeat.art.normalform import url_id
from vecrepeat.art.page import parse_view_box
from vecrepeat.art.xml import local, real
from vecrepeat.core.geometry import IDENTITY, Affine
from vecrepeat.scene.fit import view_box_transform
from vecrepeat.scene.nodes import Box, Clip, Fill, Gradient, Group, Node, Paint, Path
from vecrepeat.scene.polylines import tangents
from vecrepeat.scene.segments import Segments, segments_of

if TYPE_CHECKING:
    from vecrepeat.art.build import Builder

_TURNS = {"deg": 360.0, "grad": 400.0, "rad": 2 * math.pi, "turn": 1.0}


class _Vertex(NamedTuple):
    """A vertex of a path: where it is, and the direction in degrees of the path there."""

    x: float
    y: float
    angle: float


@dataclass
class Markers:
    """The markers of one path.

    Args:
        builder: builds what markers hold.
        element: the path's element.
        style: the inherited properties in force on it.
        path: what it has been built to.
    """

    builder: Builder
    element: etree._Element
    style: Mapping[str, str]
    path: Path

    def drawn(self) -> Iterator[Node]:
        """Yield the markers, each where it stands."""
        if not any(f"marker-{place}" in self.style for place in ("start", "mid", "end")):
            return
        found = {
            place: target
            for place in ("start", "mid", "end")
            if (target := self._marker(place)) is not None
        }
        if found:
            yield from self._placed(found)

    def _marker(self, place: str) -> etree._Element | None:
        value = self.style.get(f"marker-{place}", "none")
        if "url(" not in value:
            return None
        target = self.builder.definitions.get(url_id(value))
        if target is None or local(target) != "marker":
            self.builder.miss("marker", url_id(value))
            return None
        return None if url_id(value) in self.builder.using else target

    def _placed(self, found: Mapping[str, etree._Element]) -> Iterator[Node]:
        vertices = _vertices(segments_of(self.path.outline))
        last = len(vertices) - 1
        for k, vertex in enumerate(vertices):
            places = ["start"] if k == 0 else ["mid"] if k < last else []
            places += ["end"] if k == last else []
            for place in places:
                if place in found:
                    yield from self._one(found[place], vertex, place)

    def _one(self, marker: etree._Element, vertex: _Vertex, place: str) -> Iterator[Node]:
        """Yield a marker as it stands on a vertex."""
        width, height = (_float(marker, key, 3.0) for key in ("markerWidth", "markerHeight"))
        if not (width > 0 and height > 0):
            return
        box = parse_view_box(marker.get("viewBox"))
        fit = IDENTITY
        if box is not None:
            if min(box[2:]) <= 0:
                return
            aspect = marker.get("preserveAspectRatio")
            fit = view_box_transform(box, Fraction(width), Fraction(height), aspect)
        points = np.array([(_float(marker, "refX", 0.0), _float(marker, "refY", 0.0))])
        rx, ry = fit.apply(points)[0].tolist()
        turn = math.radians(_angle(marker.get("orient", "0"), vertex.angle, place))
        by_width = marker.get("markerUnits") != "userSpaceOnUse"
        size = max(0.0, real(self.style.get("stroke-width"), 1.0)) if by_width else 1.0
        cos, sin = math.cos(turn) * size, math.sin(turn) * size
        at = Affine(cos, sin, -sin, cos, vertex.x, vertex.y) @ Affine.translation(-rx, -ry)
        if at.determinant == 0:
            return
        children = self._content(marker, at @ fit)
        clip = None
        if marker.get("overflow", "hidden") not in ("visible", "auto"):
            clip = Clip((Path(Box(0.0, 0.0, width, height), Fill()),))
        inner = children if fit == IDENTITY else (Group(children, fit),)
        yield Group(inner, at, clip=clip)

    def _content(self, marker: etree._Element, matrix: Affine) -> tuple[Node, ...]:
        builder, key = self.builder, marker.get("id", "")
        before, builder.context = builder.context, self._context(matrix)
        try:
            return builder.once(("in", key), lambda: builder.children(marker, key))
        finally:
            builder.context = before

    def _context(self, matrix: Affine) -> Mapping[str, Paint | None]:
        """Return the path's paints as they lie in a marker's user space."""

        def within(paint: Paint | None) -> Paint | None:
            if isinstance(paint, Gradient):
                return replace(paint, matrix=matrix.inverse() @ paint.matrix)
            return paint

        fill, stroke = self.path.fill, self.path.stroke
        return {
            "context-fill": within(fill.paint if fill else None),
            "context-stroke": within(stroke.paint if stroke else None),
        }


def _float(element: etree._Element, name: str, default: float) -> float:
    return real(element.get(name), default)


def _angle(orient: str, along: float, place: str) -> float:
    """Return by how many degrees a marker is turned."""
    orient = orient.strip()
    if orient == "auto":
        return along
    if orient == "auto-start-reverse":
        return along + 180 if place == "start" else along
    unit = next((unit for unit in ("grad", "turn", "deg", "rad") if orient.endswith(unit)), "")
    try:
        return float(orient.removesuffix(unit)) * (360 / _TURNS[unit or "deg"])
    except ValueError:
        return 0.0


def _vertices(segments: Segments) -> list[_Vertex]:
    """Return a path's vertices and its directions there (SVG 2 §13.7.4, §9.5)."""
    found: list[_Vertex] = []
    leaving, arriving = tangents(segments.points)
    for subpath in range(len(segments.closed)):
        which = np.flatnonzero(segments.subpath == subpath)
        if not len(which):
            continue
        out, into = leaving[which].tolist(), arriving[which].tolist()
        # What has no length goes the way of what came before, or comes after.
        for k in range(1, len(out)):
            if out[k] == [0.0, 0.0]:
                out[k] = into[k] = into[k - 1]
        for k in reversed(range(len(out) - 1)):
            if out[k] == [0.0, 0.0]:
                out[k] = into[k] = out[k + 1]
        points = segments.points[which]
        places = [points[0, 0].tolist(), *points[:, 3].tolist()]
        before: list[list[float] | None] = [None, *into]
        after: list[list[float] | None] = [*out, None]
        if segments.closed[subpath]:
            before[0], after[-1] = into[-1], out[0]
        shown = [True, *segments.vertex[which].tolist()]
        for (x, y), one, other, seen in zip(places, before, after, shown, strict=True):
            if seen:
                found.append(_Vertex(x, y, _bisector(one, other)))
    return found


def _bisector(one: list[float] | None, other: list[float] | None) -> float:
    """Return the direction halfway between two, in degrees."""
    if one is None or other is None:
        x, y = one or other or [1.0, 0.0]
        return math.degrees(math.atan2(y, x))
    a, b = math.atan2(one[1], one[0]), math.atan2(other[1], other[0])
    turn = (b - a + math.pi) % (2 * math.pi) - math.pi
    return math.degrees(a + turn / 2)
