"""Trail: motifs along a drawn path, which may cross the page's edges and close over them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vecrepeat.arrange.crowd import Crowd, Member
from vecrepeat.arrange.finishing import finished
from vecrepeat.arrange.results import Arrangement, grouped
from vecrepeat.arrange.settings import check_length, checked
from vecrepeat.arrange.settling import too_near
from vecrepeat.arrange.spaced import Bench, SpacedSettings, in_row, plain, strung
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import counted
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.repeat.pose import Pose
from vecrepeat.repeat.ranks import Rank

SIDES = ("both", "left", "right", "on")
"""Where motifs sit: on both sides in turn, on one as the path is drawn, or on the path."""

JOINED = 0.5
"""How far in mm a path's end may be from its own copy's beginning and still meet it."""

_SCALES = (1.0, 0.92, 0.84, 0.76, 0.68, 0.6)
"""Scales that are tried where a motif has not room enough, from the largest down."""

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class TrailSettings(SpacedSettings):
    """What a trail is to be like.

    Attributes:
        side: one of :data:`SIDES`.
        off: how far in mm motifs sit off the path, beside it; 0 touches.
        lean: by how many degrees motifs beside a path lean forward along it; 90 lies flat.
        follow: turn motifs with the path; otherwise they stand as drawn.
        spacing: the least distance along the path between two motifs of a side, in mm;
            None for the clearance.
    """

    side: str = "both"
    off: float = 0.0
    lean: float = 35.0
    follow: bool = True
    spacing: float | None = None

    def check(self) -> None:
        """Raise InputError where the settings make no sense."""
        super().check()
        check_length("the distance off the path", self.off)
        if self.spacing is not None:
            check_length("the spacing", self.spacing)
        if self.side not in SIDES:
            raise InputError(f"the side “{self.side}” is not known", hint=f"use {', '.join(SIDES)}")
        if not -90 <= self.lean <= 90:
            raise InputError(f"a lean of {self.lean:g}° is out of range (-90 to 90)")


class _Piece(NamedTuple):
    """A motif of a path, with its turn and flip beside the others'."""

    shape: int
    turn: float
    flip: bool


class _Spot(NamedTuple):
    """Where a motif is to sit: a point of the path, the way it runs there, the side."""

    shape: int
    x: float
    y: float
    heading: float
    side: int
    flip: bool
    turn: float


def lay_trail(
    repeat: Repeat,
    ranked: Sequence[tuple[Motif, Rank | str]],
    paths: Sequence[Floats],
    settings: TrailSettings | None = None,
) -> Arrangement:
    """Lay motifs along paths.

    Where a path's end meets its own beginning, or a copy's of it on the next tile, motifs come
    in whole rounds and the gaps are alike all the way round. Each motif is tried at smaller
    scales until it keeps the clearance, and left out where it can't.

    Args:
        repeat: its tile and layout are used, its placements are not.
        ranked: motifs and their ranks.
        paths: points in mm of the tile, shape (n, 2); a closed one ends where it begins.
        settings: what the trail is to be like.

    Raises:
        InputError: settings that make no sense, a layout that turns, or nothing to go along.
    """
    settings = settings or TrailSettings()
    settings.check()
    plain(repeat, "a trail")
    chosen = checked(ranked)
    lines = [shapely.LineString(points) for points in paths if len(points) > 1]
    if not any(line.length > 0 for line in lines):
        raise InputError("there is no path to go along", hint="draw one as a line or a curve")
    bench = Bench(repeat, chosen, settings)
    stem = _copies(bench, lines)
    strings = _spread(bench, settings, lines, _strings(bench, settings, lines))
    members: list[Member] = []
    left: list[str] = []
    notes: list[str] = []
    for line, pieces in zip(lines, strings, strict=True):
        notes += _open_notes(repeat, line)
        for spot in _spots(bench, settings, line, pieces):
            member = _seated(bench, settings, spot, members, stem)
            if member is None:
                left.append(bench.shapes.all[spot.shape].motif.name)
            else:
                members.append(member)
    short = sum(not pieces for pieces in strings)
    if short:
        notes.append(f"{counted(short, 'path')} of {len(lines)} too short for a motif")
    begun = {piece.shape for pieces in strings for piece in pieces}
    unbegun = [s.motif.name for k, s in enumerate(bench.shapes.all) if k not in begun]
    if unbegun:
        notes.append(
            f"the {'path is' if len(lines) == 1 else 'paths are'} too short for {grouped(unbegun)}"
        )
    if left:
        notes.append(
            f"{len(left)} left out for want of room at a clearance of "
            f"{settings.clearance:g} mm: {grouped(left)}"
        )
    return finished(bench.torus, bench.shapes, members, notes)


