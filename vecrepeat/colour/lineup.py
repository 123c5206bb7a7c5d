"""The line-up sheet: colourways of one design beside each other, with their colours."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from vecrepeat.core.units import MM_PER_INCH
from vecrepeat.draw.paint import Window
from vecrepeat.draw.plan import plan_pixels
from vecrepeat.draw.sheet import opaque
from vecrepeat.repeat.model import Repeat
from vecrepeat.write.exporting import Exporter

PAPER = "#fbfaf7"
_INK = "#2b2926"
_QUIET = "#8a857d"

_MARGIN, _GAP, _CHIP, _LABEL = 72, 40, 44, 40
_SIDE = 620
"""The width of each cutting in pixels."""


class Cutting(NamedTuple):
    """One colourway on the sheet.

    Attributes:
        name: its name.
        repeat: the design in it.
        chips: the colours to show below it.
    """

    name: str
    repeat: Repeat
    chips: Sequence[str]


def swatch(repeat: Repeat, width: int, height: int, across: float = 1.0) -> Image.Image:
    """Return a cut of cloth as a picture of so many pixels, so many tiles across."""
    plan = plan_pixels(repeat, Fraction(width) / Fraction(across) * MM_PER_INCH / repeat.width)
    pixels = Exporter(repeat).painter(plan).paint(Window(0, 0, width, height))
    return Image.fromarray(np.ascontiguousarray(opaque(pixels)), "RGB")


def lineup(title: str, shown: Sequence[Cutting]) -> Image.Image:
    """Return the line-up sheet of a design as a picture; the drawing's own colours come first."""
    columns = min(3, len(shown)) if len(shown) != 4 else 2
    rows = math.ceil(len(shown) / columns)
    repeat = shown[0].repeat
    ratio = float(repeat.height / repeat.width)
    # A tile and a bit, so that the eye sees the repeat go on.
    width, height = _SIDE, round(_SIDE * min(1.35, max(0.75, ratio * 0.9)))
    cell = height + _CHIP + _LABEL + _GAP
    size = (
        2 * _MARGIN + columns * width + (columns - 1) * _GAP,
        2 * _MARGIN + 64 + rows * cell - _GAP,
    )
    sheet = Image.new("RGB", size, PAPER)
    pen = ImageDraw.Draw(sheet)
    pen.text((_MARGIN, _MARGIN - 18), title, fill=_INK, font=ImageFont.load_default(34))
    small = ImageFont.load_default(22)
    at = (size[0] - _MARGIN, _MARGIN - 8)
    count = "1 colourway" if len(shown) == 1 else f"{len(shown)} colourways"
    pen.text(at, count, fill=_QUIET, font=small, anchor="ra")
    for n, way in enumerate(shown):
        x = _MARGIN + n % columns * (width + _GAP)
        y = _MARGIN + 64 + n // columns * cell
        sheet.paste(swatch(way.repeat, width, height, 1.12), (x, y))
        _chips(pen, way.chips, x, y + height, width)
        pen.text((x, y + height + _CHIP + 10), way.name, fill=_INK, font=small)
    return sheet


def _chips(pen: ImageDraw.ImageDraw, chips: Sequence[str], x: int, y: int, width: int) -> None:
    """Draw colours side by side over the whole width."""
    edges = [x + round(width * k / len(chips)) for k in range(len(chips) + 1)]
    for left, right, colour in zip(edges, edges[1:], chips, strict=False):
        pen.rectangle((left, y, right - 1, y + _CHIP - 1), fill=colour)
    pen.rectangle((x, y + _CHIP - 1, x + width - 1, y + _CHIP - 1), fill="#e4e0d8")
