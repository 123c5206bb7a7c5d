"""Pictures in a PDF: those that a drawing holds, and motifs that had to be turned into one.

Standard: ISO 32000-1 §8.9 (images), §11.6.5.3 (soft-mask images), §7.4.8 (DCTDecode).
"""

from __future__ import annotations

import base64
import io
import zlib
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from pikepdf import Name, Object, Pdf
from PIL import Image

from vecrepeat.write.pdf_resources import Resources


class Placed(NamedTuple):
    """A picture that has been put in the file: its name and its size in pixels."""

    name: str
    width: int
    height: int


def drawn_picture(resources: Resources, link: str, *, smooth: bool) -> Placed | None:
    """Put a picture of a drawing in the file, once; None where it can't be read.

    Args:
        resources: what it is kept in.
        link: a ``data:`` URL.
        smooth: whether enlarged pixels may be blended into each other.
    """
    head, _, packed = link.partition(",")
    data = base64.b64decode(packed) if head.endswith(";base64") else b""
    try:
        with Image.open(io.BytesIO(data)) as image:
            width, height = image.size
            name = resources.known("XObject", (link, smooth))
            if name is not None:
                return Placed(name, width, height)
            if image.format == "JPEG" and image.mode in ("RGB", "L"):
                # The camera's own bytes: nothing is lost by packing them again.
                space = Name.DeviceRGB if image.mode == "RGB" else Name.DeviceGray
                made = _image(resources.pdf, data, width, height, space, Name.DCTDecode)
            else:
                made = picture(resources.pdf, np.asarray(image.convert("RGBA")))
    except (OSError, SyntaxError, ValueError):
        return None
    made.Interpolate = smooth
    return Placed(resources.named("XObject", made, (link, smooth)), width, height)


def picture(pdf: Pdf, pixels: NDArray[np.uint8]) -> Object:
    """Return RGB or straight RGBA of shape (height, width, 3 or 4) as an image XObject."""
    height, width = pixels.shape[:2]
    colours = zlib.compress(np.ascontiguousarray(pixels[..., :3]).tobytes(), 9)
    made = _image(pdf, colours, width, height, Name.DeviceRGB, Name.FlateDecode)
    alpha = np.ascontiguousarray(pixels[..., 3:])
    if alpha.min(initial=255) < 255:
        packed = zlib.compress(alpha.tobytes(), 9)
        made.SMask = _image(pdf, packed, width, height, Name.DeviceGray, Name.FlateDecode)
    return made


def _image(pdf: Pdf, data: bytes, width: int, height: int, space: Name, packed: Name) -> Object:
    made = pdf.make_stream(data)
    made.Type, made.Subtype = Name.XObject, Name.Image
    made.Width, made.Height, made.BitsPerComponent = width, height, 8
    made.ColorSpace, made.Filter = space, packed
    return pdf.make_indirect(made)
