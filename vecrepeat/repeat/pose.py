"""Where and how a motif lies: position, turn, scale and flip, as a designer says it."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from vecrepeat.core.geometry import Affine
from vecrepeat.repeat.model import Motif

Floats = NDArray[np.float64]

PLACE_DECIMALS = 3
"""Positions are found to the micrometre."""

TURN_DECIMALS = 2
"""Turns are found to a hundredth of a degree."""


class Pose(NamedTuple):
    """How a motif lies on the cloth.

    Attributes:
        x: in mm of the tile: where the motif's anchor lies (see :func:`anchor`).
        y: likewise, downwards.
        turn: in degrees, clockwise as seen, about the anchor.
        scale: 1 is the size it is drawn at.
        flip: mirrored left to right, before it is turned.
    """

    x: float
    y: float
    turn: float = 0.0
    scale: float = 1.0
    flip: bool = False

    def affine(self, anchor: tuple[float, float]) -> Affine:
        """Return the map from the motif's own mm to the mm of the tile."""
        cos, sin = cos_sin(self.turn)
        mirror = -self.scale if self.flip else self.scale
        turned = Affine(cos * mirror, sin * mirror, -sin * self.scale, cos * self.scale, 0.0, 0.0)
        moved = turned @ Affine.translation(-anchor[0], -anchor[1])
        return Affine.translation(self.x, self.y) @ moved

    def rounded(self) -> Pose:
        """Return the pose in the decimals that are kept."""
        return Pose(
            round(self.x, PLACE_DECIMALS) + 0.0,
            round(self.y, PLACE_DECIMALS) + 0.0,
            round(self.turn, TURN_DECIMALS) % 360.0,
            self.scale,
            self.flip,
        )


def anchor(motif: Motif) -> tuple[float, float]:
    """Return the point a motif is placed by: the centre of its painted box, in its own mm."""
    x0, y0, x1, y1 = motif.box
    return ((x0 + x1) / 2, (y0 + y1) / 2)


def cos_sin(degrees: float) -> tuple[float, float]:
    """Return cosine and sine of an angle: exact at right angles, the same on any machine.

    Libraries of functions differ in the last bit. Ten decimals hide that, and are far finer
    than a micrometre on the largest motif.
    """
    quarters, rest = divmod(degrees % 360.0, 90.0)
    angle = math.radians(rest)
    cos, sin = round(math.cos(angle), 10), round(math.sin(angle), 10)
    return ((cos, sin), (-sin, cos), (-cos, -sin), (sin, -cos))[int(quarters) % 4]


def cos_sin_of(degrees: Floats) -> tuple[Floats, Floats]:
    """Return :func:`cos_sin` of many angles: looked up where they have the decimals we keep."""
    per_degree = 10**TURN_DECIMALS
    steps = np.rint(degrees * per_degree)
    found = _table()[steps.astype(np.int64) % (360 * per_degree)]
    for k in np.flatnonzero(np.abs(steps / per_degree - degrees) > 1e-12).tolist():
        found[k] = cos_sin(float(degrees[k]))
    return found[:, 0], found[:, 1]


@lru_cache(maxsize=1)
def _table() -> Floats:
    per_degree = 10**TURN_DECIMALS
    angle = np.radians(np.arange(90 * per_degree) / per_degree)
    cos, sin = (np.rint(f(angle) * 1e10) / 1e10 for f in (np.cos, np.sin))
    quarters = ((cos, sin), (-sin, cos), (-cos, -sin), (sin, -cos))
    return np.concatenate([np.stack(quarter, axis=1) for quarter in quarters])
