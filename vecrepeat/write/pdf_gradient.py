"""SVG gradients as PDF shadings.

Standards: SVG 2 §14.2 (gradients); ISO 32000-1 §8.7.4 (shadings), §7.10 (functions).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from pikepdf import Array, Dictionary, Name, Object

from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.scene.nodes import Gradient, Stop
from vecrepeat.write.pdf_resources import Resources, matrix_text, numbers

MAX_TURNS = 200
"""How many times a repeating gradient is written out; it is far below a pixel by then."""


@dataclass(frozen=True)
class Shading:
    """A gradient as a PDF has it: its stops go on without end at both ends.

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
        values = [(stop.offset, tuple(tint(stop))) for stop in self.stops]
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


def shading_of(gradient: Gradient, painted: Rect) -> Shading:
    """Return a gradient as a shading.

    Args:
        gradient: as it lies on a shape.
        painted: the bounds of what is painted, which a repeating gradient must cover.
    """
    shading = Shading(gradient.radial, gradient.line, gradient.matrix, gradient.stops)
    if gradient.spread == "pad":
        return shading
    return _turned(shading, gradient.spread == "reflect", painted)


def _turned(gradient: Shading, mirrored: bool, painted: Rect) -> Shading:
    """Return a gradient that repeats, written out as far as what it paints."""
    corners = [(x, y) for x in (painted.x0, painted.x1) for y in (painted.y0, painted.y1)]
    points = gradient.matrix.inverse().apply(np.array(corners)).tolist()
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
        own = [replace(own[0], offset=0.0), *own, replace(own[-1], offset=1.0)]
        if mirrored and turn % 2:
            own = [replace(stop, offset=1 - stop.offset) for stop in reversed(own)]
        stops += [replace(stop, offset=(turn - low + stop.offset) / count) for stop in own]
    coords: tuple[float, ...]
    if gradient.radial:
        fx, fy, _, cx, cy, r = gradient.coords
        coords = (fx, fy, 0.0, fx + count * (cx - fx), fy + count * (cy - fy), count * r)
    else:
        end = low + count
        coords = (x1 + low * dx, y1 + low * dy, x1 + end * dx, y1 + end * dy)
    return Shading(gradient.radial, coords, gradient.matrix, tuple(stops))
