"""Pictures in a PDF: those that a drawing holds, and motifs that had to be turned into one.

Standard: ISO 32000-1 §8.9 (images), §11.6.5.3 (soft-mask images), §7.4.8 (DCTDecode).
"""

from __future__ import annotations

import io
import math
import zlib
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray
from pikepdf import Name, Object, Pdf
from PIL import Image

from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.draw.paint import Window
from vecrepeat.draw.plan import plan_pixels
from vecrepeat.draw.sheet import straight
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.util.imagefiles import bytes_in
from vecrepeat.write.formats import FileJob
from vecrepeat.write.pdf_resources import Resources, matrix_text

MAX_PIXELS = 100_000_000
"""The largest picture of one motif, in pixels."""


def drawn_picture(resources: Resources, link: str, *, smooth: bool) -> tuple[str, int, int]:
    """Put a picture of a drawing in the file, once; return its name and its size in pixels.

    Args:
        resources: what it is kept in.
        link: a ``data:`` URL in base64.
        smooth: whether enlarged pixels may be blended into each other.

    Raises:
        InputError: it is damaged.
    """
    data = bytes_in(link)
    try:
        with Image.open(io.BytesIO(data)) as image:
            width, height = image.size
            if name := resources.known("XObject", (link, smooth)):
                return name, width, height
            if image.format == "JPEG" and image.mode in ("RGB", "L"):
                # The camera's own bytes: nothing is lost by packing them again.
                space = Name.DeviceRGB if image.mode == "RGB" else Name.DeviceGray
                made = _image(resources.pdf, data, width, height, space, Name.DCTDecode)
            else:
                made = picture(resources.pdf, np.asarray(image.convert("RGBA")))
    except (OSError, SyntaxError, ValueError) as error:
        raise InputError(
            f"a picture in the drawing is damaged: {error}", hint="save it and place it anew"
        ) from None
    made.Interpolate = smooth
    return resources.named("XObject", made, (link, smooth)), width, height


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


def raster_form(job: FileJob, resources: Resources, motif: Motif) -> Object:
    """Return a form in mm, y downwards, that shows a motif as a picture at the job's dpi.

    Raises:
        InputError: the picture would be too large, or the motif can't be drawn.
    """
    # Only now: few files need it.
    from vecrepeat.draw.resvg_paint import ResvgEngine

    repeat, plan = job.repeat, job.cut.plan
    box = motif.box.grown(1 / min(plan.scale))
    side = max(box.width, box.height) * 1.5
    tile = Fraction(side * 3)
    alone = Repeat.alone(motif, tile, Affine.translation(side - box.x0, side - box.y0))
    single = plan_pixels(
        alone,
        plan.dpi,
        width=tile * plan.printed.width / repeat.width,
        height=tile * plan.printed.height / repeat.height,
    )
    sx, sy = single.scale
    left, top = math.floor(side * sx), math.floor(side * sy)
    width = math.ceil((side + box.width) * sx) - left
    height = math.ceil((side + box.height) * sy) - top
    if width * height > MAX_PIXELS:
        raise InputError(
            f"as a picture it would have {width:,} × {height:,} px",
            element=motif.name,
            hint="lower the dpi",
        )
    painter = ResvgEngine(alone).painter(single, ground=False)
    image = picture(resources.pdf, straight(painter.paint(Window(left, top, width, height))))
    name = resources.named("XObject", image)
    x, y = left / sx - side + box.x0, top / sy - side + box.y0
    w, h = width / sx, height / sy
    matrix = matrix_text(Affine(w, 0.0, 0.0, -h, x, y + h))
    return resources.form(f"q {matrix} cm /{name} Do Q", Rect(x, y, x + w, y + h))
