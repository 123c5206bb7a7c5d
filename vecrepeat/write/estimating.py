"""About how large a file will be, from strips of it drawn at its own resolution.

Nothing smaller would do: a drawing's details are edges only where there are pixels for them, so
that a reduced picture does not tell how a large one compresses.
"""

from __future__ import annotations

import time
import zlib
from fractions import Fraction
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from vecrepeat.draw.paint import Window
from vecrepeat.draw.sheet import opaque
from vecrepeat.util.files import scratch_folder
from vecrepeat.write.exporting import Exporter
from vecrepeat.write.formats import Cut, known
from vecrepeat.write.lossy import QUALITY
from vecrepeat.write.png import PngHeader, write_periodic

STRIPS = 8
"""How many strips are drawn, spread over the straight block."""

ROWS = 48
"""Pixel rows of a strip, which begins anew in the sample and not in the file."""

WHOLE_ROWS = 1600
"""A block of no more rows is drawn whole."""


class Foretold(NamedTuple):
    """About how large a file will be, and how many seconds it will take to write here."""

    bytes: int
    seconds: float


def estimate(exporter: Exporter, cut: Cut, suffix: str) -> int:
    """Return about how many bytes a cut will take as a file of a suffix; see :func:`foretell`."""
    return foretell(exporter, cut, suffix).bytes


def foretell(exporter: Exporter, cut: Cut, suffix: str) -> Foretold:
    """Return about how many bytes a cut will take as a file of a suffix, and seconds.

    A PDF is written to find out. Of large pictures :data:`STRIPS` strips are drawn and compressed
    as the file's are; see ``tests/benchmarks/estimates.py`` for how far out that is.

    Raises:
        InputError: no format has the suffix, or the art can't be drawn.
    """
    suffix = known(Path(f"a{suffix}"))
    if suffix == ".pdf":
        begun = time.monotonic()
        with scratch_folder() as folder:
            size = exporter.write(folder / "a.pdf", cut).size
        return Foretold(size, time.monotonic() - begun)
    across, down = cut.needed
    painter = exporter.painter(cut.plan)
    # The engine starts, and what it keeps is made ready.
    painter.paint(Window(0, 0, across, 1))
    count, rows = (STRIPS, ROWS) if down > WHOLE_ROWS else (1, down)
    total, drawing, packing = 0, 0.0, 0.0
    for k in range(count):
        # In the middle of each of so many equal parts.
        y = (2 * k + 1) * down // (2 * count) - rows // 2
        begun = time.monotonic()
        strip = opaque(painter.paint(Window(0, y, across, rows)))
        drawn = time.monotonic()
        total += _packed(strip, cut, suffix)
        if count > 1 and suffix == ".png":
            # Its first row has no row above to differ from, as few of the file have.
            total -= _packed(strip[:1], cut, suffix)
        drawing += drawn - begun
        packing += time.monotonic() - drawn
    # What repeats is drawn once: one tile of it, where that is kept. A PNG's rows are packed once.
    whole = Fraction(down * across)
    if cut.keeps_tile:
        whole = Fraction(cut.plan.height * cut.plan.width)
    packed = down if suffix == ".png" else cut.height
    high, window = _height_of_copies(exporter, cut), cut.window_rows
    # A copy is drawn anew in each window that it meets: in (rows + its height) / rows of them.
    share = float(whole / across) / (count * rows) * (1 + high / window) / (1 + high / rows)
    seconds = drawing * share + packing * packed / (count * rows)
    counted = count * (rows - 1 if count > 1 and suffix == ".png" else rows)
    return Foretold(round(Fraction(total * cut.height, counted)), seconds)


def _height_of_copies(exporter: Exporter, cut: Cut) -> float:
    """Return how high a placement is on average, in pixels."""
    boxes = exporter.repeat.boxes
    by = cut.plan.height / float(exporter.repeat.height)
    return by * float((boxes[:, 3] - boxes[:, 1]).mean()) if len(boxes) else 0.0


def _packed(strip: NDArray[np.uint8], cut: Cut, suffix: str) -> int:
    """Return the bytes of a strip of the block, laid over the sheet's width."""
    rows, across = strip.shape[:2]
    data = BytesIO()
    if suffix == ".png":
        header = PngHeader(cut.width, rows, 3, cut.plan.dpi)
        write_periodic(data, header, (cut.period[0], rows), [strip])
        return len(data.getvalue())
    laid = strip[:, np.arange(cut.width) % across]
    if suffix in (".tif", ".tiff"):
        differences = laid.copy()
        differences[:, 1:] -= laid[:, :-1]
        return len(zlib.compress(differences.tobytes(), 6))
    kind = {".webp": "WEBP", ".jpg": "JPEG", ".jpeg": "JPEG"}[suffix]
    told = {} if kind == "WEBP" else {"subsampling": 0, "optimize": True}
    Image.fromarray(laid).save(data, kind, quality=QUALITY, **told)
    return len(data.getvalue())
