"""Gradients as bands: areas of one colour each, as exact as the polygons they are made of."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.colour.booleans import difference, intersection
from vecrepeat.core.colours import hex_of, rgb_of
from vecrepeat.core.geometry import Rect
from vecrepeat.scene.nodes import Gradient, Stop

MAX_CYCLES = 1000
"""A gradient that repeats more often within one shape counts as its last stop."""

_ROUND = 0.002
"""Greatest distance in mm between a circle of a gradient and its polygon."""


class Band(NamedTuple):
    """A run of a gradient that counts as one colour.

    Attributes:
        start: where it begins, as an offset; the first reaches to the gradient's beginning.
        end: where it ends.
        colour: ``#rrggbb``.
        opacity: 0 to 1.
    """

    start: float
    end: float
    colour: str
    opacity: float


Banding = Callable[[tuple[Stop, ...]], list[Band]]
"""How a gradient's stops become bands, which follow one another from 0 to 1."""


def by_stops(stops: Sequence[Stop]) -> list[Band]:
    """Return a band for each stop: what lies nearer to it than to its neighbours.

    A run between two stops of one colour is that colour, so a gradient of hard steps comes
    back exactly as drawn.
    """
    edges = pairwise([0.0, *((a.offset + b.offset) / 2 for a, b in pairwise(stops)), 1.0])
    return _joined(
        Band(start, end, stop.colour, stop.opacity)
        for stop, (start, end) in zip(stops, edges, strict=True)
        if end > start
    )


def _joined(bands: Iterable[Band]) -> list[Band]:
    """Return bands with neighbours that look alike as one."""
    found: list[Band] = []
    for band in bands:
        if found and found[-1][2:] == band[2:]:
            found[-1] = found[-1]._replace(end=band.end)
        else:
            found.append(band)
    return found


def is_stepped(stops: Sequence[Stop]) -> bool:
    """Whether a gradient only steps from flat colour to flat colour."""
    return all(
        a.offset == b.offset or (a.colour, a.opacity) == (b.colour, b.opacity)
        for a, b in pairwise(stops)
    )


def colour_at(stops: Sequence[Stop], offset: float) -> tuple[str, float]:
    """Return a gradient's colour and opacity at an offset (SVG 2 §14.2.4.2)."""
    at = [stop.offset for stop in stops]
    rgb = rgb_of([stop.colour for stop in stops])
    mixed = [float(np.interp(offset, at, rgb[:, k])) for k in range(3)]
    return hex_of(mixed), float(np.interp(offset, at, [stop.opacity for stop in stops]))


def in_steps(count: int, flat: Callable[[str], str] = str) -> Banding:
    """Return a banding into so many equal steps from the first stop to the last.

    Each step has the gradient's colour at its middle. What only steps already is kept.

    Args:
        count: how many steps.
        flat: what a colour becomes; steps that become one colour are one band.
    """

    @lru_cache
    def banding(stops: tuple[Stop, ...]) -> list[Band]:
        if is_stepped(stops):
            return [band._replace(colour=flat(band.colour)) for band in by_stops(stops)]
        first, length = stops[0].offset, stops[-1].offset - stops[0].offset
        edges = pairwise([0.0, *(first + length * k / count for k in range(1, count)), 1.0])
        seen = (colour_at(stops, first + length * (k + 0.5) / count) for k in range(count))
        return _joined(
            Band(*edge, flat(colour), opacity)
            for edge, (colour, opacity) in zip(edges, seen, strict=True)
        )

    return banding


