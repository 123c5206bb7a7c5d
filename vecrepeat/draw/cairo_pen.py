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

import ctypes
import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from vecrepeat.core.geometry import IDENTITY, Affine
from vecrepeat.draw.cairo_library import ARGB32, Matrix, library
from vecrepeat.scene.nodes import Gradient, Stroke

_UNEVEN = 0.3719
"""Where rounding switches. At a half, figures that are halves exactly would go either way."""

_CAPS = {"butt": 0, "round": 1, "square": 2}
_JOINS = {"miter": 0, "round": 1, "bevel": 2}
_BEVEL = 2
_EXTENDS = {"repeat": 1, "reflect": 2, "pad": 3}
_FAST, _NEAREST = 0, 3

_Source = tuple[tuple[float, ...], tuple[float, ...]]
"""The points (and radii) of a gradient and the matrix of its pattern."""


class CairoError(RuntimeError):
    """cairo drew nothing; the message says why, in its words."""


class Pen:
    """Draws on a picture of its own, in cairo's words.

    Whoever draws calls the library with :attr:`context`, whose errors stay with it until they are
    asked for by :meth:`check`.

    Args:
        width: of the picture in pixels.
        height: of the picture in pixels.
        room: where its pixels go, row by row, all zero; memory of cairo's own by default.

    Attributes:
        lib: the library.
        context: its context.
        width: of the picture in pixels.
        height: of the picture in pixels.

    Raises:
        CairoError: there can be no such picture.
    """

    def __init__(self, width: int, height: int, room: Any = None) -> None:
        self.lib = lib = library()
        self.width, self.height = width, height
        if room is None:
            self._image = lib.cairo_image_surface_create(ARGB32, width, height)
        else:
            self._data = (ctypes.c_ubyte * (width * height * 4)).from_buffer(room)
            self._image = lib.cairo_image_surface_create_for_data(
                self._data, ARGB32, width, height, width * 4
            )
        self.context = lib.cairo_create(self._image)
        self.check()

    def __enter__(self) -> Pen:
        return self

    def __exit__(self, *_: object) -> None:
        self.lib.cairo_destroy(self.context)
        self.lib.cairo_surface_destroy(self._image)

    def check(self) -> None:
        """Raise a :class:`CairoError` where anything failed so far."""
        if status := self.lib.cairo_status(self.context):
            raise CairoError(self.lib.cairo_status_to_string(status).decode())

    def pixels(self) -> tuple[memoryview, int]:
        """Return the picture's bytes, while the pen is there, and how many a row takes."""
        lib = self.lib
        lib.cairo_surface_flush(self._image)
        stride = lib.cairo_image_surface_get_stride(self._image)
        data = lib.cairo_image_surface_get_data(self._image)
        held = (ctypes.c_ubyte * (stride * self.height)).from_address(data)
        return memoryview(held).cast("B"), stride

    @property
    def matrix(self) -> Affine:
        """From the user's units to pixels."""
        found = Matrix()
        self.lib.cairo_get_matrix(self.context, found)
        return Affine(found.a, found.b, found.c, found.d, found.e, found.f)

    @matrix.setter
    def matrix(self, matrix: Sequence[float]) -> None:
        self.lib.cairo_set_matrix(self.context, Matrix(*matrix))

    @contextmanager
    def kept(self) -> Iterator[None]:
        """Take back afterwards what is set within, but for the path."""
        self.lib.cairo_save(self.context)
        try:
            yield
        finally:
            self.lib.cairo_restore(self.context)

    def transform(self, matrix: Affine) -> bool:
        """Go over to units that a matrix maps to the present ones; return whether it has an area.

        cairo refuses flat matrices, with which nothing shows.
        """
        if matrix != IDENTITY:
            if not matrix.determinant:
                return False
            self.lib.cairo_transform(self.context, Matrix(*matrix))
        return True

    def colour(self, colour: str, opacity: float) -> None:
        """Paint with ``#rrggbb``."""
        red, green, blue = bytes.fromhex(colour[1:])
        self.lib.cairo_set_source_rgba(self.context, red / 255, green / 255, blue / 255, opacity)

    def gradient(self, gradient: Gradient, opacity: float) -> None:
        """Paint with a gradient, restated so that its map needs no rounding."""
        lib, context, matrix = self.lib, self.context, self.matrix
        try:
            line, inner = steadied(gradient.radial, gradient.line, matrix @ gradient.matrix)
            self.matrix = IDENTITY
        except ZeroDivisionError:
            # Flat or without length, so of one colour.
            line, inner = gradient.line, gradient.matrix.inverse()
        if gradient.radial:
            pattern = lib.cairo_pattern_create_radial(*line)
        else:
            pattern = lib.cairo_pattern_create_linear(*line)
        lib.cairo_pattern_set_matrix(pattern, Matrix(*inner))
        lib.cairo_pattern_set_extend(pattern, _EXTENDS[gradient.spread])
        for stop in gradient.stops:
            red, green, blue = bytes.fromhex(stop.colour[1:])
            lib.cairo_pattern_add_color_stop_rgba(
                pattern, stop.offset, red / 255, green / 255, blue / 255, stop.opacity * opacity
            )
        lib.cairo_set_source(context, pattern)
        lib.cairo_pattern_destroy(pattern)
        self.matrix = matrix

    def style(self, stroke: Stroke, *, smooth: bool) -> None:
        """Set how a stroke is drawn, of an outline that is known to have no corners or may."""
        lib, context = self.lib, self.context
        # Where every join is smooth, none shows; but cairo places the tip of a mitre at the last
        # one by where the outline lies on its canvas.
        join = _BEVEL if smooth else _JOINS.get(stroke.join, 0)
        lib.cairo_set_line_width(context, stroke.width)
        lib.cairo_set_line_cap(context, _CAPS[stroke.cap])
        lib.cairo_set_line_join(context, join)
        lib.cairo_set_miter_limit(context, miter_limit(join, stroke.miter_limit))
        if stroke.dashes:
            dashes = (ctypes.c_double * len(stroke.dashes))(*stroke.dashes)
            lib.cairo_set_dash(context, dashes, len(dashes), stroke.dash_offset)

    def clip_extents(self) -> tuple[float, float, float, float]:
        """Return the box of what can be painted: left, top, right, bottom."""
        found = [ctypes.c_double() for _ in range(4)]
        self.lib.cairo_clip_extents(self.context, *found)
        left, top, right, bottom = (side.value for side in found)
        return left, top, right, bottom

    def lay(self, pixels: Any, place: tuple[int, int, int, int], *, hard: bool = False) -> None:
        """Lay a picture over what is there.

        Args:
            pixels: in cairo's words, row by row, as a buffer that can be written.
            place: left, top, width and height.
            hard: its pixels are units of the user's and stay squares; otherwise they are pixels.
        """
        lib, (x, y, width, height) = self.lib, place
        data = (ctypes.c_ubyte * (width * height * 4)).from_buffer(pixels)
        picture = lib.cairo_image_surface_create_for_data(data, ARGB32, width, height, width * 4)
        lib.cairo_set_source_surface(self.context, picture, x, y)
        lib.cairo_pattern_set_filter(
            lib.cairo_get_source(self.context), _FAST if hard else _NEAREST
        )
        lib.cairo_paint(self.context)
        # So that the context lets go of the picture.
        lib.cairo_set_source_rgba(self.context, 0, 0, 0, 1)
        lib.cairo_surface_destroy(picture)


