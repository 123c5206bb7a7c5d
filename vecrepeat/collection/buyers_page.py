"""A collection as one page for a browser: every print, at one scale, in every colourway."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from fractions import Fraction
from importlib.resources import files

import numpy as np
from PIL import Image

from vecrepeat.collection.line import Line
from vecrepeat.collection.linesheet import size_of, values_of
from vecrepeat.core.units import MM_PER_INCH
from vecrepeat.draw.sheet import opaque
from vecrepeat.proof.page import filled
from vecrepeat.proof.sheet import CAUTIONS
from vecrepeat.repeat.model import Repeat
from vecrepeat.util.imagefiles import data_url
from vecrepeat.write.exporting import Exporter

DPI = Fraction(75)
"""Pixels per inch of cloth of the pictures on the page."""

MOST = 1400
"""The longer side in pixels of the largest picture; larger blocks are drawn coarser."""


def page_html(shown: Line, ways: Sequence[str], step: Callable[[int], None] | None = None) -> str:
    """Return the page: one self-contained file that asks for nothing from outside.

    Args:
        shown: the collection, opened.
        ways: of the collection's ways, the first of them shown first.
        step: called with 1 after each.

    Raises:
        InputError: a print can't be drawn.
    """
    collection = shown.collection
    cloths: list[list[str]] = []
    for way in ways:
        cloths.append([_block(repeat) for repeat in shown.repeats(way)])
        if step is not None:
            step(1)
    repeats = shown.repeats(ways[0])
    data = {
        "ways": [
            {"name": way, "colours": list(collection.palette_in(way).values()), "cloths": drawn}
            for way, drawn in zip(ways, cloths, strict=True)
        ],
        "values": {
            colour: list(values_of(colour))
            for way in ways
            for colour in collection.palette_in(way).values()
        },
        "palette": [
            {"name": name, "printer": collection.printer.get(name, "")}
            for name in collection.palette
        ],
        "prints": [
            {
                "name": one.name,
                "role": one.role,
                "size": size_of(repeat),
                "block": [float(side) for side in repeat.block_size],
            }
            for one, repeat in zip(shown.prints, repeats, strict=True)
        ],
        "cautions": list(CAUTIONS),
    }
    folder = files("vecrepeat.collection")
    page = folder.joinpath("page.html").read_text(encoding="utf-8")
    script = folder.joinpath("page.js").read_text(encoding="utf-8")
    return filled(page, title=collection.name, script=script, data=data)


def _block(repeat: Repeat) -> str:
    """Return a picture of one straight block as a link that holds it."""
    exporter = Exporter(repeat)
    dpi = min(DPI, MOST * MM_PER_INCH / max(repeat.block_size))
    plan = exporter.plan(dpi)
    strips = exporter.sheet(plan, block=True).strips(exporter.painter(plan))
    picture = Image.fromarray(np.concatenate([opaque(strip) for strip in strips]), "RGB")
    data = io.BytesIO()
    picture.save(data, "WEBP", quality=88)
    return data_url(data.getvalue(), "webp")
