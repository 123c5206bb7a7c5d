"""Pieces of motifs at a finished tile's bounds, and which piece goes on as which.

A finished tile's own drawing must go on over every bound. Wherever a lattice vector brings a
motif onto the tile again, a piece of the same shape must be drawn there: its partner.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.check.plane import Plane
from vecrepeat.repeat.wrap import Floats, Ints, copies, copy_arrays, moved, offsets
from vecrepeat.scene.outline import DEFAULT_TOLERANCE

INSIDE = 1e-4
"""How far within the bounds in mm a section is taken: the drawing meets the bound there."""

ROUGHLY = 0.5
"""By how many mm, and 2 % of its sides, a motif's box may differ from one drawn in its place."""

_ALIKE = 0.02
"""Share of a shape's area that may differ for two shapes to be one, once they lie alike."""


class Piece(NamedTuple):
    """A motif that comes onto the tile again under a lattice vector.

    Attributes:
        placement: whose.
        steps: the lattice index (i, j).
        shape: where it comes to lie, in mm of the tile.
    """

    placement: int
    steps: tuple[int, int]
    shape: BaseGeometry


class Link(NamedTuple):
    """Two pieces that are one motif.

    Attributes:
        one: a placement.
        other: the placement that goes on where ``one`` comes in again.
        steps: the lattice index by which ``one`` comes in.
        off: (dx, dy) in mm by which ``other`` lies beside where ``one`` comes to lie.
        whole: whether both are drawn whole, so that the figure is exact.
        alike: whether both are painted in the same colours.
    """

    one: int
    other: int
    steps: tuple[int, int]
    off: tuple[float, float]
    whole: bool
    alike: bool


def _coming_in(plane: Plane, least: float) -> tuple[Ints, Ints]:
    """Return placements that come onto the tile again, and under which lattice indices."""
    tile = shapely.box(*plane.repeat.tile_rect)
    found = [c for c in copies(plane.repeat, plane.repeat.tile_rect.grown(-least)) if c.is_wrap]
    which, steps = copy_arrays(found)
    # What fills the whole page is a ground, whatever it is drawn as.
    motifs = ~shapely.covers(plane.outlines[which], tile)
    return which[motifs], steps[motifs]


def find_wanted(plane: Plane, least: float) -> list[Piece]:
    """Return the pieces that must be drawn on the tile besides the motifs as they stand.

    A piece that reaches less than ``least`` mm into the tile is not missed.
    """
    which, steps = _coming_in(plane, least)
    shapes = moved(plane.outlines[which], offsets(plane.repeat.lattice, steps))
    return [
        Piece(int(k), (int(i), int(j)), s)
        for k, (i, j), s in zip(which, steps, shapes, strict=True)
    ]


def share_in_place(plane: Plane, least: float) -> float:
    """Return for what share of the pieces wanted there is a motif of about their box in place.

    That takes a fraction of the time of looking at shapes. Both boxes are cut at the tile's
    bounds, as either may be drawn. ``least`` is that of :func:`wanted`.
    """
    which, steps = _coming_in(plane, least)
    if not len(which):
        return 0.0
    rect = plane.repeat.tile_rect
    low, high = np.array([rect.x0, rect.y0] * 2), np.array([rect.x1, rect.y1] * 2)
    drawn = plane.repeat.boxes
    pieces = np.clip(drawn[which] + np.tile(offsets(plane.repeat.lattice, steps), 2), low, high)
    drawn = np.clip(drawn, low, high)
    apart = ROUGHLY + _ALIKE * np.tile(pieces[:, 2:] - pieces[:, :2], 2)
    middles = [shapely.points((boxes[:, :2] + boxes[:, 2:]) / 2) for boxes in (pieces, drawn)]
    reach = np.hypot(apart[:, 0], apart[:, 1])
    piece, other = shapely.STRtree(middles[1]).query(middles[0], "dwithin", reach)
    close = (np.abs(pieces[piece] - drawn[other]) <= apart[piece]).all(axis=1)
    close &= which[piece] != other
    return len(np.unique(piece[close])) / len(which)


