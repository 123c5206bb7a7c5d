"""Make the pictures of the page on blenders.

Usage: python docs/make_blender_pictures.py [FOLDER]
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image

from vecrepeat.colour.lineup import swatch
from vecrepeat.repeat.model import Repeat
from vecrepeat.sources.blending import blender_text
from vecrepeat.sources.source import open_source

DOCS = Path(__file__).parent
DEMO = DOCS.parent / "demo-svg"
SIDE, GAP = 300, 10
PAPER, INK, ROSE, SAGE, SKY = "#f6f1e7", "#27405e", "#c8553d", "#3c6e5a", "#dfe7e3"

KINDS: dict[str, dict[str, Any]] = {
    "dots": {},
    "stripes": {
        "colours": [INK, "none", ROSE, "none"],
        "widths": ["0.28in", "0.11in", "0.06in", "0.11in"],
    },
    "checks": {"colours": [SAGE]},
    "gingham": {"colours": [ROSE]},
    "windowpane": {"colours": [INK, ROSE]},
    "chevron": {
        "colours": [INK, "none", ROSE, "none"],
        "widths": ["0.16in", "0.08in", "0.04in", "0.08in"],
    },
    "lattice": {"colours": [INK, ROSE]},
    "trellis": {"colours": [SAGE, ROSE]},
    "scallops": {"colours": [INK, SKY, "#f2d5b8"]},
    "crosshatch": {},
    "dashes": {"colours": [INK, ROSE]},
    "scatter": {"colours": [INK, ROSE, SAGE]},
}

UNDER: tuple[dict[str, Any], ...] = (
    {"kind": "trellis", "colours": ["#2f3f75"], "size": "1.8mm", "spacing": "36mm"},
    {"kind": "crosshatch", "colours": ["#2b3866"], "size": "0.7mm", "spacing": "6mm"},
)


def opened(folder: Path, text: str) -> Repeat:
    """Return what a recipe's text draws."""
    file = folder / "blender.toml"
    file.write_text(text, encoding="utf-8")
    return open_source(file).repeat


def all_kinds(folder: Path) -> Image.Image:
    """Return a square of each kind, four to a row."""
    sheet = Image.new("RGB", (4 * (SIDE + GAP) - GAP, 3 * (SIDE + GAP) - GAP), "white")
    for n, (kind, told) in enumerate(KINDS.items()):
        repeat = opened(folder, blender_text(kind, kind, told, ground=PAPER))
        at = (n % 4 * (SIDE + GAP), n // 4 * (SIDE + GAP))
        sheet.paste(swatch(repeat, SIDE, SIDE, 0.8), at)
    return sheet


def under_motifs(folder: Path) -> Image.Image:
    """Return a drawing on two blenders."""
    side = 2 * SIDE + GAP
    sheet = Image.new("RGB", (2 * side + GAP, side), "white")
    for n, told in enumerate(UNDER):
        rows = "\n".join(f"{key} = {value!r}" for key, value in told.items())
        art = DEMO / "night-garden.svg"
        text = f'art = ["{art}"]\nlayout = "half-drop"\n[blender]\n{rows}\n'
        sheet.paste(swatch(opened(folder, text), side, side, 1.0), (n * (side + GAP), 0))
    return sheet


def main() -> None:
    """Write every picture to FOLDER, ``docs/pictures`` by default."""
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else DOCS / "pictures"
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        made = {"blenders": all_kinds(folder), "blender-under": under_motifs(folder)}
    for name, image in made.items():
        image.quantize(256, dither=Image.Dither.NONE).save(out / f"{name}.png", optimize=True)
        print(out / f"{name}.png")


if __name__ == "__main__":
    main()
