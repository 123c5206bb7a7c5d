"""Pictures as the bytes of files, and as links that hold them."""

from __future__ import annotations

import base64
import io
import struct
import zlib
from fractions import Fraction
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mmap import mmap

    from PIL import Image

_MOST_DPI = 30_000
_PER_METRE = Fraction(5000, 127)
"""Inches in a metre."""


def png_of(image: Image.Image) -> bytes:
    """Return a picture as a PNG file."""
    data = io.BytesIO()
    image.save(data, "PNG")
    return data.getvalue()


def data_url(data: bytes, kind: str = "png") -> str:
    """Return a picture's file as a ``data:`` URL (RFC 2397)."""
    return f"data:image/{kind};base64,{base64.b64encode(data).decode()}"


def bytes_in(url: str) -> bytes:
    """Return the file in a ``data:`` URL in base64, as :func:`data_url` makes them."""
    return base64.b64decode(url.partition(",")[2])


def own_dpi(image: Image.Image) -> tuple[Fraction, Fraction] | None:
    """Return what a file says of its pixels per inch across and down, None for nothing usable.

    Where there is nothing, Pillow says 1 of a TIFF, and 72 of a JPEG with Exif data.

    Sources: PNG Third Edition §11.3.4.3 (pHYs, in pixels per metre), TIFF 6.0 §8 and Exif 2.3
    §4.6.4 (XResolution, YResolution, ResolutionUnit: 2 for inches, the default, or 3 for
    centimetres), JFIF 1.02 (units: 1 for inches, 2 for centimetres).
    """
    given: Any = None
    tags: Any = getattr(image, "tag_v2", None)
    if tags is None:
        if image.format not in ("JPEG", "MPO") or image.info.get("jfif_unit") in (1, 2):
            given = image.info.get("dpi")
        tags = image.getexif()
    try:
        if given is None:
            per_inch = {2: 1.0, 3: 2.54}[tags.get(0x0128, 2)]
            given = [float(tags[tag]) * per_inch for tag in (0x011A, 0x011B)]
        across, down = (_plain_dpi(float(v)) for v in given)
    except (TypeError, ValueError, OverflowError, ZeroDivisionError, KeyError):
        return None
    return (across, down) if all(1 < v <= _MOST_DPI for v in (across, down)) else None


def _plain_dpi(value: float) -> Fraction:
    """Return a dpi as it was meant: PNG's whole pixels per metre can't say 300."""
    exact = Fraction(value).limit_denominator(10**6)
    whole = round(exact)
    return Fraction(whole) if abs(exact - whole) * _PER_METRE <= Fraction(51, 100) else exact


def png_damage(data: bytes | mmap) -> str:
    """Return what is wrong with a PNG file's chunks, "" for nothing.

    Pillow looks at no checksum of pixels. Source: PNG Third Edition §5.3 (chunk layout), §5.5.
    """
    place = 8
    while place + 12 <= len(data):
        length, kind = struct.unpack_from(">I4s", data, place)
        end = place + 8 + length
        if end + 4 > len(data):
            break
        if zlib.crc32(memoryview(data)[place + 4 : end]) != struct.unpack_from(">I", data, end)[0]:
            return f"the checksum of a chunk {kind.decode('latin-1')!r} is wrong"
        if kind == b"IEND":
            return ""
        place = end + 4
    return "it is cut short"
