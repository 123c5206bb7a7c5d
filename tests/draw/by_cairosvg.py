"""CairoSVG as the judge of what we draw by cairo, with a pen that mends what ours does.

It comes to its calls from SVG, by code of its own; ours come from scenes.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from unittest import mock

import cairocffi
import numpy as np
from cairosvg import surface
from cairosvg.helpers import size
from cairosvg.parser import Tree
from cairosvg.shapes import rect
from cairosvg.surface import PNGSurface
from support import Pixels

from vecrepeat.core.geometry import Affine
from vecrepeat.draw import cairo_pen


class Pen(cairocffi.Context):  # type: ignore[misc]  # cairocffi has no types
    """A context whose pixels don't depend on the place on the canvas, as ours."""

    _begun = (0.0, 0.0)

    def move_to(self, x: float, y: float) -> None:
        self._begun = (x, y)
        super().move_to(x, y)

    def get_current_point(self) -> tuple[float, float]:
        # It is asked for where a path begins, which cairo tells to 1/256 px.
        return self._begun

    def set_miter_limit(self, limit: float) -> None:
        super().set_miter_limit(cairo_pen.miter_limit(self.get_line_join(), limit))

    def set_source(self, source: cairocffi.Pattern) -> None:
        if not isinstance(source, cairocffi.Gradient):
            super().set_source(source)
            return
        matrix = self.get_matrix()
        inner = Affine(*source.get_matrix().as_tuple()).inverse()
        is_radial = isinstance(source, cairocffi.RadialGradient)
        line = tuple(source.get_radial_circles() if is_radial else source.get_linear_points())
        outward = Affine(*matrix.as_tuple()) @ inner
        points, found = cairo_pen.steadied(is_radial, line, outward)
        steady = (cairocffi.RadialGradient if is_radial else cairocffi.LinearGradient)(*points)
        for stop in source.get_color_stops():
            steady.add_color_stop_rgba(*stop)
        steady.set_extend(source.get_extend())
        steady.set_matrix(cairocffi.Matrix(*found))
        self.identity_matrix()
        super().set_source(steady)
        self.set_matrix(matrix)


@contextmanager
def true_corners() -> Iterator[None]:
    """Have it draw the corners of rectangles as quarters of ellipses (SVG 2 §10.2).

    Its own, top right and bottom left, have one control point each a tenth of the radius off.
    """
    arc = 4 * (2**0.5 - 1) / 3

    def draw(on: Any, node: Any) -> None:
        rx, ry = node.get("rx"), node.get("ry")
        rx, ry = (size(on, v, "x") for v in (rx or ry, ry or rx))
        if rx <= 0 or ry <= 0:
            rect(on, node)
            return
        x, y = (size(on, node.get(name), name) for name in ("x", "y"))
        width, height = size(on, node.get("width"), "x"), size(on, node.get("height"), "y")
        rx, ry = min(rx, width / 2), min(ry, height / 2)
        c1, c2, d1, d2 = arc * rx, arc * ry, (1 - arc) * rx, (1 - arc) * ry
        context = on.context
        context.set_line_join(cairocffi.LINE_JOIN_BEVEL)
        context.new_path()
        context.move_to(x + rx, y)
        context.rel_line_to(width - 2 * rx, 0)
        context.rel_curve_to(c1, 0, rx, d2, rx, ry)
        context.rel_line_to(0, height - 2 * ry)
        context.rel_curve_to(0, c2, -d1, ry, -rx, ry)
        context.rel_line_to(2 * rx - width, 0)
        context.rel_curve_to(-c1, 0, -rx, -d2, -rx, -ry)
        context.rel_line_to(0, 2 * ry - height)
        context.rel_curve_to(0, -c2, d1, -ry, rx, -ry)
        context.close_path()

    with mock.patch.dict(surface.TAGS, rect=draw):
        yield


def by_cairosvg(text: str, width: int, height: int, *, pen: bool = True) -> Pixels:
    """A document as CairoSVG draws it, premultiplied RGBA; without ``pen`` by cairo's context."""
    with mock.patch.object(cairocffi, "Context", Pen if pen else cairocffi.Context):
        tree = Tree(bytestring=text.encode())
        drawn = PNGSurface(tree, None, 96, output_width=width, output_height=height)
    native = np.frombuffer(drawn.cairo.get_data(), np.uint8).reshape(height, -1, 4)
    return native[..., [2, 1, 0, 3]]
