"""How long checks take: drawings of about 200 motifs, and tiles of 3,000 × 3,000 px.

By hand: ``python tests/benchmarks/check_speed.py``. The drawings are 200 plain motifs, the night
garden as drawn and tossed to 200 motifs; the tiles are the garden's own export and one full of
detail everywhere. Times are of this process, reading included, of three rounds each.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
from check_bank import PALETTE, blot
from drawings import GARDEN, big_garden, silently
from PIL import Image
from vector_bank import Page, Put

from vecrepeat.check import checking
from vecrepeat.draw.cairo import start_ahead
from vecrepeat.repeat.layout import Layout
from vecrepeat.sources.source import open_source

ROUNDS = 3


def plain(folder: Path) -> Path:
    rng = np.random.default_rng(5)
    puts = []
    for k in range(200):
        at = (20.0 * (k % 20) + rng.uniform(-2, 2), 24.0 * (k // 20) + rng.uniform(-2, 2))
        puts.append(Put(blot(rng, 6.0), at, PALETTE[k % 6], f"motif {k}"))
    return Page(400, 240, "half-drop", tuple(puts)).written(folder)


def noisy(folder: Path) -> Path:
    rng = np.random.default_rng(6)
    noise = np.cumsum(rng.normal(0, 3, (3000, 3000)), axis=1)
    pixels = (128 + 90 * np.sin(noise / 40))[..., None].repeat(3, 2).astype(np.uint8)
    file = folder / "noise.png"
    Image.fromarray(pixels).save(file, compress_level=1)
    return file


def checked(file: Path, layout: Layout | None) -> None:
    checking.check_drawing(open_source(file, layout=layout))


def timed(what: str, bar: float, work: Callable[[], object]) -> None:
    """Print how long some work takes, in rounds."""
    rounds = []
    for _ in range(ROUNDS):
        began, spent = time.perf_counter(), time.process_time()
        work()
        rounds.append((time.perf_counter() - began, time.process_time() - spent))
    wall, own = (
        ", ".join(f"{seconds:.2f}" for seconds in row) for row in zip(*rounds, strict=True)
    )
    print(f"{what}: {wall} s (bar {bar:g} s); of one core {own} s", flush=True)


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        start_ahead()
        drop = Layout.parse("half-drop")
        for what, file, layout in (
            ("200 plain motifs", plain(folder), drop),
            ("night garden", GARDEN, None),
            ("night garden tossed to 200", big_garden(folder), None),
        ):
            timed(what, 3, partial(checked, file, layout))
        tile = folder / "garden.png"
        silently("export", GARDEN, "-o", tile, "--dpi", "300")
        for what, file in (("garden's tile", tile), ("noise", noisy(folder))):
            with Image.open(file) as image:
                size = f"{image.width:,} × {image.height:,} px"
            timed(f"{what}, {size}", 2, partial(checking.check_picture, file, layout=Layout()))


if __name__ == "__main__":
    main()
