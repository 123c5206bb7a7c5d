"""Dots on a grid, in half-drop or scattered; exact circles."""

from __future__ import annotations

import math
from random import Random

import numpy as np
from numpy.typing import NDArray

from vecrepeat.blenders.cloth import Cloth, Layer
from vecrepeat.blenders.settings import Blender
from vecrepeat.core.errors import InputError
from vecrepeat.scene.nodes import Ellipse

_MOST = 5000
"""Strewn marks on a tile: more take seconds to spread."""


def dots(cloth: Cloth, told: Blender) -> list[Layer]:
    """Return dots, their colours in turn."""
    turns = len(told.colours)
    if told.order == "scattered":
        from vecrepeat.blenders.points import dealt

        rng = Random(told.seed)
        points = strewn(cloth, told, rng)
        middles = [(x, y) for x, y in points.tolist()]
        turn = dealt(cloth.lattice, points, turns, rng)
    elif told.order == "grid":
        across, down = cloth.across(told.spacing, turns), cloth.down(told.spacing)
        w, h = cloth.width / across, cloth.height / down
        _hold_apart(told, min(w, h))
        places = [(i, j) for i in range(across) for j in range(down)]
        middles = [((i + 0.5) * w, (j + 0.5) * h) for i, j in places]
        turn = [i % turns for i, _ in places]
    else:
        # Spacing is to the nearest, on the diagonal.
        across = cloth.across(told.spacing / math.sqrt(2), math.lcm(2, turns))
        down = cloth.down(told.spacing * math.sqrt(2))
        w, h = cloth.width / across, cloth.height / down
        _hold_apart(told, min(math.hypot(w, h / 2), h, 2 * w))
        places = [(i, j) for i in range(across) for j in range(down)]
        middles = [((i + 0.5) * w, (j + 0.25 + i % 2 / 2) * h) for i, j in places]
        turn = [i % turns for i, _ in places]
    r = told.size / 2
    return [
        Layer(
            colour,
            tuple(Ellipse(x, y, r, r) for (x, y), t in zip(middles, turn, strict=True) if t == k),
        )
        for k, colour in enumerate(told.colours)
    ]


def _hold_apart(told: Blender, nearest: float) -> None:
    """Refuse dots that would touch once their spacing goes round the tile.

    Raises:
        InputError: so they do.
    """
    if told.size >= 0.95 * nearest:
        raise InputError(
            f"blender.size: dots of {told.size:g} mm run into each other at {nearest:.4g} mm, the "
            "spacing that goes round the tile",
            hint="make them smaller or the tile larger",
        )


def strewn(cloth: Cloth, told: Blender, rng: Random) -> NDArray[np.float64]:
    """Return middles evenly apart, in no order, as many as spacing says: shape (n, 2), in mm.

    Raises:
        InputError: there would be too many.
    """
    from vecrepeat.blenders.points import even_points

    wanted = cloth.width * cloth.height / told.spacing**2
    if wanted > _MOST:
        raise InputError(
            f"blender.spacing: a tile of {cloth.width:g} × {cloth.height:g} mm would hold "
            f"{wanted:,.0f} marks, and {_MOST:,} are strewn at most",
            hint="give a larger spacing or a smaller tile",
        )
    turns = math.lcm(len(told.colours), max(1, len(told.marks)))
    return even_points(cloth.lattice, max(2, turns * round(wanted / turns)), rng)
