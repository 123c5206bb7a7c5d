"""Pictures resampled once, from their own pixels straight onto the grid of the print.

An upright picture (mirrored or turned by quarters included) goes through one Lanczos filter,
whose width grows with the shrinking, so that nothing aliases; at 1:1 on whole pixels it is the
picture itself. A turned or skewed one is turned at twice the print's resolution and brought
down by the same filter. Beyond its border a picture goes on with its outermost pixels: the
border itself is for whoever paints it to cut.

The picture can be asked for in parts, on a grid that begins with it: every copy a whole number
of pixels away is made of the same parts, and memory stays bounded.

Source of the filter: K. Turkowski, “Filters for common resampling tasks” (1990), from memory;
Pillow's ``Image.resize`` is the implementation.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import (
    Image,
)

from vecrepeat.core.geometry import Affine

Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]

WIDE, HIGH = 1024, 128
"""Longest sides in pixels of the parts that a picture is made in.

They are low, so that a window makes little that it does not show.
"""

_BLOCK = 16
"""Side in a picture's pixels of the blocks that tell where it has ink."""

GRID = 4096
"""Parts of a pixel that a picture's place is rounded to, the same for each of its copies."""

HARD_EDGED = ("pixelated", "crisp-edges", "optimizeSpeed")
"""What ``image-rendering`` says where a picture's pixels are to stay squares."""

_LOBES = 3
"""Reach of the Lanczos filter in pixels of the coarser grid."""

_FINER = 2
"""By how much finer than the print a turned picture is sampled before it is brought down."""

_UPRIGHT = 1e-9
_MODE = "CMYK"
"""Pillow's name for four equal channels of which none is special."""


class Place(NamedTuple):
    """Where a picture lies on the print.

    Attributes:
        x: left of the picture, in whole pixels of the print.
        y: top of the picture, in whole pixels of the print.
        width: of what it covers, in whole pixels.
        height: of what it covers, in whole pixels.
        matrix: from the picture's pixels to those that begin at ``x`` and ``y``.
    """

    x: int
    y: int
    width: int
    height: int
    matrix: Affine


class Part(NamedTuple):
    """A part of a place."""

    x: int
    y: int
    width: int
    height: int


