"""The export workflow: a repeat to a print-ready PNG of any size."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from string import Formatter
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from vecrepeat.art.features import cairo_draws
from vecrepeat.errors import InputError
from vecrepeat.files import written_whole
from vecrepeat.raster.paint import CairoEngine, Painter
from vecrepeat.raster.plan import PixelPlan, plan_pixels, sheet_pixels, stretch_note
from vecrepeat.raster.png import PngHeader, write_periodic
from vecrepeat.raster.sheet import Sheet, opaque, straight
from vecrepeat.repeat import Repeat
from vecrepeat.units import MM_PER_INCH, Size, format_bytes, format_mm, parse_length, parse_size

if TYPE_CHECKING:
    from vecrepeat.raster.resvg_paint import ResvgEngine

ENGINES = ("auto", "cairo", "resvg")

Progress = Callable[[int], None]
"""Called with the number of rows finished since the last call."""


@dataclass(frozen=True)
class Exported:
    """What was written.

    Attributes:
        file: the file.
        width: in pixels.
        height: in pixels.
        plan: the tile in whole pixels, its deviation included.
        size: bytes of the file.
        notes: what the receiver should know, a sentence each.
    """

    file: Path
    width: int
    height: int
    plan: PixelPlan
    size: int
    notes: tuple[str, ...]

    def line(self) -> str:
        """Return the facts as one line."""
        dpi = self.plan.dpi
        mm = " × ".join(format_mm(px * MM_PER_INCH / dpi) for px in (self.width, self.height))
        return (
            f"{self.file}: {self.width:,} × {self.height:,} px at {float(dpi):g} dpi, {mm}, "
            f"{format_bytes(self.size)}"
        )

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data, lengths in mm."""
        plan = self.plan
        return {
            "file": str(self.file),
            "width_px": self.width,
            "height_px": self.height,
            "dpi": float(plan.dpi),
            "bytes": self.size,
            "layout": str(plan.repeat.layout),
            "tile_px": [plan.width, plan.height],
            "tile_mm": [float(side) for side in plan.printed],
            "straight_block_px": list(plan.block),
            "deviation_mm": list(plan.deviation_mm),
            "deviation_ppm": list(plan.deviation_ppm),
            "notes": list(self.notes),
        }


class Exporter:
    """Exports one repeat any number of times from one reading of its art.

    Args:
        repeat: the endless cloth.
        engine: ``cairo``, ``resvg``, or ``auto``: cairo unless the art uses what it does not
            draw faithfully.

    Raises:
        InputError: another engine.
    """

    def __init__(self, repeat: Repeat, *, engine: str = "auto") -> None:
        if engine not in ENGINES:
            raise InputError(f"engine “{engine}” is not known", hint="use auto, cairo or resvg")
        self.repeat = repeat
        self.beyond_cairo = [
            (placement.motif.name, feature)
            for placement in repeat.placements
            for feature in placement.motif.features
            if not cairo_draws([feature])
        ]
        self.engine = ("resvg" if self.beyond_cairo else "cairo") if engine == "auto" else engine
        self._drawer: CairoEngine | ResvgEngine | None = None

    def plan(
        self,
        dpi: Fraction,
        *,
        width: Fraction | None = None,
        height: Fraction | None = None,
        exact: bool = False,
    ) -> PixelPlan:
        """Plan one tile in whole pixels; see :func:`vecrepeat.raster.plan.plan_pixels`."""
        return plan_pixels(self.repeat, dpi, width=width, height=height, exact=exact)

    def painter(self, plan: PixelPlan, *, ground: bool = True) -> Painter:
        """Return what draws windows of the plane at ``plan``'s size."""
        if self._drawer is None:
            if self.engine == "cairo":
                self._drawer = CairoEngine(self.repeat)
            else:
                from vecrepeat.raster.resvg_paint import ResvgEngine

                self._drawer = ResvgEngine(self.repeat)
        return self._drawer.painter(plan, ground=ground)

    def engine_note(self) -> str | None:
        """Return why the second engine draws, or what the first will not draw faithfully."""
        if not self.beyond_cairo:
            return None
        shown = [f"“{name}” ({feature.kind})" for name, feature in self.beyond_cairo]
        shown = list(dict.fromkeys(shown))
        names = ", ".join(shown[:3]) + (f" and {len(shown) - 3} more" if len(shown) > 3 else "")
        if self.engine == "cairo":
            return f"the cairo engine does not draw faithfully: {names}"
        return f"drawn by resvg for the sake of {names}"

    def sheet(self, plan: PixelPlan, *, size: Size | None = None, block: bool = False) -> Sheet:
        """Return the rectangle to write: a sheet of ``size``, a straight block or one tile."""
        if size is not None:
            return Sheet(plan, *sheet_pixels(size, plan.dpi))
        return Sheet(plan, *(plan.block if block else (plan.width, plan.height)))

    def png(
        self,
        path: str | Path,
        sheet: Sheet,
        *,
        transparent: bool = False,
        progress: Progress | None = None,
    ) -> Exported:
        """Write a sheet as PNG, whole or not at all, in memory that does not grow with it.

        Args:
            path: the file to write.
            sheet: from :meth:`sheet`.
            transparent: leave the ground out and write an alpha channel; otherwise bare cloth
                is white.
            progress: called with rows finished.

        Raises:
            InputError: the file can't be written or the disk is full.
        """
        file = Path(path)
        plan = sheet.plan
        header = PngHeader(sheet.width, sheet.height, 4 if transparent else 3, plan.dpi)
        painter = self.painter(plan, ground=not transparent)
        convert = straight if transparent else opaque
        with written_whole(file) as out:
            write_periodic(
                out, header, sheet.period, _converted(sheet, painter, convert), progress=progress
            )
            size = out.tell()
        return Exported(file, sheet.width, sheet.height, plan, size, tuple(self.notes(sheet)))

    def notes(self, sheet: Sheet) -> Iterator[str]:
        """Yield what the receiver of a sheet should know."""
        plan = sheet.plan
        if note := self.engine_note():
            yield note
        if note := stretch_note(self.repeat, plan.printed):
            yield note
        if note := plan.note():
            yield note
        one_tile = (sheet.width, sheet.height) == (plan.width, plan.height)
        if one_tile and not plan.has_whole_shift:
            side = "height" if self.repeat.layout.kind == "drop" else "width"
            yield (
                f"the tile's {side} does not divide by {self.repeat.layout.steps} in pixels, so "
                f"this {self.repeat.layout} tile can't be laid out in whole pixels: send the "
                "straight block (--block) or choose another size"
            )


