"""A faster reading of path data for CairoSVG, making the very same calls to cairo.

CairoSVG reads a path by cutting numbers off the front of a string, which takes time in the
square of the path's length. Here the numbers are split once. The calls, their order and their
arguments are CairoSVG's, so every pixel stays the same; arcs are left to CairoSVG itself.
Rounded rectangles get the corners that SVG gives them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import cairocffi
from cairosvg import surface as cairosvg_surface
from cairosvg.helpers import size
from cairosvg.path import path as cairosvg_path
from cairosvg.path import quadratic_points
from cairosvg.shapes import rect as cairosvg_rect

from vecrepeat.scene.pathdata import parse_path


def _path(surface: Any, node: Any) -> None:
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
    last = ""
    start: tuple[float, float] | None = None
    # Control and end point of the last curve, as CairoSVG keeps them for smooth ones.
    x1 = y1 = x2 = y2 = x3 = y3 = 0.0
    for letter, n in data.steps:
        if last in ("", "m", "M", "z", "Z"):
            start = None
            if letter not in "mMzZ":
                start = (x, y)
        if letter == "c":
            lib.cairo_rel_curve_to(pen, *n)
            x1, y1, x2, y2, x3, y3 = n[0] + x, n[1] + y, n[2] + x, n[3] + y, n[4] + x, n[5] + y
            x, y = x + n[4], y + n[5]
        elif letter == "C":
            lib.cairo_curve_to(pen, *n)
            x1, y1, x2, y2, x3, y3 = n
            x, y = x3, y3
        elif letter == "l":
            lib.cairo_rel_line_to(pen, *n)
            x, y = x + n[0], y + n[1]
        elif letter == "L":
            lib.cairo_line_to(pen, *n)
            x, y = n
        elif letter == "h":
            lib.cairo_rel_line_to(pen, n[0], 0)
            x += n[0]
        elif letter == "H":
            lib.cairo_line_to(pen, n[0], y)
            x = n[0]
        elif letter == "v":
            lib.cairo_rel_line_to(pen, 0, n[0])
            y += n[0]
        elif letter == "V":
            lib.cairo_line_to(pen, x, n[0])
            y = n[0]
        elif letter == "m":
            lib.cairo_rel_move_to(pen, *n)
            x, y = x + n[0], y + n[1]
        elif letter == "M":
            lib.cairo_move_to(pen, *n)
            x, y = n
        elif letter == "s":
            smooth = last != "" and last in "csCS"
            x1, y1 = (x3 - x2, y3 - y2) if smooth else (0, 0)
            lib.cairo_rel_curve_to(pen, x1, y1, *n)
            x1, y1, x2, y2, x3, y3 = x1 + x, y1 + y, n[0] + x, n[1] + y, n[2] + x, n[3] + y
            x, y = x + n[2], y + n[3]
        elif letter == "S":
            smooth = last != "" and last in "csCS"
            x1, y1 = (x3 + (x3 - x2), y3 + (y3 - y2)) if smooth else (x, y)
            x2, y2, x3, y3 = n
            lib.cairo_curve_to(pen, x1, y1, x2, y2, x3, y3)
            x, y = x3, y3
        elif letter == "q":
            x1, y1 = 0, 0
            x2, y2, x3, y3 = n
            lib.cairo_rel_curve_to(pen, *quadratic_points(x1, y1, x2, y2, x3, y3))
            x, y = x + x3, y + y3
        elif letter == "Q":
            x1, y1 = x, y
            x2, y2, x3, y3 = n
            lib.cairo_curve_to(pen, *quadratic_points(x1, y1, x2, y2, x3, y3))
            x, y = x3, y3
        elif letter == "t":
            if last == "" or last not in "QqTt":
                x2, y2, x3, y3 = 0, 0, 0, 0
            elif last in "QT":
                x2, y2, x3, y3 = x2 - x1, y2 - y1, x3 - x1, y3 - y1
            x2, y2 = x3 - x2, y3 - y2
            x1, y1 = 0, 0
            x3, y3 = n
            lib.cairo_rel_curve_to(pen, *quadratic_points(x1, y1, x2, y2, x3, y3))
            x, y = x + x3, y + y3
        elif letter == "T":
            if last == "" or last not in "QqTt":
                x2, y2, x3, y3 = x, y, x, y
            elif last in "qt":
                x2, y2, x3, y3 = x2 + x, y2 + y, x3 + x, y3 + y
            x2, y2 = x + (x3 - x2), y + (y3 - y2)
            x1, y1 = x, y
            x3, y3 = n
            lib.cairo_curve_to(pen, *quadratic_points(x1, y1, x2, y2, x3, y3))
            x, y = x3, y3
        elif start is not None:
            lib.cairo_close_path(pen)
            x, y = start
        last = letter


_ARC = 4 * (2**0.5 - 1) / 3
"""How far the control points of a quarter of an ellipse lie from its ends, in radii."""


def _rect(surface: Any, node: Any) -> None:
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


@contextmanager
def quick_paths() -> Iterator[None]:
    """Have CairoSVG draw paths and rectangles through ours for a while."""
    tags = cairosvg_surface.TAGS
    before = tags["path"], tags["rect"]
    tags["path"], tags["rect"] = _path, _rect
    try:
        yield
    finally:
        tags["path"], tags["rect"] = before
