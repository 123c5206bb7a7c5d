"""What paths go along as cubic segments, and segments as polylines.

Arcs are turned into curves by svgelements; flattening is vectorised over all the segments of a
drawing at once.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from vecrepeat.core.allowance import POINTS
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Rect
from vecrepeat.scene.nodes import Box, Data, Outline
from vecrepeat.scene.pathdata import parse_path

MAX_COORDINATE = 1e7
"""Coordinates beyond this (in user units) are no drawing; such shapes draw nothing."""

MAX_STEPS = 2000
"""The most chords that one curve is flattened into."""

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Segments:
    """A shape's outline as cubic Bézier segments in its own user space.

    Attributes:
        points: control points, shape (n, 4, 2).
        straight: which segments are straight lines, shape (n,).
        subpath: index of each segment's subpath, ascending, shape (n,).
        closed: whether each subpath is closed, shape (subpaths,).
        vertex: which segments end at a vertex rather than within an arc, shape (n,).
    """

    points: Floats
    straight: NDArray[np.bool_]
    subpath: Ints
    closed: NDArray[np.bool_]
    vertex: NDArray[np.bool_]


_NONE = np.empty(0, bool)
EMPTY = Segments(np.empty((0, 4, 2)), _NONE, np.empty(0, np.int64), _NONE, _NONE)


@lru_cache(maxsize=16384)
def segments_of(outline: Outline) -> Segments:
    """Return the segments of what a path goes along; empty where it draws nothing."""
    if isinstance(outline, Data):
        return path_segments(outline.d)
    if isinstance(outline, Box):
        return _rect(outline)
    centre = np.array([outline.cx, outline.cy])
    radii = (outline.rx, outline.ry)
    return _one(_UNIT_CIRCLE * radii + centre, np.zeros(len(_UNIT_CIRCLE), bool), True)


@lru_cache(maxsize=16384)
def outline_box(outline: Outline) -> Rect | None:
    """Return the bounds of what a path goes along; None where it draws nothing."""
    segments = segments_of(outline)
    return tight_box(segments.points, segments.straight) if len(segments.points) else None


def rect_segments(rect: Rect) -> Segments:
    """Return the segments of a rectangle."""
    x0, y0, x1, y1 = rect
    starts = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    ends = np.roll(starts, -1, axis=0)
    return _one(np.stack([starts, starts, ends, ends], axis=1), np.ones(4, bool), True)


def _one(points: Floats, straight: NDArray[np.bool_], closed: bool) -> Segments:
    """Return the segments of a shape with a single subpath."""
    # Arcs are written a quarter at a time, in four pieces.
    vertex = straight | (np.cumsum(~straight) % 4 == 0)
    return Segments(points, straight, np.zeros(len(points), np.int64), np.array([closed]), vertex)


def _arcs(angles: Floats) -> Floats:
    """Return cubics along the unit circle between successive angles, shape (n, 4, 2).

    Pieces of π/8 stay within 2e-8 of the circle.
    """
    a, b = angles[:-1], angles[1:]
    reach = (4 / 3 * np.tan((b - a) / 4))[:, None]
    start = np.stack([np.cos(a), np.sin(a)], axis=1)
    end = np.stack([np.cos(b), np.sin(b)], axis=1)
    after = start + reach * np.stack([-start[:, 1], start[:, 0]], axis=1)
    before = end - reach * np.stack([-end[:, 1], end[:, 0]], axis=1)
    arcs = np.stack([start, after, before, end], axis=1)
    # The quarter points are exact, so that a circle's bounds are.
    return np.where(np.abs(arcs) < 1e-15, 0.0, arcs)


_UNIT_CIRCLE = _arcs(np.linspace(0.0, 2 * math.pi, 17))


def _rect(box: Box) -> Segments:
    x, y, w, h, rx, ry = box.x, box.y, box.width, box.height, box.rx, box.ry
    if not rx or not ry:
        return rect_segments(Rect(x, y, x + w, y + h))
    rows: list[Floats] = []
    straight: list[bool] = []
    centres = [
        (x + w - rx, y + h - ry),
        (x + rx, y + h - ry),
        (x + rx, y + ry),
        (x + w - rx, y + ry),
    ]
    for quarter, centre in enumerate(centres):
        arc = _UNIT_CIRCLE[quarter * 4 : quarter * 4 + 4] * (rx, ry) + np.array(centre)
        if rows:
            rows.append(np.stack([rows[-1][-1, 3]] * 2 + [arc[0, 0]] * 2)[None])
            straight.append(True)
        rows.append(arc)
        straight.extend([False] * 4)
    rows.append(np.stack([rows[-1][-1, 3]] * 2 + [rows[0][0, 0]] * 2)[None])
    straight.append(True)
    return _one(np.concatenate(rows), np.array(straight), True)


def path_segments(d: str) -> Segments:
    """Return the segments of path data, up to its first error (SVG 2 §9.5.4)."""
    steps = parse_path(d).steps
    if not steps or steps[0][0] not in "mM":
        return EMPTY
    rows: list[tuple[float, ...]] = []
    straight: list[bool] = []
    subpath: list[int] = []
    closed: list[bool] = []
    within: list[int] = []
    x = y = sx = sy = 0.0
    # Last control point and the kind of curve it belongs to, for smooth curves.
    cx = cy = 0.0
    curve = ""
    drawing = False
    for letter, n in steps:
        lower = letter.lower()
        ox, oy = (x, y) if letter == lower else (0.0, 0.0)
        if lower == "m":
            x, y = ox + n[0], oy + n[1]
            sx, sy = x, y
            drawing = False
            curve = ""
            continue
        if not drawing:
            closed.append(False)
            drawing = True
        subpath.append(len(closed) - 1)
        if lower == "z":
            rows.append((x, y, x, y, sx, sy, sx, sy))
            straight.append(True)
            closed[-1] = True
            x, y = sx, sy
            drawing = False
            curve = ""
            continue
        if lower in "lhv":
            ex = x if lower == "v" else ox + n[0]
            ey = y if lower == "h" else oy + n[-1]
            rows.append((x, y, x, y, ex, ey, ex, ey))
            straight.append(True)
            x, y = ex, ey
            curve = ""
            continue
        ex, ey = ox + n[-2], oy + n[-1]
        if lower == "a":
            pieces = _arc(x, y, n, ex, ey)
            rows.extend(pieces)
            straight.extend([len(pieces) == 1 and pieces[0][:2] == pieces[0][2:4]] * len(pieces))
            subpath.extend([len(closed) - 1] * (len(pieces) - 1))
            within.extend(range(len(straight) - len(pieces), len(straight) - 1))
            if not pieces:
                subpath.pop()
            x, y = ex, ey
            curve = ""
            continue
        straight.append(False)
        if lower in "cs":
            if lower == "c":
                ax, ay = ox + n[0], oy + n[1]
            else:
                ax, ay = (2 * x - cx, 2 * y - cy) if curve == "c" else (x, y)
            cx, cy = ox + n[-4], oy + n[-3]
            rows.append((x, y, ax, ay, cx, cy, ex, ey))
            curve = "c"
        else:
            if lower == "q":
                cx, cy = ox + n[0], oy + n[1]
            else:
                cx, cy = (2 * x - cx, 2 * y - cy) if curve == "q" else (x, y)
            rows.append(_raised(x, y, cx, cy, ex, ey))
            curve = "q"
        x, y = ex, ey
    return _assembled(rows, straight, subpath, closed, within)


def _raised(x: float, y: float, cx: float, cy: float, ex: float, ey: float) -> tuple[float, ...]:
    """Return a quadratic curve as a cubic."""
    return (
        *(x, y),
        *(x + (cx - x) * 2 / 3, y + (cy - y) * 2 / 3),
        *(ex + (cx - ex) * 2 / 3, ey + (cy - ey) * 2 / 3),
        *(ex, ey),
    )


def _assembled(
    rows: list[tuple[float, ...]],
    straight: list[bool],
    subpath: list[int],
    closed: list[bool],
    within: list[int],
) -> Segments:
    if not rows:
        return EMPTY
    points = np.array(rows, dtype=np.float64).reshape(-1, 4, 2)
    with np.errstate(invalid="ignore"):
        if not np.all(np.abs(points) <= MAX_COORDINATE):
            return EMPTY
    vertex = np.ones(len(points), bool)
    vertex[within] = False
    return Segments(points, np.array(straight), np.array(subpath), np.array(closed), vertex)


def _arc(x: float, y: float, n: tuple[float, ...], ex: float, ey: float) -> list[tuple[float, ...]]:
    """Return an elliptical arc as cubics (SVG 2 §9.5.1 says what odd radii mean)."""
    if (x, y) == (ex, ey):
        return []
    if n[0] == 0 or n[1] == 0 or not max(map(abs, (x, y, *n, ex, ey))) <= 1e3 * MAX_COORDINATE:
        return [(x, y, x, y, ex, ey, ex, ey)]
    # It takes a while to import, and few drawings have arcs.
    from svgelements import Arc

    arc = Arc((x, y), abs(n[0]), abs(n[1]), n[2], int(n[3]), int(n[4]), (ex, ey))
    # At most π/8 a piece keeps the cubic within 2e-8 of the radius.
    pieces = max(1, math.ceil(abs(arc.sweep) / (math.pi / 8)))
    return [
        (
            *(c.start.x, c.start.y, c.control1.x, c.control1.y),
            *(c.control2.x, c.control2.y, c.end.x, c.end.y),
        )
        for c in arc.as_cubic_curves(pieces)
    ]


def flatten(
    points: Floats,
    straight: NDArray[np.bool_],
    tolerance: float,
    reach: Floats | None = None,
) -> tuple[Floats, Ints]:
    """Flatten cubic segments into chords, keeping their extreme points exactly.

    Args:
        points: control points, shape (n, 4, 2), in the frame the tolerance is meant in.
        straight: which segments are straight, shape (n,).
        tolerance: the greatest distance between curve and chord, in that frame.
        reach: half the width of the stroke along each segment, shape (n,): the edge of the
            stroke, too, then stays about within the tolerance.

    Returns:
        The end points of the chords, shape (m, 2), without each segment's start point, and
        the index of the segment each belongs to, shape (m,), ascending. The points where a
        curve is extreme in x or y are among them, so the bounds of the polyline are the
        bounds of the curve.

    Raises:
        InputError: they come to more than :data:`POINTS`.
    """
    n = len(points)
    p0, p1, p2, p3 = (points[:, k] for k in range(4))
    # |B(t) − chord| <= h²/8 · max|B''|, and B'' is a blend of 6(p0−2p1+p2) and 6(p1−2p2+p3).
    bend = np.maximum(np.hypot(*(p0 - 2 * p1 + p2).T), np.hypot(*(p1 - 2 * p2 + p3).T))
    count = np.ceil(np.sqrt(0.75 * bend / tolerance)).astype(np.int64)
    if reach is not None:
        # A chord that turns by θ leaves the edge of the stroke by reach·(1 − cos θ/2).
        with np.errstate(divide="ignore", invalid="ignore"):
            turn = 2 * np.arccos(np.clip(1 - tolerance / reach, -1.0, 1.0))
            steps = np.ceil(1.2 * _turning(p1 - p0, p2 - p1, p3 - p2) / turn)
        # A curve that does not turn takes no steps, even where its stroke has no end.
        steps = np.clip(np.nan_to_num(steps, nan=1.0), 1, MAX_STEPS)
        count = np.maximum(count, np.where(reach > 0, steps, 1).astype(np.int64))
    count = np.where(straight, 1, np.clip(count, 1, MAX_STEPS))
    if count.sum() > POINTS:
        raise InputError(
            f"its shapes take more than {POINTS:,} points to outline",
            hint="simplify the drawing, or split it",
        )
    segment = np.repeat(np.arange(n), count)
    first = np.cumsum(count) - count
    step = np.arange(len(segment)) - first[segment] + 1
    t = step / count[segment]
    curved = np.flatnonzero(~straight)
    if len(curved):
        extra_segment, extra_t = _extremes(points, curved)
        segment = np.concatenate([segment, extra_segment])
        t = np.concatenate([t, extra_t])
        order = np.lexsort((t, segment))
        segment, t = segment[order], t[order]
    q = points[segment]
    xy = _at(q, t)
    ends = t == 1
    xy[ends] = q[ends, 3]
    return xy, segment


def tight_box(points: Floats, straight: NDArray[np.bool_]) -> Rect:
    """Return the exact bounds of segments: curves, not control points.

    Args:
        points: control points, shape (n, 4, 2), n at least 1.
        straight: which segments are straight, shape (n,).
    """
    ends = points[:, [0, 3]].reshape(-1, 2)
    segment, t = _extremes(points, np.flatnonzero(~straight))
    xy = np.concatenate([ends, _at(points[segment], t)])
    (x0, y0), (x1, y1) = xy.min(axis=0), xy.max(axis=0)
    return Rect(float(x0), float(y0), float(x1), float(y1))


def _at(q: Floats, t: Floats) -> Floats:
    """Return the point at parameter t of each cubic, shape (n, 2)."""
    at = t[:, None]
    s = 1 - at
    xy: Floats = (
        s * s * s * q[:, 0] + 3 * s * s * at * q[:, 1] + 3 * s * at * at * q[:, 2] + at**3 * q[:, 3]
    )
    return xy


def _turning(a: Floats, b: Floats, c: Floats) -> Floats:
    """Return how far the control polygon's legs turn in all, in radians."""

    def between(u: Floats, v: Floats) -> Floats:
        cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        angle: Floats = np.abs(np.arctan2(cross, (u * v).sum(axis=1)))
        return angle

    # A leg without length turns nowhere; then its neighbours' turn counts.
    return np.maximum(between(a, b) + between(b, c), between(a, c))


def _extremes(points: Floats, curved: Ints) -> tuple[Ints, Floats]:
    """Return where 0 < t < 1 makes x or y of a curve extreme, as (segment, t) pairs."""
    p = points[curved]
    # B'(t)/3 = a·t² + b·t + c, a column for x and one for y.
    c = p[:, 1] - p[:, 0]
    b = 2 * (p[:, 0] - 2 * p[:, 1] + p[:, 2])
    a = p[:, 3] - 3 * p[:, 2] + 3 * p[:, 1] - p[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(b * b - 4 * a * c)
        # The stable pair of formulas: neither subtracts nearly equal numbers.
        q = -0.5 * (b + np.copysign(root, b))
        candidates = np.stack([q / a, c / q], axis=-1)
    inside = np.isfinite(candidates) & (candidates > 1e-9) & (candidates < 1 - 1e-9)
    where = np.nonzero(inside)
    return curved[where[0]], candidates[where]
