"""Two engines over one cloth: each motif is drawn by the one that draws it faithfully.

What the first engine does not draw is drawn by the second, whole, once for each place that it
has within the pixel grid, and kept as a picture. Copies lie whole pixels apart, so the picture
is laid where they fall, in the stacking order, over what the first engine has drawn so far.
Source-over is associative: a motif drawn alone and then laid is the motif drawn in its place. Only
blending with what lies below is not, and needs all by the second engine. What is turned or has
many places is drawn once for all of them, finer (:mod:`vecrepeat.draw.fine`).

Source: Compositing and Blending 1 §5, §9.1.4.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import NamedTuple

from vecrepeat.core.geometry import Affine
from vecrepeat.draw.fine import Picture, cut, fine_picture, fine_scale, native
from vecrepeat.draw.paint import CairoEngine, Painter, Pixels, Window
from vecrepeat.draw.plan import PixelPlan
from vecrepeat.draw.resvg import AT_ONCE
from vecrepeat.draw.resvg_draws import fits
from vecrepeat.draw.resvg_paint import ResvgEngine, ResvgPainter
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.repeat.wrap import Copy
from vecrepeat.scene.visit import is_filtered
from vecrepeat.util.kept import Kept
from vecrepeat.util.once import once

KEPT_BYTES = 96 << 20
"""Bytes of pictures that are kept for the next windows."""

OFTEN = 8
"""Upright places of a motif from which it is drawn once: a fine picture takes as long as some."""

_EVEN = 0.5
"""A placement whose sides shrink apart by more than this is drawn where it stands."""

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


class _Place(NamedTuple):
    """What of a copy's place its pixels depend on: the motif, its turn, and parts of a pixel."""

    motif: Motif
    turn: tuple[float, float, float, float]
    right: int
    down: int


@dataclass(eq=False)
class _Drawn:
    """The copies that the second engine draws, as pictures.

    Attributes:
        painter: draws them.
        beyond: the motifs that it draws.
    """

    painter: ResvgPainter
    beyond: frozenset[Motif]

    def __post_init__(self) -> None:
        self._kept: Kept[Picture] = Kept(KEPT_BYTES)
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
            return seen, native(self.painter.paint_alone(copy, seen))
        place, x, y = self._place(copy)
        picture = self._kept.get(place, lambda: self._picture(copy, place, box.moved(-x, -y), box))
        height, width = picture.pixels.shape[:2]
        whole = Window(x + picture.x, y + picture.y, width, height)
        seen = whole.within(window)
        if seen.width <= 0 or seen.height <= 0:
            return None
        left, top = seen.x - whole.x, seen.y - whole.y
        return seen, picture.pixels[top : top + seen.height, left : left + seen.width]

    def _place(self, copy: Copy) -> tuple[_Place, int, int]:
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
        return _Place(placement.motif, (a, b, c, d), right, down), x, y

    @once
    def _scales(self) -> Mapping[Motif, float]:
        """Pixels to the mm of fine pictures, of the motifs that are drawn once."""
        places: dict[Motif, set[_Place]] = {}
        for number in range(len(self._is_stamp)):
            copy = Copy(number, 0, 0)
            if self.is_stamp(copy):
                place, _, _ = self._place(copy)
                places.setdefault(place.motif, set()).add(place)
        scales = {}
        for motif, found in places.items():
            if len(found) >= OFTEN or (is_filtered(motif.scene) and any(map(_is_turned, found))):
                largest = max(self._matrix(place).stretch for place in found)
                if (scale := fine_scale(motif, largest)) is not None:
                    scales[motif] = scale
        return scales

    def _matrix(self, place: _Place) -> Affine:
        """Return the map from a motif's mm to pixels that begin at the whole pixel of a place."""
        (a, b, c, d), (sx, sy) = place.turn, self.painter.plan.scale
        return Affine(a * sx, b * sy, c * sx, d * sy, place.right / _GRID, place.down / _GRID)

    def _picture(self, copy: Copy, place: _Place, at: Window, box: Window) -> Picture:
        """Return a copy drawn whole, cut to what has ink; from the whole pixel of its place."""
        scale, matrix = self._scales.get(place.motif), self._matrix(place)
        if scale is not None and abs(matrix.determinant) >= _EVEN * matrix.stretch**2:
            return fine_picture(place.motif, scale).turned(matrix)
        return cut(at.x, at.y, native(self.painter.paint_alone(copy, box)))


def _is_turned(place: _Place) -> bool:
    a, b, c, d = place.turn
    return b != 0 or c != 0 or a < 0 or d < 0