def export(
    repeat: Repeat,
    path: str | Path,
    *,
    dpi: Fraction | int | float | str = 300,
    width: Fraction | str | None = None,
    height: Fraction | str | None = None,
    sheet: Size | str | None = None,
    block: bool = False,
    exact: bool = False,
    transparent: bool = False,
    engine: str = "auto",
    progress: Progress | None = None,
) -> Exported:
    """Write one tile, a straight block or a sheet of a repeat as PNG.

    For several sizes of one repeat keep an :class:`Exporter`.

    Args:
        repeat: the endless cloth.
        path: the file to write.
        dpi: pixels per inch.
        width: one tile's print width, in mm or as text such as ``"12in"``.
        height: one tile's print height, likewise.
        sheet: fill a sheet of this size, in mm or as text such as ``"54x36in"``.
        block: write the straight block instead of one tile.
        exact: refuse a tile that is not a whole number of pixels.
        transparent: leave the ground out and write an alpha channel.
        engine: ``auto``, ``cairo`` or ``resvg``; see :class:`Exporter`.
        progress: called with rows finished.

    Raises:
        InputError: a size that can't be used, or a file that can't be written.
    """
    if sheet is not None and block:
        raise InputError("a sheet and a block exclude each other", hint="give one of them")
    exporter = Exporter(repeat, engine=engine)
    plan = exporter.plan(
        Fraction(dpi),
        width=parse_length(width, "width") if isinstance(width, str) else width,
        height=parse_length(height, "height") if isinstance(height, str) else height,
        exact=exact,
    )
    size = parse_size(sheet, "sheet") if isinstance(sheet, str) else sheet
    planned = exporter.sheet(plan, size=size, block=block)
    return exporter.png(path, planned, transparent=transparent, progress=progress)


def _converted(
    sheet: Sheet, painter: Painter, convert: Callable[[NDArray[np.uint8]], NDArray[np.uint8]]
) -> Iterator[NDArray[np.uint8]]:
    for strip in sheet.strips(painter):
        yield convert(strip)


def file_name(template: str, fields: dict[str, str]) -> str:
    """Fill a file-name template such as ``out/{name}-{width}-{dpi}.png``.

    Raises:
        InputError: a placeholder that is not known, or braces that don't match.
    """
    hint = f"known are {', '.join(f'{{{key}}}' for key in fields)}; write a brace as {{{{"
    try:
        parts = list(Formatter().parse(template))
    except ValueError:
        raise InputError(
            f"the output name “{template}” is not a usable template", hint=hint
        ) from None
    name = ""
    for text, field, spec, conversion in parts:
        name += text
        if field is None:
            continue
        if field not in fields or spec or conversion:
            raise InputError(
                f"the output name “{template}” has the unknown placeholder {{{field}}}", hint=hint
            )
        name += fields[field]
    return name
