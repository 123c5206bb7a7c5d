"""A cairo context that draws the same pixels wherever on its canvas it draws.

A motif moved by a whole number of pixels must fall on the same pixels, or a tile would depend on
the canvas it was drawn on. cairo keeps to that in all but two of what drawings use, each mended
here (file names are those of cairo 1.16):

* Round joins. Where a closed stroke begins and ends smoothly, ``outer_close`` in
  ``cairo-path-stroke-polygon.c`` makes a mitre of a round join. Whether the mitre's tip lies
  between the two edges is asked of products of coordinates counted from the canvas's corner;
  a tip that lies on one of the edges is found on this side or that as those products round.
* Gradients. pixman takes the map from pixels to the gradient in 16.16 fixed point, and
  ``_cairo_matrix_to_pixman_matrix`` in ``cairo-matrix.c`` makes up for the rounding in the
  middle of what is painted, which is elsewhere where the canvas cuts a shape.

Mitre joins ask the same as the first and remain: their corners have no other form.
"""

from __future__ import annotations

import math

import cairocffi

from vecrepeat.core.geometry import Affine

_UNEVEN = 0.3719
"""Where rounding switches. At a half, figures that are halves exactly would go either way."""


class Pen(cairocffi.Context):  # type: ignore[misc]  # cairocffi has no types
    """A context whose round joins and gradients don't depend on the place on the canvas."""

    def set_miter_limit(self, limit: float) -> None:
        """Set the limit of mitres; none are made of round joins."""
        is_round = self.get_line_join() == cairocffi.LINE_JOIN_ROUND
        super().set_miter_limit(0 if is_round else limit)

    def set_source(self, source: cairocffi.Pattern) -> None:
        """Set what to paint with; a gradient becomes one that needs no rounding."""
        if isinstance(source, cairocffi.Gradient):
            matrix = self.get_matrix()
            try:
                source = steadied(source, Affine(*matrix.as_tuple()))
            except ZeroDivisionError:
                # Flat or without length, so of one colour.
                super().set_source(source)
                return
            self.identity_matrix()
            super().set_source(source)
            self.set_matrix(matrix)
        else:
            super().set_source(source)


def steadied(gradient: cairocffi.Gradient, matrix: Affine) -> cairocffi.Gradient:
    """Return a gradient in pixels whose map is exact in 16.16 fixed point.

    Args:
        gradient: in the units of ``matrix``.
        matrix: from these units to pixels.

    Raises:
        ZeroDivisionError: the matrix is flat, or a linear gradient has no length.
    """
    outward = matrix @ Affine(*gradient.get_matrix().as_tuple()).inverse()
    if isinstance(gradient, cairocffi.LinearGradient):
        found = _linear(outward, *gradient.get_linear_points())
    else:
        found = _radial(outward, *gradient.get_radial_circles())
    for stop in gradient.get_color_stops():
        found.add_color_stop_rgba(*stop)
    found.set_extend(gradient.get_extend())
    return found


def _rounded(value: float, steps: int) -> float:
    return math.floor(value * steps + _UNEVEN) / steps


def _linear(
    outward: Affine, x1: float, y1: float, x2: float, y2: float
) -> cairocffi.LinearGradient:
    """Return a linear gradient in pixels from a whole pixel near its start."""
    a, b, c, d, e, f = outward
    x, y = a * x1 + c * y1 + e, b * x1 + d * y1 + f
    left, top = _rounded(x, 1), _rounded(y, 1)
    x, y = _rounded(x - left, 65536), _rounded(y - top, 65536)
    # The lines of one colour are square to the gradient before the map, but not after it.
    dx, dy = x2 - x1, y2 - y1
    level_x, level_y = c * dx - a * dy, d * dx - b * dy
    dx, dy = a * dx + c * dy, b * dx + d * dy
    along = (dx * level_x + dy * level_y) / (level_x**2 + level_y**2)
    found = cairocffi.LinearGradient(x, y, x + dx - along * level_x, y + dy - along * level_y)
    found.set_matrix(cairocffi.Matrix(1, 0, 0, 1, -left, -top))
    return found


def _radial(
    outward: Affine, x1: float, y1: float, r1: float, x2: float, y2: float, r2: float
) -> cairocffi.RadialGradient:
    """Return a radial gradient about as large as in pixels, its map on a grid of 2^-15.

    In pixman's 2^-16, the middle of a shape an odd number of pixels wide would be off the grid.
    """
    inward = outward.inverse()
    # A small gradient stretched over many pixels would lose most of its map to the rounding.
    scale = 2.0 ** max(0, -math.frexp(max(map(abs, inward[:4])))[1])
    a, b, c, d = (round(value * scale * 32768) / 32768 for value in inward[:4])
    x, y = (x1 + x2) / 2, (y1 + y2) / 2
    left = _rounded(outward.a * x + outward.c * y + outward.e, 1)
    top = _rounded(outward.b * x + outward.d * y + outward.f, 1)
    # What the whole pixel there maps to.
    x = _rounded((inward.a * left + inward.c * top + inward.e) * scale, 65536)
    y = _rounded((inward.b * left + inward.d * top + inward.f) * scale, 65536)
    found = cairocffi.RadialGradient(*(value * scale for value in (x1, y1, r1, x2, y2, r2)))
    found.set_matrix(cairocffi.Matrix(a, b, c, d, x - a * left - c * top, y - b * left - d * top))
    return found
