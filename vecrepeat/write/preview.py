"""A repeat in pictures of its motifs: each is drawn once, and laid wherever it stands.

Art with filters takes an engine as long to draw at each of its places as at the first. What is
only looked at or measured need not wait for that: a picture of a motif, turned as pictures are,
is as good. Files of the design itself are drawn by an engine at every place.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from PIL import Image as Pictures

from vecrepeat.draw.paint import Painter, Pixels, Window, copy_matrix, reach
from vecrepeat.draw.plan import PixelPlan
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.repeat.wrap import copies
from vecrepeat.scene import kinds
from vecrepeat.util.once import once
from vecrepeat.write.exporting import Exporter
from vecrepeat.write.lone import MARGIN, lone_picture

OFTEN = 3
"""How often motifs must stand on a tile, on the mean, to be drawn once each."""

FINER = 1.25
"""Pixels of a motif's picture to each of the preview where it stands largest."""

PICTURES = 64 << 20
"""The most pixels that the pictures of all motifs may have together."""

_LEAST = 32
"""Pixels across that even the smallest motif is drawn with."""


def preview_painter(
    repeat: Repeat, plan: PixelPlan, *, ground: bool = True, sharp: bool = False
) -> Painter:
    """Return what draws windows of ``plan`` to be looked at or measured, the quick way.

    Only art that takes long is laid out of pictures of its motifs; all else comes as it is
    exported.

    Args:
        repeat: the plan's.
        plan: one tile in whole pixels.
        ground: with the repeat's ground or without.
        sharp: whether pixels are taken as they are and not mixed, and those of a motif are
            finer, so that few of them are of no colour but that of an edge.

    Raises:
        InputError: a motif can't be drawn.
    """
    laid = Preview(repeat, plan, ground, sharp)
    return laid if laid.pays else Exporter(repeat).painter(plan, ground=ground)


@dataclass(frozen=True, eq=False)
class Preview:
    """Draws windows of a repeat out of pictures of its motifs; see :func:`preview_painter`."""

    repeat: Repeat
    plan: PixelPlan
    ground: bool
    sharp: bool

    @property
    def pays(self) -> bool:
        """Whether drawing each motif once is quicker, and shows what is there."""
        used = {f.kind for motif in self._sides for f in motif.features}
        # What blends with what lies below it has no picture of its own.
        if kinds.FILTER not in used or kinds.BLEND in used:
            return False
        if len(self.repeat.placements) < OFTEN * len(self._sides):
            return False
        return sum(side * side for side in self._sides.values()) <= PICTURES

    def paint(self, window: Window) -> Pixels:
        """Return the window as premultiplied RGBA, shape (height, width, 4)."""
        out = np.zeros((window.height, window.width, 4), np.uint8)
        own = self.repeat.ground
        if self.ground and own is not None:
            out[...] = np.round([*(c * own.opacity for c in own.rgb), 255 * own.opacity])
        sx, sy = self.plan.scale
        for copy in copies(self.repeat, reach(self.plan, window)):
            offset = self.plan.lattice.at(copy.i, copy.j)
            x0, y0, x1, y1 = self.repeat.boxes[copy.placement] * (sx, sy, sx, sy)
            dx, dy = float(offset.x) - window.x, float(offset.y) - window.y
            left, top = max(0, math.floor(x0 + dx) - 2), max(0, math.floor(y0 + dy) - 2)
            right = min(window.width, math.ceil(x1 + dx) + 2)
            bottom = min(window.height, math.ceil(y1 + dy) + 2)
            if right > left and bottom > top:
                at = window.moved(left, top)._replace(width=right - left, height=bottom - top)
                motif = self.repeat.placements[copy.placement].motif
                turned = self._turned(motif, copy_matrix(self.plan, copy, at), at)
                _lay(turned, out[top:bottom, left:right])
        return out

    @once
    def _sides(self) -> dict[Motif, int]:
        """How many pixels across each motif's picture has."""
        finer = 2 * FINER if self.sharp else FINER
        sides: dict[Motif, int] = {}
        for placement in self.repeat.placements:
            box = placement.motif.box
            scale = max(self.plan.scale) * placement.transform.stretch * finer
            side = math.ceil(max(box.width, box.height) * MARGIN * scale)
            sides[placement.motif] = max(_LEAST, side, sides.get(placement.motif, 0))
        return sides

    @once
    def _pictures(self) -> dict[Motif, Pictures.Image]:
        """Each motif's picture, premultiplied."""
        return {motif: _picture(motif, side) for motif, side in self._sides.items()}

    def _turned(
        self, motif: Motif, matrix: tuple[float, float, float, float, float, float], at: Window
    ) -> Pixels:
        """Return a motif's picture turned into a window; the matrix leads to it from its mm."""
        a, b, c, d, e, f = matrix
        size = a * d - b * c
        if size == 0:
            return np.zeros((at.height, at.width, 4), np.uint8)
        box, side = motif.box, self._sides[motif]
        k = side / (max(box.width, box.height) * MARGIN)
        # From the window's pixels to the motif's mm, and on to the pixels of its picture.
        back = np.array([[d, -c], [-b, a]]) / size
        middle = np.array([(box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2])
        shift = side / 2 - k * (back @ (e, f) + middle)
        (xx, xy), (yx, yy) = k * back
        turned = self._pictures[motif].transform(
            (at.width, at.height),
            Pictures.Transform.AFFINE,
            (xx, xy, shift[0], yx, yy, shift[1]),
            Pictures.Resampling.NEAREST if self.sharp else Pictures.Resampling.BILINEAR,
        )
        return np.asarray(turned)


_largest: WeakKeyDictionary[Motif, Pictures.Image] = WeakKeyDictionary()
"""The largest picture drawn of each motif, as long as there is the motif."""


def _picture(motif: Motif, side: int) -> Pictures.Image:
    """Return a motif's picture, premultiplied; one that is drawn already is made smaller."""
    drawn = _largest.get(motif)
    if drawn is None or drawn.width < side:
        drawn = Pictures.fromarray(lone_picture(motif, side), "RGBA").convert("RGBa")
        _largest[motif] = drawn
    return drawn if drawn.width == side else drawn.resize((side, side), Pictures.Resampling.BOX)


def _lay(top: Pixels, below: Pixels) -> None:
    """Lay premultiplied pixels over others (Compositing 1 §5.1, *source-over*)."""
    rest = 255 - top[..., 3:].astype(np.uint16)
    below[...] = top + ((below * rest + 127) // 255).astype(np.uint8)
