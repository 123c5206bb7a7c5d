"""Pictures for CairoSVG, resampled once by a good filter.

CairoSVG leaves resampling to cairo, whose filter is a box where it shrinks and blurs where it
does not. Here each picture is resampled by :mod:`vecrepeat.draw.resample` onto the very pixels
of the surface, and painted there without any further filter. Its border is cut by cairo, as that
of any other shape.

Sources: SVG 2 §12.3 (``image``), §8.7 (``preserveAspectRatio``).
"""

from __future__ import annotations

import sys
from collections import OrderedDict
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import cairocffi
import numpy as np
from cairosvg import surface as cairosvg_surface
from cairosvg.helpers import preserve_ratio, size
from cairosvg.image import image as cairosvg_image
from cairosvg.url import parse_url
from PIL import Image

from vecrepeat.core.geometry import Affine
from vecrepeat.draw.resample import SQUARE, Picture, Pixels, Place, Square, unpacked

MAX_KEPT = 512 << 20
"""Bytes of pictures that are kept unpacked, and as many of resampled ones."""

_BEYOND = 1 + 1e-9
"""A picture larger than its viewport by more than rounding is cut there."""

_HARD_EDGED = ("pixelated", "crisp-edges", "optimizeSpeed")
# cairo's ARGB words in bytes, as this machine orders them.
_BLUE_FIRST = sys.byteorder == "little"
_ALPHA = 3 if _BLUE_FIRST else 0


class _Kept:
    """Arrays by key, the latest used up to a number of bytes."""

    def __init__(self) -> None:
        self._arrays: OrderedDict[Any, tuple[Any, int]] = OrderedDict()
        self._size = 0

    def get(self, key: Any) -> Any:
        found = self._arrays.get(key)
        if found is None:
            return None
        self._arrays.move_to_end(key)
        return found[0]

    def put(self, key: Any, value: Any, bytes_: int) -> None:
        self._arrays[key] = (value, bytes_)
        self._size += bytes_
        while self._size > MAX_KEPT and len(self._arrays) > 1:
            _, (_, less) = self._arrays.popitem(last=False)
            self._size -= less


def premultiplied(image: Image.Image) -> Pixels:
    """Return a picture in cairo's premultiplied words, shape (height, width, 4)."""
    if image.mode.startswith("I;16"):
        grey = (np.asarray(image).astype(np.uint32) * 255 + 32767) // 65535
        image = Image.fromarray(grey.astype(np.uint8))
    rgba = np.asarray(image.convert("RGBA"))
    out = np.empty(rgba.shape, np.uint8)
    alpha = rgba[..., 3]
    out[..., _ALPHA] = alpha
    opaque = int(alpha.min(initial=255)) == 255
    for channel, to in enumerate((2, 1, 0) if _BLUE_FIRST else (1, 2, 3)):
        if opaque:
            out[..., to] = rgba[..., channel]
            continue
        product = rgba[..., channel].astype(np.uint16)
        product *= alpha
        product += 128
        # Exactly rounded x / 255 for products of two bytes.
        product += product >> 8
        out[..., to] = product >> 8
    return out


class _Pictures:
    """The pictures of a drawing: unpacked once, resampled once for each size."""

    def __init__(self) -> None:
        self._pictures = _Kept()
        self._squares = _Kept()

    def picture(self, node: Any) -> Picture | None:
        """Return an image node's picture, or None where it is of no format that is known."""
        link = node.get_href()
        found: Picture | None = self._pictures.get(link)
        if found is None:
            data: bytes = node.fetch_url(parse_url(link), "image/*")
            image = unpacked(data)
            if image is None:
                return None
            found = Picture(premultiplied(image), _ALPHA)
            self._pictures.put(link, found, found.pixels.nbytes)
        return found

    def surface(
        self, link: str, picture: Picture, matrix: Affine, part: Square
    ) -> cairocffi.ImageSurface:
        """Return a part of a picture as a surface."""
        key = (link, matrix, part)
        pixels: Pixels | None = self._squares.get(key)
        if pixels is None:
            pixels = picture.square(matrix, part)
            self._squares.put(key, pixels, pixels.nbytes)
        return cairocffi.ImageSurface(
            cairocffi.FORMAT_ARGB32, part.width, part.height, pixels.data.cast("B")
        )


_pictures = _Pictures()


def _image(surface: Any, node: Any) -> None:
    """Draw an image node; a drop-in for CairoSVG's own."""
    if node.get("image-rendering") in _HARD_EDGED:
        node["image-rendering"] = "optimizeSpeed"
        cairosvg_image(surface, node)
        return
    if node.get("visibility", "visible") != "visible" or node.get("display") == "none":
        return
    picture = _pictures.picture(node)
    if picture is None:
        cairosvg_image(surface, node)
        return
    node.image_width, node.image_height = picture.width, picture.height
    x, y = size(surface, node.get("x"), "x"), size(surface, node.get("y"), "y")
    width, height = size(surface, node.get("width"), "x"), size(surface, node.get("height"), "y")
    width, height = _sides(width, height, picture)
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


def _sides(width: float, height: float, picture: Picture) -> tuple[float, float]:
    """Return an image's width and height; what is not given follows (SVG 2 §12.3)."""
    if not width and not height:
        return float(picture.width), float(picture.height)
    if not width:
        width = height * picture.width / picture.height
    return width, height or width * picture.height / picture.width


def _paint(context: Any, link: str, picture: Picture, place: Place, opacity: float) -> None:
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
            context.set_source_surface(_pictures.surface(link, picture, matrix, part), px, py)
            context.get_source().set_filter(cairocffi.FILTER_NEAREST)
            context.paint_with_alpha(opacity)


@contextmanager
def good_pictures() -> Iterator[None]:
    """Have CairoSVG draw pictures through :func:`_image` for a while."""
    tags = cairosvg_surface.TAGS
    before = tags["image"]
    tags["image"] = _image
    try:
        yield
    finally:
        tags["image"] = before
