"""Collisions: motifs that overlap or come too close, through wraps like anywhere else."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.check.findings import Answer, Finding
from vecrepeat.check.plane import Plane
from vecrepeat.check.profile import CollisionLimits
from vecrepeat.core.geometry import Rect
from vecrepeat.core.units import counted


class Meeting(NamedTuple):
    """Two copies that come close.

    Attributes:
        one: a placement.
        other: another, or the same one's copy.
        steps: lattice index of the other's copy; (0, 0) where both lie in one tile's drawing.
        gap: distance in mm; 0 where they touch or overlap.
        overlap: area in mm² that they share.
        place: the overlap, or the shortest line between them.
    """

    one: int
    other: int
    steps: tuple[int, int]
    gap: float
    overlap: float
    place: BaseGeometry


def find_meetings(plane: Plane, within: float) -> list[Meeting]:
    """Return every pair of copies nearer than ``within`` mm, each pair once a period."""
    shapes = plane.outlines
    if not len(shapes):
        return []
    around = plane.copies(Rect.of(shapely.total_bounds(shapes)).grown(within))
    one, near = shapely.STRtree(around.shapes).query(shapes, predicate="dwithin", distance=within)
    other, steps = around.placement[near], around.steps[near]
    # A pair shows up from both its ends: kept where the second comes later, or farther on.
    later = (other > one) | (
        (other == one) & ((steps[:, 0] > 0) | (steps[:, 0] == 0) & (steps[:, 1] > 0))
    )
    one, near, other, steps = one[later], near[later], other[later], steps[later]
    mine, theirs = shapes[one], around.shapes[near]
    gap = shapely.distance(mine, theirs)
    shared = np.full(len(one), shapely.Polygon(), object)
    meet = gap == 0
    shared[meet] = shapely.intersection(mine[meet], theirs[meet])
    overlap = shapely.area(shared)
    place = np.where(overlap > 0, shared, shapely.shortest_line(mine, theirs))
    return [
        Meeting(int(a), int(b), (int(s[0]), int(s[1])), float(g), float(o), p)
        for a, b, s, g, o, p in zip(one, other, steps, gap, overlap, place, strict=True)
        if g < within
    ]


def check_collisions(plane: Plane, limits: CollisionLimits) -> Answer:
    """Report motifs that overlap, or are closer than the limit."""
    found = find_meetings(plane, max(limits.gap_mm, 1e-9))
    over = [m for m in found if m.overlap > limits.overlap_mm2]
    touched = {k for m in over for k in (m.one, m.other)}
    count = len(plane.outlines)
    layered = len(touched) > max(limits.layered_share * count, 2)
    notes: tuple[str, ...] = ()
    if layered:
        notes = (
            f"{len(touched)} of {counted(count, 'motif')} overlap another: the drawing is taken "
            "as made in layers, and overlaps and small gaps as meant",
        )
    findings = []
    for m in () if layered else found:
        names = (plane.names[m.one], plane.names[m.other])
        through = " through a wrap" if m.steps != (0, 0) else ""
        pair = f"“{names[0]}” and “{names[1]}”"
        if m.one == m.other:
            pair = f"“{names[0]}” and its own copy"
        if m.overlap > limits.overlap_mm2:
            said, limit = f"{pair} overlap{through}", limits.overlap_mm2
            findings.append(Finding("overlap", said, m.overlap, limit, m.place, names))
        elif m.gap < limits.gap_mm:
            said = f"{pair} come too close{through}"
            findings.append(Finding("too close", said, m.gap, limits.gap_mm, m.place, names))
    findings.sort(key=lambda f: (f.kind != "overlap", -f.value if f.kind == "overlap" else f.value))
    facts = {
        "overlaps": len(over),
        "overlap_mm2": sum(m.overlap for m in over),
        "through_wraps": sum(m.steps != (0, 0) for m in over),
        "layered": layered,
    }
    return Answer(tuple(findings), facts, notes)