def find_partners(plane: Plane, pieces: list[Piece], search: float) -> list[Link | None]:
    """Return each piece's partner among the motifs as they stand, or None."""
    shapes = plane.outlines
    tree = shapely.STRtree(shapes)
    area = shapely.area(shapes)
    centre = shapely.get_coordinates(shapely.centroid(shapes))
    colours = [p.motif.colours for p in plane.repeat.placements]
    tile = shapely.box(*plane.repeat.tile_rect)
    links: list[Link | None] = []
    for piece in pieces:
        near = tree.query(piece.shape, predicate="dwithin", distance=search)
        near = near[near != piece.placement]
        middle = np.array(shapely.get_coordinates(shapely.centroid(piece.shape))[0])
        off = centre[near] - middle
        size = area[piece.placement]
        same = (np.abs(area[near] - size) < _ALIKE * size) & (np.hypot(*off.T) <= search)
        order = np.argsort(np.hypot(*off.T) + search * ~same, kind="stable")
        link = None
        for k in order:
            other = int(near[k])
            alike = set(colours[other]) == set(colours[piece.placement])
            if same[k]:
                laid = moved(shapes[other : other + 1], -off[k : k + 1])[0]
                if shapely.symmetric_difference(laid, piece.shape).area < _ALIKE * size:
                    by = (float(off[k, 0]), float(off[k, 1]))
                    found = Link(piece.placement, other, piece.steps, by, True, alike)
                    if link is None or (alike and not link.alike):
                        link = found
                    if alike:
                        break
            elif alike and link is None:
                shift = register(piece.shape, shapes[other], tile, search)
                if shift is not None:
                    link = Link(piece.placement, other, piece.steps, shift, False, True)
        links.append(link)
    return links


def register(
    wanted_shape: BaseGeometry, drawn: BaseGeometry, tile: BaseGeometry, search: float
) -> tuple[float, float] | None:
    """Return by how much a shape cut at the bounds lies beside a whole one, or None if it isn't it.

    Points along the drawn outline within the tile are laid onto the wanted outline by least
    squares of their distances along its normals, again and again until they rest.
    """
    inner = tile.buffer(-0.05)
    line = shapely.intersection(shapely.boundary(drawn), inner)
    if line.is_empty or line.length < 0.2:
        return None
    points = _along(line, 160)
    target = shapely.boundary(wanted_shape)
    shift = np.zeros(2)
    for _ in range(40):
        at = points - shift
        foot = shapely.get_coordinates(shapely.shortest_line(shapely.points(at), target))[1::2]
        away = at - foot
        distance = np.hypot(away[:, 0], away[:, 1])
        normal = away / np.maximum(distance, 1e-12)[:, None]
        system = np.vstack([normal, 1e-6 * np.eye(2)])
        step = np.linalg.lstsq(system, np.append(distance, (0, 0)), rcond=None)[0]
        shift = shift + step
        if np.hypot(*step) < 1e-7 or np.hypot(*shift) > search:
            break
    if np.hypot(*shift) > search or float(np.quantile(distance, 0.9)) > 2 * DEFAULT_TOLERANCE:
        return None
    # The drawn piece may be no more than a scrap of the outline wanted.
    visible = shapely.intersection(wanted_shape, inner).area
    laid = shapely.intersection(shapely.affinity.translate(drawn, *(-shift)), inner)
    if abs(laid.area - visible) > 0.2 * max(visible, laid.area):
        return None
    return (float(shift[0]), float(shift[1]))


def _along(line: BaseGeometry, count: int) -> Floats:
    parts = shapely.get_parts(line)
    parts = parts[shapely.length(parts) > 0]
    lengths = shapely.length(parts)
    share = np.maximum(1, np.round(count * lengths / lengths.sum())).astype(int)
    points = [
        shapely.line_interpolate_point(part, (np.arange(n) + 0.5) / n, normalized=True)
        for part, n in zip(parts, share, strict=True)
    ]
    result: Floats = shapely.get_coordinates(np.concatenate(points))
    return result


def is_drawn(plane: Plane, piece: Piece) -> bool:
    """Whether a piece's outline within the tile runs along outlines that are drawn there.

    So it is where pieces are grouped in another way on one side of the tile than the other.
    """
    inner = shapely.box(*plane.repeat.tile_rect.grown(-0.05))
    line = shapely.intersection(shapely.boundary(piece.shape), inner)
    if line.is_empty or line.length < 0.05:
        return True
    points = shapely.points(_along(line, 60))
    parts = [p.parts for k, p in enumerate(plane.repeat.placements) if k != piece.placement]
    if not parts:
        return False
    lines = shapely.boundary(np.concatenate(parts))
    tree = shapely.STRtree(lines)
    _, distance = tree.query_nearest(points, return_distance=True, all_matches=False)
    return bool(np.quantile(distance, 0.85) < 2 * DEFAULT_TOLERANCE)


