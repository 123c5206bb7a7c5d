"""How well each engine resamples pictures: ``python tests/benchmarks/picture_filters.py``.

A zone plate (known by formula at any scale) and a picture like a photo (soft shapes, grain, hard
edges) at several scales and turns. Of the zone plate: mean levels by which what the print can
hold is off, and mean levels left of what it can't hold, which ought to be none. Of the photo:
mean levels from the picture's own mean over each pixel's area.
"""

from __future__ import annotations

import base64
import io
import os
import sys
import tempfile
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

sys.path.insert(0, str(Path(__file__).parent.parent))

from support import Pixels, write_svg

from vecrepeat.art.read import read_art
from vecrepeat.draw.paint import Window
from vecrepeat.write.exporting import Exporter

# Reading is a part of what is measured.
os.environ["VECREPEAT_CACHE"] = "off"

SIDE = 516
ROOM = 20
SCALES = ((1.0, "1:1"), (0.5, "1:2"), (1 / 4.3, "1:4.3"), (2.0, "2:1"))
Floats = NDArray[np.float64]


def zone(side: int, scale: float) -> tuple[Floats, Floats]:
    """The zone plate in levels, and its frequency in cycles per printed pixel."""
    y, x = (np.mgrid[:side, :side] + 0.5 - side / 2) / scale
    squared = x * x + y * y
    rate = np.pi / SIDE
    return 127.5 + 127.5 * np.cos(rate * squared), rate * np.sqrt(squared) / np.pi / scale


def photo() -> Floats:
    """Soft hills, grain and some hard-edged discs, in levels."""
    rng = np.random.default_rng(11)
    y, x = np.mgrid[:SIDE, :SIDE] / SIDE
    levels = 120 + 60 * np.sin(7 * x + 3 * y) * np.cos(5 * y) + rng.normal(0, 6, (SIDE, SIDE))
    for _ in range(25):
        cx, cy, r = rng.uniform(0, 1, 3) * (1, 1, 0.06)
        levels[np.hypot(x - cx, y - cy) < r] = rng.uniform(0, 255)
    clipped: Floats = np.clip(levels, 0, 255)
    return clipped


def drawn(levels: Floats, scale: float, turn: int, engine: str) -> Pixels:
    """A grey picture through an engine, in the middle of a page in pixels."""
    grey = np.rint(levels).astype(np.uint8)
    stream = io.BytesIO()
    Image.fromarray(np.dstack([grey] * 3)).convert("RGBA").save(stream, "PNG")
    link = f"data:image/png;base64,{base64.b64encode(stream.getvalue()).decode()}"
    side = round(SIDE * scale)
    page, middle = side + 2 * ROOM, ROOM + side / 2
    corner = middle - SIDE * scale / 2
    body = (
        f'<g id="a"><image transform="rotate({turn} {middle} {middle})" x="{corner}" '
        f'y="{corner}" width="{SIDE * scale}" height="{SIDE * scale}" xlink:href="{link}"/></g>'
    )
    with tempfile.TemporaryDirectory() as folder:
        path = write_svg(
            Path(folder),
            body,
            width=f"{page}mm",
            height=f"{page}mm",
            view_box=f"0 0 {page} {page}",
        )
        exporter = Exporter(read_art(path).repeat(), engine=engine)
    plan = exporter.plan(Fraction(254, 10))
    pixels = exporter.painter(plan).paint(Window(0, 0, page, page))
    return pixels[ROOM:-ROOM, ROOM:-ROOM, 0]


def main() -> None:
    """Print a line for each scale, turn and engine."""
    picture = photo()
    print("zone plate: lost of what fits, left of what does not; photo: off its mean by area")
    for scale, name in SCALES:
        side = round(SIDE * scale)
        expected, frequency = zone(side, scale)
        y, x = np.mgrid[:side, :side] + 0.5 - side / 2
        inside = np.hypot(x, y) < side / 2 - 6
        held = inside & (frequency * scale < 0.4) & (frequency < 0.35)
        lost = inside & (frequency > 0.65)
        reference = np.asarray(
            Image.fromarray(picture.astype(np.float32)).resize((side, side), Image.Resampling.BOX)
        )
        plate = zone(SIDE, 1.0)[0]
        rows = {
            f"{engine}, {turn}°": (drawn(plate, scale, turn, engine), turn)
            for engine in ("cairo", "resvg")
            for turn in (0, 90, 30)
        }
        pillow = Image.fromarray(np.rint(plate).astype(np.uint8))
        for label, how in (("Lanczos", Image.Resampling.LANCZOS), ("area", Image.Resampling.BOX)):
            rows[f"Pillow, {label}"] = (np.asarray(pillow.resize((side, side), how)), 0)
        for label, (got, turn) in rows.items():
            off = np.abs(got.astype(np.float64) - expected)[held].mean()
            line = f"{name:6} {label:16} lost {off:5.2f}"
            if lost.any():
                line += f"  left {np.abs(got - 127.5)[lost].mean():5.2f}"
            engine = label.split(",")[0]
            if turn == 0 and engine in ("cairo", "resvg") and scale <= 1:
                other = drawn(picture, scale, 0, engine)
                line += f"  photo {np.abs(other - reference)[6:-6, 6:-6].mean():5.2f}"
            print(line, flush=True)


if __name__ == "__main__":
    main()
