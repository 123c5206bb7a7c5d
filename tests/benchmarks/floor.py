"""The floor of a sheet: one tile read and drawn once, compressed once, as many bytes written.

``python floor.py ART OUT BYTES``; a process of its own, measured beside the sheet's. What it
writes is no picture.
"""

from __future__ import annotations

import sys
import zlib
from fractions import Fraction
from pathlib import Path

import numpy as np

from vecrepeat.draw.cairo import start_ahead
from vecrepeat.draw.sheet import Sheet, opaque


def main() -> None:
    start_ahead()
    from vecrepeat.sources.source import open_source
    from vecrepeat.write.exporting import Exporter

    art, out, size = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])
    exporter = Exporter(open_source(art).repeat)
    plan = exporter.plan(Fraction(300))
    packer = zlib.compressobj(6, zlib.DEFLATED, 15, 9, zlib.Z_RLE)
    packed = bytearray()
    for strip in Sheet(plan, plan.width, plan.height).strips(exporter.painter(plan)):
        rows = opaque(strip).reshape(len(strip), -1)
        packed += packer.compress(np.diff(rows, axis=0, prepend=rows[:1]).tobytes())
    packed += packer.flush()
    with out.open("wb") as file:
        while size > 0:
            size -= file.write(packed[:size])


if __name__ == "__main__":
    main()