class Section(NamedTuple):
    """Where a motif's outline meets a bound.

    Attributes:
        placement: whose.
        low: where it begins along the bound, mm.
        high: where it ends.
        slopes: by how much both ends move along the bound for a mm onwards across it, or None.
        cut: whether the motif ends at the bound, as cut there.
    """

    placement: int
    low: float
    high: float
    slopes: tuple[float | None, float | None]
    cut: bool


def sections(plane: Plane, side: str) -> list[Section]:
    """Return the sections of all motifs at one bound: ``left``, ``right``, ``top``, ``bottom``."""
    rect = plane.repeat.tile_rect
    upright = side in ("left", "right")
    length = rect.height if upright else rect.width
    far = {"right": rect.width, "bottom": rect.height}.get(side, 0.0)
    inward = 1.0 if side in ("left", "top") else -1.0
    shapes, boxes = plane.outlines, plane.repeat.boxes
    axis = 0 if upright else 1
    low, high = boxes[:, axis], boxes[:, axis + 2]
    meets = np.flatnonzero((low <= far + INSIDE) & (high >= far - INSIDE))
    found: list[Section] = []
    at = far + inward * INSIDE
    deeper = far + inward * (INSIDE + 0.05)
    for k in meets:
        beyond = far - low[k] if inward > 0 else high[k] - far
        first = _spans(shapes[k], at, length, upright)
        second = _spans(shapes[k], deeper, length, upright)
        for start, end in first:
            slopes = tuple(_slope(value, second, e, inward) for e, value in ((0, start), (1, end)))
            found.append(Section(int(k), start, end, (slopes[0], slopes[1]), beyond <= 0.01))
    return found


def _spans(
    shape: BaseGeometry, at: float, length: float, upright: bool
) -> list[tuple[float, float]]:
    line = (
        shapely.LineString([(at, 0), (at, length)])
        if upright
        else shapely.LineString([(0, at), (length, at)])
    )
    cut = shapely.get_parts(shapely.intersection(shape, line))
    boxes = shapely.bounds(cut)
    lows, highs = (boxes[:, 1], boxes[:, 3]) if upright else (boxes[:, 0], boxes[:, 2])
    spans = sorted((float(a), float(b)) for a, b in zip(lows, highs, strict=True) if b > a)
    return spans


def _slope(
    value: float, deeper: list[tuple[float, float]], end: int, inward: float
) -> float | None:
    ends = [span[end] for span in deeper]
    nearest = min(ends, key=lambda v: abs(v - value), default=None)
    if nearest is None or abs(nearest - value) > 0.5:
        return None
    return (nearest - value) / (0.05 * inward)


def shift_of(
    pairs: list[tuple[Section, Section]], shift: float, length: float
) -> tuple[float, float]:
    """Return (across, along) in mm by which the second sections lie beside the first.

    A move (across, along) takes an end that runs on with slope m by along − m · across. The
    sections of one side lie over those of the other, whose bound's ends lie ``shift`` mm on.
    """
    rows, values = [], []
    for one, other in pairs:
        for k, (here, there) in enumerate(((one.low, other.low), (one.high, other.high))):
            # A corner of the tile cuts both sides at places of its own.
            if _by_corner(here, 0.0, length) or _by_corner(there, shift, length):
                continue
            known = [m for m in (one.slopes[k], other.slopes[k]) if m is not None]
            slope = float(np.mean(known)) if known else 0.0
            # The steeper an end runs, the less surely it says where it is.
            weight = 1 / math.hypot(1, slope)
            rows.append((-slope * weight, weight))
            values.append((there - here) * weight)
    if not rows:
        return 0.0, 0.0
    weak = 0.02 * math.sqrt(len(rows))
    system = np.array([*rows, (weak, 0.0)])
    across, along = np.linalg.lstsq(system, np.array([*values, 0.0]), rcond=None)[0]
    return float(across), float(along)


def _by_corner(place: float, shift: float, length: float) -> bool:
    off = (place - shift) % length
    return min(off, length - off) < 1e-3