@dataclass(eq=False)
class SourcePicture:
    """A picture whose parts can be asked for.

    Attributes:
        pixels: of shape (height, width, 4), premultiplied.
        alpha: which channel is alpha.
    """

    pixels: Pixels
    alpha: int = 3
    _shrunk: dict[tuple[int, int], tuple[Pixels, Mask | None]] = field(default_factory=dict)

    @cached_property
    def ink(self) -> Mask | None:
        """Which pixels have ink, shape (height, width); None where all have."""
        ink = self.pixels[..., self.alpha] > 0
        return None if bool(ink.all()) else ink

    @property
    def width(self) -> int:
        """In its own pixels."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """In its own pixels."""
        return int(self.pixels.shape[0])

    def place(self, matrix: Affine) -> Place:
        """Return where a matrix takes the picture.

        Of matrices that differ by whole pixels the places have the very same ``matrix``,
        whatever the rounding of their sums.

        Args:
            matrix: from the picture's pixels to those of the print; not flat.
        """
        e, f = (math.floor(v * GRID + 0.5) for v in (matrix.e, matrix.f))
        rest = matrix._replace(e=e % GRID / GRID, f=f % GRID / GRID)
        w, h = self.width, self.height
        corners = rest.apply(np.array([(0, 0), (w, 0), (0, h), (w, h)], np.float64))
        # A border within rounding of a whole pixel is on it.
        x0, y0 = (math.floor(v + 0.5 / GRID) for v in corners.min(axis=0))
        x1, y1 = (math.ceil(v - 0.5 / GRID) for v in corners.max(axis=0))
        inner = rest._replace(e=rest.e - x0, f=rest.f - y0)
        return Place(e // GRID + x0, f // GRID + y0, max(1, x1 - x0), max(1, y1 - y0), inner)

    def part(self, matrix: Affine, part: Part) -> Pixels:
        """Return a part of the picture as it is on the print.

        Args:
            matrix: of a place.
            part: which part of the place.

        Returns:
            Shape (part.height, part.width, 4), channels as in :attr:`pixels`.
        """
        a, b, c, d, e, f = matrix
        size = max(abs(a), abs(b), abs(c), abs(d))
        pixels, ink = self.pixels, self.ink
        if max(abs(b), abs(c)) <= _UPRIGHT * size:
            drawn, near = _scaled(pixels, ink, (a, e), (d, f), part)
        elif max(abs(a), abs(d)) <= _UPRIGHT * size:
            pixels = pixels.transpose(1, 0, 2)
            ink = None if ink is None else ink.T
            drawn, near = _scaled(pixels, ink, (c, e), (b, f), part)
        else:
            drawn, near = self._turned(matrix, part), None
        # The filter overshoots at edges. No colour may exceed its alpha, and where there is no
        # ink its ripples would be cut off at the join by whoever trusts the outline.
        np.minimum(drawn, drawn[..., self.alpha, None], out=drawn)
        if near is not None:
            drawn *= near[..., None]
        return drawn

    def _turned(self, matrix: Affine, part: Part) -> Pixels:
        """Return a part of a turned picture, drawn where it has ink."""
        a, b, c, d, _, _ = matrix
        wanted = tuple(
            min(side, max(1, math.ceil(side * _FINER * scale)))
            for side, scale in ((self.width, math.hypot(a, b)), (self.height, math.hypot(c, d)))
        )
        source, met = self._shrunk_to(*wanted)
        finer = matrix @ Affine.scaling(self.width / wanted[0], self.height / wanted[1])
        out = np.zeros((part.height, part.width, 4), np.uint8)
        for strip in self._strips(matrix, part):
            x, y = strip.x - part.x, strip.y - part.y
            drawn = _turned_strip(source, met, finer, strip)
            out[y : y + strip.height, x : x + strip.width] = drawn
        return out

    def _strips(self, matrix: Affine, part: Part) -> Iterator[Part]:
        """Yield strips of a part that hold all its ink; a turned picture's corners are empty."""
        middles = matrix.apply(self._inked)
        reach = matrix.stretch * _BLOCK * math.sqrt(0.5) + _LOBES
        right, bottom = part.x + part.width, part.y + part.height
        for y in range(part.y, bottom, HIGH):
            height = min(HIGH, bottom - y)
            near = (middles[:, 1] > y - reach) & (middles[:, 1] < y + height + reach)
            if near.any():
                across = middles[near, 0]
                x0 = max(part.x, math.floor(across.min() - reach))
                x1 = min(right, math.ceil(across.max() + reach))
                if x1 > x0:
                    yield Part(x0, y, x1 - x0, height)

    @cached_property
    def _inked(self) -> NDArray[np.float64]:
        """The middles of blocks of pixels that have ink, shape (n, 2)."""
        rows, columns = (range(0, side, _BLOCK) for side in (self.height, self.width))
        if self.ink is None:
            has = np.ones((len(rows), len(columns)), np.bool_)
        else:
            has = np.logical_or.reduceat(np.logical_or.reduceat(self.ink, rows), columns, axis=1)
        return np.argwhere(has)[:, ::-1].astype(np.float64) * _BLOCK + _BLOCK / 2

    def _shrunk_to(self, width: int, height: int) -> tuple[Pixels, Mask | None]:
        """Return the picture in that size, and where it is met; see :func:`_met`."""
        if (width, height) not in self._shrunk:
            small, ink = self.pixels, self.ink
            if (width, height) != (self.width, self.height):
                resized = _image(small).resize((width, height), Image.Resampling.LANCZOS)
                small = np.asarray(resized)
                scales = ((width / self.width, 0.0), (height / self.height, 0.0))
                whole = Part(0, 0, width, height)
                ink = None if ink is None else _near_ink(ink, *scales, whole)
            # One size at a time is asked for, copy after copy.
            self._shrunk = {(width, height): (small, None if ink is None else _met(ink))}
        return self._shrunk[width, height]


