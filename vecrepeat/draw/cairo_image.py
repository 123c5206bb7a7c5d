"""Pictures for cairo, resampled once by a good filter.

cairo's own filter is a box where it shrinks and blurs where it does not. Here each picture is
resampled by :mod:`vecrepeat.draw.resample` onto the very pixels of the surface, and painted there
without any further filter. Its border is cut by cairo, as that of any other shape.

Sources: SVG 2 §12.3 (``image``), §8.7 (``preserveAspectRatio``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction
from typing import Any

import numpy as np
from PIL import Image as Picture

from vecrepeat.core.geometry import IDENTITY, Affine
from vecrepeat.draw.cairo_library import NATIVE_ORDER
from vecrepeat.draw.cairo_pen import Pen
from vecrepeat.draw.resample import HARD_EDGED, HIGH, WIDE, Part, Pixels, Place, SourcePicture
from vecrepeat.draw.unpacking import unpacked
from vecrepeat.scene.fit import view_box_transform
from vecrepeat.scene.nodes import Image
from vecrepeat.util.cores import cores
from vecrepeat.util.imagefiles import bytes_in

MAX_KEPT = 512 << 20
"""Bytes of pictures that are kept unpacked, and as many of resampled ones."""

_BEYOND = 1 + 1e-9
"""A picture larger than its viewport by more than rounding is cut there."""


class _Kept:
    """Pictures by key, the latest used, of up to :data:`MAX_KEPT` bytes."""

    def __init__(self) -> None:
        self._kept: dict[Any, tuple[Any, int]] = {}
        self._size = 0

    def __contains__(self, key: Any) -> bool:
        return key in self._kept

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
_parts = _Kept()


def premultiplied(image: Picture.Image) -> Pixels:
    """Return a picture in cairo's premultiplied words, shape (height, width, 4)."""
    if image.mode.startswith("I;16"):
        grey = (np.asarray(image).astype(np.uint32) * 255 + 32767) // 65535
        image = Picture.fromarray(grey.astype(np.uint8))
    rgba = np.asarray(image.convert("RGBA").convert("RGBa"))
    out = np.empty(rgba.shape, np.uint8)
    for channel, place in enumerate(NATIVE_ORDER):
        out[..., place] = rgba[..., channel]
    return out


def _picture(link: str) -> SourcePicture:
    """Return the picture of a ``data:`` URL."""

    def make() -> tuple[SourcePicture, int]:
        found = SourcePicture(premultiplied(unpacked(bytes_in(link))), NATIVE_ORDER[3])
        return found, found.pixels.nbytes

    found: SourcePicture = _pictures.get(link, make)
    return found


def draw_image(pen: Pen, image: Image) -> None:
    """Draw a picture."""
    picture, box = _picture(image.link), image.box
    size = picture.width, picture.height
    whole = (Fraction(0), Fraction(0), Fraction(picture.width), Fraction(picture.height))
    fit = view_box_transform(whole, Fraction(box.width), Fraction(box.height), image.aspect)
    inner = fit._replace(e=fit.e + box.x0, f=fit.f + box.y0)
    outer = pen.matrix
    matrix = outer @ inner
    if not abs(matrix.determinant) > 1e-12:
        return
    with pen.kept():
        sides = zip((inner.a, inner.d), size, (box.width, box.height), strict=True)
        if any(scale * side > room * _BEYOND for scale, side, room in sides):
            _cut(pen, box.x0, box.y0, box.width, box.height)
        if image.rendering in HARD_EDGED:
            pen.matrix = matrix
            pen.lay(picture.pixels, (0, 0, *size), hard=True)
        else:
            _paint(pen, image.link, picture, picture.place(matrix))


def _cut(pen: Pen, *box: float) -> None:
    """Let no more be painted than lies in a box in the user's units."""
    pen.lib.cairo_new_path(pen.context)
    pen.lib.cairo_rectangle(pen.context, *box)
    pen.lib.cairo_clip(pen.context)


def _paint(pen: Pen, link: str, picture: SourcePicture, place: Place) -> None:
    """Paint a picture's parts, as far as they show, inside the border that its place has."""
    # The place is rounded a little, so its border is too: both alike for all copies.
    matrix = place.matrix
    pen.matrix = matrix._replace(e=matrix.e + place.x, f=matrix.f + place.y)
    _cut(pen, 0, 0, picture.width, picture.height)
    pen.matrix = IDENTITY
    left, top, right, bottom = pen.clip_extents()
    parts = [
        Part(x, y, min(WIDE, place.width - x), min(HIGH, place.height - y))
        for y in range(0, place.height, HIGH)
        for x in range(0, place.width, WIDE)
    ]
    seen = [
        part
        for part in parts
        if left - place.x - part.width < part.x < right - place.x
        and top - place.y - part.height < part.y < bottom - place.y
    ]
    for part, pixels in zip(seen, _made(link, picture, matrix, seen), strict=True):
        pen.lay(pixels, (place.x + part.x, place.y + part.y, part.width, part.height))


def _made(
    link: str, picture: SourcePicture, matrix: Affine, parts: Sequence[Part]
) -> Iterator[Pixels]:
    """Yield parts of a picture as they are on the print, made on several cores."""
    missing = [part for part in parts if (link, matrix, part) not in _parts]

    def make(part: Part) -> Pixels:
        return np.ascontiguousarray(picture.part(matrix, part))

    # What the parts have in common is worked out with the first.
    made = {part: make(part) for part in missing[:1]}
    with ThreadPoolExecutor(cores()) as pool:
        made |= zip(missing[1:], pool.map(make, missing[1:]), strict=True)
    for part in parts:

        def ready(part: Part = part) -> tuple[Pixels, int]:
            return made[part], made[part].nbytes

        pixels: Pixels = _parts.get((link, matrix, part), ready)
        yield pixels
