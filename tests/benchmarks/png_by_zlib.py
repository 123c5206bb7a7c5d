"""Our PNG writer beside zlib over whole rows: ``python tests/benchmarks/png_by_zlib.py``.

The five demo drawings at 300 dpi, one tile and a sheet of 54 × 36 in, in block and half-drop. The
pixels are drawn beforehand, so that only filtering, packing and writing are timed, in turn, the
least processor time of three. zlib is given each row of the straight block laid over the sheet's
width, filtered alike and packed in two threads; the bytes of one straight block down are
repeated as ours are.
"""

from __future__ import annotations

import os
import time
import zlib
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import vecrepeat
from vecrepeat.core.units import parse_size
from vecrepeat.util.ahead import map_ahead
from vecrepeat.write.exporting import Exporter
from vecrepeat.write.picture import Picture
from vecrepeat.write.png import PngHeader, write_periodic

# Reading is a part of what is measured.
os.environ["VECREPEAT_CACHE"] = "off"

DEMO = Path(__file__).resolve().parents[2] / "demo-svg"
SLICE_BYTES = 1 << 21
WAYS = {"zlib, runs": (6, zlib.Z_RLE), "zlib, level 1": (1, 0), "zlib, level 6": (6, 0)}

Rows = NDArray[np.uint8]


class Counting:
    """A file that counts what it is given."""

    size = 0

    def write(self, data: bytes) -> int:
        self.size += len(data)
        return len(data)


def filtered(strips: Sequence[Rows], width: int) -> Iterator[tuple[Rows, int]]:
    """The block's rows, each less the one above, and the bytes of a row of the sheet."""
    above = np.zeros(strips[0].shape[1] * 3, np.uint8)
    for strip in strips:
        flat = strip.reshape(len(strip), -1)
        rows = flat - np.concatenate([above[None], flat[:-1]])
        above = flat[-1]
        step = max(1, SLICE_BYTES // (width * 3))
        for top in range(0, len(rows), step):
            yield rows[top : top + step], width * 3


def by_zlib(strips: Sequence[Rows], width: int, height: int, level: int, strategy: int) -> int:
    """Bytes of the sheet's image data."""

    def packed(job: tuple[Rows, int]) -> bytes:
        rows, wide = job
        lines = np.full((len(rows), wide + 1), 2, np.uint8)
        for x in range(0, wide, rows.shape[1]):
            part = min(rows.shape[1], wide - x)
            lines[:, 1 + x : 1 + x + part] = rows[:, :part]
        zlib.adler32(lines.data)
        deflate = zlib.compressobj(level, zlib.DEFLATED, -15, 9, strategy)
        return deflate.compress(lines.data) + deflate.flush(zlib.Z_FULL_FLUSH)

    sizes = [len(data) for _, data in map_ahead(packed, filtered(strips, width), 2)]
    return sum(sizes) * height // sum(map(len, strips))


def least(work: Callable[[], int]) -> tuple[float, int]:
    """Processor seconds of the quickest of three, and the bytes."""
    took = []
    for _ in range(3):
        begun = time.process_time()
        size = work()
        took.append(time.process_time() - begun)
    return min(took), size


def compared(exporter: Exporter, sheet: str) -> str:
    plan = exporter.plan(Fraction(300))
    cut = exporter.sheet(plan, size=parse_size(sheet, "sheet") if sheet else None)
    picture = Picture(cut, exporter.painter(plan))
    header = PngHeader(cut.width, cut.height, 3, plan.dpi)
    block = list(picture.strips())
    shifts = cut.columns or (0,)
    tile = list(picture.tile_strips()) if cut.columns else block
    period = (plan.width, plan.height) if cut.columns else cut.period

    def ours() -> int:
        out = Counting()
        write_periodic(out, header, period, tile, shifts=shifts)  # type: ignore[arg-type]
        return out.size

    found = {"ours": least(ours)}
    for name, (level, strategy) in WAYS.items():
        work = partial(by_zlib, block, cut.width, cut.height, level, strategy)
        found[name] = least(work)
    return "; ".join(f"{name} {s:.2f} s {n / 1e6:.1f} MB" for name, (s, n) in found.items())


def main() -> None:
    for art in sorted(DEMO.glob("*.svg")):
        for layout in ("block", "half-drop"):
            exporter = Exporter(vecrepeat.read_art(art).repeat(layout))
            for sheet in ("", "54x36in") if layout == "block" else ("54x36in",):
                told = compared(exporter, sheet)
                print(f"{art.stem}, {layout}, {sheet or 'one tile'}: {told}", flush=True)


if __name__ == "__main__":
    main()
