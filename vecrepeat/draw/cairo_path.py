"""Outlines as calls to cairo, worked out once however often a motif is drawn."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import lru_cache
from typing import NamedTuple

from vecrepeat.draw.cairo_library import library
from vecrepeat.scene.nodes import Box, Data, Ellipse, Outline
from vecrepeat.scene.pathdata import PathData, parse_path

Call = tuple[Callable[..., None], tuple[float, ...]]
"""A function of the library, and the numbers that it takes after the context."""

KEPT = 65_536
"""Outlines whose calls are kept."""

FINE = 0.00001
"""How far from arcs, in pixels, cairo may draw: they are few, and large ones show their chords."""

_ARC = 4 * (2**0.5 - 1) / 3
"""How far the control points of a quarter of an ellipse lie from its ends, in radii."""


class Traced(NamedTuple):
    """An outline ready for cairo.

    Attributes:
        calls: what adds it to a context's path, in order.
        box: left, top, right and bottom of what holds it, in its own units.
    """

    calls: tuple[Call, ...]
    box: tuple[float, float, float, float]


@lru_cache(KEPT)
def traced(outline: Outline) -> Traced:
    """Return an outline as calls to cairo."""
    if isinstance(outline, Data):
        trail = _Trail()
        trail.follow(parse_path(outline.d))
        return trail.traced()
    if isinstance(outline, Box):
        found = _box(outline)
        x, y = outline.x, outline.y
        box = (x, y, x + outline.width, y + outline.height)
    else:
        found = _ellipse(outline)
        cx, cy, rx, ry = outline.cx, outline.cy, outline.rx, outline.ry
        box = (cx - rx, cy - ry, cx + rx, cy + ry)
    lib = library()
    return Traced(tuple((getattr(lib, f"cairo_{name}"), n) for name, n in found), box)


class _Trail:
    """Path data as calls, as they come."""

    def __init__(self) -> None:
        lib = library()
        self._moves = (lib.cairo_move_to, lib.cairo_rel_move_to)
        self._lines = (lib.cairo_line_to, lib.cairo_rel_line_to)
        self._curves = (lib.cairo_curve_to, lib.cairo_rel_curve_to)
        self._calls: list[Call] = [(lib.cairo_move_to, (0.0, 0.0))]
        # All points there are, control points too.
        self._across: list[float] = []
        self._down: list[float] = []

    def traced(self) -> Traced:
        xs, ys = self._across or [0.0], self._down or [0.0]
        return Traced(tuple(self._calls), (min(xs), min(ys), max(xs), max(ys)))

    def follow(self, data: PathData) -> None:
        lib, calls, across, down = library(), self._calls, self._across, self._down
        if data.has_arcs:
            calls.append((lib.cairo_set_tolerance, (FINE,)))
        x = y = 0.0
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
                    calls.append((lib.cairo_close_path, ()))
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
            if kind == "a":
                by = n[5] - x0, n[6] - y0
                calls += ((getattr(lib, f"cairo_{name}"), of) for name, of in _arc(x, y, n, *by))
                reach = 2 * max(abs(n[0]), abs(n[1]), math.hypot(*by))
                across += (x - reach, x + reach)
                down += (y - reach, y + reach)
                n = n[5:]
            elif len(n) > 2:
                ahead_x, ahead_y = n[-2] - n[-4], n[-1] - n[-3]
                if len(n) != 6:
                    n = _cubic(x0, y0, *n)
                calls.append((self._curves[is_relative], n))
            else:
                calls.append(((self._moves if kind == "m" else self._lines)[is_relative], n))
            by_x, by_y = (x, y) if is_relative else (0.0, 0.0)
            across += [value + by_x for value in n[::2]]
            down += [value + by_y for value in n[1::2]]
            x, y = across[-1], down[-1]
            last = kind


def _cubic(x0: float, y0: float, x1: float, y1: float, x2: float, y2: float) -> tuple[float, ...]:
    """Return a quadratic curve's control points and end as a cubic's."""
    return (
        *(x1 * 2 / 3 + x0 / 3, y1 * 2 / 3 + y0 / 3),
        *(x1 * 2 / 3 + x2 / 3, y1 * 2 / 3 + y2 / 3),
        *(x2, y2),
    )


def _arc(
    x: float, y: float, numbers: tuple[float, ...], dx: float, dy: float
) -> Iterator[tuple[str, tuple[float, ...]]]:
    """Yield an arc of an ellipse from a point by so much (SVG 2 §9.3.8, appendix B.2)."""
    rx, ry, turn, large, sweep = numbers[:5]
    if not rx or not ry:
        yield "rel_line_to", (dx, dy)
        return
    rx, ry, turn = abs(rx), abs(ry), math.radians(turn)
    flat = ry / rx
    # In a frame in which the ellipse is a circle, the arc's end lies on the x axis, turned.
    xe = dx * math.cos(-turn) - dy * math.sin(-turn)
    ye = (dy * math.cos(-turn) + dx * math.sin(-turn)) / flat
    angle, length = math.atan2(ye, xe), math.hypot(xe, ye)
    rx = max(rx, length / 2)
    aside = math.sqrt(max(0.0, rx**2 - (length / 2) ** 2))
    if bool(large) == bool(sweep):
        aside = -aside

    def turned(x: float, y: float) -> tuple[float, float]:
        sine, cosine = math.sin(angle), math.cos(angle)
        return x * cosine - y * sine, y * cosine + x * sine

    (xe, ye), (cx, cy) = turned(length, 0.0), turned(length / 2, aside)
    yield "save", ()
    yield "translate", (x, y)
    yield "rotate", (turn,)
    yield "scale", (1.0, flat)
    ends = math.atan2(-cy, -cx), math.atan2(ye - cy, xe - cx)
    yield "arc" if sweep else "arc_negative", (cx, cy, rx, *ends)
    yield "restore", ()


def _ellipse(ellipse: Ellipse) -> Iterator[tuple[str, tuple[float, ...]]]:
    cx, cy, rx, ry = ellipse.cx, ellipse.cy, ellipse.rx, ellipse.ry
    flat = ry / rx
    yield "new_sub_path", ()
    yield "save", ()
    yield "scale", (1.0, flat)
    yield "arc", (cx, cy / flat, rx, 0.0, 2 * math.pi)
    yield "close_path", ()
    yield "restore", ()


def _box(box: Box) -> Iterator[tuple[str, tuple[float, ...]]]:
    """Yield a rectangle, its corners quarters of ellipses (SVG 2 §10.2)."""
    x, y, width, height = box.x, box.y, box.width, box.height
    if not (box.rx and box.ry):
        yield "rectangle", (x, y, width, height)
        return
    rx, ry = min(box.rx, width / 2), min(box.ry, height / 2)
    # How far control points lie from the start of their corner, and from the rectangle's.
    c1, c2, d1, d2 = _ARC * rx, _ARC * ry, (1 - _ARC) * rx, (1 - _ARC) * ry
    yield "move_to", (x + rx, y)
    yield "rel_line_to", (width - 2 * rx, 0.0)
    yield "rel_curve_to", (c1, 0.0, rx, d2, rx, ry)
    yield "rel_line_to", (0.0, height - 2 * ry)
    yield "rel_curve_to", (0.0, c2, -d1, ry, -rx, ry)
    yield "rel_line_to", (2 * rx - width, 0.0)
    yield "rel_curve_to", (-c1, 0.0, -rx, -d2, -rx, -ry)
    yield "rel_line_to", (0.0, 2 * ry - height)
    yield "rel_curve_to", (0.0, -c2, d1, -ry, rx, -ry)
    yield "close_path", ()
