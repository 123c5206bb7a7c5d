"""Scenes restated for resvg: pictures of no more pixels than a print shows, filters that stay put.

resvg takes four by four pixels of a picture for each of the print's, however many it ought to:
what is drawn much smaller aliases. So a picture of more pixels than the print shows is shrunk
first, by the filter that :mod:`vecrepeat.draw.resample` uses; the rest is resvg's.

resvg cuts offsets down to whole pixels: 1.9999 px are 1. What is drawn a little smaller (see
:data:`vecrepeat.draw.resvg.SHRINKS`) would have shadows a whole pixel off wherever an offset is a
whole number of pixels.
"""

from __future__ import annotations

import io
import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PIL.Image import Resampling

from vecrepeat.core.geometry import Affine, number
from vecrepeat.core.units import MM_PER_INCH
from vecrepeat.draw.resample import HARD_EDGED, unpacked
from vecrepeat.scene.nodes import Element, Group, Image, Node, Text
from vecrepeat.scene.visit import effective_dpi, is_filtered, rewritten, walk
from vecrepeat.util.imagefiles import bytes_in, data_url

DENSITY = 1.25
"""Pixels of a picture left for each of the print's, across and down.

resvg's own filter blurs at 1:1 between pixels and aliases from 2:1: of a zone plate at 1:4.3
it loses 16 levels of what the print can hold at 1, 7 at 1.25 and 3 at 2, and leaves 1, 2 and 14
of what it can't. Measured by ``tests/benchmarks/picture_filters.py``."""

SPARE = 2**-12
"""By how much offsets are made larger: more than any shrinking, and a pixel only on thousands."""


def shrunk(scene: Node, scale: float) -> Node:
    """Return a scene with pictures of no more pixels than a print shows.

    Args:
        scene: of a motif, in mm.
        scale: pixels of the print to a mm of the motif, at the largest.
    """
    return rewritten(
        scene, lambda node, matrix: _less(node, matrix, scale) if isinstance(node, Image) else node
    )


def _less(image: Image, matrix: Affine, scale: float) -> Image:
    """Shrink a picture where the print shows fewer pixels of it."""
    dpi = effective_dpi(image, matrix)
    if dpi is None or image.rendering in HARD_EDGED:
        return image
    share = DENSITY * scale * float(MM_PER_INCH) / dpi
    if share >= 1:
        return image
    upright = unpacked(bytes_in(image.link)).convert("RGBA")
    width, height = (max(1, math.ceil(side * share - 1e-6)) for side in upright.size)
    if image.aspect.split()[:1] != ["none"]:
        # Its sides are in proportion still, but for what whole pixels take.
        height = max(1, round(width * upright.height / upright.width))
    stream = io.BytesIO()
    small = upright.resize((width, height), Resampling.LANCZOS)
    small.save(stream, "PNG", compress_level=1)
    return replace(image, link=data_url(stream.getvalue()), pixels=(width, height))


def with_offsets_kept(scene: Node) -> Node:
    """Return a scene with its filters' offsets a hair's breadth larger."""
    return rewritten(scene, _kept)


def _kept(node: Node, _: Affine) -> Node:
    if not isinstance(node, Group) or node.filter is None:
        return node
    steps = tuple(s if isinstance(s, str) else _larger(s) for s in node.filter.steps)
    return replace(node, filter=replace(node.filter, steps=steps))


def _larger(element: Element) -> Element:
    """Return an element, and those in it, with larger offsets."""
    offsets = ("dx", "dy") if element.tag in ("feOffset", "feDropShadow") else ()
    attributes = tuple(
        (name, _stretched(value) if name in offsets and isinstance(value, str) else value)
        for name, value in element.attributes
    )
    content = tuple(part if isinstance(part, str) else _larger(part) for part in element.content)
    return Element(element.tag, attributes, content)


def _stretched(value: str) -> str:
    try:
        return number(float(value) * (1 + SPARE))
    except (ValueError, OverflowError):
        return value


def region_corners(scene: Node) -> NDArray[np.float64] | None:
    """Return the corners of what each filter works on, shape (n, 4, 2), in the scene's units.

    None where not all are known: where a step of a filter has a region of its own, or where text
    or a mask is filtered.
    """
    found = []
    for node, matrix in walk(scene):
        if isinstance(node, Text) or (isinstance(node, Group) and node.mask is not None):
            if is_filtered(node):
                return None
            continue
        if not isinstance(node, Group) or node.filter is None:
            continue
        region = node.filter.region
        if region is None or any(_has_regions(step) for step in node.filter.steps):
            return None
        x0, y0, x1, y1 = region
        found.append(matrix.apply(np.array([(x0, y0), (x1, y0), (x0, y1), (x1, y1)], np.float64)))
    return np.array(found, np.float64).reshape(-1, 4, 2)


def _has_regions(step: str | Element) -> bool:
    """Whether a step of a filter says for any of its primitives where it works."""
    if isinstance(step, str):
        return True
    primitives = [part for part in step.content if isinstance(part, Element)]
    return step.get("primitiveUnits") == "objectBoundingBox" or any(
        primitive.get(side) is not None
        for primitive in primitives
        for side in ("x", "y", "width", "height")
    )
