"""The compose workflow: a repeat to an SVG file."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from lxml import etree

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import Size, counted, format_mm
from vecrepeat.draw.plan import LONGEST_SHEET, SHORTEST_TILE, printed_size
from vecrepeat.repeat.model import Drawn, Repeat
from vecrepeat.util.files import write_whole
from vecrepeat.write.svg import copies_within, pattern_svg, tile_svg


@dataclass(frozen=True)
class Composed:
    """What was written.

    Attributes:
        file: the SVG file.
        layout: the layout's name.
        motifs: how many motifs the tile holds.
        copies: how many copies the straight block (or the tile) draws, wraps included.
        tile: one tile's print size in mm.
    """

    file: Path
    layout: str
    motifs: int
    copies: int
    tile: Size

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data, lengths in mm."""
        return {
            "file": str(self.file),
            "layout": self.layout,
            "motifs": self.motifs,
            "copies": self.copies,
            "tile_mm": [float(side) for side in self.tile],
        }

    def line(self) -> str:
        """Return the facts as one line."""
        return (
            f"{self.file}: {self.layout} repeat of {counted(self.motifs, 'motif')} "
            f"({counted(self.copies, 'copy')} with wraps), tile {format_mm(self.tile.width)} × "
            f"{format_mm(self.tile.height)}"
        )


def _parsed(data: bytes, file: Path) -> bytes:
    """Return a drawing's bytes, which lxml parses."""
    try:
        etree.fromstring(data, etree.XMLParser(huge_tree=True, no_network=True))
    except etree.XMLSyntaxError as error:
        raise InputError(
            f"what was composed is not XML, so it is not written: {error}",
            file=file,
            hint="this is a fault of the program; please report it with the drawing",
        ) from None
    return data


def compose(
    repeat: Repeat | Drawn,
    path: str | Path,
    *,
    sheet: Size | None = None,
    width: Fraction | None = None,
    height: Fraction | None = None,
    inline: bool = False,
    tile_only: bool = False,
) -> Composed:
    """Write a repeat as SVG, whole or not at all.

    Args:
        repeat: the endless cloth, or art to be laid as a block.
        path: the file to write.
        sheet: size of the drawing in mm; one straight block where it is not given.
        width: one tile's print width in mm.
        height: one tile's print height in mm.
        inline: write every copy out instead of referring to it.
        tile_only: write one finished tile as a plain drawing instead of a pattern.

    Raises:
        InputError: options that exclude each other, a size beyond 10 km, or a file that can't
            be written.
    """
    file = Path(path)
    if file.suffix.lower() != ".svg":
        raise InputError("compose writes SVG", file=file, hint="end the name in .svg")
    repeat = Repeat.of(repeat)
    printed = printed_size(repeat, width, height)
    scale = printed.width / repeat.width
    if abs(printed.height / repeat.height / scale - 1) > Fraction(1, 2000):
        raise InputError(
            "the repeat's width and height together would stretch the drawing",
            hint="give one of them",
        )
    if tile_only and sheet is not None:
        raise InputError("one tile and a sheet exclude each other", hint="give one of them")
    sides = [*printed, *(sheet or printed)]
    if max(sides) > LONGEST_SHEET or min(printed) < SHORTEST_TILE:
        raise InputError(
            "the size is no size to print", hint="a tile may be 0.01 mm to 10 km a side"
        )
    size = (repeat.width, repeat.height) if tile_only else repeat.block_size
    found = copies_within(repeat, *size)
    if tile_only:
        text = tile_svg(repeat, scale=scale, found=found)
    else:
        text = pattern_svg(repeat, sheet=sheet, scale=scale, inline=inline, found=found)
    write_whole(file, _parsed(text.encode(), file))
    return Composed(file, str(repeat.layout), len(repeat.placements), len(found), printed)
