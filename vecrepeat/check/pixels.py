"""Finished tiles of pixels: reading them, laying them out, guessing how they were meant to lie."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from mmap import ACCESS_READ, mmap
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from vecrepeat.core.errors import InputError
from vecrepeat.repeat.layout import Layout
from vecrepeat.util.files import read_head
from vecrepeat.util.imagefiles import own_dpi, png_damage

Levels = NDArray[np.float32]
"""Lightness-like levels, 0 to 255, shape (height, width)."""

MAX_PIXELS = 400_000_000
"""The largest picture taken."""

_SMALLEST = 32
"""Pixels a side below which there is nothing to compare a join with."""


_SHIFTS = ((1, 2), (1, 3), (2, 3), (1, 4), (3, 4), (1, 5), (2, 5), (3, 5), (4, 5))
GUESSED = (
    Layout(),
    *(Layout(kind, Fraction(k, n)) for kind in ("drop", "brick") for k, n in _SHIFTS),
)
"""Layouts tried where none is stated, or the one stated doesn't fit, commonest first."""

_BETTER = 0.6
"""A guess must fit this much better than a block to be taken for it."""


@dataclass(frozen=True, eq=False)
class PixelTile:
    """A finished tile of pixels.

    Attributes:
        rgb: shape (height, width, 3); what is transparent shows white.
        alpha: shape (height, width), or None where all is opaque.
        dpi: pixels per inch as the file says, or None.
    """

    rgb: NDArray[np.uint8]
    alpha: NDArray[np.uint8] | None
    dpi: float | None

    @property
    def width(self) -> int:
        """In pixels."""
        return int(self.rgb.shape[1])

    @property
    def height(self) -> int:
        """In pixels."""
        return int(self.rgb.shape[0])


