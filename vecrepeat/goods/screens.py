"""Screen printing: whether a repeat goes round a screen, and how a cylinder is laid out.

A rotary screen prints its own circumference over and over, so the design must come back after
it: the circumference is a whole number of straight blocks. Common circumferences, 640 mm among
them, are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from vecrepeat.core.units import Size, counted, format_mm
from vecrepeat.repeat.layout import Layout


@dataclass(frozen=True)
class Screen:
    """A repeat on a rotary screen.

    Attributes:
        circumference: of the screen in mm.
        width: that it prints, in mm.
        tile: one tile's print size in mm.
        block: the straight block's print size in mm.
        around: whole blocks round the screen.
        fitted: the nearest size of the tile in mm that goes round exactly, in proportion.
        other: the nearest on the other side, larger or smaller.
    """

    circumference: Fraction
    width: Fraction
    tile: Size
    block: Size
    around: int
    fitted: Size
    other: Size

    @property
    def fits(self) -> bool:
        """Whether the screen is a whole number of blocks round."""
        return self.around * self.block.height == self.circumference

    def change(self, tile: Size) -> float:
        """Return by which share the tile grows (or, below nought, shrinks) to another size."""
        return float(tile.height / self.tile.height - 1)

    def across(self, tile: Size) -> Fraction:
        """Return how many straight blocks of a size of the tile its width holds, parts too."""
        return self.width / (self.block.width * tile.width / self.tile.width)

    def _counted(self, tile: Size) -> str:
        around = int(self.circumference / (tile.height * (self.block.height / self.tile.height)))
        across = float(self.across(tile))
        return f"{counted(around, 'repeat')} round, {across:.3f} across {format_mm(self.width)}"

    def _fitting(self, tile: Size) -> str:
        return (
            f"{format_mm(tile.width, 4)} × {format_mm(tile.height, 4)} "
            f"({self.change(tile) * 100:+.3f} %), {self._counted(tile)}"
        )

    def lines(self) -> list[str]:
        """Return the facts a line each."""
        tiles = self.circumference / self.tile.height
        first = (
            f"screen {format_mm(self.circumference)} round ÷ repeat {format_mm(self.block.height)} "
            f"down = {float(self.circumference / self.block.height):.4f}"
        )
        if self.fits:
            fit = f"fits: {self._counted(self.tile)}, {float(tiles):g} tiles round"
        else:
            fit = f"does not fit: the next size that does is a tile of {self._fitting(self.fitted)}"
            if self.other != self.fitted:
                fit += f"; or of {self._fitting(self.other)}"
        return [first, fit]

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data, lengths in mm."""
        return {
            "circumference_mm": float(self.circumference),
            "width_mm": float(self.width),
            "tile_mm": [float(v) for v in self.tile],
            "straight_block_mm": [float(v) for v in self.block],
            "around": self.around,
            "across": float(self.across(self.tile)),
            "fits": self.fits,
            "fitted_tile_mm": [float(v) for v in self.fitted],
            "change_percent": self.change(self.fitted) * 100,
            "other_tile_mm": [float(v) for v in self.other],
            "fitted_across": float(self.across(self.fitted)),
            "other_across": float(self.across(self.other)),
        }


def on_screen(layout: Layout, tile: Size, circumference: Fraction, width: Fraction) -> Screen:
    """Return how a repeat lies on a rotary screen, from one tile's print size; all in mm."""
    columns, rows = layout.straight_block
    block = Size(tile.width * columns, tile.height * rows)
    around = max(1, round(circumference / block.height))
    # Rounded up, one block fewer makes a larger tile; rounded down, one more a smaller.
    beside = around - 1 if around * block.height > circumference else around + 1

    def sized(count: int) -> Size:
        height = circumference / (count * rows)
        return Size(tile.width * height / tile.height, height)

    return Screen(circumference, width, tile, block, around, sized(around), sized(beside or 1))
