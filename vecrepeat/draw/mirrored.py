"""Mirrored layouts to the pixel: one region is drawn, its mirror images are its pixels turned.

A renderer's antialiasing is not the same in a mirror: drawn directly, a motif and its mirror
image differ by a few levels along their edges. So where a layout mirrors, half-turns or glides
along rows and columns of whole pixels, only the smallest rectangle that makes up the plane is
drawn, and every other pixel is one of its.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np

from vecrepeat.core.geometry import Rect
from vecrepeat.draw.paint import Painter, Pixels, Window
from vecrepeat.draw.plan import PixelPlan
from vecrepeat.repeat.mirrors import Turn, mirror_parts, turned_over_itself
from vecrepeat.repeat.wrap import index_range
from vecrepeat.util.once import once

KEPT_BYTES = 160 << 20
"""A region up to this many bytes of RGBA is drawn once and kept."""


def _image(turn: Turn, window: Window) -> Window:
    """Return where a turn in pixels takes a window."""
    x, y = int(turn.e), int(turn.f)
    return window._replace(
        x=x + window.x if turn.a > 0 else x - window.right,
        y=y + window.y if turn.d > 0 else y - window.bottom,
    )


def _origin(turn: Turn, window: Window) -> Window:
    """Return the window that a turn takes to this one."""
    return _image(turn._replace(e=-turn.a * turn.e, f=-turn.d * turn.f), window)


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
            source = _origin(turn, part)
            pixels = self._pixels(source)[:: turn.d, :: turn.a]
            x, y = part.x - window.x, part.y - window.y
            out[y : y + part.height, x : x + part.width] = pixels
        return out

    def _pixels(self, window: Window) -> Pixels:
        if self.region.width * self.region.height * 4 > KEPT_BYTES:
            return self.painter.paint(window)
        x, y = window.x - self.region.x, window.y - self.region.y
        return self._kept[y : y + window.height, x : x + window.width]

    @once
    def _kept(self) -> Pixels:
        return self.painter.paint(self.region)

    def _parts(self, window: Window) -> Iterator[tuple[Turn, Window]]:
        """Yield the images of the region that make up a window, cut to it."""
        lattice = self.plan.lattice
        for turn in self.turns:
            image = _image(turn, self.region)
            for i, j in product(*index_range(lattice, _rect(image), _rect(window))):
                by = lattice.at(i, j)
                part = image.moved(int(by.x), int(by.y)).within(window)
                if part.width > 0 and part.height > 0:
                    yield turn._replace(e=turn.e + by.x, f=turn.f + by.y), part


def _rect(window: Window) -> Rect:
    return Rect(window.x, window.y, window.right, window.bottom)


def mirrored(painter: Painter, plan: PixelPlan) -> Painter:
    """Return a painter that mirrors pixels, or ``painter`` where that is not to be had.

    That is where nothing mirrors; where mirrored tiles lie so that their neighbours are not
    mirrored (a third drop turned over becomes a third rise); where the lattice or the region is
    a fraction of a pixel; and where a motif lies on its own mirror image, which no picture
    shows symmetrically.
    """
    parts = mirror_parts(plan.repeat)
    if parts is None or not plan.has_whole_shift or turned_over_itself(plan.repeat):
        return painter
    turns, rectangle = parts
    w, h = plan.width, plan.height
    sides = (rectangle.x * w, rectangle.y * h, rectangle.width * w, rectangle.height * h)
    pixels = tuple(turn._replace(e=turn.e * w, f=turn.f * h) for turn in turns)
    moves = [side for turn in pixels for side in (turn.e, turn.f)]
    if any(side.denominator != 1 for side in (*sides, *moves)):
        return painter
    return MirroredPainter(painter, plan, Window(*(int(side) for side in sides)), pixels)
