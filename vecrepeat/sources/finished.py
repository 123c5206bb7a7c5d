"""A finished tile of pixels as a page: the whole of it is one layer of ground, and one tile."""

from __future__ import annotations

from pathlib import Path

import shapely

from vecrepeat.art.read import Art
from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.model import Motif
from vecrepeat.scene.areas import as_parts
from vecrepeat.scene.kinds import IMAGE, Feature
from vecrepeat.scene.nodes import Group, Image
from vecrepeat.sources.bitmap import read_bitmap
from vecrepeat.util.imagefiles import data_url

PICTURES = (".png", ".webp", ".tif", ".tiff", ".jpg", ".jpeg")


def is_finished(file: Path) -> bool:
    """Whether a file of art is a finished tile of pixels, by its name."""
    return file.suffix.lower() in PICTURES


def read_finished(file: Path) -> Art:
    """Return a picture as a page of its own size, which its pixels fill to the edges.

    Raises:
        InputError: it can't be read.
    """
    bitmap = read_bitmap(file)
    width, height = map(float, bitmap.size)
    down, across = bitmap.pixels.shape[:2]
    page = Rect(0.0, 0.0, width, height)
    motif = Motif(
        name=file.stem,
        parts=as_parts([shapely.box(*page)]),
        scene=Group((Image(data_url(bitmap.png), page, (across, down), "none"),)),
        features=(Feature(IMAGE, file.stem),),
        dpi=float(min(bitmap.dpi)),
        is_ground=True,
    )
    notes = tuple(f"{file.name}: {note}" for note in bitmap.notes)
    return Art(file, bitmap.size.width, bitmap.size.height, (motif,), None, "", notes)
