"""A field of directions over the repeated plane: a gentle wave, or the way drawn lines run."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from vecrepeat.arrange.torus import Torus
from vecrepeat.repeat.pose import TURN_DECIMALS

Floats = NDArray[np.float64]

WAVE = "wave"
"""The name of the wave that needs no drawing."""

_STEEP = 35.0
"""How far in degrees the wave turns motifs to either side."""

_GRID = 64
"""Points of the field along each of the lattice's shortest vectors."""

_STEPS = 400
"""Places along all lines together at which their way is taken."""


class Flow:
    """Which way motifs lie at each place of the cloth; it repeats as the cloth does.

    About lines each place takes the mean of the ways that they run, the nearest counting most:
    Shepard's interpolation, “A two-dimensional interpolation function for irregularly-spaced
    data”, Proceedings of the 23rd ACM National Conference (1968), by the nearest copies.

    Args:
        torus: the repeated plane.
        along: points of each line in mm, shape (n, 2); or :data:`WAVE`.
        turns: in degrees; the ways a motif may lie, from upright across what runs to the right.
    """

    def __init__(
        self, torus: Torus, along: Sequence[Floats] | str, turns: Sequence[float] = (0.0,)
    ) -> None:
        self._rows = np.array([torus.along_a, torus.along_b])
        self._turns = np.array(turns)
        steps = np.arange(_GRID) / _GRID
        u, v = (g.ravel() for g in np.meshgrid(steps, steps, indexing="ij"))
        places = u[:, None] * np.array(torus.a) + v[:, None] * np.array(torus.b)
        if isinstance(along, str):
            ways = self._wave(places)
        else:
            points, tangents = _steps_of(along)
            near = torus.squared_distances(places, points) + torus.area / 1600
            ways = (1 / near**2) @ tangents
        ways /= np.maximum(np.sqrt((ways**2).sum(axis=1, keepdims=True)), 1e-12)
        self._field = ways.reshape(_GRID, _GRID, 2)

    def _wave(self, places: Floats) -> Floats:
        """Return the ways of a wave that runs to the right, or nearly: one swing a repeat."""
        one, other = self._rows
        rows = [i * one + j * other for i in range(-2, 3) for j in range(-2, 3)]
        across = [row for row in rows if row[0] > abs(row[1])]
        row = min(across, key=lambda row: (round(float(row @ row), 12), round(row[1], 12)))
        lean = math.radians(_STEEP) * np.sin(2 * math.pi * (places @ row))
        return np.stack([np.cos(lean), np.sin(lean)], axis=1)

    def at(self, x: Floats, y: Floats) -> Floats:
        """Return which way the field runs at places, in degrees clockwise from the right."""
        u = (self._rows @ np.stack([np.ravel(x), np.ravel(y)])) % 1.0 * _GRID
        i, j = np.floor(u).astype(np.int64)
        f, g = (u - np.floor(u))[..., None]
        i, j, k, m = i % _GRID, j % _GRID, (i + 1) % _GRID, (j + 1) % _GRID
        field = self._field
        low = field[i, j] * (1 - g) + field[i, m] * g
        high = field[k, j] * (1 - g) + field[k, m] * g
        way = low * (1 - f) + high * f
        turn = np.degrees(np.arctan2(way[:, 1], way[:, 0])) % 360.0
        found: Floats = np.round(turn, TURN_DECIMALS).reshape(np.shape(x))
        return found

    def rest(self, x: Floats, y: Floats, turn: Floats) -> Floats:
        """Return the turns that motifs rest at there, those nearest to the turns they have."""
        ways = (np.asarray(self.at(x, y))[..., None] + self._turns) % 360.0
        off = np.abs((ways - np.asarray(turn)[..., None] + 180) % 360 - 180)
        best = np.argmin(np.round(off, TURN_DECIMALS), axis=-1)
        found: Floats = np.take_along_axis(ways, best[..., None], axis=-1)[..., 0]
        return np.round(found, TURN_DECIMALS) % 360.0


def _steps_of(lines: Sequence[Floats]) -> tuple[Floats, Floats]:
    """Return places along lines, evenly spaced, and the ways that the lines run there."""
    starts = np.concatenate([line[:-1] for line in lines])
    steps = np.concatenate([np.diff(line, axis=0) for line in lines])
    long = np.sqrt((steps**2).sum(axis=1))
    ends = np.cumsum(long)
    at = (np.arange(_STEPS) + 0.5) / _STEPS * ends[-1]
    k = np.minimum(np.searchsorted(ends, at), len(long) - 1)
    ways = steps[k] / long[k, None]
    return starts[k] + ways * (at - ends[k] + long[k])[:, None], ways