def read_tile(file: Path) -> PixelTile:
    """Read a PNG, TIFF or JPEG.

    Raises:
        InputError: it can't be read, is no picture, too small or too large.
    """
    try:
        if read_head(file, 8).startswith(b"\x89PNG"):
            with file.open("rb") as stream, mmap(stream.fileno(), 0, access=ACCESS_READ) as data:
                if wrong := png_damage(data):
                    raise InputError(f"the picture is damaged: {wrong}", file=file)
        with Image.open(file) as image:
            if image.width * image.height > MAX_PIXELS:
                raise InputError("the picture is too large", file=file, hint="check one tile of it")
            if min(image.size) < _SMALLEST:
                raise InputError(
                    f"the picture is {image.width} × {image.height} px, too small for a tile",
                    file=file,
                    hint=f"give one of {_SMALLEST} px a side or more",
                )
            dpi = own_dpi(image)
            if image.mode.startswith("I;16") or image.mode == "I":
                # Sixteen bits: Pillow would cut off, not scale.
                image_8 = Image.fromarray((np.asarray(image, np.uint32) >> 8).astype(np.uint8))
            else:
                image_8 = image
            clear = image_8.mode in ("RGBA", "LA", "PA") or "transparency" in image_8.info
            alpha = None
            if clear:
                pixels = np.asarray(image_8.convert("RGBA"))
                alpha, pixels = pixels[..., 3], pixels[..., :3]
                if alpha.min() == 255:
                    alpha = None
                else:
                    a = alpha[..., None].astype(np.uint16)
                    pixels = ((pixels * a + 255 * (255 - a) + 127) // 255).astype(np.uint8)
            else:
                pixels = np.asarray(image_8 if image_8.mode == "RGB" else image_8.convert("RGB"))
    except Image.DecompressionBombError:
        raise InputError(
            "the picture is too large", file=file, hint="check one tile of it"
        ) from None
    except UnidentifiedImageError:
        raise InputError("it is no picture that can be read", file=file) from None
    except (OSError, SyntaxError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"the picture is damaged: {error}", file=file) from None
    return PixelTile(pixels, alpha, float(dpi[0]) if dpi else None)


def levels(tile: PixelTile) -> Levels:
    """Return levels in which colours of equal lightness differ too."""
    rgb = tile.rgb
    grey = rgb[..., 0] * np.float32(0.3)
    grey += rgb[..., 1] * np.float32(0.5)
    grey += rgb[..., 2] * np.float32(0.2)
    if tile.alpha is not None:
        # White paint is not bare cloth.
        grey -= (255 - tile.alpha) * np.float32(0.25)
    return grey


def shift_px(layout: Layout, upright: bool, height: int, width: int, steps: int = 1) -> int:
    """Return by how many pixels a picture comes in lower, or farther right, over so many joins.

    An upright join is one between a tile and the next across; sides are in pixels.
    """
    if layout.kind == "drop" and upright:
        return round(layout.shift * height * steps)
    if layout.kind == "brick" and not upright:
        return round(layout.shift * width * steps)
    return 0


def lay_tiles(tile: NDArray[np.uint8], layout: Layout, across: int, down: int) -> NDArray[np.uint8]:
    """Return a picture of so many tiles across and down, as the layout lays them."""
    height, width = tile.shape[:2]

    def column(i: int) -> NDArray[np.uint8]:
        lower = shift_px(layout, True, height, width, i)
        farther = [shift_px(layout, False, height, width, j) for j in range(down)]
        return np.concatenate([np.roll(tile, (lower, far), axis=(0, 1)) for far in farther])

    return np.concatenate([column(i) for i in range(across)], axis=1)


def _misfit(picture: Levels, shift: int) -> float:
    """Return the mean difference over an upright join, against that between columns beside it."""
    right = np.roll(picture[:, :2], shift, axis=0)
    here = np.abs(picture[:, -1] - right[:, 0]).mean()
    beside = (
        np.abs(picture[:, -1] - picture[:, -2]).mean() + np.abs(right[:, 1] - right[:, 0]).mean()
    )
    return float((here + 0.05) / (beside / 2 + 0.25))


def best_layout(across: Levels, down: Levels) -> Layout:
    """Return the layout under which a tile goes on best over its joins; a block if in doubt.

    ``down`` is the picture ``across`` with rows and columns exchanged.
    """
    height, width = across.shape
    scored = []
    for layout in GUESSED:
        misfits = (
            _misfit(across, shift_px(layout, True, height, width)),
            _misfit(down, shift_px(layout, False, height, width)),
        )
        scored.append((sum(misfits), layout))
    block = scored[0][0]
    score, layout = min(scored, key=lambda pair: pair[0])
    return layout if score < _BETTER * block else GUESSED[0]


def shift_that_fits(left: Levels, right: Levels) -> int | None:
    """Return the shift in pixels at which two sides of a broken join go on, or None.

    Found as the peak of the circular cross-correlation of the changes along both sides.
    """
    one = np.diff(left[:, -1], append=left[:1, -1])
    other = np.diff(right[:, 0], append=right[:1, 0])
    size = float(np.sqrt((one**2).sum() * (other**2).sum()))
    if size < 100:
        return None
    match = np.fft.irfft(np.conj(np.fft.rfft(other)) * np.fft.rfft(one), len(one)) / size
    peak = int(match.argmax())
    rows = len(one)
    # Small offsets are parts out of place, not another layout.
    if min(peak, rows - peak) <= 8 or match[peak] < 0.6 or match[peak] < match[0] + 0.3:
        return None
    return peak


def period_of(grey: Levels) -> tuple[int, int] | None:
    """Return the period in pixels with which a picture repeats within itself straight, or None.

    Read from the peaks of its circular autocorrelation, then held to its pixels: a picture
    that repeats differs from itself moved on by no more than a level or two.
    """
    height, width = grey.shape
    periods = []
    for size, line in ((width, grey), (height, grey.T)):
        step = max(1, line.shape[0] // 256)
        sample = line[::step] - line[::step].mean()
        power = (np.abs(np.fft.rfft(sample, 2 * size, axis=1)) ** 2).sum(axis=0)
        match = np.fft.irfft(power)[:size] / np.arange(size, 0, -1)
        if match[0] <= 0:
            return None
        match = match / match[0]
        low, high = 16, size * 3 // 4
        peaks = np.flatnonzero(match[low:high] > 0.97) + low
        period = size
        # Each run of neighbours is one peak; the shortest that holds to the pixel is the period.
        for run in np.split(peaks, np.flatnonzero(np.diff(peaks) > 1) + 1):
            if not len(run):
                continue
            candidate = int(run[match[run].argmax()])
            if np.abs(sample[:, candidate:] - sample[:, :-candidate]).mean() < 2.0:
                period = candidate
                break
        periods.append(period)
    return (periods[0], periods[1]) if (periods[0], periods[1]) != (width, height) else None
