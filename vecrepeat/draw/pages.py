"""Pages of our own as pixels."""

from __future__ import annotations

import re

from vecrepeat.core.errors import InputError
from vecrepeat.draw.paint import Pixels
from vecrepeat.draw.resvg import ResvgError, rasterise
from vecrepeat.draw.sheet import opaque
from vecrepeat.util.fonts import generic_families

_SIDES_RE = re.compile(r' width="[^"]*" height="[^"]*"(?= viewBox="0 0 (\S+) ([^" ]+)")')


def page_pixels(page: str, scale: float) -> Pixels:
    """Return a page of our own (a proof, a check's picture) on white, RGB.

    Args:
        page: an SVG document that tells its width, height and view box in this order.
        scale: pixels to the view box's unit.

    Raises:
        InputError: resvg can't draw it.
    """
    sides = _SIDES_RE.search(page)
    assert sides is not None
    width, height = (round(float(side) * scale) for side in sides.groups())
    sized = f'{page[: sides.start()]} width="{width}" height="{height}"{page[sides.end() :]}'
    try:
        return opaque(rasterise(sized, width, height, fonts=generic_families()))
    except ResvgError as error:
        raise InputError(f"the page can't be drawn: {error}") from None
