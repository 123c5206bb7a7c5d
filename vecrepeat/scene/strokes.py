"""The area that strokes cover: widths, caps, joins, miters and dashes (SVG 2 §13.5)."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vecrepeat.core.geometry import Affine
from vecrepeat.scene.nodes import Stroke
from vecrepeat.scene.polylines import Corners, PaintedShape, Polylines
from vecrepeat.scene.segments import Floats, Ints

ARC_TOLERANCE = 0.001
"""Greatest distance in mm between a round join or cap and its outline."""

MAX_DASHES = 20_000
"""A line that would fall into more dashes counts as drawn through."""

STRETCH_POINTS = 32
"""Points of a long line that are widened at once: the time goes with the square of them."""

LONG_LINE = 8 * STRETCH_POINTS
"""Lines of more points are widened in stretches, which stay parts of their own."""

MOST_SEGMENTS = 4096
"""Of a quarter of a circle: enough for a stroke hundreds of metres wide."""

_CAPS = {"butt": "flat", "round": "round", "square": "square"}
_POINT = 1e-6
"""Length in mm given to a line without any, so that its caps have a direction."""


def stroke_areas(
    shapes: Sequence[PaintedShape], lines: Polylines, areas: Sequence[list[BaseGeometry]]
) -> None:
    """Add the area of every stroke to the list of its shape.

    Args:
        shapes: all shapes.
        lines: their polylines in mm.
        areas: a list for each shape, added to.
    """
    groups: dict[tuple[str, str, float, Affine | None, bool], list[int]] = defaultdict(list)
    for k, owner in enumerate(lines.shape.tolist()):
        shape = shapes[owner]
        if shape.stroke is None:
            continue
        s = shape.stroke
        # Under an uneven stretch a stroke is widened in its own space, then stretched.
        frame = None if shape.matrix.is_similarity() else shape.matrix
        groups[(s.cap, s.join, s.miter_limit, frame, bool(s.dashes))].append(k)
    for (cap, join, limit, frame, dashed), members in groups.items():
        which = np.array(members)
        own = lines if frame is None else lines.mapped(frame.inverse())
        mine = [shapes[o] for o in lines.shape[which].tolist()]
        scales = [math.sqrt(abs(s.matrix.determinant)) if frame is None else 1.0 for s in mine]
        strokes = [s.stroke for s in mine if s.stroke is not None]
        radii = np.array([s.width / 2 * f for s, f in zip(strokes, scales, strict=True)])
        across = [(1.0, 0.0) if frame is not None else _across(s.matrix) for s in mine]
        pieces = [
            _Piece(k, own.points(k), bool(own.closed[k]), float(radius), direction)
            for k, radius, direction in zip(members, radii, across, strict=True)
        ]
        if dashed:
            pieces = [
                dash
                for piece, stroke, scale in zip(pieces, strokes, scales, strict=True)
                for dash in _dashes(piece, stroke, scale)
            ]
        arc = ARC_TOLERANCE / (1.0 if frame is None else frame.stretch)
        corners = own.corners.of(which)
        found: list[tuple[int, BaseGeometry]] = []
        if join != "round":
            width_of = dict(zip(members, radii.tolist(), strict=True))
            widths = np.array([width_of[k] for k in corners.line.tolist()])
            found += _wedges(corners, widths, 1.0 if join == "bevel" else limit)
            if not dashed:
                order = np.argsort(corners.line, kind="stable")
                starts = np.searchsorted(corners.line[order], [p.line for p in pieces], "left")
                ends = np.searchsorted(corners.line[order], [p.line for p in pieces], "right")
                pieces = [
                    run
                    for piece, a, b in zip(pieces, starts, ends, strict=True)
                    for run in _runs(piece, own, corners, order[a:b], cap, found)
                ]
        found += _widened(pieces, cap, join, set(corners.line.tolist()), arc)
        for k, area in found:
            if frame is not None:
                area = shapely.transform(area, frame.apply)
            areas[int(lines.shape[k])].append(area)


class _Piece(NamedTuple):
    """A polyline, or one dash of it, to be widened.

    Attributes:
        line: index of the polyline.
        points: vertices, shape (n, 2).
        closed: whether it is closed.
        radius: half the width.
        across: direction of the user space's x axis.
        run: whether it is a smooth run between corners, which has no caps of its own.
    """

    line: int
    points: Floats
    closed: bool
    radius: float
    across: tuple[float, float]
    run: bool = False


def _across(matrix: Affine) -> tuple[float, float]:
    """Return the direction of the user space's x axis."""
    size = math.hypot(matrix.a, matrix.b)
    return (matrix.a / size, matrix.b / size)