def _turned_strip(source: Pixels, met: Mask | None, matrix: Affine, strip: Part) -> Pixels:
    """Return a strip of a turned picture, nothing away from its ink.

    Args:
        source: the picture, of about the print's resolution.
        met: see :func:`_met`; None where all has ink.
        matrix: from its pixels to the place's.
        strip: what to return.
    """
    room = _LOBES * _FINER
    width, height = (side * _FINER + 2 * room for side in (strip.width, strip.height))
    # From the finer grid's pixels to the source's.
    shift = (strip.x - room / _FINER, strip.y - room / _FINER)
    back = matrix.inverse() @ Affine(1 / _FINER, 0.0, 0.0, 1 / _FINER, *shift)
    corners = np.array([(0, 0), (width, 0), (0, height), (width, height)], np.float64)
    seen = back.apply(corners)
    x0, x1 = _span(seen[:, 0], source.shape[1])
    y0, y1 = _span(seen[:, 1], source.shape[0])
    coefficients = (back.a, back.c, back.e - x0, back.b, back.d, back.f - y0)

    def finer(image: Image.Image, how: Image.Resampling) -> Image.Image:
        return image.transform((width, height), Image.Transform.AFFINE, coefficients, how)

    inner = (room, room, width - room, height - room)
    turned = finer(_image(_extended(source, x0, y0, x1, y1)), Image.Resampling.BICUBIC)
    size = (strip.width, strip.height)
    drawn = np.array(turned.resize(size, Image.Resampling.LANCZOS, inner))
    if met is None:
        return drawn
    a, b, c, d, e, f = coefficients
    mask = Image.fromarray(_extended(met, x0, y0, x1 + 1, y1 + 1).view(np.uint8))
    near = mask.transform(
        (width, height),
        Image.Transform.AFFINE,
        (a, b, c + 0.5, d, e, f + 0.5),
        Image.Resampling.NEAREST,
    )
    finely = np.asarray(near)[room:-room, room:-room]
    rows = np.bitwise_or.reduce([finely[k::_FINER] for k in range(_FINER)])
    drawn *= np.bitwise_or.reduce([rows[:, k::_FINER] for k in range(_FINER)])[..., None]
    return drawn


def _met(ink: Mask) -> Mask:
    """Return which squares between four pixels' centres have ink at any corner.

    Linear between the pixels' centres it is more than nothing just there, up to half a pixel
    beyond ink. The first square is that above and to the left of the first centre.
    """
    wide = np.pad(ink, 1, mode="edge")
    rows = wide[1:] | wide[:-1]
    return np.asarray(rows[:, 1:] | rows[:, :-1], np.bool_)


def _image(pixels: Pixels) -> Image.Image:
    height, width = pixels.shape[:2]
    data = np.ascontiguousarray(pixels)
    return Image.frombuffer(_MODE, (width, height), data, "raw", _MODE, 0, 1)