def banded(
    area: BaseGeometry, gradient: Gradient, banding: Banding
) -> list[tuple[BaseGeometry, str, float]]:
    """Cut an area in mm that a gradient fills into its bands.

    Returns:
        Areas without overlap that make up the whole, with their colour and opacity.
    """
    bands = banding(gradient.stops)
    within = _Bounds(area, gradient)
    if len(bands) == 1 or within.is_flat:
        return [(area, bands[-1].colour, bands[-1].opacity)]
    found: list[tuple[BaseGeometry, str, float]] = []
    rest = area
    # Each band is what its end encloses of what earlier bands have left: nothing is lost
    # between two of them, and nothing counts twice.
    for end, band in _ends(bands, gradient.spread, within):
        reach = None if math.isinf(end) else within.up_to(end)
        if reach is None or reach.covers(rest):
            return [*found, (rest, band.colour, band.opacity)]
        part = intersection(rest, reach)
        if not part.is_empty:
            found.append((part, band.colour, band.opacity))
            rest = difference(rest, reach)
            if rest.is_empty:
                break
    return found


def _ends(bands: Sequence[Band], spread: str, within: _Bounds) -> list[tuple[float, Band]]:
    """Return where along the gradient each band in turn ends, as far as the area reaches."""
    if spread not in ("reflect", "repeat"):
        return [*((band.end, band) for band in bands[:-1]), (math.inf, bands[-1])]
    first, last = math.floor(within.first), math.ceil(within.last)
    if last - first > MAX_CYCLES:
        return [(math.inf, bands[-1])]
    found: list[tuple[float, Band]] = []
    for cycle in range(first, last):
        if spread == "reflect" and cycle % 2:
            found += [(cycle + 1 - band.start, band) for band in reversed(bands)]
        else:
            found += [(cycle + band.end, band) for band in bands]
    return [*found[:-1], (math.inf, found[-1][1])] if found else [(math.inf, bands[-1])]


class _Bounds:
    """How far along a gradient an area reaches, and what lies up to any offset of it."""

    def __init__(self, area: BaseGeometry, gradient: Gradient) -> None:
        self._gradient = gradient
        # The area's box, seen in the gradient's own space and somewhat larger.
        box = shapely.box(*Rect.of(area.bounds).grown(1.0))
        self._xy = gradient.matrix.inverse().apply(shapely.get_coordinates(box))
        if gradient.radial:
            fx, fy, fr, cx, cy, r = gradient.line
            apart = math.hypot(cx - fx, cy - fy) + fr
            self.is_flat = r <= 0 or apart > r
            if not self.is_flat:
                far = float(np.hypot(self._xy[:, 0] - cx, self._xy[:, 1] - cy).max())
                self.first, self.last = 0.0, 1 + far / max(r - apart, 1e-9 * r)
        else:
            x1, y1, x2, y2 = gradient.line
            unit = np.array([x2 - x1, y2 - y1])
            length = float(unit @ unit)
            self.is_flat = length == 0
            if not self.is_flat:
                along = (self._xy - (x1, y1)) @ unit / length
                self.first, self.last = float(along.min()), float(along.max())

    def up_to(self, offset: float) -> BaseGeometry:
        """Return in mm all of the area's surroundings before an offset."""
        matrix = self._gradient.matrix
        if self._gradient.radial:
            fx, fy, fr, cx, cy, r = self._gradient.line
            x, y, radius = fx + (cx - fx) * offset, fy + (cy - fy) * offset, fr + (r - fr) * offset
            if radius <= 0:
                return shapely.Polygon()
            step = math.acos(max(0.0, 1 - min(1.0, _ROUND / (radius * matrix.stretch))))
            quarter = max(8, math.ceil(math.pi / 4 / max(step, 1e-4)))
            circle = shapely.Point(x, y).buffer(radius, quad_segs=quarter)
            return shapely.transform(circle, matrix.apply)
        x1, y1, x2, y2 = self._gradient.line
        unit = np.array([x2 - x1, y2 - y1])
        length = float(np.hypot(*unit))
        along, across = unit / length, np.array([-unit[1], unit[0]]) / length
        at = np.array([x1, y1]) + unit * offset
        far = float(np.hypot(*(self._xy - at).T).max()) * 2 + length
        back = at - along * far
        corners = [at + across * far, at - across * far, back - across * far, back + across * far]
        return shapely.transform(shapely.Polygon(corners), matrix.apply)
