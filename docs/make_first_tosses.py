"""Make the picture of first tosses: of each folder of art a first recipe, tossed with the defaults.

Usage: python docs/make_first_tosses.py FOLDER… [-o PICTURE]

A folder that holds one drawing is taken as a page.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from vecrepeat.arrange.arranging import arrange_recipe
from vecrepeat.colour.lineup import PAPER, swatch
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.layout import Layout
from vecrepeat.sources.first import start_recipe
from vecrepeat.sources.source import open_source

PICTURE = Path(__file__).parent / "pictures" / "first-tosses.png"
SIDE, GAP, LABEL, ROW = 560, 16, 34, 4


def first_toss(folder: Path, recipe: Path) -> Image.Image:
    """Return a folder's first toss, two by two tiles, from a recipe written for it.

    Raises:
        InputError: its art can't be read, or tossed.
    """
    inside = list(folder.iterdir())
    art = inside if len(inside) == 1 else [folder]
    for note in start_recipe(art, recipe, layout=Layout()).notes:
        print(f"  {note}")
    arranged = arrange_recipe("toss", open_source(recipe, placed=False), recipe, {})
    print(f"  {arranged.line}")
    return swatch(open_source(recipe).page, SIDE, SIDE, 2)


def main() -> None:
    """Write the sheet, ``docs/pictures/first-tosses.png`` by default."""
    parser = argparse.ArgumentParser(description="Make the picture of first tosses.")
    parser.add_argument("folders", nargs="+", type=Path, metavar="FOLDER")
    parser.add_argument("-o", "--output", type=Path, default=PICTURE, metavar="PICTURE")
    asked = parser.parse_args()
    cloths: list[tuple[str, Image.Image]] = []
    refused = False
    with tempfile.TemporaryDirectory() as scratch:
        for n, folder in enumerate(asked.folders):
            print(folder.name)
            try:
                picture = first_toss(folder, Path(scratch) / f"{n}.toml")
            except InputError as error:
                print(f"  {error}", file=sys.stderr)
                refused = True
                continue
            cloths.append((folder.name, picture))
    if cloths:
        sheet(cloths).quantize(256).save(asked.output, optimize=True)
        print(asked.output)
    sys.exit(refused)


def sheet(cloths: list[tuple[str, Image.Image]]) -> Image.Image:
    """Return cloths in rows, each with its name below."""
    columns = min(ROW, len(cloths))
    across, down = SIDE + GAP, SIDE + LABEL + GAP
    size = (columns * across - GAP, -(-len(cloths) // columns) * down - GAP)
    image = Image.new("RGB", size, PAPER)
    pen = ImageDraw.Draw(image)
    for n, (name, cloth) in enumerate(cloths):
        x, y = n % columns * across, n // columns * down
        image.paste(cloth, (x, y))
        pen.text((x + 4, y + SIDE + 6), name, fill="#2b2926", font=ImageFont.load_default(22))
    return image


if __name__ == "__main__":
    main()