def _extended(pixels: NDArray[Any], x0: int, y0: int, x1: int, y1: int) -> NDArray[Any]:
    """Return a part of a picture, its outermost pixels going on beyond its border."""
    height, width = pixels.shape[:2]
    if x0 >= 0 and y0 >= 0 and x1 <= width and y1 <= height:
        return pixels[y0:y1, x0:x1]
    rows, columns = (
        np.clip(np.arange(start, stop), 0, side - 1)
        for start, stop, side in ((y0, y1, height), (x0, x1, width))
    )
    # A pixel's channels are moved as one word.
    words = pixels.view(np.uint32)[..., 0] if pixels.ndim == 3 else pixels
    inner = words[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    out: NDArray[Any] = inner.take(columns - columns[0], axis=1).take(rows - rows[0], axis=0)
    return out.view(pixels.dtype).reshape(len(rows), len(columns), *pixels.shape[2:])


def _span(seen: NDArray[np.float64], side: int) -> tuple[int, int]:
    """Return which pixels of a source are seen, and some beyond its border, that count for it."""
    room = 4 * _LOBES * _FINER
    start = min(max(math.floor(seen.min()) - 3, -room), side + room - 1)
    return start, max(min(math.ceil(seen.max()) + 3, side + room), start + 1)


def _scaled(
    pixels: Pixels,
    ink: Mask | None,
    across: tuple[float, float],
    down: tuple[float, float],
    part: Part,
) -> tuple[Pixels, Mask | None]:
    """Return a part of an upright picture, and where there is ink or it is near.

    Args:
        pixels: the picture.
        ink: which of its pixels have ink; None for all.
        across: scale and offset from the picture's columns to the place's.
        down: the same of rows.
        part: what to return.
    """
    height, width = pixels.shape[:2]
    (a, e), (d, f) = across, down
    # Turned over as pixels, so that mirror images are that to the last bit.
    if a < 0:
        pixels, ink = pixels[:, ::-1], None if ink is None else ink[:, ::-1]
        a, e = -a, e + a * width
    if d < 0:
        pixels, ink = pixels[::-1], None if ink is None else ink[::-1]
        d, f = -d, f + d * height
    # In the source's pixels: what the part shows, and what the filter sees of it.
    x0, x1 = (part.x - e) / a, (part.x + part.width - e) / a
    y0, y1 = (part.y - f) / d, (part.y + part.height - f) / d
    reach_x, reach_y = (math.ceil(_LOBES * max(1.0, 1 / scale)) + 1 for scale in (a, d))
    left, top = math.floor(x0) - reach_x, math.floor(y0) - reach_y
    seen = _extended(pixels, left, top, math.ceil(x1) + reach_x, math.ceil(y1) + reach_y)
    box = (x0 - left, y0 - top, x1 - left, y1 - top)
    size = (part.width, part.height)
    drawn = np.array(_image(seen).resize(size, Image.Resampling.LANCZOS, box))
    return drawn, None if ink is None else _near_ink(ink, (a, e), (d, f), part)


def _near_ink(
    ink: Mask, across: tuple[float, float], down: tuple[float, float], part: Part
) -> Mask:
    """Return which pixels of a part meet ink grown by half a pixel of the picture's own.

    That is as far as a filter blends neighbours; the outlines of pixel motifs hold it.
    """
    sides = []
    for (scale, offset), start, count, side in zip(
        (across, down), part[:2], part[2:], ink.shape[::-1], strict=True
    ):
        edges = (np.arange(start, start + count + 1) - offset) / scale
        first = np.ceil(edges[:-1] - 1.5 + 1e-6).astype(np.int64)
        last = np.floor(edges[1:] + 0.5 - 1e-6).astype(np.int64)
        sides.append((np.clip(first, 0, side), np.clip(last + 1, 0, side)))
    (x0, x1), (y0, y1) = sides
    left, top = int(x0.min()), int(y0.min())
    inner = ink[top : int(y1.max()), left : int(x1.max())]
    # Along the rows of memory first, and then across the fewer columns that are left.
    sums = np.zeros((inner.shape[0], inner.shape[1] + 1), np.int32)
    np.cumsum(inner, axis=1, dtype=np.int32, out=sums[:, 1:])
    across_ink = sums.take(x1 - left, axis=1) > sums.take(x0 - left, axis=1)
    counts = np.zeros((inner.shape[0] + 1, len(x0)), np.int32)
    np.cumsum(across_ink, axis=0, dtype=np.int32, out=counts[1:])
    return np.asarray(counts.take(y1 - top, axis=0) > counts.take(y0 - top, axis=0))
