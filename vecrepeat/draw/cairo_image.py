"""Pictures for CairoSVG, resampled once by a good filter.

CairoSVG leaves resampling to cairo, whose filter is a box where it shrinks and blurs where it
does not. Here each picture is resampled by :mod:`vecrepeat.draw.resample` onto the very pixels
of the surface, and painted there without any further filter. Its border is cut by cairo, as that
of any other shape.

Sources: SVG 2 §12.3 (``image``), §8.7 (``preserveAspectRatio``).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import cairocffi
import numpy as np
from cairosvg.helpers import preserve_ratio, size
from cairosvg.image import image as cairosvg_image
from cairosvg.url import parse_url
from PIL import Image

from vecrepeat.core.geometry import Affine
from vecrepeat.draw.cairo_library import NATIVE_ORDER
from vecrepeat.draw.resample import (
    HARD_EDGED,
    SQUARE,
    Pixels,
    Place,
    SourcePicture,
    Square,
)
from vecrepeat.draw.unpacking import unpacked

MAX_KEPT = 512 << 20
"""Bytes of pictures that are kept unpacked, and as many of resampled ones."""

_BEYOND = 1 + 1e-9
"""A picture larger than its viewport by more than rounding is cut there."""


class _Kept:
    """Pictures by key, the latest used, of up to :data:`MAX_KEPT` bytes."""

    def __init__(self) -> None:
        self._kept: dict[Any, tuple[Any, int]] = {}
        self._size = 0

    def get(self, key: Any, make: Callable[[], tuple[Any, int]]) -> Any:
        """Return what is kept under a key; what is not is made, and its bytes told."""
        found = self._kept.pop(key, None)
        if found is None:
            found = make()
            self._size += found[1]
        self._kept[key] = found
        while self._size > MAX_KEPT and len(self._kept) > 1:
            self._size -= self._kept.pop(next(iter(self._kept)))[1]
        return found[0]


_pictures = _Kept()
_squares = _Kept()


def premultiplied(image: Image.Image) -> Pixels:
    """Return a picture in cairo's premultiplied words, shape (height, width, 4)."""
    if image.mode.startswith("I;16"):
        grey = (np.asarray(image).astype(np.uint32) * 255 + 32767) // 65535
        image = Image.fromarray(grey.astype(np.uint8))
    rgba = np.asarray(image.convert("RGBA").convert("RGBa"))
    out = np.empty(rgba.shape, np.uint8)
    for channel, place in enumerate(NATIVE_ORDER):
        out[..., place] = rgba[..., channel]
    return out


def _picture(node: Any) -> SourcePicture:
    """Return an image node's picture."""
    link = node.get_href()

    def make() -> tuple[SourcePicture, int]:
        image = unpacked(node.fetch_url(parse_url(link), "image/*"))
        found = SourcePicture(premultiplied(image), NATIVE_ORDER[3])
        return found, found.pixels.nbytes

    found: SourcePicture = _pictures.get(link, make)
    return found


def _surface(
    link: str, picture: SourcePicture, matrix: Affine, part: Square
) -> cairocffi.ImageSurface:
    """Return a part of a picture as a surface."""

    def make() -> tuple[Pixels, int]:
        pixels = picture.square(matrix, part)
        return pixels, pixels.nbytes

    pixels: Pixels = _squares.get((link, matrix, part), make)
    return cairocffi.ImageSurface(
        cairocffi.FORMAT_ARGB32, part.width, part.height, pixels.data.cast("B")
    )


def draw_image(surface: Any, node: Any) -> None:
    """Draw an image node; a drop-in for CairoSVG's own."""
    if node.get("image-rendering") in HARD_EDGED:
        node["image-rendering"] = "optimizeSpeed"
        cairosvg_image(surface, node)
        return
    if node.get("visibility", "visible") != "visible" or node.get("display") == "none":
        return
    picture = _picture(node)
    node.image_width, node.image_height = picture.width, picture.height
    x, y = size(surface, node.get("x"), "x"), size(surface, node.get("y"), "y")
    width, height = size(surface, node.get("width"), "x"), size(surface, node.get("height"), "y")
    across, down, right, below = preserve_ratio(surface, node, width, height)
    context = surface.context
    inner = Affine(across, 0.0, 0.0, down, x + right * across, y + below * down)
    matrix = Affine(*context.get_matrix().as_tuple()) @ inner
    if not abs(matrix.determinant) > 1e-12:
        return
    context.save()
    context.new_path()
    if across * picture.width > width * _BEYOND or down * picture.height > height * _BEYOND:
        context.rectangle(x, y, width, height)
        context.clip()
    _paint(context, node.get_href(), picture, picture.place(matrix), float(node.get("opacity", 1)))
    context.restore()


def _paint(context: Any, link: str, picture: SourcePicture, place: Place, opacity: float) -> None:
    """Paint a picture's parts, as far as they show, inside the border that its place has."""
    # The place is rounded a little, so its border is too: both alike for all copies.
    matrix = place.matrix
    context.set_matrix(
        cairocffi.Matrix(*matrix._replace(e=matrix.e + place.x, f=matrix.f + place.y))
    )
    context.rectangle(0, 0, picture.width, picture.height)
    context.set_matrix(cairocffi.Matrix())
    context.clip()
    left, top, right, bottom = context.clip_extents()
    for y in range(0, place.height, SQUARE):
        for x in range(0, place.width, SQUARE):
            part = Square(x, y, min(SQUARE, place.width - x), min(SQUARE, place.height - y))
            px, py = place.x + x, place.y + y
            if px >= right or py >= bottom or px + part.width <= left or py + part.height <= top:
                continue
            context.set_source_surface(_surface(link, picture, matrix, part), px, py)
            context.get_source().set_filter(cairocffi.FILTER_NEAREST)
            context.paint_with_alpha(opacity)