def closes(repeat: Repeat, line: BaseGeometry) -> bool:
    """Whether a path's end meets its own beginning or a copy's of it."""
    return _next(repeat, line)[2] <= JOINED


def _next(repeat: Repeat, line: BaseGeometry) -> tuple[float, float, float]:
    """Return where the copy begins whose beginning is nearest to a path's end, and how near."""
    (x0, y0), (x1, y1) = line.coords[0], line.coords[-1]
    (ax, ay), (bx, by) = repeat.lattice.vectors
    det = ax * by - ay * bx
    dx, dy = x1 - x0, y1 - y0
    i, j = round((dx * by - dy * bx) / det), round((dy * ax - dx * ay) / det)
    x, y = x0 + i * ax + j * bx, y0 + i * ay + j * by
    return x, y, math.hypot(x1 - x, y1 - y)


def _open_notes(repeat: Repeat, line: BaseGeometry) -> list[str]:
    """Return what to say of a path that leaves the page and is not taken up again."""
    page = shapely.box(*repeat.tile_rect).boundary
    ends = [shapely.Point(line.coords[k]) for k in (0, -1)]
    x, y, missed = _next(repeat, line)
    if missed <= JOINED or max(page.distance(end) for end in ends) > 2 * JOINED:
        return []
    return [
        f"the path that ends at {ends[1].x:.1f}, {ends[1].y:.1f} mm is not taken up: on "
        f"{repeat.layout} its next copy begins at {x:.1f}, {y:.1f} mm"
    ]


def _strings(
    bench: Bench, settings: TrailSettings, lines: Sequence[BaseGeometry]
) -> list[list[_Piece]]:
    """Return the motifs along each path, in whole rounds or as many as there is room for."""
    whole = [_Piece(*one) for one in bench.round(_in_turn(bench))]
    count = math.lcm(len(whole), _sides(settings))
    found: list[list[_Piece]] = []
    for line in lines:
        # What one path has no room for comes first along the next.
        first = sum(map(len, found)) % len(whole)
        pieces = [whole[(first + k) % len(whole)] for k in range(count)]
        lengths = _lengths(bench, settings, pieces)
        begins = strung(lengths, float(line.length), _gap(settings), count)
        found.append([pieces[k % count] for k in range(len(begins or ()))])
    return found


def _spread(
    bench: Bench,
    settings: TrailSettings,
    lines: Sequence[BaseGeometry],
    strings: Sequence[Sequence[_Piece]],
) -> list[list[_Piece]]:
    """Return the same motifs along each path, begun where like lie apart."""
    rows = [
        [
            Member(s.shape, Pose(s.x, s.y, s.turn, settings.scale, s.flip), bench.ranks[s.shape])
            for s in _spots(bench, settings, line, pieces)
        ]
        for line, pieces in zip(lines, strings, strict=True)
    ]
    return [
        [_Piece(m.shape, m.pose.turn, m.pose.flip) for m in row]
        for row in bench.phased(rows, _sides(settings))
    ]


def _sides(settings: TrailSettings) -> int:
    return 2 if settings.side == "both" else 1


def _side(settings: TrailSettings, n: int) -> int:
    """Return the side of the n-th motif: -1 is left."""
    return {"left": -1, "right": 1, "on": 0}.get(settings.side, 1 - 2 * (n % 2))


def _gap(settings: TrailSettings) -> float:
    return settings.clearance if settings.spacing is None else settings.spacing


def _lengths(bench: Bench, settings: TrailSettings, pieces: Sequence[_Piece]) -> list[float]:
    """Return how much of a path each motif takes."""
    gap = _gap(settings)
    boxes = [
        bench.box(piece.shape, _lean(settings, _side(settings, n)) + piece.turn, piece.flip)
        for n, piece in enumerate(pieces)
    ]
    # On two sides each has twice the length of path.
    return [(box.width * settings.scale + gap) / _sides(settings) - gap for box in boxes]


