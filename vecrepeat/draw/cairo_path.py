"""A faster reading of path data for CairoSVG, making the very same calls to cairo.

CairoSVG reads a path by cutting numbers off the front of a string, which takes time in the
square of the path's length. Here the numbers are split once. The calls, their order and their
arguments are CairoSVG's, so every pixel stays the same; arcs are left to CairoSVG itself.
Rounded rectangles get the corners that SVG gives them.
"""

from __future__ import annotations

from collections import deque
from typing import Any

import cairocffi
from cairosvg.helpers import size
from cairosvg.path import path as cairosvg_path
from cairosvg.path import quadratic_points
from cairosvg.shapes import rect as cairosvg_rect

from vecrepeat.scene.pathdata import parse_path


def draw_path(surface: Any, node: Any) -> None:
    """Draw a path node; a drop-in for CairoSVG's own."""
    data = parse_path(node.get("d", ""))
    if data.has_arcs:
        cairosvg_path(surface, node)
        return
    node.vertices = deque()
    context = surface.context
    if context.has_current_point():
        x, y = context.get_current_point()
    else:
        context.move_to(0, 0)
        x, y = 0.0, 0.0
    # Straight to the library: cairo's errors stay with its context, so that the next call
    # through cairocffi raises them, and thousands of calls need not each ask for them.
    lib, pen = cairocffi.cairo, context._pointer
    last = "z"
    start: tuple[float, float] | None = None
    # From the last control point to the end, which a smooth curve goes on with.
    ahead_x = ahead_y = 0.0
    for letter, n in data.steps:
        kind = letter.lower()
        if last in "mz":
            start = None if kind in "mz" else (x, y)
        if kind == "z":
            if start is not None:
                lib.cairo_close_path(pen)
                x, y = start
            last = kind
            continue
        # Where the step begins, in its own coordinates.
        is_relative = letter == kind
        x0, y0 = (0.0, 0.0) if is_relative else (x, y)
        if kind in "st":
            smooth = last in ("cs" if kind == "s" else "qt")
            n = (x0 + ahead_x, y0 + ahead_y, *n) if smooth else (x0, y0, *n)
        elif kind in "hv":
            n = (n[0], y0) if kind == "h" else (x0, n[0])
        if len(n) > 2:
            ahead_x, ahead_y = n[-2] - n[-4], n[-1] - n[-3]
            n = n if len(n) == 6 else quadratic_points(x0, y0, *n)
            curve_to = lib.cairo_rel_curve_to if is_relative else lib.cairo_curve_to
            curve_to(pen, *n)
        elif kind == "m":
            (lib.cairo_rel_move_to if is_relative else lib.cairo_move_to)(pen, *n)
        else:
            (lib.cairo_rel_line_to if is_relative else lib.cairo_line_to)(pen, *n)
        x, y = (x + n[-2], y + n[-1]) if is_relative else (n[-2], n[-1])
        last = kind


_ARC = 4 * (2**0.5 - 1) / 3
"""How far the control points of a quarter of an ellipse lie from its ends, in radii."""


def draw_rect(surface: Any, node: Any) -> None:
    """Draw a rectangle node; a drop-in for CairoSVG's own.

    CairoSVG's corners top right and bottom left have one control point each a tenth of the
    radius too near to the corner. These are quarters of ellipses (SVG 2 §10.2); all other
    calls to cairo are CairoSVG's.
    """
    rx, ry = node.get("rx"), node.get("ry")
    # A radius that is not given is the other one.
    rx, ry = (size(surface, v, "x") for v in (rx or ry, ry or rx))
    if rx <= 0 or ry <= 0:
        cairosvg_rect(surface, node)
        return
    x, y = (size(surface, node.get(name), name) for name in ("x", "y"))
    width, height = size(surface, node.get("width"), "x"), size(surface, node.get("height"), "y")
    rx, ry = min(rx, width / 2), min(ry, height / 2)
    # How far control points lie from the start of their corner, and from the rectangle's.
    c1, c2, d1, d2 = _ARC * rx, _ARC * ry, (1 - _ARC) * rx, (1 - _ARC) * ry
    context = surface.context
    # Every join is smooth, so that none shows; but cairo places the tip of a mitre at the last
    # one by where the rectangle lies on its canvas (see cairo_pen).
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
