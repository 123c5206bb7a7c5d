"""Run the main job on the demo drawings: repeat SVGs, print tiles and sheets.

Usage: python demo-svg/make.py [FOLDER]
"""

from __future__ import annotations

import sys
from pathlib import Path

import vecrepeat

HERE = Path(__file__).parent


def main() -> None:
    """Write everything to FOLDER (``demo-out`` beside this folder by default) and say so."""
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE.parent / "demo-out"
    jobs = {
        # A tossed cloth design in a block repeat: a 10 in tile, and a yard of cloth.
        "night-garden": ("block", {"dpi": 300}, {"dpi": 150, "sheet": "54x36in", "width": "12in"}),
        # A wallpaper for a drop match: a 53 cm tile, and three drops beside each other.
        "brook": ("half-drop", {"dpi": 150}, {"dpi": 50, "sheet": "159x240cm"}),
    }
    for name, (layout, tile, sheet) in jobs.items():
        repeat = vecrepeat.read_art(HERE / f"{name}.svg").repeat(layout)
        print(vecrepeat.compose(repeat, out / f"{name}-repeat.svg").line())
        print(vecrepeat.export(repeat, out / f"{name}-tile.png", **tile).line())
        print(vecrepeat.export(repeat, out / f"{name}-sheet.png", **sheet).line())
    print(f"All six files are in {out.resolve()}")


if __name__ == "__main__":
    main()