def miter_limit(join: int, limit: float) -> float:
    """Return the limit of mitres; none are made of round joins."""
    return 0.0 if join == _JOINS["round"] else limit


def steadied(radial: bool, line: tuple[float, ...], outward: Affine) -> _Source:
    """Return a gradient in pixels whose map is exact in 16.16 fixed point.

    Args:
        radial: whether it runs in circles.
        line: see :class:`~vecrepeat.scene.nodes.Gradient`.
        outward: from the gradient's own space to pixels.

    Raises:
        ZeroDivisionError: the matrix is flat, or a linear gradient has no length.
    """
    return _radial(outward, *line) if radial else _linear(outward, *line)


def _rounded(value: float, steps: int) -> float:
    return math.floor(value * steps + _UNEVEN) / steps


def _linear(outward: Affine, x1: float, y1: float, x2: float, y2: float) -> _Source:
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
    line = (x, y, x + dx - along * level_x, y + dy - along * level_y)
    return line, (1, 0, 0, 1, -left, -top)


def _radial(
    outward: Affine, x1: float, y1: float, r1: float, x2: float, y2: float, r2: float
) -> _Source:
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
    circles = tuple(value * scale for value in (x1, y1, r1, x2, y2, r2))
    return circles, (a, b, c, d, x - a * left - c * top, y - b * left - d * top)
