"""Gradients in normal form as the scene has them.

Source: SVG 2 §14.2.
"""

from __future__ import annotations

from dataclasses import replace

from lxml import etree

from vecrepeat.art.elements import paint_of
from vecrepeat.art.normalform import label_of
from vecrepeat.art.style import property_of
from vecrepeat.art.xml import attributes, local
from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.scene.nodes import Gradient, Paint, Stop


def gradient_of(server: etree._Element, box: Rect | None) -> Paint | None:
    """Return a gradient as it lies on a shape; a colour where it is flat, None for nothing.

    Args:
        server: a ``linearGradient`` or ``radialGradient`` in normal form.
        box: the shape's bounds, for gradients in units of it.

    Source: SVG 2 §14.2; the last stop is the colour of a gradient without extent.
    """
    stops = _stops(server)
    if not stops:
        return None
    if len(stops) == 1:
        return _flat(stops[0])
    matrix = Affine.from_svg(server.get("gradientTransform"))
    if box is not None:
        matrix = from_unit(box) @ matrix
    if abs(matrix.determinant) < 1e-30:
        return _flat(stops[-1])
    radial = local(server) == "radialGradient"
    if radial:
        cx, cy, r = (_length(server, key, 0.5) for key in ("cx", "cy", "r"))
        if not r > 0:
            return _flat(stops[-1])
        fx, fy = _length(server, "fx", cx), _length(server, "fy", cy)
        line: tuple[float, ...] = (fx, fy, _length(server, "fr", 0.0), cx, cy, r)
    else:
        ends = (("x1", 0.0), ("y1", 0.0), ("x2", 1.0), ("y2", 0.0))
        line = tuple(_length(server, key, default) for key, default in ends)
        if line[:2] == line[2:]:
            return _flat(stops[-1])
    spread = server.get("spreadMethod", "pad")
    spread = spread if spread in ("reflect", "repeat") else "pad"
    return Gradient(radial, line, matrix, spread, stops, label_of(server))


def _flat(stop: Stop) -> Paint | None:
    """Return the paint of one stop."""
    if stop.opacity == 1:
        return stop.colour
    if stop.opacity == 0:
        return None
    clear = (replace(stop, offset=0.0), replace(stop, offset=1.0))
    return Gradient(False, (0.0, 0.0, 1.0, 0.0), IDENTITY, "pad", clear)


def stop_alone(server: etree._Element) -> Paint | None:
    """Return what a gradient by the box paints where that has no area: its only stop, or none."""
    stops = _stops(server)
    return _flat(stops[0]) if len(stops) == 1 else None


def _stops(server: etree._Element) -> tuple[Stop, ...]:
    """Return a gradient's stops, offsets made to rise (SVG 2 §14.2.4.2)."""
    found: list[Stop] = []
    for stop in server:
        if local(stop) != "stop":
            continue
        at = min(1.0, max(0.0, _fraction(stop.get("offset", "0"))))
        at = max(at, found[-1].offset) if found else at
        style = {**attributes(stop), "color": property_of(stop, "color")}
        colour, opacity = paint_of(style, "stop")
        found.append(Stop(at, colour.lower(), opacity))
    return tuple(found)


def _fraction(text: str) -> float:
    """Return a number or a percentage; what is neither is nought."""
    text = text.strip()
    try:
        return float(text[:-1]) / 100 if text.endswith("%") else float(text)
    except ValueError:
        return 0.0


def _length(server: etree._Element, name: str, default: float) -> float:
    text = server.get(name)
    return default if text is None else _fraction(text)


def from_unit(box: Rect) -> Affine:
    """Return the map from fractions of a box to its user space."""
    return Affine(box.width, 0.0, 0.0, box.height, box.x0, box.y0)
