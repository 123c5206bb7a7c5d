"""Finished tiles of pixels: reading them, and laying them out."""

from __future__ import annotations

from dataclasses import dataclass
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


def tiled(tile: NDArray[np.uint8], layout: Layout, across: int, down: int) -> NDArray[np.uint8]:
    """Return a picture of so many tiles across and down, as the layout lays them."""
    height, width = tile.shape[:2]

    def column(i: int) -> NDArray[np.uint8]:
        lower = shift_px(layout, True, height, width, i)
        farther = [shift_px(layout, False, height, width, j) for j in range(down)]
        return np.concatenate([np.roll(tile, (lower, far), axis=(0, 1)) for far in farther])

    return np.concatenate([column(i) for i in range(across)], axis=1)
