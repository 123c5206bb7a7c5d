"""The plan in whole pixels: how large one tile is, and by how much that is off."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import MM_PER_INCH, Size, format_mm, round_half_up, to_pixels
from vecrepeat.repeat.layout import Lattice
from vecrepeat.repeat.mirrors import mirror_grain
from vecrepeat.repeat.model import Repeat

MAX_SIDE = 2**31 - 1
"""The longest side a PNG can state (PNG Third Edition §11.2.1)."""


LONGEST_SHEET = Fraction(10_000_000)
"""The longest side of a sheet in mm."""

SHORTEST_TILE = Fraction(1, 100)
"""The shortest side of a printed tile in mm."""


@dataclass(frozen=True)
class PixelPlan:
    """One tile in whole pixels at a print size and resolution.

    The drawing is scaled to fit the whole-pixel tile exactly, so every copy lies at the same
    place in its pixels and every tile of a sheet is the same to the byte.

    Attributes:
        repeat: the endless cloth.
        dpi: pixels per inch.
        printed: the tile's print size asked for, in mm.
        width: the tile's width in pixels.
        height: the tile's height in pixels.
    """

    repeat: Repeat
    dpi: Fraction
    printed: Size
    width: int
    height: int

    @property
    def lattice(self) -> Lattice:
        """The layout's lattice in pixels, exact; its shift may be a fraction of a pixel."""
        return self.repeat.layout.lattice(Fraction(self.width), Fraction(self.height))

    @property
    def shift(self) -> Fraction:
        """By how many pixels each next column drops, or each next row moves across."""
        side = self.height if self.repeat.layout.kind == "drop" else self.width
        return self.repeat.layout.shift * side

    @property
    def has_whole_shift(self) -> bool:
        """Whether tiles can be laid beside each other in whole pixels."""
        return self.shift.denominator == 1

    @property
    def block(self) -> tuple[int, int]:
        """The straight block in pixels: the period of a sheet across and down."""
        across, down = self.repeat.layout.straight_block
        return (self.width * across, self.height * down)

    @property
    def scale(self) -> tuple[float, float]:
        """Pixels per mm of the drawing, across and down."""
        return (
            float(self.width / self.repeat.width),
            float(self.height / self.repeat.height),
        )

    @property
    def actual(self) -> Size:
        """The tile's size in mm as it prints at :attr:`dpi`."""
        return Size(self.width * MM_PER_INCH / self.dpi, self.height * MM_PER_INCH / self.dpi)

    @property
    def deviation_mm(self) -> tuple[float, float]:
        """By how much the printed tile is larger than asked for, in mm, across and down."""
        return (
            float(self.actual.width - self.printed.width),
            float(self.actual.height - self.printed.height),
        )

    @property
    def deviation_ppm(self) -> tuple[float, float]:
        """The same in millionths of the tile's sides."""
        return (
            float((self.actual.width / self.printed.width - 1) * 1_000_000),
            float((self.actual.height / self.printed.height - 1) * 1_000_000),
        )

    @property
    def is_exact(self) -> bool:
        """Whether the size asked for is a whole number of pixels both ways."""
        return self.actual == self.printed

    def note(self) -> str | None:
        """Return the snap as a sentence, or None where there is none."""
        if self.is_exact:
            return None
        dx, dy = self.deviation_mm
        px, py = self.deviation_ppm
        return (
            f"the tile is snapped to {self.width} × {self.height} px at {float(self.dpi):g} dpi: "
            f"{dx:+.4f} mm ({px:+.0f} ppm) across, {dy:+.4f} mm ({py:+.0f} ppm) down"
        )


def printed_size(repeat: Repeat, width: Fraction | None, height: Fraction | None) -> Size:
    """Return one tile's print size in mm from a width, a height, both or neither."""
    if width is not None and height is not None:
        return Size(width, height)
    if width is not None:
        return Size(width, repeat.height * width / repeat.width)
    if height is not None:
        return Size(repeat.width * height / repeat.height, height)
    return Size(repeat.width, repeat.height)


