"""Drawing any window of the endless cloth into pixels.

A :class:`Painter` answers one question: *this window of the plane, in pixels, please*. It
draws every copy whose outline can reach the window, each displaced from its original by an
exact number of pixels, so that the same motif falls on the same pixels wherever it stands.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple, Protocol

import cairocffi
import numpy as np
from cairosvg.parser import Node, Tree
from cairosvg.surface import PNGSurface
from numpy.typing import NDArray

from vecrepeat.art.outline import DEFAULT_TOLERANCE
from vecrepeat.geometry import Rect, number
from vecrepeat.raster.plan import PixelPlan
from vecrepeat.repeat import Motif, Repeat
from vecrepeat.wrap import Copy, copies

MAX_SURFACE = 32_767
"""The longest side of a cairo image surface in pixels."""

BLOCK_BYTES = 64 << 20
"""The most bytes of RGBA drawn at once."""

Pixels = NDArray[np.uint8]


class Window(NamedTuple):
    """A rectangle of the plane in whole pixels; the tile's corner is the origin."""

    x: int
    y: int
    width: int
    height: int


class Painter(Protocol):
    """Draws windows of one repeat at one resolution."""

    def paint(self, window: Window) -> Pixels:
        """Return the window as premultiplied RGBA, shape (height, width, 4)."""


def reach(plan: PixelPlan, window: Window) -> Rect:
    """Return the window in mm of the tile, grown by what antialiasing and outlines may miss."""
    sx, sy = plan.scale
    rect = Rect(
        window.x / sx,
        window.y / sy,
        (window.x + window.width) / sx,
        (window.y + window.height) / sy,
    )
    return rect.grown(1 / min(sx, sy) + 2 * DEFAULT_TOLERANCE)


def copy_matrix(
    plan: PixelPlan, copy: Copy, window: Window
) -> tuple[float, float, float, float, float, float]:
    """Return the matrix from a motif's mm to the window's pixels.

    Translations of copies are exact, so two copies of a placement differ by the lattice
    vector and by nothing else.
    """
    sx, sy = plan.scale
    a, b, c, d, e, f = plan.repeat.placements[copy.placement].transform
    offset = plan.lattice.at(copy.i, copy.j)
    # The original's own place is kept on a grid of 2^-20 px, on which adding whole pixels
    # is exact in floating point.
    x = round(e * sx * 1048576) / 1048576 + float(offset.x - window.x)
    y = round(f * sy * 1048576) / 1048576 + float(offset.y - window.y)
    return (a * sx, b * sy, c * sx, d * sy, x, y)


class CairoEngine:
    """Draws one repeat's motifs through CairoSVG onto cairo image surfaces.

    The drawing is parsed once, whatever the number of sizes and windows drawn of it.

    Args:
        repeat: the endless cloth; its layout may differ from that of a plan drawn later.
    """

    def __init__(self, repeat: Repeat) -> None:
        motifs = list(dict.fromkeys(p.motif for p in repeat.placements))
        groups = "".join(f"<g>{motif.markup}</g>" for motif in motifs)
        # The document's own size is of no account: drawing it draws nothing, it only makes
        # CairoSVG note the definitions.
        document = (
            '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
            f'width="1" height="1" viewBox="0 0 {number(float(repeat.width))} '
            f'{number(float(repeat.height))}"><defs>{"".join(repeat.resources.values())}'
            f"<g>{groups}</g></defs></svg>"
        )
        tree = Tree(bytestring=document.encode())
        self._surface = PNGSurface(tree, None, 96)
        self._nodes = dict(zip(motifs, tree.children[0].children[-1].children, strict=True))

    def painter(self, plan: PixelPlan, *, ground: bool = True) -> Painter:
        """Return what draws windows of ``plan``, with the repeat's ground or without."""
        return _CairoPainter(self._surface, self._nodes, plan, ground)


@dataclass(frozen=True, eq=False)
class _CairoPainter:
    surface: PNGSurface
    nodes: Mapping[Motif, Node]
    plan: PixelPlan
    ground: bool

    def paint(self, window: Window) -> Pixels:
        """Return the window as premultiplied RGBA, shape (height, width, 4).

        Large windows are drawn in blocks and joined, so that memory stays near the size of
        the result and no side exceeds what cairo allows.
        """
        across = min(window.width, MAX_SURFACE)
        down = min(max(1, BLOCK_BYTES // (across * 4)), MAX_SURFACE)
        if window.width <= across and window.height <= down:
            return self._block(window)
        out = np.empty((window.height, window.width, 4), np.uint8)
        for y in range(0, window.height, down):
            for x in range(0, window.width, across):
                w, h = min(across, window.width - x), min(down, window.height - y)
                out[y : y + h, x : x + w] = self._block(Window(window.x + x, window.y + y, w, h))
        return out

    def _block(self, window: Window) -> Pixels:
        image = cairocffi.ImageSurface(cairocffi.FORMAT_ARGB32, window.width, window.height)
        context = cairocffi.Context(image)
        repeat = self.plan.repeat
        if self.ground and repeat.ground is not None:
            r, g, b = repeat.ground.rgb
            context.set_source_rgba(r / 255, g / 255, b / 255, repeat.ground.opacity)
            context.paint()
        self.surface.cairo = image
        self.surface.context = context
        for copy in copies(repeat, reach(self.plan, window)):
            context.save()
            context.set_matrix(cairocffi.Matrix(*copy_matrix(self.plan, copy, window)))
            self.surface.draw(self.nodes[repeat.placements[copy.placement].motif])
            context.restore()
        image.flush()
        stride = image.get_stride()
        native = np.frombuffer(image.get_data(), np.uint8).reshape(window.height, stride)
        bgra = native[:, : window.width * 4].reshape(window.height, window.width, 4)
        return bgra[..., [2, 1, 0, 3]]


