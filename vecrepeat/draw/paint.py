"""Drawing any window of the endless cloth into pixels.

A :class:`Painter` answers one question: *this window of the plane, in pixels, please*. It
draws every copy whose outline can reach the window, each displaced from its original by an
exact number of pixels, so that the same motif falls on the same pixels wherever it stands.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Rect
from vecrepeat.draw.cairo import CairoDocument, CairoFailure
from vecrepeat.draw.plan import PixelPlan
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.repeat.wrap import Copy, copies
from vecrepeat.scene.kinds import BLEND, FILTER, MASK, OPACITY
from vecrepeat.scene.outline import DEFAULT_TOLERANCE

MAX_SURFACE = 32_767
"""The longest side of a cairo image surface in pixels."""

BLOCK_BYTES = 64 << 20
"""The most bytes of RGBA drawn at once."""

GROUPS = (OPACITY, MASK, FILTER, BLEND)
"""Kinds for which a group is drawn on a surface of its own."""

MARGIN = 4
"""Pixels around an outline that antialiasing and its tolerance may reach."""

Pixels = NDArray[np.uint8]


class Window(NamedTuple):
    """A rectangle of the plane in whole pixels; the tile's corner is the origin."""

    x: int
    y: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """Where it ends across."""
        return self.x + self.width

    @property
    def bottom(self) -> int:
        """Where it ends down."""
        return self.y + self.height

    @classmethod
    def between(cls, left: int, top: int, right: int, bottom: int) -> Window:
        """Return the window between four lines."""
        return cls(left, top, right - left, bottom - top)

    def moved(self, x: int, y: int) -> Window:
        """Return it moved to the right and down."""
        return self._replace(x=self.x + x, y=self.y + y)

    def within(self, bounds: Window) -> Window:
        """Return what it shares with another; its sides are 0 or less where that is nothing."""
        return Window.between(
            max(self.x, bounds.x),
            max(self.y, bounds.y),
            min(self.right, bounds.right),
            min(self.bottom, bounds.bottom),
        )


class Painter(Protocol):
    """Draws windows of one repeat at one resolution."""

    def paint(self, window: Window) -> Pixels:
        """Return the window as premultiplied RGBA, shape (height, width, 4)."""


class Stamps(Protocol):
    """Pictures of copies that another engine draws, to be laid among those that cairo draws."""

    def is_stamp(self, copy: Copy) -> bool:
        """Whether a copy is laid as a picture."""

    def laid(self, found: Sequence[Copy], window: Window) -> Mapping[Copy, tuple[Window, Pixels]]:
        """Return what a window shows of the copies that are pictures.

        Returns:
            Where each lies, within the window, and its pixels, premultiplied and ordered as
            cairo has them, shape (height, width, 4).
        """


def reach(plan: PixelPlan, window: Window) -> Rect:
    """Return the window in mm of the tile, grown by what antialiasing and outlines may miss."""
    sx, sy = plan.scale
    rect = Rect(window.x / sx, window.y / sy, window.right / sx, window.bottom / sy)
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
    """Draws one repeat's motifs by cairo, for all sizes and windows.

    Args:
        repeat: the endless cloth; its layout may differ from that of a plan drawn later.
        without: motifs that painters are given pictures of.

    Attributes:
        numbers: each motif's in the document that cairo's workers hold.
        grouped: the motifs in which groups are drawn on surfaces of their own.
    """

    def __init__(self, repeat: Repeat, without: Collection[Motif] = ()) -> None:
        motifs = list(dict.fromkeys(p.motif for p in repeat.placements))
        motifs = [motif for motif in motifs if motif not in without]
        self._name = repeat.name
        self._motifs = motifs
        self.numbers = {motif: i for i, motif in enumerate(motifs)}
        self.grouped = {m for m in motifs if any(f.kind in GROUPS for f in m.features)}
        self._document = CairoDocument([motif.scene for motif in motifs])

    def painter(
        self, plan: PixelPlan, *, ground: bool = True, stamps: Stamps | None = None
    ) -> Painter:
        """Return what draws windows of ``plan``, with the repeat's ground or without."""
        return _CairoPainter(self, plan, ground, stamps)

    def draw(self, request: dict[str, Any], out: Pixels, pictures: Sequence[Pixels]) -> None:
        """Have a request of :mod:`vecrepeat.draw.cairo_worker` drawn into ``out``.

        Raises:
            InputError: cairo can't draw it.
        """
        try:
            self._document.draw(request, out, pictures)
        except CairoFailure as error:
            motif = None if error.motif is None else self._motifs[error.motif].name
            raise InputError(
                f"the first engine can't draw it: {error}",
                file=None if motif else self._name,
                element=motif,
                hint="redraw the motif, or export with --engine resvg",
            ) from None


