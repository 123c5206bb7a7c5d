"""Which way motifs stand: one-way, two-way, four-way or tossed, which decides how cloth is cut."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vecrepeat.check.plane import Plane
from vecrepeat.geometry import Affine

Marks = NDArray[np.float64]
Complexes = NDArray[np.complex128]

POINTS = 256
_ALIKE = 0.01
"""How far the descriptors of two outlines may differ, of 1, to be one drawing turned."""

_ROUND = 0.02
"""Below this strength of its third moment an outline has no up and down."""

_PAIR = 3.0
"""Degrees within which two motifs lean alike to either side."""

_CUTTING = {
    "one-way": "all pieces must lie the same way up: allow more cloth",
    "two-way": "pieces may be turned end for end",
    "four-way": "pieces may lie across or along",
    "tossed": "pieces may lie any way",
    "without direction": "pieces may lie any way",
}


class Direction(NamedTuple):
    """How the motifs stand.

    Attributes:
        kind: ``one-way``, ``two-way``, ``four-way``, ``tossed`` or ``without direction``.
        turns: the angles in degrees, of motifs drawn more than once, at which they stand.
        cutting: what it means for cutting (common practice, no source).
    """

    kind: str
    turns: tuple[float, ...]
    cutting: str


def direction(plane: Plane) -> Direction:
    """Judge how the motifs stand.

    The same drawing placed at different angles shows the turns; a motif drawn once stands as
    it is drawn. What has no up and down (a disc, a star) says nothing. A motif and its mirror
    image beside it stand the same way up, however each leans.
    """
    drawn: dict[int, list[int]] = {}
    for k, placement in enumerate(plane.repeat.placements):
        drawn.setdefault(id(placement.motif), []).append(k)
    turns: list[float] = []
    groups: list[tuple[Marks, list[float]]] = []
    for same in drawn.values():
        described = _described(plane.outlines[same[0]])
        if described is None:
            continue
        if len(same) > 1:
            turns += [_stands(plane.repeat.placements[k].transform) for k in same]
            continue
        marks, angle = described
        for known, angles in groups:
            if np.abs(known - marks).max() < _ALIKE:
                angles.append(angle)
                break
        else:
            groups.append((marks, [angle]))
    for _, angles in groups:
        turns += _turns(angles)
    if not turns:
        return Direction("without direction", (), _CUTTING["without direction"])
    kinds = {round(t / 10) * 10 % 360 for t in turns}
    if kinds <= {0}:
        kind = "one-way"
    elif kinds <= {0, 180}:
        kind = "two-way"
    elif kinds <= {0, 90, 180, 270}:
        kind = "four-way"
    else:
        kind = "tossed"
    return Direction(kind, tuple(sorted(float(k) for k in kinds)), _CUTTING[kind])


def _stands(transform: Affine) -> float:
    """Return the angle in degrees by which a placement turns its drawing's up."""
    return math.degrees(math.atan2(transform.c, transform.d)) % 360


def _turns(angles: list[float]) -> list[float]:
    """Return by how many degrees motifs drawn apart are turned against the first of them.

    Mirrored across the cloth, what stood at an angle stands at 180° less it; where all are in
    such pairs, a pair is one ornament, and another that leans the opposite way is its half-turn.
    """
    left = list(angles)
    pairs = []
    while left:
        angle = left.pop(0)
        off = [_apart(180 - angle, other) for other in left]
        if not off or min(off) > _PAIR:
            return [(angle - angles[0]) % 360 for angle in angles]
        left.pop(int(np.argmin(off)))
        pairs.append(angle if math.cos(math.radians(angle)) >= 0 else 180 - angle)
    return [
        180.0 if _apart(-angle, pairs[0]) <= _PAIR < _apart(angle, pairs[0]) else angle - pairs[0]
        for angle in pairs
    ]


def _apart(one: float, other: float) -> float:
    """Return how many degrees lie between two angles."""
    return abs((one - other + 180) % 360 - 180)


def _along(line: BaseGeometry) -> Complexes:
    """Return points at even distances along a line, as complex numbers."""
    corners = shapely.get_coordinates(line) @ (1, 1j)
    upto = np.concatenate([[0.0], np.abs(np.diff(corners)).cumsum()])
    points: Complexes = np.interp(np.arange(POINTS) / POINTS * upto[-1], upto, corners)
    return points


def _described(outline: BaseGeometry) -> tuple[Marks, float] | None:
    """Return what does not change when an outline is turned, and the angle it stands at.

    With z the outline's points about their mean as complex numbers, the mean of |z|² z turns
    with the outline; its size, and that of z² and z³, don't.
    """
    lines = shapely.get_parts(shapely.boundary(outline))
    z = np.concatenate([_along(line) for line in lines])
    lengths = np.repeat(shapely.length(lines), POINTS)
    z = z - np.average(z, weights=lengths)
    size = float(np.sqrt(np.average(np.abs(z) ** 2, weights=lengths)))
    if size == 0:
        return None
    z = z / size
    third = complex(np.average(np.abs(z) ** 2 * z, weights=lengths))
    if abs(third) < _ROUND:
        return None
    second, cubed = (abs(complex(np.average(z**k, weights=lengths))) for k in (2, 3))
    roundness = float(shapely.area(outline)) / size**2 / 4
    return np.array([abs(third), second, cubed, roundness]), float(np.degrees(np.angle(third)))
