"""Which way motifs stand: one-way, two-way, four-way or tossed, which decides how cloth is cut."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.check.plane import Plane

POINTS = 256
_ALIKE = 0.01
"""How far the descriptors of two outlines may differ, of 1, to be one drawing turned."""

_ROUND = 0.02
"""Below this strength of its third moment an outline has no up and down."""

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
    it is drawn. What has no up and down (a disc, a star) says nothing.
    """
    groups: list[tuple[np.ndarray[tuple[int, ...], np.dtype[np.float64]], list[float]]] = []
    for outline in plane.outlines:
        described = _described(outline)
        if described is None:
            continue
        marks, angle = described
        for known, angles in groups:
            if np.abs(known - marks).max() < _ALIKE:
                angles.append((angle - angles[0]) % 360)
                break
        else:
            groups.append((marks, [angle]))
    if not groups:
        return Direction("without direction", (), _CUTTING["without direction"])
    turns = np.array([turn for _, angles in groups for turn in (0.0, *angles[1:])])
    kinds = {round(t / 10) * 10 % 360 for t in turns.tolist()}
    if kinds <= {0}:
        kind = "one-way"
    elif kinds <= {0, 180}:
        kind = "two-way"
    elif kinds <= {0, 90, 180, 270}:
        kind = "four-way"
    else:
        kind = "tossed"
    return Direction(kind, tuple(sorted(float(k) for k in kinds)), _CUTTING[kind])


def _described(
    outline: BaseGeometry,
) -> tuple[np.ndarray[tuple[int, ...], np.dtype[np.float64]], float] | None:
    """Return what does not change when an outline is turned, and the angle it stands at.

    With z the outline's points about their mean as complex numbers, the mean of |z|² z turns
    with the outline; its size, and that of z² and z³, don't.
    """
    line = shapely.boundary(outline)
    along = np.linspace(0, 1, POINTS, endpoint=False)
    xy = shapely.get_coordinates(
        [
            shapely.line_interpolate_point(part, along, normalized=True)
            for part in shapely.get_parts(line)
        ]
    )
    lengths = np.repeat(shapely.length(shapely.get_parts(line)), POINTS)
    z = xy[:, 0] + 1j * xy[:, 1]
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