@dataclass(frozen=True, eq=False)
class _CairoPainter:
    engine: CairoEngine
    plan: PixelPlan
    ground: bool
    stamps: Stamps | None

    def paint(self, window: Window) -> Pixels:
        """Return the window as premultiplied RGBA, shape (height, width, 4).

        Large windows are drawn in blocks and joined, so that memory stays near the size of
        the result and no side exceeds what cairo allows.
        """
        out = np.empty((window.height, window.width, 4), np.uint8)
        # Cutting a window into rows changes no pixel; cutting it into columns may, see _canvas.
        across = min(window.width, MAX_SURFACE // 2)
        for x in range(0, window.width, across):
            w = min(across, window.width - x)
            y = 0
            while y < window.height:
                part = Window(window.x + x, window.y + y, w, window.height - y)
                found = copies(self.plan.repeat, reach(self.plan, part))
                canvas = self._canvas(part, found)
                h = min(part.height, max(1, BLOCK_BYTES // (canvas.width * 4)), MAX_SURFACE)
                if h < part.height:
                    part = part._replace(height=h)
                    found = copies(self.plan.repeat, reach(self.plan, part))
                self._draw(part, canvas, found, out[y : y + h, x : x + w])
                y += h
        return out

    def _canvas(self, window: Window, found: Sequence[Copy]) -> Window:
        """Return the window widened to the whole width of the copies that reach into it.

        cairo cuts polygons at the left and right of a surface. The cut ends an edge within a
        pixel row, and cairo then samples that whole row's coverage in another way: pixels
        far from the cut change by a few levels. Cut above or below, none do. So nothing that
        shows in the window may cross the surface's sides.
        """
        if self.stamps is not None:
            found = [copy for copy in found if not self.stamps.is_stamp(copy)]
        if not found:
            return window
        lattice, boxes = self.plan.lattice, self.plan.repeat.boxes
        sx = self.plan.scale[0]
        shifts = np.array([float(lattice.at(c.i, c.j).x) for c in found])
        which = [c.placement for c in found]
        left = math.floor((boxes[which, 0] * sx + shifts).min()) - MARGIN
        right = math.ceil((boxes[which, 2] * sx + shifts).max()) + MARGIN
        spare = (MAX_SURFACE - window.width) // 2
        left = max(min(left, window.x), window.x - spare)
        right = min(max(right, window.right), window.right + spare)
        return window._replace(x=left, width=right - left)

    def _box(self, copy: Copy, canvas: Window) -> Window:
        """Return what a copy covers of a canvas, and a margin, in its pixels."""
        (sx, sy), (dx, dy) = self.plan.scale, self.plan.lattice.at(copy.i, copy.j)
        x0, y0, x1, y1 = self.plan.repeat.boxes[copy.placement]
        left, right = float(x0) * sx + float(dx), float(x1) * sx + float(dx)
        top, bottom = float(y0) * sy + float(dy), float(y1) * sy + float(dy)
        return Window.between(
            math.floor(left) - MARGIN,
            math.floor(top) - MARGIN,
            math.ceil(right) + MARGIN,
            math.ceil(bottom) + MARGIN,
        ).moved(-canvas.x, -canvas.y)

    def _draw(self, window: Window, canvas: Window, found: Sequence[Copy], out: Pixels) -> None:
        """Draw a window's copies on a canvas of its rows and put its pixels in ``out``."""
        canvas = canvas._replace(y=window.y, height=window.height)
        repeat = self.plan.repeat
        ground = None
        if self.ground and repeat.ground is not None:
            ground = [*(channel / 255 for channel in repeat.ground.rgb), repeat.ground.opacity]
        laid = {} if self.stamps is None else self.stamps.laid(found, window)
        draw: list[tuple[float, ...]] = []
        pictures = []
        for copy in found:
            if self.stamps is None or not self.stamps.is_stamp(copy):
                motif = repeat.placements[copy.placement].motif
                box = self._box(copy, canvas) if motif in self.engine.grouped else ()
                matrix = copy_matrix(self.plan, copy, canvas)
                draw.append((self.engine.numbers[motif], *matrix, *box))
            elif copy in laid:
                place, pixels = laid[copy]
                draw.append(place.moved(-canvas.x, -canvas.y))
                pictures.append(pixels)
        request = {
            "canvas": (canvas.width, canvas.height),
            "columns": (window.x - canvas.x, window.width),
            "ground": ground,
            "draw": draw,
        }
        self.engine.draw(request, out, pictures)
