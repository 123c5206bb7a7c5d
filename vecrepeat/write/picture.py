"""A sheet as rows of samples in the colours of a file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from vecrepeat.draw.paint import Painter, Pixels
from vecrepeat.draw.sheet import Sheet, opaque, straight

if TYPE_CHECKING:
    from vecrepeat.write.icc import Conversion


@dataclass(frozen=True)
class Picture:
    """A sheet ready for a writer of pixels.

    Attributes:
        sheet: what it shows.
        painter: what draws it.
        transparent: whether samples end in straight alpha; otherwise bare cloth is white.
        colour: from sRGB to the file's colours; None for sRGB.
    """

    sheet: Sheet
    painter: Painter
    transparent: bool = False
    colour: Conversion | None = None

    @property
    def width(self) -> int:
        """In pixels."""
        return self.sheet.width

    @property
    def height(self) -> int:
        """In pixels."""
        return self.sheet.height

    @property
    def dpi(self) -> Fraction:
        """Pixels per inch."""
        return self.sheet.plan.dpi

    @property
    def mode(self) -> str:
        """What the samples are: ``RGB``, ``RGBA``, ``CMYK``, ``CMYKA``, ``L`` or ``LA``."""
        colours = "RGB" if self.colour is None else self.colour.mode
        return colours + ("A" if self.transparent else "")

    def strips(self) -> Iterator[NDArray[np.uint8]]:
        """Yield the needed part of the straight block as strips of samples.

        Yields:
            Arrays of shape (rows, needed width, samples), from the top down.
        """
        return self._samples(self.sheet.strips(self.painter))

    def tile_strips(self) -> Iterator[NDArray[np.uint8]]:
        """Yield one whole tile as strips of samples.

        Yields:
            Arrays of shape (rows, tile width, samples), from the top down.
        """
        return self._samples(self.sheet.tile_strips(self.painter))

    def _samples(self, strips: Iterator[Pixels]) -> Iterator[NDArray[np.uint8]]:
        """Turn premultiplied RGBA into samples."""
        for strip in strips:
            if not self.transparent:
                rgb = opaque(strip)
                yield rgb if self.colour is None else self.colour.apply(rgb)
                continue
            rgba = straight(strip)
            if self.colour is None:
                yield rgba
            else:
                inks = self.colour.apply(np.ascontiguousarray(rgba[..., :3]))
                yield np.concatenate([inks, rgba[..., 3:]], axis=2)

    def whole(self) -> NDArray[np.uint8]:
        """Return every pixel of the sheet at once, shape (height, width, samples)."""
        out = np.empty((self.height, self.width, len(self.mode)), np.uint8)
        across, down = self.sheet.needed
        y = 0
        for strip in self.strips():
            rows = out[y : y + len(strip)]
            for x in range(0, self.width, across):
                w = min(across, self.width - x)
                rows[:, x : x + w] = strip[:, :w]
            y += len(strip)
        while y < self.height:
            h = min(down, self.height - y)
            out[y : y + h] = out[:h]
            y += h
        return out
