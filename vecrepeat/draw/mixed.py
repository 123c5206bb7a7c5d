"""Two engines over one cloth: each motif is drawn by the one that draws it faithfully.

What the first engine does not draw is drawn by the second, whole, once for each place that it
has within the pixel grid, and kept as a picture. Copies lie whole pixels apart, so the picture
is laid where they fall, in the stacking order, over what the first engine has drawn so far.
Source-over is associative: a motif drawn alone and then laid is the motif drawn in its place. Only
blending with what lies below is not, and needs all by the second engine.

Source: Compositing and Blending 1 §5, §9.1.4.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Collection, Hashable, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from vecrepeat.draw.cairo_library import NATIVE_ORDER
from vecrepeat.draw.paint import CairoEngine, Painter, Pixels, Window
from vecrepeat.draw.plan import PixelPlan
from vecrepeat.draw.resvg import AT_ONCE
from vecrepeat.draw.resvg_draws import fits
from vecrepeat.draw.resvg_paint import ResvgEngine, ResvgPainter
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.repeat.wrap import Copy

KEPT_BYTES = 96 << 20
"""Bytes of pictures that are kept for the next windows."""

_GRID = 1 << 20
"""Parts of a pixel in which places are told apart; see :func:`~.paint.copy_matrix`."""


class MixedEngine:
    """Draws one repeat's motifs through both engines.

    Args:
        repeat: the endless cloth; its layout may differ from that of a plan drawn later.
        beyond: the motifs that the first engine does not draw faithfully.
    """

    def __init__(self, repeat: Repeat, beyond: Collection[Motif]) -> None:
        self._beyond = frozenset(beyond)
        self._first = CairoEngine(repeat, self._beyond)
        self._second = ResvgEngine(repeat, beyond)

    def painter(self, plan: PixelPlan, *, ground: bool = True) -> Painter:
        """Return what draws windows of ``plan``, with the repeat's ground or without."""
        second = self._second.painter(plan, ground=False)
        return self._first.painter(plan, ground=ground, stamps=_Drawn(second, self._beyond))


class _Picture(NamedTuple):
    """A copy's pixels, and where they begin, counted from the whole pixel of its place."""

    x: int
    y: int
    pixels: Pixels


@dataclass(eq=False)
class _Drawn:
    """The copies that the second engine draws, as pictures.

    Attributes:
        painter: draws them.
        beyond: the motifs that it draws.
    """

    painter: ResvgPainter
    beyond: frozenset[Motif]
    _kept: _Kept = field(default_factory=lambda: _Kept())

    def __post_init__(self) -> None:
        placements = self.painter.plan.repeat.placements
        self._is_stamp = [placement.motif in self.beyond for placement in placements]

    def is_stamp(self, copy: Copy) -> bool:
        """Whether a copy is laid as a picture."""
        return self._is_stamp[copy.placement]

    def laid(self, found: Sequence[Copy], window: Window) -> Mapping[Copy, tuple[Window, Pixels]]:
        """Return what a window shows of the copies that are pictures, on several cores.

        Raises:
            InputError: the second engine fails.
        """
        stamps = [copy for copy in found if self.is_stamp(copy)]
        if not stamps:
            return {}
        with ThreadPoolExecutor(AT_ONCE) as pool:
            parts = pool.map(lambda copy: self._part(copy, window), stamps)
            return {c: part for c, part in zip(stamps, parts, strict=True) if part is not None}

    def _part(self, copy: Copy, window: Window) -> tuple[Window, Pixels] | None:
        """Return what a window shows of a copy, None where that is nothing."""
        box = self.painter.box(copy)
        seen = box.within(window)
        if seen.width <= 0 or seen.height <= 0:
            return None
        if not fits(box):
            return seen, self._native(self.painter.paint_alone(copy, seen))
        key, x, y = self._place(copy)
        picture = self._kept.get(key, lambda: self._picture(copy, box.moved(-x, -y), box))
        height, width = picture.pixels.shape[:2]
        whole = Window(x + picture.x, y + picture.y, width, height)
        seen = whole.within(window)
        if seen.width <= 0 or seen.height <= 0:
            return None
        left, top = seen.x - whole.x, seen.y - whole.y
        return seen, picture.pixels[top : top + seen.height, left : left + seen.width]

    def _place(self, copy: Copy) -> tuple[Hashable, int, int]:
        """Return what of a copy's place its pixels depend on, and its whole pixels."""
        plan = self.painter.plan
        placement = plan.repeat.placements[copy.placement]
        a, b, c, d, e, f = placement.transform
        offset = plan.lattice.at(copy.i, copy.j)
        parts = [
            round(at * scale * _GRID) + round(by * _GRID)
            for at, scale, by in zip((e, f), plan.scale, offset, strict=True)
        ]
        (x, y), (right, down) = ([p // _GRID for p in parts], [p % _GRID for p in parts])
        return (placement.motif, a, b, c, d, right, down), x, y

    def _picture(self, copy: Copy, at: Window, box: Window) -> _Picture:
        """Return a copy drawn whole, cut to what has ink."""
        pixels = self.painter.paint_alone(copy, box)
        ink = pixels[..., 3] > 0
        rows, columns = (np.flatnonzero(ink.any(axis=side)) for side in (1, 0))
        if not len(rows):
            return _Picture(at.x, at.y, np.zeros((0, 0, 4), np.uint8))
        left, top = int(columns[0]), int(rows[0])
        cut = pixels[top : rows[-1] + 1, left : columns[-1] + 1]
        return _Picture(at.x + left, at.y + top, self._native(cut))

    @staticmethod
    def _native(pixels: Pixels) -> Pixels:
        """Return red, green, blue and alpha as cairo orders them."""
        native = np.empty(pixels.shape, np.uint8)
        for channel, place in enumerate(NATIVE_ORDER):
            native[..., place] = pixels[..., channel]
        return native


class _Kept:
    """Pictures by their place, the latest used, of up to :data:`KEPT_BYTES`; each made once."""

    def __init__(self) -> None:
        self._turn = threading.Lock()
        self._kept: dict[Hashable, Future[_Picture]] = {}
        self._bytes = 0

    def get(self, key: Hashable, make: Callable[[], _Picture]) -> _Picture:
        """Return what is kept under a key; what is not is made, while others wait for it."""
        with self._turn:
            found = self._kept.pop(key, None)
            future = self._kept[key] = Future() if found is None else found
        if found is None:
            try:
                future.set_result(make())
            except BaseException as error:
                future.set_exception(error)
                with self._turn:
                    del self._kept[key]
            else:
                self._made(future.result())
        return future.result()

    def _made(self, picture: _Picture) -> None:
        with self._turn:
            self._bytes += picture.pixels.nbytes
            ready = [key for key, future in self._kept.items() if future.done()]
            for key in ready[:-1]:
                if self._bytes <= KEPT_BYTES:
                    break
                self._bytes -= self._kept.pop(key).result().pixels.nbytes
