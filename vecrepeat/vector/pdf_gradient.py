"""SVG gradients as PDF shadings.

Standards: SVG 2 §14.2 (gradients); ISO 32000-1 §8.7.4 (shadings), §7.10 (functions).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from lxml import etree
from pikepdf import Array, Dictionary, Name, Object

from vecrepeat.art.xml import local
from vecrepeat.geometry import Affine, Rect
from vecrepeat.vector.pdf_resources import Resources, matrix_text, numbers

MAX_TURNS = 200
"""How many times a repeating gradient is written out; it is far below a pixel by then."""

Colour = tuple[float, float, float]


class Stop(NamedTuple):
    """A stop of a gradient.

    Attributes:
        at: 0 to 1.
        colour: red, green and blue, 0 to 1.
        opacity: 0 to 1.
    """

    at: float
    colour: Colour
    opacity: float


@dataclass(frozen=True)
class Gradient:
    """A gradient as it lies on a shape.

    Attributes:
        radial: whether it runs between circles.
        coords: of the axis or the two circles (§8.7.4.5.3, §8.7.4.5.4).
        matrix: from its own units to the user units of the shape.
        stops: in order.
    """

    radial: bool
    coords: tuple[float, ...]
    matrix: Affine
    stops: tuple[Stop, ...]

    @property
    def fades(self) -> bool:
        """Whether its opacity varies."""
        return len({stop.opacity for stop in self.stops}) > 1

    def operators(self, resources: Resources, tint: Callable[[Stop], Sequence[float]]) -> list[str]:
        """Return operators that fill the clipped area with the gradient.

        Args:
            resources: what the shading is kept in.
            tint: what a stop shows, three components or one.
        """
        values = [(stop.at, tuple(tint(stop))) for stop in self.stops]
        key = (self.radial, self.coords, tuple(values))
        name = resources.known("Shading", key)
        if name is None:
            shading = Dictionary(
                ShadingType=3 if self.radial else 2,
                ColorSpace=Name.DeviceRGB if len(values[0][1]) == 3 else Name.DeviceGray,
                Coords=numbers(self.coords),
                Function=_function(values),
                Extend=Array([True, True]),
            )
            name = resources.named("Shading", resources.pdf.make_indirect(shading), key)
        return [f"{matrix_text(self.matrix)} cm", f"/{name} sh"]


def _function(values: Sequence[tuple[float, Sequence[float]]]) -> Object:
    """Return the stops as exponential functions stitched together (§7.10.3, §7.10.4)."""
    first, last = values[0], values[-1]
    points = [(0.0, first[1]), *values, (1.0, last[1])]
    pieces, bounds = [], []
    for (start, one), (end, other) in pairwise(points):
        if end <= start:
            continue
        pieces.append(
            Dictionary(
                FunctionType=2, Domain=Array([0, 1]), N=1, C0=numbers(one), C1=numbers(other)
            )
        )
        bounds.append(end)
    if len(pieces) == 1:
        return pieces[0]
    return Dictionary(
        FunctionType=3,
        Domain=Array([0, 1]),
        Functions=Array(pieces),
        Bounds=numbers(bounds[:-1]),
        Encode=Array([0, 1] * len(pieces)),
    )


def read_gradient(
    element: etree._Element, box: Rect | None, painted: Rect
) -> Gradient | Stop | None:
    """Return a gradient as it lies on a shape, a stop where it is flat, or None for nothing.

    Args:
        element: a ``linearGradient`` or ``radialGradient`` in normal form.
        box: the shape's bounds, for gradients in units of it; None where it has none.
        painted: the bounds of what is painted, which a repeating gradient must cover.
    """
    stops = _stops(element)
    if not stops:
        return None
    matrix = Affine.from_svg(element.get("gradientTransform"))
    if element.get("gradientUnits") != "userSpaceOnUse":
        if box is None:
            return None
        matrix = Affine(box.width, 0.0, 0.0, box.height, box.x0, box.y0) @ matrix
    if len(stops) == 1:
        return stops[0]
    if abs(matrix.determinant) < 1e-30:
        return stops[-1]
    spread = element.get("spreadMethod", "pad")
    if local(element) == "linearGradient":
        x1, y1, x2, y2 = (
            _share(element, k, d) for k, d in (("x1", 0.0), ("y1", 0.0), ("x2", 1.0), ("y2", 0.0))
        )
        if (x1, y1) == (x2, y2):
            return stops[-1]
        gradient = Gradient(False, (x1, y1, x2, y2), matrix, stops)
    else:
        cx, cy, r = (_share(element, k, 0.5) for k in ("cx", "cy", "r"))
        if not r > 0:
            return stops[-1]
        fx, fy = _share(element, "fx", cx), _share(element, "fy", cy)
        gradient = Gradient(True, (fx, fy, 0.0, cx, cy, r), matrix, stops)
    return gradient if spread == "pad" else _turned(gradient, spread == "reflect", painted)


def _turned(gradient: Gradient, mirrored: bool, painted: Rect) -> Gradient:
    """Return a gradient that repeats, written out as far as what it paints."""
    inverse = gradient.matrix.inverse()
    corners = [(x, y) for x in (painted.x0, painted.x1) for y in (painted.y0, painted.y1)]
    points = [
        (inverse.a * x + inverse.c * y + inverse.e, inverse.b * x + inverse.d * y + inverse.f)
        for x, y in corners
    ]
    if gradient.radial:
        fx, fy, _, cx, cy, r = gradient.coords
        # A point lies within the circle at t once |p − f| + t·|c − f| <= t·r.
        reach = max(math.hypot(x - fx, y - fy) for x, y in points)
        low, high = 0, math.ceil(reach / max(r - math.hypot(cx - fx, cy - fy), r * 1e-3))
    else:
        x1, y1, x2, y2 = gradient.coords
        dx, dy = x2 - x1, y2 - y1
        along = [((x - x1) * dx + (y - y1) * dy) / (dx * dx + dy * dy) for x, y in points]
        low, high = math.floor(min(along)), math.ceil(max(along))
    low, high = max(low, -MAX_TURNS), min(max(high, low + 1), MAX_TURNS)
    count = max(high - low, 1)
    stops: list[Stop] = []
    for turn in range(low, low + count):
        own = [*gradient.stops]
        # What a turn shows before its first stop and after its last.
        own = [own[0]._replace(at=0.0), *own, own[-1]._replace(at=1.0)]
        if mirrored and turn % 2:
            own = [stop._replace(at=1 - stop.at) for stop in reversed(own)]
        stops += [stop._replace(at=(turn - low + stop.at) / count) for stop in own]
    coords: tuple[float, ...]
    if gradient.radial:
        fx, fy, _, cx, cy, r = gradient.coords
        coords = (fx, fy, 0.0, fx + count * (cx - fx), fy + count * (cy - fy), count * r)
    else:
        end = low + count
        coords = (x1 + low * dx, y1 + low * dy, x1 + end * dx, y1 + end * dy)
    return Gradient(gradient.radial, coords, gradient.matrix, tuple(stops))


def _stops(element: etree._Element) -> tuple[Stop, ...]:
    found: list[Stop] = []
    for child in element:
        if local(child) != "stop":
            continue
        at = min(max(_number(child.get("offset", "0")), 0.0), 1.0)
        at = max(at, found[-1].at) if found else at
        text = child.get("stop-color", "#000000")
        red, green, blue = (v / 255 for v in bytes.fromhex(text[1:7]))
        opacity = min(max(float(child.get("stop-opacity", "1")), 0.0), 1.0)
        found.append(Stop(at, (red, green, blue), opacity))
    return tuple(found)


def _number(text: str) -> float:
    """Return a number or a percentage; what is neither is nought."""
    text = text.strip()
    try:
        return float(text[:-1]) / 100 if text.endswith("%") else float(text)
    except ValueError:
        return 0.0


def _share(element: etree._Element, name: str, default: float) -> float:
    text = element.get(name)
    return default if text is None else _number(text)
