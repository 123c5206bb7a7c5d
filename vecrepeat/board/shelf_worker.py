"""The process that reads art as it comes in and draws small cloths; started by the shelf."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import MM_PER_INCH
from vecrepeat.util.inbox import answer_objects

SIZE = (480, 360)
"""Pixels of a small cloth."""

TILE = 260
"""Pixels of the longer side of its tile, so that the repeat is seen."""


def _read(file: Path, loose: bool) -> dict[str, Any]:
    from vecrepeat.sources.source import read_pool

    pool = read_pool([], [file]) if loose else read_pool([file])
    return {"motifs": len(pool.motifs), "notes": list(pool.notes)}


def _draw(recipe: Path) -> bytes:
    from PIL import Image

    from vecrepeat.draw.paint import Window
    from vecrepeat.draw.sheet import opaque
    from vecrepeat.sources.source import open_source
    from vecrepeat.util.imagefiles import png_of
    from vecrepeat.write.exporting import Exporter

    repeat = open_source(recipe, placed=False).repeat
    exporter = Exporter(repeat)
    longer = max(repeat.width, repeat.height)
    plan = exporter.plan(TILE * MM_PER_INCH / Fraction(longer))
    strip = exporter.painter(plan).paint(Window(0, 0, *SIZE))
    return png_of(Image.fromarray(opaque(strip)))


def _answered(asked: tuple[str, Path, bool]) -> Any:
    what, file, loose = asked
    try:
        return _read(file, loose) if what == "read" else _draw(file)
    except InputError as error:
        # Beside the file's name, and not before it.
        return InputError(error.what, element=error.element, hint=error.hint)
    except MemoryError:
        return InputError("there is not enough memory for it")


if __name__ == "__main__":
    answer_objects(_answered)
