"""What a motif is made of beyond plain fills and strokes: the kinds of :mod:`.kinds` it uses."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.scene.areas import as_parts, enclosed, union
from vecrepeat.scene.kinds import (
    BLEND,
    CAPPED_DOT,
    CLIP,
    DASHES,
    EVEN_ODD_CLIP,
    FILTER,
    FOCAL_CIRCLE,
    FOCUS,
    GRADIENT,
    IMAGE,
    JOIN,
    JOINED_CLIP,
    MASK,
    NESTED_CLIP,
    NON_SCALING,
    OPACITY,
    PAINT_ORDER,
    PATTERN,
    TEXT,
    Feature,
)
from vecrepeat.scene.nodes import (
    Box,
    Clip,
    Element,
    Filter,
    Gradient,
    Group,
    Image,
    Mask,
    Node,
    Paint,
    Path,
    Stroke,
    Text,
)
from vecrepeat.scene.polylines import mapped
from vecrepeat.scene.segments import MAX_COORDINATE, Segments, flatten, segments_of, tight_box
from vecrepeat.scene.visit import elements, title_of

_ELEMENTS = {
    "linearGradient": GRADIENT,
    "radialGradient": GRADIENT,
    "pattern": PATTERN,
    "mask": MASK,
    "clipPath": CLIP,
    "filter": FILTER,
    "image": IMAGE,
    "text": TEXT,
}


def features_of(node: Node) -> tuple[Feature, ...]:
    """Return what a scene makes use of, clips, masks and filters included.

    Returns:
        Each feature once, in the order they are met.
    """
    walk = _Walk()
    walk.node(node)
    return tuple(walk.found)


@dataclass
class _Walk:
    """Collects features; each definition is walked once."""

    found: dict[Feature, None] = field(default_factory=dict)
    seen: dict[int, object] = field(default_factory=dict)

    def note(self, kind: str, name: str) -> None:
        self.found[Feature(kind, name)] = None

    def is_new(self, value: object) -> bool:
        """Whether a definition is met for the first time."""
        if id(value) in self.seen:
            return False
        # Kept, so that its identity stays its own.
        self.seen[id(value)] = value
        return True

    def node(self, node: Node) -> None:
        if isinstance(node, Path):
            self._path(node)
        elif isinstance(node, Image):
            self.note(IMAGE, title_of(node))
        elif isinstance(node, Text):
            self._element(node.element, title_of(node))
        else:
            self._group(node)

    def _group(self, group: Group) -> None:
        if not group.is_plain:
            name = title_of(group)
            if group.blend != "normal":
                self.note(BLEND, name)
            if group.opacity != 1:
                self.note(OPACITY, name)
            if group.clip is not None:
                self._clip(group.clip)
            if group.mask is not None:
                self._mask(group.mask)
            if group.filter is not None:
                self._filter(group.filter, name)
        for child in group.children:
            self.node(child)

    def _path(self, path: Path) -> None:
        if path.fill is not None:
            self._paint(path.fill.paint)
        stroke = path.stroke
        if stroke is None:
            return
        name = title_of(path)
        self._paint(stroke.paint)
        if path.stroke_first:
            self.note(PAINT_ORDER, name)
        if not stroke.scales:
            self.note(NON_SCALING, name)
        if stroke.join not in ("miter", "round", "bevel"):
            self.note(JOIN, name)
        if stroke.dashes:
            self.note(DASHES, name)
        if stroke.cap != "butt" and _has_capped_dot(path, stroke):
            self.note(CAPPED_DOT, name)

    def _paint(self, paint: Paint) -> None:
        if isinstance(paint, Gradient):
            if self.is_new(paint):
                self._gradient(paint)
        elif isinstance(paint, Element):
            self._element(paint, PATTERN)

    def _gradient(self, gradient: Gradient) -> None:
        name = gradient.name or ("radialGradient" if gradient.radial else "linearGradient")
        self.note(GRADIENT, name)
        if gradient.radial:
            fx, fy, fr, cx, cy, r = gradient.line
            if fr != 0:
                self.note(FOCAL_CIRCLE, name)
            if math.hypot(fx - cx, fy - cy) >= 0.99 * r:
                self.note(FOCUS, name)

    def _mask(self, mask: Mask) -> None:
        if not self.is_new(mask):
            return
        self.note(MASK, title_of(mask))
        if mask.mask is not None:
            self._mask(mask.mask)
        if mask.clip is not None:
            self._clip(mask.clip)
        for child in mask.children:
            self.node(child)

    def _filter(self, effect: Filter, name: str) -> None:
        self.note(FILTER, effect.name or name)
        for step in effect.steps:
            if isinstance(step, Element):
                self._element(step, effect.name or name)

    def _element(self, element: Element, name: str) -> None:
        for part in elements(element):
            kind = _ELEMENTS.get(part.tag)
            link = part.get("href")
            if part.tag == "feImage" and isinstance(link, str):
                kind = IMAGE
            if kind is not None:
                self.note(kind, name)

    def _clip(self, clip: Clip) -> None:
        """Note a clip, and what CairoSVG would get wrong about it."""
        if not self.is_new(clip):
            return
        name = clip.name or "clipPath"
        self.note(CLIP, name)
        if clip.clip is not None:
            self.note(NESTED_CLIP, name)
            self._clip(clip.clip)
        boxes: list[Rect] = []
        rounded: list[bool] = []
        todo: list[tuple[Node, Affine]] = [(n, IDENTITY) for n in reversed(clip.children)]
        while todo:
            node, matrix = todo.pop()
            if isinstance(node, Group):
                if node.clip is not None:
                    self.note(NESTED_CLIP, name)
                    self._clip(node.clip)
                matrix = matrix @ node.transform
                todo += [(child, matrix) for child in reversed(node.children)]
            elif isinstance(node, Text):
                self._element(node.element, title_of(node))
            elif isinstance(node, Path):
                segments = segments_of(node.outline)
                if not len(segments.points):
                    continue
                if node.fill is not None and node.fill.even_odd and rule_matters(segments):
                    self.note(EVEN_ODD_CLIP, name)
                boxes.append(tight_box(mapped(segments.points, matrix), segments.straight))
                rounded.append(isinstance(node.outline, Box) and node.outline.rx > 0)
        # One path of all shapes: where two overlap, opposite directions cancel, and a
        # rounded rectangle forgets those before it.
        if any(rounded[1:]) or _meet(boxes):
            self.note(JOINED_CLIP, name)


def _has_capped_dot(path: Path, stroke: Stroke) -> bool:
    """Whether a subpath, or a square dash, has no length: only its caps show (SVG 2 §13.5.4)."""
    if stroke.cap == "square" and 0 in stroke.dashes:
        return True
    segments = segments_of(path.outline)
    if not len(segments.points):
        return False
    reach = np.ptp(segments.points, axis=1).max(axis=1)
    longest = np.zeros(len(segments.closed))
    np.maximum.at(longest, segments.subpath, reach)
    return bool((longest == 0).any())


def rule_matters(segments: Segments) -> bool:
    """Whether a shape encloses different areas under the two fill rules."""
    size = float(np.ptp(segments.points.reshape(-1, 2), axis=0).max())
    if not 0 < size <= 2 * MAX_COORDINATE:
        return False
    xy, segment = flatten(segments.points, segments.straight, size * 1e-3)
    owner = segments.subpath[segment]
    first = np.searchsorted(segments.subpath, np.arange(len(segments.closed)))
    rings = []
    for k, start in enumerate(first):
        ring = np.concatenate([segments.points[start, 0][None], xy[owner == k]])
        if len(ring) >= 3:
            rings.append(shapely.LinearRing(ring))
    if not rings:
        return False
    polygons = shapely.polygons(rings)
    valid = shapely.is_valid(polygons)
    if len(rings) == 1 and valid[0]:
        return False
    parts = as_parts(rings)
    areas = [union(enclosed(parts, polygons, valid, rule)).area for rule in (True, False)]
    return bool(abs(areas[0] - areas[1]) > 1e-5 * max(areas))


def _meet(boxes: Sequence[Rect]) -> bool:
    """Whether any two boxes overlap."""
    if len(boxes) < 2:
        return False
    shapes = shapely.box(*np.array(boxes).T)
    left, right = shapely.STRtree(shapes).query(shapes)
    return bool((left != right).any())
