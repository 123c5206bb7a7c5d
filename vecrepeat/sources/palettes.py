"""Palettes brought in: from files of open formats, recipes, collections and pictures."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from vecrepeat.colour import swatches
from vecrepeat.colour.reduce import reduction
from vecrepeat.core.colours import Floats, hex_of, oklab_of
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.edit import with_settings, write_recipe
from vecrepeat.recipe.files import is_collection, is_recipe, read_collection, read_recipe
from vecrepeat.sources.bitmap import read_bitmap
from vecrepeat.util.files import read_text, write_whole

PICTURES = (".png", ".webp", ".tif", ".tiff", ".jpg", ".jpeg")
COLOURS = 6
"""How many colours a picture's palette has where nothing says it."""

_POINTS = 250_000

_CELLS = 400
"""So many kinds of colour are told apart in a picture before they are reduced."""

_FINE = 48
"""Steps of OKLab's lightness that colours are first gathered by."""


def read_palette(file: Path, colours: int | None = None) -> dict[str, str]:
    """Return a palette, name → ``#rrggbb``.

    Args:
        file: a palette, a recipe or collection with one, or a picture.
        colours: how many a picture is brought to; :data:`COLOURS` where it is not said.

    Raises:
        InputError: it can't be read or holds no palette, or is no picture though a number of
            colours is asked for.
    """
    if file.suffix.lower() in PICTURES:
        return picture_palette(file, colours or COLOURS)
    if colours is not None:
        raise InputError("only a picture is brought to so many colours", file=file)
    if is_collection(file):
        return dict(read_collection(file).palette)
    if is_recipe(file):
        found = read_recipe(file).palette
        if not found:
            raise InputError(
                "it has no [palette]", file=file, hint="vecrepeat palette --save writes one"
            )
        return dict(found)
    return swatches.parse_palette(read_text(file, "palette"), file)


def picture_palette(file: Path, count: int) -> dict[str, str]:
    """Return the main colours of a photograph or a painted page, those seen most first.

    Its colours are gathered into some hundreds by likeness, and these merged as those of a
    design are (see :func:`vecrepeat.colour.reduce.reduction`). What is transparent is no colour.

    Raises:
        InputError: it can't be read, or nothing of it can be seen.
    """
    pixels = read_bitmap(file).pixels
    # So many points, evenly taken, tell as much as all.
    step = max(1, int((pixels.shape[0] * pixels.shape[1] / _POINTS) ** 0.5))
    seen = pixels[::step, ::step].reshape(-1, 4)
    rgb = seen[seen[:, 3] >= 128, :3]
    if not len(rgb):
        raise InputError("all of it is transparent", file=file)
    areas = _gathered(rgb.astype(np.float64))
    choice = reduction(areas, count)
    return swatches.named([("", colour) for colour in choice.colours])


def _gathered(rgb: Floats) -> dict[str, float]:
    """Return the share of each kind of colour: the mean of what lies in one cell of OKLab."""
    lab = oklab_of(rgb)
    for steps in range(_FINE, 0, -4):
        # a and b lie between −½ and ½.
        whole = np.floor(lab * steps).astype(np.int64) + np.array([0, steps, steps])
        cells = whole @ np.array([1, 1_000, 1_000_000])
        kinds, owner, counts = np.unique(cells, return_inverse=True, return_counts=True)
        if len(kinds) <= _CELLS:
            break
    means = np.stack([np.bincount(owner, rgb[:, k]) / counts for k in range(3)], axis=1)
    found: dict[str, float] = {}
    for mean, number in zip(means, counts, strict=True):
        colour = hex_of(mean)
        found[colour] = found.get(colour, 0.0) + number / len(rgb)
    return found


def write_palette(colours: Mapping[str, str], file: Path, title: str) -> None:
    """Write a palette as CSS, a plain list, SVG swatches or GIMP's, or into a recipe's own.

    A recipe or collection that is there keeps its text; of its palette, names that are in
    ``colours`` get their colours, and new ones are added.

    Raises:
        InputError: another ending, or a file that can't be written.
    """
    kind = file.suffix.lower()
    if is_recipe(file):
        text = read_text(file, "recipe") if file.exists() else ""
        write_recipe(file, with_settings(text, "palette", colours), edits=file)
        return
    texts = {
        ".css": lambda: swatches.css(colours),
        ".txt": lambda: swatches.plain(colours),
        ".svg": lambda: swatches.swatches_svg(colours),
        ".gpl": lambda: swatches.gimp(colours, title),
    }
    if kind not in texts:
        raise InputError(
            "a palette is written as CSS, TXT, SVG, GPL or into TOML",
            file=file,
            hint="end the name in .css",
        )
    write_whole(file, texts[kind]().encode())
