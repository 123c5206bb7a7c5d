"""Alleys: empty straight lanes that show when metres of cloth are hung.

For a lattice vector v, the shapes' shadows on v's normal repeat after |det(a, b)| / |v|. What
no shadow covers on that circle is an empty lane of exactly that width, along v for ever. A
lane along no lattice vector would meet every motif somewhere: there are no others.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import shapely

from vecrepeat.check.findings import Answer, Finding
from vecrepeat.check.plane import Plane, edges_of
from vecrepeat.check.profile import AlleyLimits
from vecrepeat.repeat.wrap import Floats, Ints, offsets

SAMPLES = 2048
"""How many places across a period the coverage of lanes is worked out at."""

COARSE = 0.02
"""How closely coverage follows outlines, in widths of the narrowest lane looked for."""

MOST_DIRECTIONS = 4000
"""Directions looked at, the shortest lattice vectors first: a bound on time."""


class Lane(NamedTuple):
    """An empty or near-empty lane.

    Attributes:
        steps: the lattice vector (i, j) it runs along.
        vector: the same in mm.
        width: in mm.
        centre: a point on its centre line, mm of the tile's plane.
        period: after how many mm across it comes again.
        coverage: share of it that is painted; 0 for an alley.
    """

    steps: tuple[int, int]
    vector: tuple[float, float]
    width: float
    centre: tuple[float, float]
    period: float
    coverage: float


def directions(plane: Plane, narrowest: float) -> list[tuple[int, int]]:
    """Return the primitive lattice vectors along which a lane of a width can be, shortest first.

    Lanes along v come again after area / |v|, so they are narrower than that.
    """
    (ax, ay), (bx, by) = plane.repeat.lattice.vectors
    longest = plane.area / narrowest
    # |i·a + j·b| ≥ |i| · area / |b|, and likewise for j.
    most_i = math.floor(longest * math.hypot(bx, by) / plane.area)
    most_j = math.floor(longest * math.hypot(ax, ay) / plane.area)
    i, j = (
        grid.ravel()
        for grid in np.meshgrid(
            np.arange(0, most_i + 1), np.arange(-most_j, most_j + 1), indexing="ij"
        )
    )
    length = np.hypot(i * ax + j * bx, i * ay + j * by)
    keep = (length <= longest) & (np.gcd(i, j) == 1) & ((i > 0) | (j > 0))
    order = np.argsort(length[keep], kind="stable")[:MOST_DIRECTIONS]
    return list(zip(i[keep][order].tolist(), j[keep][order].tolist(), strict=True))


def find_lanes(plane: Plane, narrowest: float) -> list[Lane]:
    """Return every empty lane at least ``narrowest`` mm wide, the widest first."""
    pieces = shapely.get_parts(plane.outlines)
    if not len(pieces):
        return []
    # A shadow is that of the convex hull, which has far fewer points.
    coords, owner = shapely.get_coordinates(shapely.convex_hull(pieces), return_index=True)
    first = np.flatnonzero(np.diff(owner, prepend=-1))
    found = []
    for steps, vector, normal in _frames(plane, narrowest):
        period = plane.area / math.hypot(*vector)
        for start, width in _gaps(*_shadows(coords, first, normal), period):
            if width >= narrowest:
                middle = start + width / 2
                centre = (normal[0] * middle, normal[1] * middle)
                found.append(Lane(steps, vector, width, centre, period, 0.0))
    return sorted(found, key=lambda lane: (-lane.width, math.hypot(*lane.vector)))


def find_near_empty(plane: Plane, narrowest: float, share: float) -> list[Lane]:
    """Return the widest lane in each direction whose every line is painted for less than a share.

    Coverage is the length of a line along the lane within the shapes, over one lattice
    vector; motifs that overlap count twice, which can only make a lane look fuller.
    """
    found = []
    # A share of a line need not follow every curve: the lines' lengths stay true to a few times
    # the tolerance, the widths of empty lanes are worked out elsewhere.
    shapes = shapely.get_parts(plane.outlines)
    simple = shapely.simplify(shapes, narrowest * COARSE, preserve_topology=False)
    # Outer rings run one way round and holes the other.
    whole = shapely.normalize(np.where(shapely.is_empty(simple), shapes, simple))
    starts, ends, _ = edges_of(shapely.get_rings(whole))
    for steps, vector, normal in _frames(plane, narrowest):
        length = math.hypot(*vector)
        period = plane.area / length
        chord = _chords(starts, ends, vector, normal, period) / length
        start, run = _longest_run(chord < share)
        width = run / SAMPLES * period
        if run and width >= narrowest:
            which = np.arange(start, start + run) % SAMPLES
            middle = (start + run / 2) / SAMPLES * period
            centre = (normal[0] * middle, normal[1] * middle)
            found.append(Lane(steps, vector, width, centre, period, float(chord[which].mean())))
    return sorted(found, key=lambda lane: (-lane.width, math.hypot(*lane.vector)))


def _frames(
    plane: Plane, narrowest: float
) -> list[tuple[tuple[int, int], tuple[float, float], tuple[float, float]]]:
    """Return (steps, vector, unit normal) of each direction."""
    frames = []
    found = directions(plane, narrowest)
    vectors = offsets(plane.repeat.lattice, np.array(found, np.int64).reshape(-1, 2)).tolist()
    for steps, (vx, vy) in zip(found, vectors, strict=True):
        length = math.hypot(vx, vy)
        frames.append((steps, (vx, vy), (-vy / length, vx / length)))
    return frames


def _shadows(coords: Floats, first: Ints, normal: tuple[float, float]) -> tuple[Floats, Floats]:
    along = coords[:, 0] * normal[0] + coords[:, 1] * normal[1]
    return np.minimum.reduceat(along, first), np.maximum.reduceat(along, first)


def _gaps(low: Floats, high: Floats, period: float) -> list[tuple[float, float]]:
    """Return (start, width) of what intervals leave free on a circle of a circumference."""
    if (high - low).max() >= period:
        return []
    start = low % period
    order = np.argsort(start)
    start, end = start[order], (start + (high - low))[order]
    reach = np.maximum.accumulate(end)
    # What runs over the circle's end covers its beginning.
    reach = np.maximum(reach, reach[-1] - period)
    after = np.append(start[1:], start[0] + period)
    width = after - reach
    return [(float(s), float(w)) for s, w in zip(reach, width, strict=True) if w > 0]


def _chords(
    starts: Floats,
    ends: Floats,
    vector: tuple[float, float],
    normal: tuple[float, float],
    period: float,
) -> Floats:
    """Return how long the line at each of the sample places runs within the shapes.

    The length of a chord is the signed sum of the along-coordinates where edges cross the
    line: for each edge a linear function over the samples it spans, added up as differences.
    """
    unit = np.array(vector) / math.hypot(*vector)
    scale = SAMPLES / period
    u0, u1 = starts @ np.array(normal) * scale, ends @ np.array(normal) * scale
    s0, s1 = starts @ unit, ends @ unit
    # Samples lie at whole numbers + ½; an edge crosses those in [low, high).
    sign = np.sign(u1 - u0)
    low, high = np.minimum(u0, u1), np.maximum(u0, u1)
    first, last = np.ceil(low - 0.5).astype(np.int64), np.ceil(high - 0.5).astype(np.int64)
    keep = last > first
    first, last, sign = first[keep], last[keep], sign[keep]
    slope = ((s1 - s0) / np.where(u1 == u0, 1, u1 - u0))[keep]
    base = s0[keep] + slope * (0.5 - u0[keep])
    size = int(last.max() - first.min()) + 2 if len(first) else 2
    origin = int(first.min()) if len(first) else 0
    flat, steep = np.zeros(size), np.zeros(size)
    np.add.at(flat, first - origin, sign * base)
    np.add.at(flat, last - origin, -sign * base)
    np.add.at(steep, first - origin, sign * slope)
    np.add.at(steep, last - origin, -sign * slope)
    at = np.arange(size) + origin
    length = np.cumsum(flat) + np.cumsum(steep) * at
    wrapped = np.zeros(SAMPLES)
    np.add.at(wrapped, at % SAMPLES, length)
    return np.abs(wrapped)


def _longest_run(flags: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> tuple[int, int]:
    """Return (start, length) of the longest run of true on a circle."""
    if flags.all():
        return 0, len(flags)
    turned = int(np.argmin(flags))
    rolled = np.roll(flags, -turned)
    change = np.flatnonzero(np.diff(rolled.astype(np.int8), prepend=0, append=0))
    if not len(change):
        return 0, 0
    runs = change[1::2] - change[::2]
    best = int(np.argmax(runs))
    return int(change[::2][best] + turned) % len(flags), int(runs[best])


def check_alleys(plane: Plane, limits: AlleyLimits, typical: float) -> Answer:
    """Look for alleys; ``typical`` is the median void's width in mm."""
    narrowest = max(limits.least_mm, typical / 4)
    limit = max(narrowest, limits.times_typical * typical)
    empty = find_lanes(plane, narrowest)
    fuller_limit = max(limits.least_mm, limits.near_empty_times * typical)
    scant = find_near_empty(plane, fuller_limit, limits.near_empty)
    findings = [_finding(plane, lane, limit) for lane in empty if lane.width > limit]
    marked = {lane.steps for lane in empty if lane.width > limit}
    findings += [
        _finding(plane, lane, fuller_limit)
        for lane in scant
        if lane.coverage > 0 and lane.steps not in marked
    ]
    rows = [*empty[:12], *(lane for lane in scant[:6] if lane.coverage > 0)]
    facts = {
        "narrowest_mm": narrowest,
        "limit_mm": limit,
        "lanes": [
            {
                "steps": list(lane.steps),
                "vector_mm": list(lane.vector),
                "width_mm": lane.width,
                "centre_mm": list(lane.centre),
                "period_mm": lane.period,
                "coverage": lane.coverage,
            }
            for lane in rows
        ],
    }
    return Answer(tuple(sorted(findings, key=lambda f: -f.value)), facts)


def _finding(plane: Plane, lane: Lane, limit: float) -> Finding:
    vx, vy = lane.vector
    angle = math.degrees(math.atan2(-vy, vx)) % 180
    way = {0: "across", 90: "down"}.get(round(angle), f"at {angle:.0f}°")
    empty = lane.coverage == 0
    # The mark is one tile long, brought to where the tile is.
    rect = plane.repeat.tile_rect
    length = math.hypot(vx, vy)
    unit, normal = np.array([vx, vy]) / length, np.array([-vy, vx]) / length
    middle = np.array([rect.width / 2, rect.height / 2])
    place = float(np.array(lane.centre) @ normal)
    place += round((float(middle @ normal) - place) / lane.period) * lane.period
    centre = normal * place + unit * float(middle @ unit)
    half = (rect.width + rect.height) / 2
    line = shapely.LineString([centre - unit * half, centre + unit * half])
    return Finding(
        "alley" if empty else "near-empty lane",
        f"an {'empty' if empty else 'almost empty'} lane runs {way} through every metre",
        lane.width,
        limit,
        line.buffer(lane.width / 2, cap_style="flat"),
    )