def _spots(
    bench: Bench, settings: TrailSettings, line: BaseGeometry, pieces: Sequence[_Piece]
) -> list[_Spot]:
    """Return where motifs are to sit along a path."""
    if not pieces:
        return []
    length = float(line.length)
    lengths = _lengths(bench, settings, pieces)
    begins = in_row(lengths, length)
    # The last gap of an open path is at no join: the ends have half of it each.
    shift = 0.0 if closes(bench.repeat, line) else (length - begins[-1] - lengths[-1]) / 2
    spots = []
    for n, (piece, begin, own) in enumerate(zip(pieces, begins, lengths, strict=True)):
        at = begin + own / 2 + shift
        here = line.interpolate(at)
        step = min(1.0, length / 8)
        before = line.interpolate(max(0.0, at - step))
        after = line.interpolate(min(length, at + step))
        heading = math.degrees(math.atan2(after.y - before.y, after.x - before.x))
        side = _side(settings, n)
        spots.append(
            _Spot(piece.shape, here.x, here.y, round(heading, 2), side, piece.flip, piece.turn)
        )
    return spots


def _in_turn(bench: Bench) -> list[int]:
    """Return the motifs as they come along a path: between the large ones a filler each."""
    large = bench.of_rank(Rank.HERO, Rank.SECONDARY)
    small = bench.of_rank(Rank.FILLER)
    if not large or not small:
        return large or small
    rounds = math.lcm(len(large), len(small)) if len(large) * len(small) <= 60 else len(large)
    return [
        one
        for k in range(max(rounds, len(large)))
        for one in (large[k % len(large)], small[k % len(small)])
    ]


def _lean(settings: TrailSettings, side: int) -> float:
    """Return the turn of a motif that is drawn upright, where the path runs to the right."""
    if not settings.follow:
        return 0.0
    # To the right of a path that runs right is down: upside down, leaning forward.
    return {-1: settings.lean, 1: 180.0 - settings.lean, 0: 90.0}[side]


def _seated(
    bench: Bench,
    settings: TrailSettings,
    spot: _Spot,
    members: Sequence[Member],
    stem: BaseGeometry,
) -> Member | None:
    """Return a motif on its spot, as large as it can be; None where it can't."""
    turn = _lean(settings, spot.side) + spot.turn
    turn = round(turn + (spot.heading if settings.follow else 0.0), 2) % 360
    outline = bench.shapes.all[spot.shape].outline
    points = shapely.get_coordinates(shapely.convex_hull(outline))
    linear = Pose(0.0, 0.0, turn, 1.0, spot.flip).affine((0.0, 0.0))
    laid = linear.apply(points)
    angle = math.radians(spot.heading + 90 * spot.side)
    nx, ny = math.cos(angle), math.sin(angle)
    near = float((laid[:, 0] * nx + laid[:, 1] * ny).min())
    for factor in _SCALES:
        scale = round(settings.scale * factor, 3)
        far = settings.off - near * scale if spot.side else 0.0
        # What touches the path at its lowest point sits on it: a thin line's width.
        pose = Pose(spot.x + nx * far, spot.y + ny * far, turn, scale, spot.flip).rounded()
        member = Member(spot.shape, pose, bench.ranks[spot.shape])
        crowd = Crowd.of(bench.torus, bench.shapes, [*members, member])
        last = np.array([len(members)])
        if spot.side and _crosses(crowd, last, stem, settings.off):
            continue
        if not len(too_near(crowd, settings.clearance, last).one):
            return member
    return None


def _crosses(crowd: Crowd, which: NDArray[np.int64], stem: BaseGeometry, off: float) -> bool:
    """Whether a motif lies over a path rather than beside it."""
    outline = crowd.outlines(which)[0]
    # Beside a bend the far edge comes a little nearer than the middle.
    inner = outline.buffer(-max(0.3, 0.08 * float(crowd.radius[which[0]])))
    if off and not inner.is_empty:
        return bool(shapely.distance(inner, stem) < off)
    return bool(shapely.intersects(inner, stem))


def _copies(bench: Bench, lines: Sequence[BaseGeometry]) -> BaseGeometry:
    """Return the paths and their copies wherever motifs may come."""
    together = shapely.union_all(np.array(lines, dtype=object))
    x0, y0, x1, y1 = together.bounds
    reach = math.hypot(x1 - x0, y1 - y0) + 4 * float(bench.shapes.radius.max())
    moved = [shapely.transform(together, lambda p, v=v: p + v) for v in bench.torus.vectors(reach)]
    found = shapely.union_all(np.array(moved, dtype=object))
    shapely.prepare(found)
    return found
