"""Which part of a turned layout makes up the whole by mirrors along rows and columns.

Nothing does where art lies on its own turned copies: which copy is on top goes by the order of
copies, and no order of copies is the same in a mirror.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from itertools import product
from typing import NamedTuple

import numpy as np
import shapely

from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.layout import Layout, Vector
from vecrepeat.repeat.model import Repeat
from vecrepeat.repeat.symmetry import Symmetry
from vecrepeat.repeat.wrap import CONTACT, copies, placed


class Turn(NamedTuple):
    """x' = a·x + e, y' = d·y + f, with a and d 1 or -1; e and f in tiles or pixels."""

    a: int
    d: int
    e: Fraction
    f: Fraction


class Rectangle(NamedTuple):
    """A rectangle in tiles."""

    x: Fraction
    y: Fraction
    width: Fraction
    height: Fraction


def upright_turns(symmetry: Symmetry) -> tuple[Turn, ...]:
    """Return the operations that keep rows and columns of pixels, the identity first.

    Moves are in tiles, whatever the cell's axes.
    """
    ax, _, _, by = symmetry.axes
    turns = []
    for operation, matrix in zip(symmetry.operations, symmetry.transforms, strict=True):
        if max(abs(matrix.b), abs(matrix.c)) > 1e-9:
            continue
        # Hexagonal groups are the only ones with slanting axes, and move nothing.
        turns.append(Turn(round(matrix.a), round(matrix.d), operation.e, operation.f))
        assert abs(matrix.e - float(operation.e) * ax) < 1e-9 * abs(ax)
        assert abs(matrix.f - float(operation.f) * by) < 1e-9 * abs(by)
    return tuple(turns)


def _steps(layout: Layout) -> tuple[Vector, Vector]:
    """Return the lattice in tiles."""
    lattice = layout.lattice(Fraction(1), Fraction(1))
    return lattice.a, lattice.b


def is_group(turns: tuple[Turn, ...], layout: Layout) -> bool:
    """Whether the turns, in tiles, are symmetries of the whole plane of tiles."""
    (_, drop), (across, _) = _steps(layout)

    def coset(turn: Turn) -> tuple[int, int, Fraction, Fraction]:
        # A drop moves rows by columns, or a brick columns by rows: the other step is 0.
        e, f = turn.e - turn.f // 1 * across, turn.f - turn.e // 1 * drop
        return (turn.a, turn.d, e % 1, f % 1)

    known = {coset(turn) for turn in turns}
    products = {
        coset(Turn(s.a * t.a, s.d * t.d, s.a * t.e + s.e, s.d * t.f + s.f))
        for s, t in product(turns, repeat=2)
    }
    # A mirror must also carry the lattice onto itself.
    step = Turn(1, 1, across, Fraction(1)) if across else Turn(1, 1, Fraction(1), drop)
    moved = {coset(step._replace(e=t.a * step.e, f=t.d * step.f)) for t in turns}
    return products <= known and moved == {coset(step)}


_SIDES = [Fraction(1), Fraction(1, 2), Fraction(1, 4)]
_STARTS = [Fraction(k, 4) for k in range(4)]


def smallest_rectangle(
    turns: tuple[Turn, ...], layout: Layout, page: tuple[tuple[Fraction, Fraction], ...]
) -> Rectangle | None:
    """Return a rectangle whose images under turns and lattice make up the plane, each once.

    The symmetry's region on the page is tried first: of turned tiles it is one tile.
    """
    us, vs = zip(*page, strict=True)
    tried = [Rectangle(min(us), min(vs), max(us) - min(us), max(vs) - min(vs))]
    tried += [Rectangle(x, y, w, h) for y, x, w, h in product(_STARTS, _STARTS, _SIDES, _SIDES)]
    fitting = (r for r in tried if r.width * r.height * len(turns) == 1)
    return next((r for r in fitting if _tiles_plane(r, turns, layout)), None)


# Off every boundary, so that no sample's side of one hangs on rounding.
_SAMPLES = (np.arange(8) + 0.4142) / 8


def _tiles_plane(rectangle: Rectangle, turns: tuple[Turn, ...], layout: Layout) -> bool:
    """Whether every sample of a tile lies in one image of the rectangle."""
    (_, drop), (across, _) = ((float(x), float(y)) for x, y in _steps(layout))
    x, y, i, j = np.meshgrid(_SAMPLES, _SAMPLES, np.arange(-4, 5), np.arange(-4, 5))
    count = np.zeros(x.shape[:2], np.int64)
    for turn in turns:
        left = turn.a * (x - float(turn.e)) + i + j * across - float(rectangle.x)
        top = turn.d * (y - float(turn.f)) + j + i * drop - float(rectangle.y)
        within = (left > 0) & (left < float(rectangle.width))
        count += (within & (top > 0) & (top < float(rectangle.height))).sum(axis=(2, 3))
    return bool((count == 1).all())


def mirror_parts(repeat: Repeat) -> tuple[tuple[Turn, ...], Rectangle] | None:
    """Return the turns that keep rows and columns, and a rectangle whose images are the plane."""
    if repeat.symmetry is None:
        return None
    turns = upright_turns(repeat.symmetry)
    if len(turns) == 1 or not is_group(turns, repeat.layout):
        return None
    rectangle = smallest_rectangle(turns, repeat.layout, repeat.symmetry.region)
    return None if rectangle is None else (turns, rectangle)


def mirror_grain(repeat: Repeat) -> tuple[int, int]:
    """Return what a tile's sides in pixels must divide by for its mirrors to be exact."""
    parts = mirror_parts(repeat)
    if parts is None:
        return (1, 1)
    turns, rectangle = parts
    layout = repeat.layout
    across = [rectangle.x, rectangle.width, *(turn.e for turn in turns)]
    down = [rectangle.y, rectangle.height, *(turn.f for turn in turns)]
    (down if layout.kind == "drop" else across).append(layout.shift)
    return (
        math.lcm(*(side.denominator for side in across)),
        math.lcm(*(side.denominator for side in down)),
    )


def turned_over_itself(repeat: Repeat) -> tuple[str, ...]:
    """Return the names of motifs that overlap a copy of themselves, in stacking order."""
    if repeat.symmetry is None:
        return ()
    turns = len(repeat.symmetry.operations)
    names = []
    for first in range(0, len(repeat.placements), turns):
        own = repeat.placements[first]
        family = replace(repeat, placements=repeat.placements[first : first + turns])
        box = Rect.of(repeat.boxes[first])
        for copy in copies(family, box):
            if copy == (0, 0, 0):
                continue
            other = placed(family, copy).outline
            shared = shapely.intersection(own.outline, other)
            # Deeper than contact along its whole length: more than touching.
            if shared.area > CONTACT * max(1.0, shared.length):
                names.append(own.motif.name)
                break
    return tuple(dict.fromkeys(names))
