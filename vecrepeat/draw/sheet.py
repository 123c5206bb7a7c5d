"""The rows of a sheet: one straight block, drawn once, a strip at a time.

A sheet repeats after one straight block in both directions, so that is all that is ever
drawn. Where the layout's shift is a whole number of pixels the block is laid out of one
tile's pixels; otherwise every column (or row) of it is drawn where it falls.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vecrepeat.draw.paint import Painter, Pixels, Window
from vecrepeat.draw.plan import PixelPlan
from vecrepeat.util.ahead import map_ahead

TILE_BYTES = 160 << 20
"""A tile up to this many bytes of RGBA is kept whole; a larger one is drawn in strips."""

PAINT_BYTES = 9 << 20
"""How many bytes of RGBA of a tile are drawn in one window."""

PAINTED_AHEAD = 3
"""Windows asked for at once, so that the engine has the next while the last is handed over."""

ROW_BYTES = 64 << 20
"""The most bytes of RGBA of the straight block handed on at a time, however wide it is."""

STRIP_BYTES = 16 << 20
"""How many bytes of RGBA are laid out of a kept tile at a time."""


@dataclass(frozen=True)
class Sheet:
    """A finite rectangle of the plane from the tile's corner.

    Attributes:
        plan: the tile in whole pixels.
        width: in pixels.
        height: in pixels.
    """

    plan: PixelPlan
    width: int
    height: int

    @property
    def period(self) -> tuple[int, int]:
        """The straight block in pixels, across and down."""
        return self.plan.block

    @property
    def needed(self) -> tuple[int, int]:
        """The part of the straight block that the sheet shows, in pixels."""
        across, down = self.period
        return (min(across, self.width), min(down, self.height))

    @property
    def keeps_tile(self) -> bool:
        """Whether the sheet is laid out of the pixels of one tile, kept whole."""
        plan = self.plan
        across, down = self.needed
        width, height = min(plan.width, across), min(plan.height, down)
        fits = plan.width * plan.height * 4 <= TILE_BYTES
        return fits and plan.has_whole_shift and (across, down) != (width, height)

    @property
    def columns(self) -> tuple[int, ...] | None:
        """For a sheet made of columns of one tile: how many pixels each lies lower."""
        plan = self.plan
        if plan.repeat.layout.kind != "drop" or not self.keeps_tile:
            return None
        count = plan.block[0] // plan.width
        return tuple(int(plan.shift) * column % plan.height for column in range(count))

    def tile_strips(self, painter: Painter) -> Iterator[Pixels]:
        """Yield one whole tile as strips of premultiplied RGBA.

        Yields:
            Arrays of shape (rows, tile width, 4), from the top down.
        """
        plan = self.plan
        windows = _cut(0, 0, plan.width, plan.height, self.window_rows)
        return (pixels for _, pixels in map_ahead(painter.paint, windows, PAINTED_AHEAD))

    @property
    def window_rows(self) -> int:
        """How many rows of a tile are drawn at a time.

        The same windows make up a tile on its own and a tile of a sheet: where a window ends
        can change how a gradient rounds, and a tile is to be the same bytes everywhere.
        """
        plan = self.plan
        return -(-plan.height // -(-plan.height * plan.width * 4 // PAINT_BYTES))

    def strips(self, painter: Painter) -> Iterator[Pixels]:
        """Yield the needed part of the straight block as strips of premultiplied RGBA.

        Yields:
            Arrays of shape (rows, needed width, 4), from the top down.
        """
        plan = self.plan
        across, down = self.needed
        if self.keeps_tile:
            tile = np.empty((plan.height, plan.width, 4), np.uint8)
            filled = 0
            for strip in self.tile_strips(painter):
                tile[filled : filled + len(strip)] = strip
                filled += len(strip)
            rows = max(1, STRIP_BYTES // (across * 4))
            for y in range(0, down, rows):
                yield _laid(tile, plan, y, min(rows, down - y), across)
            return
        width, height = min(plan.width, across), min(plan.height, down)
        rows = max(1, min(self.window_rows, ROW_BYTES // (across * 4)))
        windows = (
            Window(x, window.y, min(width, across - x), window.height)
            for top in range(0, down, height)
            for window in _cut(0, top, width, min(height, down - top), rows)
            for x in range(0, across, width)
        )
        strip = np.empty((0, across, 4), np.uint8)
        for window, pixels in map_ahead(painter.paint, windows, PAINTED_AHEAD):
            if window.x == 0:
                strip = np.empty((window.height, across, 4), np.uint8)
            strip[:, window.x : window.x + window.width] = pixels
            if window.x + window.width == across:
                yield strip


def _cut(x: int, y: int, width: int, height: int, rows: int) -> Iterator[Window]:
    """Cut a window into windows of so many rows, the last one of what is left."""
    for top in range(0, height, rows):
        yield Window(x, y + top, width, min(rows, height - top))


def _laid(tile: Pixels, plan: PixelPlan, top: int, rows: int, across: int) -> Pixels:
    """Return rows of the straight block laid out of one tile's pixels."""
    out = np.empty((rows, across, 4), np.uint8)
    height, width = tile.shape[:2]
    drops = plan.repeat.layout.kind == "drop"
    step = int(plan.shift)
    for column in range(0, across, width):
        w = min(width, across - column)
        shift = column // width * step if drops else 0
        y = 0
        while y < rows:
            plane_y = top + y
            row = plane_y // height
            source = (plane_y - shift) % height
            # Up to the end of this tile row, in the plane and in the source alike.
            run = min(rows - y, height - source, height - plane_y % height)
            turn = 0 if drops else row * step % width
            _copy_turned(tile[source : source + run], out[y : y + run, column : column + w], turn)
            y += run
    return out


def _copy_turned(source: Pixels, target: Pixels, turn: int) -> None:
    """Copy rows that start ``turn`` pixels to the right of the source's, wrapping round."""
    width = source.shape[1]
    head = min(turn, target.shape[1])
    target[:, :head] = source[:, width - turn : width - turn + head]
    target[:, head:] = source[:, : target.shape[1] - head]


def opaque(strip: Pixels) -> NDArray[np.uint8]:
    """Return premultiplied RGBA laid on white, as RGB."""
    rgb = np.empty((*strip.shape[:2], 3), np.uint8)
    for channel in range(3):
        rgb[..., channel] = strip[..., channel]
    alpha = strip[..., 3]
    if alpha.min(initial=255) < 255:
        rgb += 255 - alpha[..., None]
    return rgb


_UNMULTIPLY = np.zeros((256, 256), np.uint8)
for _alpha in range(1, 256):
    _colours = np.arange(256) * 255 + _alpha // 2
    _UNMULTIPLY[_alpha] = np.minimum(_colours // _alpha, 255)


def straight(strip: Pixels) -> NDArray[np.uint8]:
    """Return premultiplied RGBA as straight RGBA, the form PNG stores."""
    out = np.ascontiguousarray(strip)
    alpha = strip[..., 3]
    partial = (alpha != 255) & (alpha != 0)
    if partial.any():
        out[partial, :3] = _UNMULTIPLY[alpha[partial, None], strip[partial, :3]]
    return out
