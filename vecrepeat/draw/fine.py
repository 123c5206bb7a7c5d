"""Motifs drawn once by the second engine, finer than the print, and turned into their places.

That takes a tenth of the time of drawing a motif of gradients and filters at each place that a
toss gave it. And it comes nearer to what the motif should look like. Filters work in user space,
so that a shadow turns with its motif (Filter Effects 1 §4, §5); the second engine lets it fall the
same way however the motif is turned, and rounds what a filter works on to whole pixels, which are a
third as large here (docs/measured.md says how near that comes).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from PIL import Image as Pictures

from vecrepeat.core.geometry import IDENTITY, Affine
from vecrepeat.core.units import MM_PER_INCH, Size
from vecrepeat.draw.cairo_library import NATIVE_ORDER
from vecrepeat.draw.paint import Pixels
from vecrepeat.draw.plan import PixelPlan
from vecrepeat.draw.resvg_draws import MAX_CANVAS_SIDE
from vecrepeat.draw.resvg_paint import ResvgEngine, ResvgPainter
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.repeat.wrap import Copy
from vecrepeat.scene.nodes import Group
from vecrepeat.scene.visit import elements, walk
from vecrepeat.util.kept import Kept

FINER = (3.0, 2.0, 1.5)
"""Pixels of a fine picture to one of the print, where its motif stands largest; the most that
does not make it too large."""

FINE_PIXELS = 8 << 20
"""The most pixels of a fine picture: while a filter works, there are several of that size."""

SAMPLES = 4
"""Points across and down a pixel at which a fine picture is looked at; their mean is the pixel."""

STRIP = 1 << 18
"""Pixels of the print that a fine picture is turned into at a time."""

ROOM = 8
"""Empty pixels around a fine picture, for what is left of it where it is made smaller."""

KEPT_BYTES = 192 << 20
"""Bytes of fine pictures that are kept, for other drawings of the same motifs too."""

PER_PIXEL = frozenset({"feConvolveMatrix", "feDiffuseLighting", "feSpecularLighting"})
"""Steps of filters that look at neighbouring pixels, whatever their size (Filter Effects 1)."""

_SIDE = 1000
"""Pixels of the tile that a motif is alone on; any number would do."""

_MODE = "CMYK"
"""Pillow's name for four equal channels of which none is special."""


class Picture(NamedTuple):
    """Premultiplied pixels, ordered as cairo has them, and where they begin on a grid."""

    x: int
    y: int
    pixels: Pixels

    @property
    def nbytes(self) -> int:
        """How many bytes the pixels take."""
        return self.pixels.nbytes


def cut(x: int, y: int, pixels: Pixels, room: int = 0) -> Picture:
    """Return pixels without the rows and columns that have no ink, and with room around.

    Args:
        x: where they begin.
        y: likewise.
        pixels: ordered as cairo has them.
        room: empty pixels to be around what is left.
    """
    ink = pixels[..., NATIVE_ORDER[3]] > 0
    rows, columns = (np.flatnonzero(ink.any(axis=side)) for side in (1, 0))
    if not len(rows):
        return Picture(x, y, np.zeros((0, 0, 4), np.uint8))
    left, top = int(columns[0]), int(rows[0])
    inner = pixels[top : rows[-1] + 1, left : columns[-1] + 1]
    if room:
        inner = np.pad(inner, ((room, room), (room, room), (0, 0)))
    return Picture(x + left - room, y + top - room, np.ascontiguousarray(inner))


def native(pixels: Pixels) -> Pixels:
    """Return red, green, blue and alpha as cairo orders them."""
    out = np.empty(pixels.shape, np.uint8)
    for channel, place in enumerate(NATIVE_ORDER):
        out[..., place] = pixels[..., channel]
    return out


