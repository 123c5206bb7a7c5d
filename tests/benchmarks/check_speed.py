"""How long checks take: a drawing of 200 motifs, and a tile of 3,000 × 3,000 px.

By hand: ``python tests/benchmarks/check_speed.py``. Times are of this process, reading included.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import numpy as np
from check_bank import PALETTE, blot
from PIL import Image
from vector_bank import Page, Put

from vecrepeat import checking
from vecrepeat.layout import Layout
from vecrepeat.raster.cairo_workers import start_ahead
from vecrepeat.sources import open_source


def two_hundred(folder: Path) -> Path:
    rng = np.random.default_rng(5)
    puts = []
    for k in range(200):
        at = (20.0 * (k % 20) + rng.uniform(-2, 2), 24.0 * (k // 20) + rng.uniform(-2, 2))
        puts.append(Put(blot(rng, 6.0), at, PALETTE[k % 6], f"motif {k}"))
    return Page(400, 240, "half-drop", tuple(puts)).written(folder)


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        file = two_hundred(folder)
        start_ahead()
        for _ in range(2):
            began, spent = time.perf_counter(), time.process_time()
            source = open_source(file, layout=Layout.parse("half-drop"))
            report = checking.check_drawing(source)
            print(
                f"200 motifs: {time.perf_counter() - began:.2f} s "
                f"({time.process_time() - spent:.2f} s of one core), {report.line()}"
            )
        rng = np.random.default_rng(6)
        noise = np.cumsum(rng.normal(0, 3, (3000, 3000)), axis=1)
        pixels = (128 + 90 * np.sin(noise / 40))[..., None].repeat(3, 2).astype(np.uint8)
        Image.fromarray(pixels).save(folder / "tile.png", compress_level=1)
        for _ in range(2):
            began, spent = time.perf_counter(), time.process_time()
            checking.check_picture(folder / "tile.png", layout=Layout())
            print(
                f"3,000 × 3,000 px: {time.perf_counter() - began:.2f} s "
                f"({time.process_time() - spent:.2f} s of one core)"
            )


if __name__ == "__main__":
    main()
