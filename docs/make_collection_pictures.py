"""Make the pictures of the page on collections, and the README's line sheet.

Usage: python docs/make_collection_pictures.py [FOLDER]
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from PIL import Image

from vecrepeat.collection.line import open_line
from vecrepeat.collection.showing import show

DOCS = Path(__file__).parent
COLLECTION = DOCS.parent / "demo-svg" / "low-tide" / "collection.toml"
WIDE = 1400
"""Pixels across of a whole sheet; two beside each other are half as wide."""


def pair(one: Image.Image, other: Image.Image) -> Image.Image:
    """Return two sheets beside each other, as wide as one."""
    size = (WIDE // 2, one.height * WIDE // 2 // one.width)
    sheet = Image.new("RGB", (WIDE, size[1]), "white")
    sheet.paste(one.resize(size, Image.Resampling.LANCZOS), (0, 0))
    sheet.paste(other.resize(size, Image.Resampling.LANCZOS), (WIDE // 2, 0))
    return sheet


def main() -> None:
    """Write every picture to FOLDER, ``docs/pictures`` by default."""
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else DOCS / "pictures"
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        files = show(open_line(COLLECTION), Path(name) / "line.png").files
        line, night, glow, story = (Image.open(file).convert("RGB") for file in files)
        size = (WIDE, line.height * WIDE // line.width)
        made = {
            "line-sheet": line.resize(size, Image.Resampling.LANCZOS),
            "line-sheet-colourways": pair(night, glow),
            "story-page": story.resize(size, Image.Resampling.LANCZOS),
        }
    for name, image in made.items():
        image.quantize(256, dither=Image.Dither.NONE).save(out / f"{name}.png", optimize=True)
        print(out / f"{name}.png")


if __name__ == "__main__":
    main()