@dataclass(frozen=True, eq=False)
class FinePicture:
    """A motif drawn upright.

    Attributes:
        scale: its pixels to a mm of the motif.
        picture: its pixels, those of the motif's origin at 0, 0.
    """

    scale: float
    picture: Picture

    @property
    def nbytes(self) -> int:
        """How many bytes the pixels take, and those of it in smaller sizes."""
        return 2 * self.picture.nbytes

    @cached_property
    def _smaller(self) -> dict[int, Pictures.Image]:
        """The picture, each pixel the mean of so many across and down."""
        height, width = self.picture.pixels.shape[:2]
        whole = Pictures.frombuffer(_MODE, (width, height), self.picture.pixels, "raw", _MODE, 0, 1)
        return {1: whole}

    def turned(self, matrix: Affine) -> Picture:
        """Return the motif as a matrix, from its mm to pixels, puts it on their grid."""
        height, width = self.picture.pixels.shape[:2]
        if not width:
            return self.picture
        times = max(1, round(self.scale / matrix.stretch / FINER[0]))
        if times not in self._smaller:
            self._smaller[times] = self._smaller[1].reduce(times)
        fine = matrix @ Affine.scaling(1 / self.scale)
        fine @= Affine.translation(self.picture.x, self.picture.y)
        corners = np.array([(0, 0), (width, 0), (0, height), (width, height)], np.float64)
        seen = fine.apply(corners)
        x, y = (math.floor(v) for v in seen.min(axis=0))
        across, down = (max(1, math.ceil(v)) for v in seen.max(axis=0) - (x, y))
        back = (fine @ Affine.scaling(times)).inverse() @ Affine.translation(x, y)
        back @= Affine.scaling(1 / SAMPLES)
        out = np.empty((down, across, 4), np.uint8)
        rows = max(1, STRIP // across)
        for top in range(0, down, rows):
            height = min(rows, down - top)
            at = back @ Affine.translation(0, top * SAMPLES)
            strip = self._smaller[times].transform(
                (across * SAMPLES, height * SAMPLES),
                Pictures.Transform.AFFINE,
                (at.a, at.c, at.e, at.b, at.d, at.f),
                Pictures.Resampling.NEAREST,
            )
            out[top : top + height] = np.asarray(strip.reduce(SAMPLES))
        return cut(x, y, out)


_ALONE = Copy(0, 0, 0)
"""The motif on the tile that it is alone on."""

_kept: Kept[FinePicture] = Kept(KEPT_BYTES)


def fine_scale(motif: Motif, scale: float) -> float | None:
    """Return how many pixels to its mm a motif's fine picture has, None where there can't be one.

    Args:
        motif: the motif.
        scale: pixels of the print to its mm, where it stands largest.
    """
    if _keeps_to_pixels(motif):
        return None
    for finer in FINER:
        box = _painter(motif, scale * finer).box(_ALONE)
        if max(box[2:]) <= MAX_CANVAS_SIDE and box.width * box.height <= FINE_PIXELS:
            return scale * finer
    return None


def fine_picture(motif: Motif, scale: float) -> FinePicture:
    """Return a motif drawn upright by the second engine, so many pixels to its mm.

    Raises:
        InputError: the second engine fails.
    """

    def make() -> FinePicture:
        painter = _painter(motif, scale)
        box = painter.box(_ALONE)
        pixels = native(painter.paint_alone(_ALONE, box))
        return FinePicture(scale, cut(box.x, box.y, pixels, room=ROOM))

    return _kept.get((motif.scene, scale), make)


@lru_cache(maxsize=64)
def _painter(motif: Motif, scale: float) -> ResvgPainter:
    """Return what draws a motif alone, so many pixels to its mm."""
    side = _SIDE / Fraction(scale)
    alone = Repeat.alone(motif, side, IDENTITY)
    plan = PixelPlan(alone, MM_PER_INCH, Size(side, side), _SIDE, _SIDE)
    return ResvgEngine(alone).painter(plan, ground=False)


def _keeps_to_pixels(motif: Motif) -> bool:
    """Whether a filter of a motif comes out otherwise in other pixels."""
    filters = [n.filter for n, _ in walk(motif.scene) if isinstance(n, Group) and n.filter]
    steps = [step for one in filters for step in one.steps if not isinstance(step, str)]
    return any(part.tag in PER_PIXEL for step in steps for part in elements(step))
