"""Small pictures of a drawing's motifs, and a contact sheet of them all."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from vecrepeat.core.geometry import Affine
from vecrepeat.core.names import slug
from vecrepeat.draw.paint import Window
from vecrepeat.draw.sheet import straight
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.util.files import write_together
from vecrepeat.util.imagefiles import png_of
from vecrepeat.write.exporting import Exporter

SIDE = 240
"""The longer side of a thumbnail in pixels."""

_GAP = 24
_LABEL = 22


def _picture(page: Repeat, motif: Motif) -> Image.Image:
    """Return one motif alone on nothing, :data:`SIDE` pixels along its longer side."""
    box = motif.box
    side = max(box.width, box.height) * 1.04
    # Alone in the middle of a tile so large that no copy of it comes into view.
    middle = Affine.translation(side - (box.x0 + box.x1) / 2, side - (box.y0 + box.y1) / 2)
    tile = Fraction(side * 2)
    repeat = page.alone(motif, tile, middle)
    exporter = Exporter(repeat)
    plan = exporter.plan(Fraction(254, 10) * 2 * SIDE / tile)
    left = (plan.width - SIDE) // 2
    pixels = exporter.painter(plan).paint(Window(left, left, SIDE, SIDE))
    return Image.fromarray(straight(pixels), "RGBA")


def write_thumbnails(motifs: Sequence[Motif], page: Repeat, folder: Path) -> list[Path]:
    """Write a transparent thumbnail of each motif, placed or not, and a sheet on the page's ground.

    Returns:
        The files written, the contact sheet last.

    Raises:
        InputError: a motif can't be drawn, or a file can't be written.
    """
    written: dict[Path, bytes] = {}
    columns = max(1, min(6, math.ceil(math.sqrt(len(motifs)))))
    rows = math.ceil(len(motifs) / columns)
    ground = "#ffffff" if page.ground is None else page.ground.colour
    size = (columns * (SIDE + _GAP) + _GAP, rows * (SIDE + _GAP + _LABEL) + _GAP)
    sheet = Image.new("RGB", size, ground)
    pen = ImageDraw.Draw(sheet)
    font = ImageFont.load_default(15)
    red, green, blue = (255, 255, 255) if page.ground is None else page.ground.rgb
    ink = "#202020" if 3 * red + 6 * green + blue > 1280 else "#f4f4f4"
    for n, motif in enumerate(motifs):
        picture = _picture(page, motif)
        written[folder / f"{n + 1:03}-{slug(motif.name)[:40] or 'motif'}.png"] = png_of(picture)
        x = _GAP + n % columns * (SIDE + _GAP)
        y = _GAP + n // columns * (SIDE + _GAP + _LABEL)
        sheet.paste(picture, (x, y), picture)
        label = motif.name if len(motif.name) <= 30 else motif.name[:29] + "…"
        pen.text((x + SIDE / 2, y + SIDE + 4), label, fill=ink, font=font, anchor="ma")
    written[folder / "contact-sheet.png"] = png_of(sheet)
    write_together(written)
    return list(written)
