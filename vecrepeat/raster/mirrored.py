"""Mirrored layouts to the pixel: one region is drawn, its mirror images are its pixels turned.

A renderer's antialiasing is not the same in a mirror: drawn directly, a motif and its mirror
image differ by a few levels along their edges. So where a layout mirrors, half-turns or glides
along rows and columns of whole pixels, only the smallest rectangle that makes up the plane is
drawn, and every other pixel is one of its.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import product
from typing import NamedTuple

import numpy as np

from vecrepeat.layout import Layout
from vecrepeat.overlaps import turned_over_itself
from vecrepeat.raster.paint import Painter, Pixels, Window
from vecrepeat.raster.plan import PixelPlan
from vecrepeat.symmetry import Symmetry

KEPT_BYTES = 160 << 20
"""A region up to this many bytes of RGBA is drawn once and kept."""


class Turn(NamedTuple):
    """x' = a·x + e, y' = d·y + f, with a and d 1 or -1; e and f in tiles or pixels."""

    a: int
    d: int
    e: Fraction
    f: Fraction

    def window(self, window: Window) -> Window:
        """Return the image of a window, in pixels."""
        x, y = int(self.e), int(self.f)
        return window._replace(
            x=x + window.x if self.a > 0 else x - window.x - window.width,
            y=y + window.y if self.d > 0 else y - window.y - window.height,
        )

    def back(self, window: Window) -> Window:
        """Return the window that :meth:`window` takes to this one."""
        inverse = Turn(self.a, self.d, -self.a * self.e, -self.d * self.f)
        return inverse.window(window)


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


def is_group(turns: Sequence[Turn], layout: Layout) -> bool:
    """Whether the turns, in tiles, are symmetries of the whole plane of tiles."""
    drop = layout.shift if layout.kind == "drop" else Fraction(0)
    across = layout.shift if layout.kind == "brick" else Fraction(0)

    def coset(turn: Turn) -> tuple[int, int, Fraction, Fraction]:
        if layout.kind == "brick":
            rows = turn.f // 1
            return (turn.a, turn.d, (turn.e - rows * across) % 1, turn.f % 1)
        columns = turn.e // 1
        return (turn.a, turn.d, turn.e % 1, (turn.f - columns * drop) % 1)

    known = {coset(turn) for turn in turns}
    products = {
        coset(Turn(s.a * t.a, s.d * t.d, s.a * t.e + s.e, s.d * t.f + s.f))
        for s, t in product(turns, repeat=2)
    }
    # A mirror must also carry the lattice onto itself.
    step = (
        Turn(1, 1, across, Fraction(1)) if layout.kind == "brick" else Turn(1, 1, Fraction(1), drop)
    )
    moved = {coset(step._replace(e=t.a * step.e, f=t.d * step.f)) for t in turns}
    return products <= known and moved == {coset(step)}


_SIDES = [Fraction(1), Fraction(1, 2), Fraction(1, 4)]
_STARTS = [Fraction(k, 4) for k in range(4)]
_FINE = 8


def smallest_rectangle(
    turns: tuple[Turn, ...], layout: Layout, page: tuple[tuple[Fraction, Fraction], ...]
) -> Rectangle | None:
    """Return a rectangle whose images under turns and lattice make up the plane, each once.

    Args:
        turns: a group of them, in tiles.
        layout: how tiles lie.
        page: the symmetry's region, tried first: of turned tiles it is one tile.
    """
    us, vs = zip(*page, strict=True)
    tried = [Rectangle(min(us), min(vs), max(us) - min(us), max(vs) - min(vs))]
    tried += [Rectangle(x, y, w, h) for y, x, w, h in product(_STARTS, _STARTS, _SIDES, _SIDES)]
    for rectangle in tried:
        if rectangle.width * rectangle.height * len(turns) == 1 and all(
            _covered(
                Fraction(2 * i + 1, 2 * _FINE),
                Fraction(2 * j + 1, 2 * _FINE),
                rectangle,
                turns,
                layout,
            )
            == 1
            for i, j in product(range(_FINE), repeat=2)
        ):
            return rectangle
    return None


def _covered(
    x: Fraction, y: Fraction, rectangle: Rectangle, turns: tuple[Turn, ...], layout: Layout
) -> int:
    """Return how many images of the rectangle a point lies in."""
    drop = layout.shift if layout.kind == "drop" else Fraction(0)
    across = layout.shift if layout.kind == "brick" else Fraction(0)
    count = 0
    for turn in turns:
        u, v = turn.a * (x - turn.e), turn.d * (y - turn.f)
        for i, j in product(range(-4, 5), repeat=2):
            left = u + i + j * across - rectangle.x
            top = v + j + i * drop - rectangle.y
            count += 0 < left < rectangle.width and 0 < top < rectangle.height
    return count


@dataclass(frozen=True, eq=False)
class MirroredPainter:
    """Paints a plane as pixels of one region, turned.

    Attributes:
        painter: draws the region.
        plan: the tile in whole pixels; its lattice is whole too.
        region: what is drawn, in pixels.
        turns: what takes the region to the rest of a tile, in pixels.
    """

    painter: Painter
    plan: PixelPlan
    region: Window
    turns: tuple[Turn, ...]

    def paint(self, window: Window) -> Pixels:
        """Return the window as premultiplied RGBA, shape (height, width, 4)."""
        out = np.empty((window.height, window.width, 4), np.uint8)
        for turn, part in self._parts(window):
            source = turn.back(part)
            pixels = self._pixels(source)[:: turn.d, :: turn.a]
            x, y = part.x - window.x, part.y - window.y
            out[y : y + part.height, x : x + part.width] = pixels
        return out

    def _pixels(self, window: Window) -> Pixels:
        if self.region.width * self.region.height * 4 > KEPT_BYTES:
            return self.painter.paint(window)
        x, y = window.x - self.region.x, window.y - self.region.y
        return self._kept[y : y + window.height, x : x + window.width]

    @cached_property
    def _kept(self) -> Pixels:
        return self.painter.paint(self.region)

    def _parts(self, window: Window) -> Iterator[tuple[Turn, Window]]:
        """Yield the images of the region that make up a window, cut to it."""
        lattice = self.plan.lattice
        a, b = lattice.a, lattice.b
        for turn in self.turns:
            image = turn.window(self.region)
            for i, j in _steps(window, image, (int(a.x), int(a.y), int(b.x), int(b.y))):
                by = lattice.at(i, j)
                moved = image._replace(x=image.x + int(by.x), y=image.y + int(by.y))
                x0, y0 = max(window.x, moved.x), max(window.y, moved.y)
                x1 = min(window.x + window.width, moved.x + moved.width)
                y1 = min(window.y + window.height, moved.y + moved.height)
                if x0 < x1 and y0 < y1:
                    yield (
                        turn._replace(e=turn.e + by.x, f=turn.f + by.y),
                        Window(x0, y0, x1 - x0, y1 - y0),
                    )


def _steps(
    window: Window, image: Window, lattice: tuple[int, int, int, int]
) -> Iterator[tuple[int, int]]:
    """Yield the lattice steps under which an image may meet a window."""
    ax, ay, bx, by = lattice
    det = ax * by - ay * bx
    reach = [
        (x, y)
        for x in (window.x - image.x - image.width, window.x + window.width - image.x)
        for y in (window.y - image.y - image.height, window.y + window.height - image.y)
    ]
    across = [Fraction(x * by - y * bx, det) for x, y in reach]
    down = [Fraction(y * ax - x * ay, det) for x, y in reach]
    return product(
        range(int(min(across) // 1), int(max(across) // 1) + 2),
        range(int(min(down) // 1), int(max(down) // 1) + 2),
    )


def mirrored(painter: Painter, plan: PixelPlan) -> Painter:
    """Return a painter that mirrors pixels, or ``painter`` where that is not to be had.

    That is where nothing mirrors; where mirrored tiles lie so that their neighbours are not
    mirrored (a third drop turned over becomes a third rise); where the lattice or the region is
    a fraction of a pixel; and where a motif lies on its own mirror image, which no picture
    shows symmetrically.
    """
    symmetry = plan.repeat.symmetry
    if symmetry is None or not plan.has_whole_shift:
        return painter
    turns = upright_turns(symmetry)
    if len(turns) == 1 or not is_group(turns, plan.repeat.layout):
        return painter
    if turned_over_itself(plan.repeat):
        return painter
    rectangle = smallest_rectangle(turns, plan.repeat.layout, symmetry.region)
    if rectangle is None:
        return painter
    w, h = plan.width, plan.height
    sides = (rectangle.x * w, rectangle.y * h, rectangle.width * w, rectangle.height * h)
    pixels = tuple(turn._replace(e=turn.e * w, f=turn.f * h) for turn in turns)
    moves = [side for turn in pixels for side in (turn.e, turn.f)]
    if any(side.denominator != 1 for side in (*sides, *moves)):
        return painter
    return MirroredPainter(painter, plan, Window(*(int(side) for side in sides)), pixels)
