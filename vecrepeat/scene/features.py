"""What a motif is made of beyond plain fills and strokes: the kinds of :mod:`.kinds` it uses."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely

from vecrepeat.scene.kinds import (
    BLEND,
    CAPPED_DOT,
    CLIP,
    COMPOUND_CLIP,
    DASHES,
    FILTER,
    FOCUS,
    GRADIENT,
    IMAGE,
    JOIN,
    MASK,
    NON_SCALING,
    OPACITY,
    PAINT_ORDER,
    PATTERN,
    TEXT,
    Feature,
)
from vecrepeat.scene.nodes import (
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
from vecrepeat.scene.segments import flatten, segments_of
from vecrepeat.scene.visit import elements, title_of, walk

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
            if fr != 0 or math.hypot(fx - cx, fy - cy) >= 0.99 * r:
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
        """Note a clip, and what the first engine would get wrong about it."""
        if not self.is_new(clip):
            return
        name = clip.name or "clipPath"
        self.note(CLIP, name)
        if clip.clip is not None:
            self._clip(clip.clip)
        paths: list[Path] = []
        plain = clip.clip is None
        for node, _ in (found for child in clip.children for found in walk(child)):
            if isinstance(node, Group) and node.clip is not None:
                plain = False
                self._clip(node.clip)
            elif isinstance(node, Text):
                self._element(node.element, title_of(node))
            elif isinstance(node, Path) and len(segments_of(node.outline).points):
                paths.append(node)
        # It makes one path of all shapes, and knows the nonzero rule alone.
        if not plain or len(paths) > 1 or any(map(_goes_by_rule, paths)):
            self.note(COMPOUND_CLIP, name)


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


def _goes_by_rule(path: Path) -> bool:
    """Whether a shape may enclose other areas under the even-odd rule that it goes by."""
    if path.fill is None or not path.fill.even_odd:
        return False
    segments = segments_of(path.outline)
    size = float(np.ptp(segments.points.reshape(-1, 2), axis=0).max())
    if len(segments.closed) > 1 or not size > 0:
        return size > 0
    xy, _ = flatten(segments.points, segments.straight, size * 1e-3)
    return len(xy) > 1 and not shapely.LinearRing([segments.points[0, 0], *xy]).is_simple
