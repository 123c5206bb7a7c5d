"""What crosses at right angles: checks, gingham and windowpane."""

from __future__ import annotations

from collections.abc import Sequence

from vecrepeat.blenders.cloth import Cloth, Layer, Shape, box
from vecrepeat.blenders.settings import Blender
from vecrepeat.core.colours import hex_of, rgb_of
from vecrepeat.core.errors import InputError
from vecrepeat.core.srgb import linear_of, rgb_from_linear


def checks(cloth: Cloth, told: Blender) -> list[Layer]:
    """Return a chessboard: squares on the ground, or of two colours."""
    across, down = cloth.across(told.size, 2), cloth.down(told.size, 2)
    w, h = cloth.width / across, cloth.height / down

    def squares(parity: int, over: float) -> tuple[Shape, ...]:
        return tuple(
            box((i - over) * w, (j - over) * h, (i + 1 + over) * w, (j + 1 + over) * h)
            for i in range(across)
            for j in range(down)
            if (i + j) % 2 == parity
        )

    layers = [Layer(told.colours[0], squares(0, 0.0))]
    if len(told.colours) == 2:
        # It goes on under the others, so that no ground shows between.
        layers.insert(0, Layer(told.colours[1], squares(1, 0.25)))
    return layers


def gingham(cloth: Cloth, told: Blender, ground: str | None) -> list[Layer]:
    """Return bands across and down, and squares where they cross.

    One colour gives its own woven check. Two are of the bands down and across. Of three, the
    first is of the squares, and the others are of the bands as they are.

    Raises:
        InputError: colours are to be mixed with a ground that there is not.
    """
    if len(told.colours) == 3:
        both, warp, weft = told.colours
    elif ground is None:
        raise InputError(
            "gingham mixes its colours with the ground, and there is none",
            hint="give a ground, or three colours: of squares, bands down and bands across",
        )
    else:
        both, warp, weft = mixed(told.colours, ground)
    across, down = cloth.across(2 * told.size), cloth.down(2 * told.size)
    w, h = cloth.width / across, cloth.height / down
    places = [(i * w, j * h) for i in range(across) for j in range(down)]
    squares = tuple(box(x - w / 4, y - h / 4, x + w / 4, y + h / 4) for x, y in places)
    bands_across = tuple(
        box(-w / 8, (j - 0.25) * h, cloth.width + w / 8, (j + 0.25) * h) for j in range(down)
    )
    piece = _piece(w / 2, h / 2)
    bands_down = tuple(piece.moved(x - w / 4, y + h / 4) for x, y in places)
    return [Layer(weft, bands_across), Layer(warp, bands_down), Layer(both, squares)]


_UNDER = 0.15
"""By how many mm a piece of a band goes on in its whole width under the squares at its ends."""


def _piece(width: float, height: float) -> Shape:
    """Return a band from one square down to the next, and a little on under both.

    Further on it is narrower: under a square's edges its own would shine through.
    """
    under = min(_UNDER, height / 8)
    over, inset = height / 4, width / 4
    foot, tip = height + under, height + over
    return Shape(
        (
            (0.0, -under),
            (inset, -under),
            (inset, -over),
            (width - inset, -over),
            (width - inset, -under),
            (width, -under),
            (width, foot),
            (width - inset, foot),
            (width - inset, tip),
            (inset, tip),
            (inset, foot),
            (0.0, foot),
        )
    )


def mixed(colours: Sequence[str], ground: str) -> tuple[str, str, str]:
    """Return the colours of squares, bands down and bands across of one or two colours."""
    one, other = colours[0], colours[-1]
    return woven(one, other), woven(one, ground), woven(other, ground)


def woven(one: str, other: str) -> str:
    """Return what yarns of two colours, half of each, look like: their light's mean."""
    return hex_of(rgb_from_linear(linear_of(rgb_of((one, other))).mean(axis=0)))


def windowpane(cloth: Cloth, told: Blender) -> list[Layer]:
    """Return thin lines down and across, their colours in turn."""
    turns = len(told.colours)
    across, down = cloth.across(told.spacing, turns), cloth.down(told.spacing, turns)
    w, h = cloth.width / across, cloth.height / down
    half, over = told.size / 2, told.size / 4
    layers = []
    for turn, colour in enumerate(told.colours):
        # Lines end within lines of their own colour.
        x, y = turn * w, turn * h
        rows = [j * h for j in range(turn, down, turns)]
        columns = [i * w for i in range(turn, across, turns)]
        shapes = [box(x - over, row - half, x + cloth.width + over, row + half) for row in rows]
        shapes += [box(c - half, y - over, c + half, y + cloth.height + over) for c in columns]
        layers.append(Layer(colour, tuple(shapes)))
    return layers
