"""How far out a dry run's sizes are: ``python tests/benchmarks/estimates.py``.

Every demo as a tile and as a sheet in every format: the estimate, the file, their ratio.
"""

from __future__ import annotations

import os
import tempfile
import time
from fractions import Fraction
from pathlib import Path

from vecrepeat.art.read import read_art
from vecrepeat.core.units import Size
from vecrepeat.write.estimating import estimate
from vecrepeat.write.exporting import Exporter

# Reading is a part of what is measured.
os.environ["VECREPEAT_CACHE"] = "off"

DEMO = Path(__file__).parents[2] / "demo-svg"
LAYOUTS = ("block", "half-drop", "brick")
CASES = (
    *((suffix, 150, None) for suffix in (".png", ".tif", ".jpg", ".webp")),
    *((suffix, 100, Size(Fraction(900), Fraction(700))) for suffix in (".png", ".tif", ".jpg")),
    (".pdf", 100, Size(Fraction(900), Fraction(700))),
)


def main() -> None:
    """Print a row for each file, and the worst."""
    ratios = []
    for n, art in enumerate(sorted(DEMO.glob("*.svg"))):
        exporter = Exporter(read_art(art).repeat(LAYOUTS[n % len(LAYOUTS)]))
        for suffix, dpi, size in CASES:
            cut = exporter.sheet(exporter.plan(Fraction(dpi)), size=size)
            begin = time.perf_counter()
            about = estimate(exporter, cut, suffix)
            took = time.perf_counter() - begin
            with tempfile.TemporaryDirectory() as folder:
                real = exporter.write(Path(folder) / f"a{suffix}", cut).size
            ratios.append(about / real)
            sides = f"{cut.width} × {cut.height}"
            print(
                f"{art.stem:16}{suffix:6}{sides:>14}{about:14,}{real:14,}{about / real:8.2f}"
                f"{took:7.2f} s",
                flush=True,
            )
    print(f"estimate over file: {min(ratios):.2f} to {max(ratios):.2f} (bar 0.75 to 1.25)")


if __name__ == "__main__":
    main()
