"""Where PDF readers differ from our pixels at low resolution, and why.

Run by hand: ``python tests/benchmarks/pdf_readers.py``.

A sheet of the night garden and of brook, half-drop, as PDF. Each reader draws it at 100 dpi and
at eight times that, shrunk by means of 8 × 8 pixels: that second picture has the same geometry
and next to nothing of the reader's own rules for edges and thin lines. Columns, in mean levels:

* ``ours``: the reader at 100 dpi against our raster at 100 dpi;
* ``plain``: the reader's pattern against its own drawing of the plain tile, which has no pattern;
* ``itself``: the reader at 100 dpi against its own finer picture, shrunk;
* ``finer``: its finer picture, shrunk, against our raster at 100 dpi;
* ``both finer``: the finer pictures of both, not shrunk.

If ``ours`` is large and ``finer`` is small the reader's rules are the cause, not our file. Below
are those rules, on one vertical line of so many pixels' width drawn by hand, without our writer.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
from numpy.typing import NDArray
from PIL import Image

TESTS = Path(__file__).parents[1]
sys.path.append(str(TESTS / "vector"))

from pdf_judges import READERS, Pixels  # noqa: E402

from vecrepeat.art.read import read_art  # noqa: E402
from vecrepeat.core.units import Size  # noqa: E402
from vecrepeat.write.exporting import Exporter  # noqa: E402

# Reading is a part of what is measured.
os.environ["VECREPEAT_CACHE"] = "off"

DPI, FINER = 100, 8
# Print widths that make tiles of whole pixels at DPI.
WIDTHS = {"night-garden": Fraction(254), "brook": Fraction(13462, 100)}
LINES = (0.1, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0)


def by_cairo(file: Path, dpi: float) -> Pixels:
    """poppler once more, through cairo instead of its own painter."""
    out = file.with_suffix("")
    command = ["pdftocairo", "-png", "-singlefile", "-r", str(dpi), str(file), str(out)]
    subprocess.run(command, check=True)
    with Image.open(out.with_suffix(".png")) as image:
        return np.array(image.convert("RGB"))


def apart(one: NDArray[Any], other: NDArray[Any]) -> float:
    """Mean difference in levels of 255, over the corner that both have."""
    h, w = (min(a, b) for a, b in zip(one.shape[:2], other.shape[:2], strict=True))
    return float(np.abs(one[:h, :w].astype(np.float32) - other[:h, :w]).mean())


def shrunk(pixels: Pixels) -> NDArray[np.float32]:
    """Means of squares."""
    h, w = (side // FINER for side in pixels.shape[:2])
    squares = pixels[: h * FINER, : w * FINER].reshape(h, FINER, w, FINER, 3)
    found: NDArray[np.float32] = squares.mean((1, 3), dtype=np.float32)
    return found


def compared(folder: Path, name: str) -> None:
    """Print a row for each reader of one demo."""
    exporter = Exporter(read_art(TESTS.parent / "demo-svg" / f"{name}.svg").repeat("half-drop"))
    width = WIDTHS[name]
    pictures = {}
    for dpi in (DPI, DPI * FINER):
        plan = exporter.plan(Fraction(dpi), width=width)
        exporter.write(folder / "ours.png", exporter.sheet(plan, size=Size(width * 2, width)))
        with Image.open(folder / "ours.png") as image:
            pictures[dpi] = np.array(image.convert("RGB"))
    plan = exporter.plan(Fraction(DPI), width=width)
    exporter.write(folder / "sheet.pdf", exporter.sheet(plan, size=Size(width * 2, width)))
    exporter.write(folder / "tile.pdf", exporter.sheet(plan))
    print(f"\n{name}: ours against itself, finer and shrunk: ", end="")
    print(f"{apart(shrunk(pictures[DPI * FINER]), pictures[DPI]):.2f}")
    print(f"  {'':16}{'ours':>8}{'plain':>8}{'itself':>8}{'finer':>8}{'both finer':>12}")
    readers = dict(READERS)
    if shutil.which("pdftocairo"):
        readers["poppler, cairo"] = by_cairo
    for reader, draw in readers.items():
        coarse, fine = draw(folder / "sheet.pdf", DPI), draw(folder / "sheet.pdf", DPI * FINER)
        small = shrunk(fine)
        row = (
            apart(coarse, pictures[DPI]),
            apart(coarse, draw(folder / "tile.pdf", DPI)),
            apart(coarse, small),
            apart(small, pictures[DPI]),
        )
        both = apart(fine, pictures[DPI * FINER])
        print(f"  {reader:16}{''.join(f'{v:8.2f}' for v in row)}{both:12.2f}", flush=True)


def lines(folder: Path) -> None:
    """Print how much ink each reader gives a line of so many pixels' width."""
    file = folder / "lines.pdf"
    drawn = "".join(f"{w} w {8 * k + 4.3} 0 m {8 * k + 4.3} 9 l S\n" for k, w in enumerate(LINES))
    with pikepdf.Pdf.new() as pdf:
        page = pikepdf.Dictionary(
            Type=pikepdf.Name.Page,
            MediaBox=[0, 0, 8 * len(LINES), 9],
            Contents=pdf.make_stream(drawn.encode()),
        )
        pdf.pages.append(pikepdf.Page(page))
        pdf.save(file)
    print("\nInk of a vertical line, in pixels of width")
    print(f"  {'drawn':16}{''.join(f'{w:8.2f}' for w in LINES)}")
    for reader, draw in READERS.items():
        ink = 1 - draw(file, 72)[4, :, 0] / 255
        found = [float(ink[8 * k : 8 * k + 8].sum()) for k in range(len(LINES))]
        print(f"  {reader:16}{''.join(f'{v:8.2f}' for v in found)}")


def main() -> None:
    """Print everything."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for demo in WIDTHS:
            compared(folder, demo)
        lines(folder)


if __name__ == "__main__":
    main()