def _widened(
    pieces: Sequence[_Piece], cap: str, join: str, cornered: set[int], arc_tolerance: float
) -> list[tuple[int, BaseGeometry]]:
    """Return the area of each piece but for miters, as (polyline, area) pairs."""
    widest = max((p.radius for p in pieces), default=0.0)
    bow = min(0.5, arc_tolerance / widest) if widest else 0.5
    # acos(1 - bow), which is nought for very small bows, is sqrt(2 bow) or a little more.
    quad_segs = min(max(4, math.ceil(math.pi / 4 / math.sqrt(2 * bow))), MOST_SEGMENTS)
    batches: dict[tuple[bool, str, str], list[tuple[_Piece, Floats]]] = defaultdict(list)
    found: list[tuple[int, BaseGeometry]] = []
    for piece in pieces:
        ring, ends, points = _drawn(piece, _CAPS.get(cap, "flat"), join)
        if len(points):
            # Where nothing turns, round joins keep the edge at half the width.
            sharp = join != "round" and piece.line in cornered and not piece.run
            style = "bevel" if sharp else "round"
            if len(points) <= LONG_LINE:
                batches[(ring, ends, style)].append((piece, points))
                continue
            batches[(False, "flat", style)] += [(piece, some) for some in _stretches(points, ring)]
            if not ring:
                for end, inner in ((points[0], points[1]), (points[-1], points[-2])):
                    found += [(piece.line, area) for area in _cap(end, inner, piece.radius, ends)]
    for (ring, ends, style), batch in batches.items():
        coords = np.concatenate([points for _, points in batch])
        owner = np.repeat(np.arange(len(batch)), [len(points) for _, points in batch])
        make = shapely.linearrings if ring else shapely.linestrings
        areas = shapely.buffer(
            make(coords, indices=owner),
            [piece.radius for piece, _ in batch],
            quad_segs=quad_segs,
            cap_style=ends,
            join_style=style,
        )
        found.extend((piece.line, area) for (piece, _), area in zip(batch, areas, strict=True))
    return found


def _stretches(points: Floats, ring: bool) -> Iterator[Floats]:
    """Yield a line's stretches, each a step longer at both ends, so that joins are within."""
    if ring:
        closed = _same(points[0], points[-1])
        points = np.concatenate([points, points[1:2] if closed else points[:2]])
    for start in range(0, len(points) - 1, STRETCH_POINTS):
        yield points[max(0, start - 1) : start + STRETCH_POINTS + 2]


def _drawn(piece: _Piece, cap: str, join: str) -> tuple[bool, str, Floats]:
    """Return whether a piece is widened as a ring, its cap style and its vertices."""
    points = piece.points
    if piece.run:
        cap = "flat"
    if len(points) == 1:
        # A subpath without length shows its caps only (SVG 2 §13.5.3).
        if cap == "flat":
            return (False, cap, points[:0])
        return (False, cap, np.array([points[0], points[0] + np.array(piece.across) * _POINT]))
    if piece.closed:
        if len(points) > 3 or (len(points) == 3 and not _same(points[0], points[2])):
            return (True, "flat", points)
        # There and back: joins at both ends take the place of caps.
        return (False, "round" if join == "round" else "flat", points)
    if _same(points[0], points[-1]):
        # An open line that ends where it starts has caps there; a ring would have a join.
        step = points[-2] - points[-1]
        points = points.copy()
        points[-1] += step / np.hypot(*step) * min(_POINT, float(np.hypot(*step)) / 2)
    return (False, cap, points)


