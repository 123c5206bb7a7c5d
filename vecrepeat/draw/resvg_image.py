"""Pictures for resvg, brought down to the print's resolution before it draws them.

resvg takes four by four pixels of a picture for each of the print's, however many it ought to:
what is drawn much smaller aliases. So a picture of more pixels than the print shows is shrunk
first, by the filter that :mod:`vecrepeat.draw.resample` uses; the rest is resvg's.
"""

from __future__ import annotations

import base64
import io
import math
from dataclasses import replace
from urllib.parse import unquote_to_bytes

from PIL.Image import Resampling

from vecrepeat.core.geometry import Affine
from vecrepeat.core.units import MM_PER_INCH
from vecrepeat.draw.resample import HARD_EDGED, unpacked
from vecrepeat.scene.nodes import Image, Node
from vecrepeat.scene.visit import effective_dpi, rewritten
from vecrepeat.util.imagefiles import data_url

DENSITY = 1.25
"""Pixels of a picture left for each of the print's, across and down.

resvg's own filter blurs at 1:1 between pixels and aliases from 2:1: of a zone plate at 1:4.3
it loses 16 levels of what the print can hold at 1, 7 at 1.25 and 3 at 2, and leaves 1, 2 and 14
of what it can't. Measured by ``tests/benchmarks/picture_filters.py``."""


def fitted(scene: Node, scale: float) -> Node:
    """Return a scene with pictures of no more pixels than a print shows.

    Args:
        scene: of a motif, in mm.
        scale: pixels of the print to a mm of the motif, at the largest.
    """
    return rewritten(
        scene, lambda node, matrix: _fit(node, matrix, scale) if isinstance(node, Image) else node
    )


def _fit(image: Image, matrix: Affine, scale: float) -> Image:
    """Shrink a picture where the print shows fewer pixels of it."""
    dpi = effective_dpi(image, matrix)
    if dpi is None or image.rendering in HARD_EDGED:
        return image
    share = DENSITY * scale * float(MM_PER_INCH) / dpi
    if share >= 1:
        return image
    head, _, body = image.link.partition(",")
    data = base64.b64decode(body) if head.endswith("base64") else unquote_to_bytes(body)
    picture = unpacked(data)
    if picture is None:
        return image
    upright = picture.convert("RGBA")
    size = (
        max(1, math.ceil(upright.width * share - 1e-6)),
        max(1, math.ceil(upright.height * share - 1e-6)),
    )
    if image.aspect.split()[:1] != ["none"]:
        # Its sides are in proportion still, but for what whole pixels take.
        size = (size[0], max(1, round(size[0] * upright.height / upright.width)))
    stream = io.BytesIO()
    small = upright.resize(size, Resampling.LANCZOS)
    small.save(stream, "PNG", compress_level=1)
    return replace(image, link=data_url(stream.getvalue()), pixels=size)
