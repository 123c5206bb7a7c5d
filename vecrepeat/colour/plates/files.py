"""Plates as files: SVG with every area as one path, and TIFF of whole pixels."""

from __future__ import annotations

import io
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from shapely.geometry.base import BaseGeometry

from vecrepeat.colour.plates.marks import MARGIN, Marks
from vecrepeat.colour.plates.scan import strips
from vecrepeat.colour.plates.separation import Plate, Separation
from vecrepeat.core.geometry import Rect, number
from vecrepeat.draw.plan import PixelPlan
from vecrepeat.util.files import write_whole
from vecrepeat.util.xmltext import escaped

DIGITS = 5
"""Decimals of a millimetre in SVG: a hundredth of a micrometre."""

BLACK = "#000000"


class DrawnPlate(NamedTuple):
    """A plate in an SVG file.

    Attributes:
        plate: the plate.
        path: its :func:`path_data`.
        colour: what it is drawn in.
        marks: what is drawn round it, or None.
    """

    plate: Plate
    path: str
    colour: str
    marks: Marks | None = None


def path_data(area: BaseGeometry) -> str:
    """Return an area as path data in mm, its holes by the even-odd rule."""
    rings = shapely.get_rings(shapely.get_parts(np.array([area], dtype=object)))
    coords, ring = shapely.get_coordinates(rings, return_index=True)
    if not len(coords):
        return ""
    xy = np.round(coords, DIGITS) + 0.0
    # All numbers of a ring in one go: one by one they take most of the time of a separation.
    return "".join(
        "M" + "L".join(["%.10g %.10g"] * (len(one) - 1)) % tuple(one[:-1].ravel().tolist()) + "Z"
        for one in np.split(xy, np.flatnonzero(np.diff(ring)) + 1)
    )


def plate_svg(separation: Separation, shown: Sequence[DrawnPlate], title: str) -> str:
    """Return plates, from the bottom up, as one SVG file whose user unit is the millimetre."""
    marked = any(layer.marks is not None for layer in shown)
    page = separation.region.grown(MARGIN if marked else 0.0)
    move = ""
    if (page.x0, page.y0) != (0.0, 0.0):
        move = f' transform="translate({number(-page.x0)} {number(-page.y0)})"'
    body = []
    for plate, path, colour, marks in shown:
        inner = f'<path fill-rule="evenodd" d="{path}"/>'
        if marks is not None:
            words = marks.label
            inner += (
                f'<path fill-rule="evenodd" d="{path_data(marks.area)}"/>'
                f'<text x="{number(words.at[0])}" y="{number(words.at[1])}" '
                f'font-family="sans-serif" font-size="{number(words.size)}">'
                f"{escaped(words.text)}</text>"
            )
        body.append(
            f'<g id="plate-{plate.order}" fill="{colour}"{move}>'
            f"<title>{escaped(plate.name)}</title>{inner}</g>\n"
        )
    w, h = number(page.width), number(page.height)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{w}mm" height="{h}mm" '
        f'viewBox="0 0 {w} {h}">\n<title>{escaped(title)}</title>\n{"".join(body)}</svg>\n'
    )


def plate_pixels(plate: Plate, region: Rect, plan: PixelPlan, marks: Marks | None) -> Image.Image:
    """Return a plate over a straight block in mm as a 1-bit picture, black where it prints.

    A pixel prints where its centre lies in the plate. The repeat lies on whole pixels; marks
    lie in a margin of whole pixels round it.
    """
    across, down = plan.block
    sx, sy = across / region.width, down / region.height
    margin = 0 if marks is None else round(MARGIN * max(sx, sy))
    width, height = across + 2 * margin, down + 2 * margin
    origin = (region.x0 - margin / sx, region.y0 - margin / sy)
    image = Image.new("1", (width, height), 1)
    for area in [plate.printed] if marks is None else [plate.printed, marks.area]:
        top = 0
        for strip in strips(area, width, height, scale=(sx, sy), origin=origin):
            image.paste(0, (0, top), bits(strip))
            top += len(strip)
    if marks is not None:
        label = marks.label
        at = ((label.at[0] - origin[0]) * sx, (label.at[1] - origin[1]) * sy)
        font = ImageFont.load_default(max(8, round(label.size * sy)))
        ImageDraw.Draw(image).text(at, label.text, fill=0, font=font, anchor="ls")
    return image


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