def _runs(
    piece: _Piece,
    lines: Polylines,
    corners: Corners,
    mine: Ints,
    cap: str,
    found: list[tuple[int, BaseGeometry]],
) -> list[_Piece]:
    """Return the smooth runs between the corners of a line with curves and corners.

    A buffer has one join style, but the steps of a flattened curve want round joins where the
    line's corners want bevels. ``mine`` are the indices of the line's corners; its caps are
    added to ``found``.
    """
    if not lines.curved[piece.line] or not len(mine) or len(piece.points) < 3:
        return [piece]
    points = piece.points
    cuts = sorted(set(corners.vertex[mine].tolist()))
    if piece.closed:
        if not _same(points[0], points[-1]):
            points = np.concatenate([points, points[:1]])
        # Start at a corner, so that every run lies between two.
        first = cuts[0] % (len(points) - 1)
        points = np.concatenate([points[first:], points[1 : first + 1]])
        cuts = sorted({(cut - first) % (len(points) - 1) for cut in cuts})
    else:
        for end, inner in ((points[0], points[1]), (points[-1], points[-2])):
            found.extend((piece.line, area) for area in _cap(end, inner, piece.radius, cap))
    edges = sorted({0, *cuts, len(points) - 1})
    at = corners.at[mine].tolist()
    leaving = list(zip(at, corners.leaving[mine].tolist(), strict=True))
    arriving = list(zip(at, corners.arriving[mine].tolist(), strict=True))
    runs = []
    for a, b in pairwise(edges):
        run = points[a : b + 1]
        head = _nudge(run[0], run[1], leaving, 1)
        tail = _nudge(run[-1], run[-2], arriving, -1)
        runs.append(np.concatenate([run[:1], head, run[1:-1], tail, run[-1:]]))
    return [piece._replace(points=run, closed=False, run=True) for run in runs]


def _nudge(
    end: Floats, inner: Floats, corners: Sequence[tuple[list[float], list[float]]], way: float
) -> Floats:
    """Return a point just inside the end of a run, on the tangent there, shape (0 or 1, 2).

    The run's end is cut square to its last step, which must therefore follow the tangent, not
    a chord. ``corners`` are places and tangents; ``way`` is −1 for tangents that arrive there.
    Runs are short and many: plain numbers are quicker than arrays here.
    """
    (x, y), (inner_x, inner_y) = end.tolist(), inner.tolist()
    chord_x, chord_y = inner_x - x, inner_y - y
    length = math.hypot(chord_x, chord_y)
    best, tangent = 0.0, None
    for (at_x, at_y), (dx, dy) in corners:
        if length and abs(at_x - x) < 1e-9 and abs(at_y - y) < 1e-9:
            along = way * (dx * chord_x + dy * chord_y) / length
            if along > best:
                best, tangent = along, (way * dx, way * dy)
    if tangent is None or best < 0.5:
        return end[None][:0]
    step = min(1e-3, length / 4)
    return np.array([[x + tangent[0] * step, y + tangent[1] * step]])


def _same(one: Floats, other: Floats) -> bool:
    """Whether two points are the same; several times as quick as asking for equal arrays."""
    return bool(one.tolist() == other.tolist())


def _cap(end: Floats, inner: Floats, radius: float, cap: str) -> list[BaseGeometry]:
    """Return the area of a line's cap beyond its end."""
    if cap == "round":
        return [shapely.Point(end).buffer(radius, quad_segs=32)]
    if cap == "square":
        along = (end - inner) / np.hypot(*(end - inner)) * radius
        side = np.array([-along[1], along[0]])
        return [shapely.Polygon([end + side, end + side + along, end - side + along, end - side])]
    return []


def _wedges(corners: Corners, radii: Floats, limit: float) -> list[tuple[int, BaseGeometry]]:
    """Return what joins add beyond the two strokes that meet, as (polyline, area) pairs.

    Miters within the limit, else bevels. They stand on the tangents of the segments that
    meet, as SVG 2 §13.5.5 has it.
    """
    u, v = corners.arriving, corners.leaving
    half = np.sqrt((1 + np.clip((u * v).sum(axis=1), -1.0, 1.0)) / 2)[:, None]
    radii = radii[:, None]
    side = -np.sign(u[:, :1] * v[:, 1:] - u[:, 1:] * v[:, :1])
    before = np.stack([-u[:, 1], u[:, 0]], axis=1) * side
    after = np.stack([-v[:, 1], v[:, 0]], axis=1) * side
    middle = before + after
    # miter length / stroke width = 1 / sin(θ/2), θ between the segments; half is sin(θ/2).
    pointed = half * limit > 1
    with np.errstate(divide="ignore", invalid="ignore"):
        tip = middle / np.hypot(*middle.T)[:, None] / half
    tip = np.where(pointed, tip, middle / 2)
    at = corners.at
    outline = np.stack([at, at + radii * before, at + radii * tip, at + radii * after], axis=1)
    return list(zip(corners.line.tolist(), shapely.polygons(outline), strict=True))


