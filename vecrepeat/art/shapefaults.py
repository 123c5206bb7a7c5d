"""What is unusual about a shape's own geometry: errors in it, and what engines trip over."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import shapely
from lxml import etree

from vecrepeat.art.areas import as_parts, enclosed, union
from vecrepeat.art.kinds import ARC, HUGE, ONE_RADIUS, PATH_ERROR, SHAPE_ERROR, SIGNED_PATH
from vecrepeat.art.pathdata import parse_path
from vecrepeat.art.paths import MAX_COORDINATE, Segments, flatten, shape_segments
from vecrepeat.art.xml import local
from vecrepeat.geometry import Rect

OWN_GEOMETRY = {
    "rect": frozenset(("x", "y", "width", "height", "rx", "ry")),
    "image": frozenset(("x", "y", "width", "height")),
    "circle": frozenset(("cx", "cy", "r")),
    "ellipse": frozenset(("cx", "cy", "rx", "ry")),
    "line": frozenset(("x1", "y1", "x2", "y2")),
    "polyline": frozenset(("points",)),
    "polygon": frozenset(("points",)),
    "path": frozenset(("d",)),
    "g": frozenset[str](),
}
"""What each basic shape is given by."""

_PLUS_RE = re.compile(r"(?<![eE])\+")
_GLUED_PLUS_RE = re.compile(r"(?<=[0-9.])\+")
_ARC_RE = re.compile(r"[aA]([^achlmqstvzACHLMQSTVZ]*)")
_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_GAP = r"[\s,]*"
_STRAY_COMMA_RE = re.compile(r",\s*(?:[,a-zA-Z]|$)|[a-zA-Z]\s*,")
_ONE_ARC_RE = re.compile(_GAP + _GAP.join([_NUMBER] * 3 + ["[01]"] * 2 + [_NUMBER] * 2))


def shape_errors(element: etree._Element) -> tuple[str, ...]:
    """Return the kinds that a basic shape's or path's own geometry calls for."""
    name = local(element)
    if name == "path":
        return _path_errors(element.get("d", ""))
    if name in ("polyline", "polygon"):
        return _points_errors(element.get("points", ""))
    values: dict[str, float] = {}
    for key in OWN_GEOMETRY[name]:
        text = element.get(key)
        if text is None:
            continue
        try:
            values[key] = float(text)
        except ValueError:
            return (SHAPE_ERROR,)
    if any(not abs(value) <= MAX_COORDINATE for value in values.values()):
        return (HUGE,)
    if any(values.get(k, 0.0) < 0 for k in ("r", "rx", "ry", "width", "height")):
        return (SHAPE_ERROR,)
    if name == "ellipse" and ("rx" in values) != ("ry" in values):
        return (ONE_RADIUS,)
    return ()


def _path_errors(d: str) -> tuple[str, ...]:
    found: list[str] = []
    data = parse_path(d)
    if (data.steps and data.steps[0][0] not in "mM") or _STRAY_COMMA_RE.search(d):
        found.append(PATH_ERROR)
    if not data.plain and d.strip() not in ("", "none"):
        if _GLUED_PLUS_RE.search(d):
            found.append(SIGNED_PATH)
        whole = all(_only_arcs(text) for text in _ARC_RE.findall(d))
        rest = _PLUS_RE.sub(" ", _ARC_RE.sub("L0 0", d)).replace("e+", "e").replace("E+", "E")
        if not whole or not parse_path(rest).plain:
            found.append(PATH_ERROR)
    for letter, n in data.steps:
        if letter in "aA" and (n[0] < 0 or n[1] < 0):
            found.append(ARC)
        if n and not max(map(abs, n)) <= MAX_COORDINATE:
            found.append(HUGE)
    return tuple(dict.fromkeys(found))


def _only_arcs(text: str) -> bool:
    at = 0
    while match := _ONE_ARC_RE.match(text, at):
        at = match.end()
    return at > 0 and not text[at:].strip(" ,\t\r\n\f")


def _points_errors(text: str) -> tuple[str, ...]:
    try:
        values = [float(v) for v in text.replace(",", " ").split()]
    except ValueError:
        return (SHAPE_ERROR,)
    if any(not abs(value) <= MAX_COORDINATE for value in values):
        return (HUGE,)
    return (SHAPE_ERROR,) if len(values) % 2 else ()


def has_dot(element: etree._Element) -> bool:
    """Whether a subpath has no length, so that only its caps show (SVG 2 §13.5.4)."""
    segments = shape_segments(element)
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


def meet(boxes: Sequence[Rect]) -> bool:
    """Whether any two boxes overlap."""
    if len(boxes) < 2:
        return False
    shapes = shapely.box(*np.array(boxes).T)
    left, right = shapely.STRtree(shapes).query(shapes)
    return bool((left != right).any())