def stretch_note(repeat: Repeat, printed: Size) -> str | None:
    """Return a warning where a print size stretches the drawing by 0.05 % or more."""
    ratio = (printed.width / repeat.width) / (printed.height / repeat.height)
    if abs(ratio - 1) < Fraction(1, 2000):
        return None
    return (
        f"width and height together stretch the drawing by {float(ratio - 1) * 100:+.2f} % across "
        "(give one of them to keep its proportions)"
    )


def plan_pixels(
    repeat: Repeat,
    dpi: Fraction,
    *,
    width: Fraction | None = None,
    height: Fraction | None = None,
    exact: bool = False,
) -> PixelPlan:
    """Plan one tile in whole pixels.

    Args:
        repeat: the endless cloth.
        dpi: pixels per inch.
        width: the tile's print width in mm; the drawing's own size where neither is given.
        height: the tile's print height in mm.
        exact: refuse a size that is not a whole number of pixels.

    Raises:
        InputError: dpi not above zero or absurd; the tile under one pixel or beyond what a
            picture can hold; or ``exact`` and not whole.
    """
    if not 1 <= dpi <= 100_000:
        raise InputError(f"{float(dpi):g} dpi is not usable", hint="such as 150 or 300")
    printed = printed_size(repeat, width, height)
    across, down = to_pixels(printed.width, dpi), to_pixels(printed.height, dpi)
    grain = _grain(repeat)
    w, h = (g * round_half_up(side / g) for g, side in zip(grain, (across, down), strict=True))
    if w < 1 or h < 1:
        raise InputError(
            f"a tile of {format_mm(printed.width)} × {format_mm(printed.height)} at "
            f"{float(dpi):g} dpi is less than one pixel",
            hint="raise the dpi or the repeat's size",
        )
    if max(w, h) > MAX_SIDE:
        raise InputError(
            f"a tile of {float(across):.4g} × {float(down):.4g} px is too large for a picture",
            hint="lower the dpi or the repeat's size",
        )
    if exact and (w != across or h != down):
        raise InputError(
            f"a tile of {format_mm(printed.width, 4)} × {format_mm(printed.height, 4)} at "
            f"{float(dpi):g} dpi is {float(across):.4f} × {float(down):.4f} px, not whole",
            hint="choose another dpi or repeat size, or leave out --exact to snap it",
        )
    return PixelPlan(repeat, dpi, printed, w, h)


_MOST_STEPS = 16
"""Tiles with a finer shift than this part of a side are not fitted to it."""


def _grain(repeat: Repeat) -> tuple[int, int]:
    """Return what a tile's sides in pixels must divide by.

    Where a ground's bands run on from tile to tile, tiles must lie beside each other in whole
    pixels: an edge between pixels would be painted in two halves, which make less than a whole.
    """
    across, down = mirror_grain(repeat)
    steps = repeat.layout.steps
    if repeat.motifs_alone is repeat or steps > _MOST_STEPS:
        return across, down
    return (across, steps) if repeat.layout.kind == "drop" else (steps, down)


def sheet_pixels(sheet: Size, dpi: Fraction) -> tuple[int, int]:
    """Return a sheet's size in whole pixels, rounded half up.

    Raises:
        InputError: under one pixel, or beyond what a picture can hold.
    """
    if max(sheet) > LONGEST_SHEET:
        raise InputError(
            f"a sheet {float(max(sheet) / 1000):.6g} m long is more than any roll holds",
            hint="a sheet may be up to 10 km a side",
        )
    across, down = to_pixels(sheet.width, dpi), to_pixels(sheet.height, dpi)
    w, h = round_half_up(across), round_half_up(down)
    if w < 1 or h < 1:
        raise InputError("the sheet is less than one pixel", hint="raise the dpi or its size")
    if max(w, h) > MAX_SIDE:
        raise InputError(
            f"a sheet of {float(sheet.width / 1000):.4g} × {float(sheet.height / 1000):.4g} m at "
            f"{float(dpi):g} dpi is {float(max(across, down)):.3g} px long; "
            f"a picture may have {MAX_SIDE:,}",
            hint="lower the dpi or the sheet's size",
        )
    return w, h