def _dashes(piece: _Piece, stroke: Stroke, scale: float) -> list[_Piece]:
    """Return the dashes of a piece (SVG 2 §13.5.6)."""
    points = piece.points
    if piece.closed and not _same(points[0], points[-1]):
        points = np.concatenate([points, points[:1]])
    cut = _cut(points, piece.closed, stroke, scale)
    if cut is None:
        return [piece]
    return [piece._replace(points=dash, closed=False) for dash in cut]


def _cut(points: Floats, closed: bool, stroke: Stroke, scale: float) -> list[Floats] | None:
    """Return a polyline's dashes, or None where it is drawn through."""
    pattern = np.array(stroke.dashes) * scale
    if len(pattern) % 2:
        pattern = np.concatenate([pattern, pattern])
    period = float(pattern.sum())
    steps = np.hypot(*np.diff(points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    length = float(along[-1])
    if period <= 0 or length <= 0 or length / period * len(pattern) > MAX_DASHES:
        return None
    offset = stroke.dash_offset * scale % period
    edges = np.concatenate([[0.0], np.cumsum(pattern)])
    dashes: list[Floats] = []
    for turn in range(math.floor(-offset / period), math.ceil((length + offset) / period) + 1):
        for n in range(0, len(pattern), 2):
            first = max(turn * period + edges[n] - offset, 0.0)
            last = min(turn * period + edges[n + 1] - offset, length)
            if last < first or first > length or (last == first and pattern[n] > 0):
                continue
            dashes.append(_between(points, along, first, last))
    if closed and len(dashes) > 1:
        one, other = dashes[-1], dashes[0]
        if np.allclose(one[-1], points[-1]) and np.allclose(other[0], points[0]):
            # A dash that runs over the start of a closed line is one dash.
            dashes = [np.concatenate([one, other[1:]]), *dashes[1:-1]]
    return dashes


def _between(points: Floats, along: NDArray[np.float64], first: float, last: float) -> Floats:
    """Return the stretch of a polyline between two distances along it.

    Its first and last steps follow the tangents of the curve it stands for, so that its caps
    stand square to the curve.
    """
    inner = points[(along > first) & (along < last)]
    ends = np.array([first, last])
    at = np.stack([np.interp(ends, along, points[:, k]) for k in (0, 1)], axis=1)
    step = min(1e-3, (last - first) / 4) or _POINT
    head = at[0] + _tangent(points, along, first, "right") * step
    tail = at[1] - _tangent(points, along, last, "left") * step
    if last == first:
        return np.stack([at[0], head])
    return np.concatenate([at[:1], head[None], inner, tail[None], at[1:]])


_SMOOTH = math.cos(math.radians(15))
"""Turns under 15° are steps of a flattened curve."""


def _tangent(
    points: Floats,
    along: NDArray[np.float64],
    distance: float,
    side: Literal["left", "right"],
) -> Floats:
    """Return the unit tangent of the curve a polyline stands for, at a distance along it.

    At a corner it is that of the step before (``left``) or after it.
    """
    k = int(np.clip(np.searchsorted(along, distance, side=side) - 1, 0, len(points) - 2))

    def chord(n: int) -> Floats:
        step = points[n + 1] - points[n]
        unit: Floats = step / np.hypot(*step)
        return unit

    own = chord(k)
    ends = []
    for neighbour in (k - 1, k + 1):
        other = chord(neighbour) if 0 <= neighbour < len(points) - 1 else own
        ends.append(own + other if own @ other > _SMOOTH else own * 2)
    share = (distance - along[k]) / (along[k + 1] - along[k])
    blend = ends[0] * (1 - share) + ends[1] * share
    tangent: Floats = blend / np.hypot(*blend)
    return tangent
