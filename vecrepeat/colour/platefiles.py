"""Plates as files: SVG with every area as one path, and TIFF of whole pixels."""

from __future__ import annotations

import io
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from shapely.geometry.base import BaseGeometry

from vecrepeat.colour.marks import MARGIN, Line, Marks, page_of
from vecrepeat.colour.scan import strips
from vecrepeat.colour.separation import Plate, Separation
from vecrepeat.files import write_whole
from vecrepeat.geometry import Rect, number
from vecrepeat.raster.plan import PixelPlan
from vecrepeat.xmltext import escaped

DIGITS = 5
"""Decimals of a millimetre in SVG: a hundredth of a micrometre."""

BLACK = "#000000"


def path_data(area: BaseGeometry, shift: tuple[float, float] = (0.0, 0.0)) -> str:
    """Return an area as path data in mm, its holes by the even-odd rule."""
    rings = shapely.get_rings(shapely.get_parts(np.array([area], dtype=object)))
    written = []
    for ring in rings:
        xy = np.round(shapely.get_coordinates(ring)[:-1] + shift, DIGITS) + 0.0
        written.append("M" + "L".join(f"{x:.10g} {y:.10g}" for x, y in xy.tolist()) + "Z")
    return "".join(written)


def plate_svg(
    separation: Separation, shown: Iterable[tuple[Plate, str, Marks | None]], title: str
) -> str:
    """Return plates as one SVG file whose user unit is the millimetre.

    Args:
        separation: the plates.
        shown: plates from the bottom up, the colour each is drawn in, and its marks.
        title: what the file shows.
    """
    layers = list(shown)
    margin = MARGIN if any(marks is not None for _, _, marks in layers) else 0.0
    page = page_of(separation.region, margin)
    shift = (-page.x0, -page.y0)
    body = []
    for plate, colour, marks in layers:
        inner = f'<path fill-rule="evenodd" d="{path_data(plate.printed, shift)}"/>'
        if marks is not None:
            words = marks.label
            x, y = words.at[0] + shift[0], words.at[1] + shift[1]
            inner += (
                f'<path fill-rule="evenodd" d="{path_data(marks.area, shift)}"/>'
                f'<text x="{number(x)}" y="{number(y)}" font-family="sans-serif" '
                f'font-size="{number(words.size)}">{escaped(words.text)}</text>'
            )
        body.append(
            f'<g id="plate-{plate.order}" fill="{colour}"><title>{escaped(plate.name)}</title>'
            f"{inner}</g>\n"
        )
    w, h = number(page.width), number(page.height)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{w}mm" height="{h}mm" '
        f'viewBox="0 0 {w} {h}">\n<title>{escaped(title)}</title>\n{"".join(body)}</svg>\n'
    )


def plate_pixels(plate: Plate, region: Rect, plan: PixelPlan, marks: Marks | None) -> Image.Image:
    """Return a plate as a 1-bit picture, black where it prints.

    A pixel prints where its centre lies in the plate. The repeat lies on whole pixels; marks
    lie in a margin of whole pixels round it.

    Args:
        plate: the plate.
        region: the straight block in mm.
        plan: the tile in whole pixels.
        marks: to draw round it, or None for the repeat alone.
    """
    across, down = plan.block
    sx, sy = across / region.width, down / region.height
    around = margin_pixels(plan, region) if marks is not None else 0
    width, height = across + 2 * around, down + 2 * around
    origin = (region.x0 - around / sx, region.y0 - around / sy)
    image = Image.new("1", (width, height), 1)
    areas = [plate.printed] if marks is None else [plate.printed, marks.area]
    for area in areas:
        top = 0
        for strip in strips(area, width, height, scale=(sx, sy), origin=origin):
            mask = bits(strip)
            image.paste(0, (0, top), mask)
            top += len(strip)
    if marks is not None:
        _write_label(image, marks.label, (sx, sy), origin)
    return image


def margin_pixels(plan: PixelPlan, region: Rect) -> int:
    """Return the margin for marks in whole pixels."""
    return round(MARGIN * max(plan.block[0] / region.width, plan.block[1] / region.height))


def _write_label(
    image: Image.Image, line: Line, scale: tuple[float, float], origin: tuple[float, float]
) -> None:
    sx, sy = scale
    at = ((line.at[0] - origin[0]) * sx, (line.at[1] - origin[1]) * sy)
    font = ImageFont.load_default(max(8, round(line.size * sy)))
    ImageDraw.Draw(image).text(at, line.text, fill=0, font=font, anchor="ls")


def bits(mask: NDArray[np.bool_]) -> Image.Image:
    """Return a mask as a 1-bit picture, white where it is set."""
    height, width = mask.shape
    return Image.frombytes("1", (width, height), np.packbits(mask, axis=1).tobytes())


def write_tiff(image: Image.Image, path: Path, dpi: Fraction) -> None:
    """Write a picture as TIFF, whole or not at all: 1-bit as CCITT group 4, 8-bit deflated.

    Source: TIFF 6.0 §11 (T.6 encoding); Adobe's TIFF technical note of 2002 (deflate).

    Raises:
        InputError: the file can't be written.
    """
    data = io.BytesIO()
    compression = "group4" if image.mode == "1" else "tiff_adobe_deflate"
    image.save(data, "TIFF", compression=compression, dpi=(float(dpi), float(dpi)))
    write_whole(path, data.getbuffer())


def write_text(text: str, path: Path) -> None:
    """Write text as UTF-8, whole or not at all.

    Raises:
        InputError: the file can't be written.
    """
    write_whole(path, text.encode())
