"""Pictures for resvg, brought down to the print's resolution before it draws them.

resvg takes four by four pixels of a picture for each of the print's, however many it ought to:
what is drawn much smaller aliases. So a picture of more pixels than the print shows is shrunk
first, by the filter that :mod:`vecrepeat.raster.resample` uses; the rest is resvg's.
"""

from __future__ import annotations

import base64
import io
import math
from urllib.parse import unquote_to_bytes

from lxml import etree
from PIL import Image

from vecrepeat.art.images import effective_dpi
from vecrepeat.geometry import Affine
from vecrepeat.imagefiles import data_url
from vecrepeat.raster.resample import unpacked
from vecrepeat.units import MM_PER_INCH

DENSITY = 1.25
"""Pixels of a picture left for each of the print's, across and down.

resvg's own filter blurs at 1:1 between pixels and aliases from 2:1: of a zone plate at 1:4.3
it loses 16 levels of what the print can hold at 1, 7 at 1.25 and 3 at 2, and leaves 1, 2 and 14
of what it can't. Measured by ``tests/benchmarks/picture_filters.py``."""

_XLINK = "http://www.w3.org/1999/xlink"
_HREF = f"{{{_XLINK}}}href"
_HARD_EDGED = ("pixelated", "crisp-edges", "optimizeSpeed")
_OPENING = f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="{_XLINK}">'


def fitted(markup: str, scale: float) -> str:
    """Return a motif's markup with pictures of no more pixels than a print shows.

    Args:
        markup: of a motif, in mm and in normal form.
        scale: pixels of the print to a mm of the motif, at the largest.
    """
    if "<image" not in markup:
        return markup
    parser = etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True)
    root = etree.fromstring(f"{_OPENING}{markup}</svg>", parser)
    changed = False
    todo = [(child, Affine()) for child in root]
    while todo:
        element, above = todo.pop()
        matrix = above @ Affine.from_svg(element.get("transform"))
        todo += [(child, matrix) for child in element]
        if etree.QName(element).localname == "image":
            changed |= _fit(element, matrix, scale)
    if not changed:
        return markup
    text = etree.tostring(root, encoding="unicode")
    return text[text.index(">") + 1 : text.rindex("</svg>")]


def _fit(element: etree._Element, matrix: Affine, scale: float) -> bool:
    """Shrink the picture of an image where the print shows fewer pixels of it."""
    dpi = effective_dpi(element, matrix)
    sized = element.get("width") is not None and element.get("height") is not None
    if dpi is None or not sized or element.get("image-rendering") in _HARD_EDGED:
        return False
    share = DENSITY * scale * float(MM_PER_INCH) / dpi
    if share >= 1:
        return False
    head, _, body = element.get(_HREF, "").partition(",")
    data = base64.b64decode(body) if head.endswith("base64") else unquote_to_bytes(body)
    picture = unpacked(data)
    if picture is None:
        return False
    upright = picture.convert("RGBA")
    size = (
        max(1, math.ceil(upright.width * share - 1e-6)),
        max(1, math.ceil(upright.height * share - 1e-6)),
    )
    if element.get("preserveAspectRatio", "").split()[:1] != ["none"]:
        # Its sides are in proportion still, but for what whole pixels take.
        size = (size[0], max(1, round(size[0] * upright.height / upright.width)))
    stream = io.BytesIO()
    upright.resize(size, Image.Resampling.LANCZOS).save(stream, "PNG", compress_level=1)
    link = data_url(stream.getvalue())
    element.set(_HREF, link)
    return True
