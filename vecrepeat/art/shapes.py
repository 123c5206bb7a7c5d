"""Basic shapes and paths in normal form as what paths of a scene go along.

Sources: SVG 2 §7, §9 (paths; §9.5.4 errors), §10 (basic shapes).
"""

from __future__ import annotations

import re

from lxml import etree

from vecrepeat.art.xml import local, real
from vecrepeat.core.geometry import Rect, number
from vecrepeat.scene.nodes import Box, Data, Ellipse, Outline
from vecrepeat.scene.pathdata import parse_path
from vecrepeat.scene.segments import MAX_COORDINATE, Segments, segments_of

SHAPES = frozenset(("path", "rect", "circle", "ellipse", "line", "polyline", "polygon"))

_PLUS_RE = re.compile(r"(?<![eE])\+")


def outline_of(element: etree._Element) -> Outline | None:
    """Return what a basic shape or path goes along, its errors mended as the standard says.

    Args:
        element: one of :data:`SHAPES`, its lengths already plain numbers in user units.

    Returns:
        The outline; None where the element draws nothing.
    """
    name = local(element)
    if name == "path":
        return _path(element.get("d", ""))
    if name == "rect":
        return _rect(element)
    if name in ("circle", "ellipse"):
        return _ellipse(element, name)
    if name == "line":
        x1, y1, x2, y2 = (number(_float(element, k)) for k in ("x1", "y1", "x2", "y2"))
        return _path(f"M{x1},{y1} {x2},{y2}")
    points = element.get("points", "").replace(",", " ").split()
    try:
        values = [float(v) for v in points]
    except ValueError:
        return _path(f"M{element.get('points', '')}{'Z' if name == 'polygon' else ''}")
    # An odd last number is an error after which the pairs before it still count.
    if len(values) < 4 or not all(abs(v) <= MAX_COORDINATE for v in values):
        return None
    pairs = zip(points[::2], points[1::2], strict=False)
    return _path(f"M{' '.join(','.join(p) for p in pairs)}{'Z' if name == 'polygon' else ''}")


def image_box(element: etree._Element) -> Rect | None:
    """Return an image's rectangle, or None where its size is not given."""
    x, y, w, h = (_float(element, name) for name in ("x", "y", "width", "height"))
    return Rect(x, y, x + w, y + h) if w > 0 and h > 0 else None


def _float(element: etree._Element, name: str, default: float = 0.0) -> float:
    return real(element.get(name), default)


def _path(d: str) -> Data | None:
    """Return path data unchanged where all engines read it alike, else rewritten."""
    segments = segments_of(Data(d))
    if not len(segments.points):
        return None
    data = parse_path(d)
    if data.whole and not _PLUS_RE.search(d):
        turned = (n for letter, n in data.steps if letter in "aA")
        # A negative radius counts as a positive one (SVG 2 §9.5.1); not every engine knows.
        if all(n[0] >= 0 and n[1] >= 0 for n in turned):
            return Data(d)
    return Data(written(segments))


def written(segments: Segments) -> str:
    """Return segments as path data, in absolute coordinates."""
    out: list[str] = []
    last = -1
    rows = segments.points.reshape(-1, 8).tolist()
    for k, (row, straight, subpath) in enumerate(
        zip(rows, segments.straight.tolist(), segments.subpath.tolist(), strict=True)
    ):
        if subpath != last:
            out.append(f"M{number(row[0])},{number(row[1])}")
            last = subpath
        ends = k + 1 == len(rows) or segments.subpath[k + 1] != subpath
        if ends and segments.closed[subpath] and straight:
            out.append("Z")
            continue
        kept = row[6:] if straight else row[2:]
        out.append(("L" if straight else "C") + ",".join(number(v) for v in kept))
        if ends and segments.closed[subpath]:
            out.append("Z")
    return "".join(out)


def _rect(element: etree._Element) -> Box | None:
    x, y = _float(element, "x"), _float(element, "y")
    w, h = _float(element, "width"), _float(element, "height")
    rx, ry = _float(element, "rx", -1.0), _float(element, "ry", -1.0)
    if not (w > 0 and h > 0 and max(abs(x), abs(y), w, h) <= MAX_COORDINATE):
        return None
    rx, ry = (ry if rx < 0 else rx), (rx if ry < 0 else ry)
    rx, ry = min(max(rx, 0.0), w / 2), min(max(ry, 0.0), h / 2)
    return Box(x, y, w, h, rx, ry) if rx and ry else Box(x, y, w, h)


def _ellipse(element: etree._Element, name: str) -> Ellipse | None:
    if name == "circle":
        rx = ry = _float(element, "r")
    else:
        # A radius that is not given is the other one (SVG 2 §10.4).
        rx, ry = _float(element, "rx", -1.0), _float(element, "ry", -1.0)
        rx, ry = (ry if rx < 0 else rx), (rx if ry < 0 else ry)
    cx, cy = _float(element, "cx"), _float(element, "cy")
    sound = 0 < rx <= MAX_COORDINATE and 0 < ry <= MAX_COORDINATE
    if not sound or not max(abs(cx), abs(cy)) <= MAX_COORDINATE:
        return None
    return Ellipse(cx, cy, rx, ry)
