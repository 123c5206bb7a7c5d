"""A repeat on a cut of cloth: its scale, what fits, what the wash will take; and its file.

All in exact mm. Sizes are meant as the cloth has them once it is washed; it is printed larger by
what the wash takes, so that a length that loses 5 % is printed 1/0.95 as long. How much a cloth
loses is for its maker or a test wash to say.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import Size, format_mm
from vecrepeat.draw.plan import PixelPlan, printed_size
from vecrepeat.goods.selvedge import with_selvedges
from vecrepeat.goods.tables import ClothCut
from vecrepeat.repeat.model import Repeat
from vecrepeat.write.exporting import Exported, Exporter
from vecrepeat.write.formats import Part, Progress, Settings


@dataclass(frozen=True)
class Shrinkage:
    """What a wash takes off each axis, as shares.

    Attributes:
        across: of the width, from selvedge to selvedge.
        along: of the length.
    """

    across: Fraction = Fraction(0)
    along: Fraction = Fraction(0)

    def __post_init__(self) -> None:
        """Hold the shares to what cloth can bear."""
        if not (0 <= self.across <= Fraction(1, 2) and 0 <= self.along <= Fraction(1, 2)):
            raise InputError("a shrinkage is not usable", hint="0 to 50 %, such as 5")


@dataclass(frozen=True)
class ClothPlan:
    """A repeat laid on a cut of cloth.

    Attributes:
        bolt: the cloth's width in mm, selvedges included.
        selvedge: each selvedge's width in mm.
        sheet: what is printed, in mm.
        tile: one tile's print size in mm.
        across: tiles across what is printed between the selvedges.
        shrinkage: what is allowed for.
        notes: what the receiver should know, a sentence each.
    """

    bolt: Fraction
    selvedge: Fraction
    sheet: Size
    tile: Size
    across: Fraction
    shrinkage: Shrinkage
    notes: tuple[str, ...]

    @property
    def usable(self) -> Fraction:
        """The width between the selvedges in mm."""
        return self.bolt - 2 * self.selvedge

    @property
    def has_selvedges(self) -> bool:
        """Whether the sheet reaches from edge to edge of the bolt, and they are printed on."""
        return self.selvedge > 0 and self.sheet.width == self.bolt

    def line(self) -> str:
        """Return the facts as one line."""
        mm = " × ".join(format_mm(v) for v in self.sheet)
        tile = " × ".join(format_mm(v, 3) for v in self.tile)
        return (
            f"print {mm} on a bolt of {format_mm(self.bolt)} ({format_mm(self.usable)} usable): "
            f"tile {tile}, {float(self.across):.3f} across"
        )

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data, lengths in mm."""
        return {
            "bolt_mm": float(self.bolt),
            "selvedge_mm": float(self.selvedge),
            "usable_mm": float(self.usable),
            "sheet_mm": [float(v) for v in self.sheet],
            "tile_mm": [float(v) for v in self.tile],
            "across": float(self.across),
            "shrinkage_percent": [
                float(share) * 100 for share in (self.shrinkage.across, self.shrinkage.along)
            ],
        }


def plan_cloth(
    repeat: Repeat,
    cut: ClothCut,
    bolt: Fraction,
    *,
    selvedge: Fraction = Fraction(0),
    repeat_width: Fraction | None = None,
    repeats_across: int | None = None,
    shrinkage: Shrinkage | None = None,
    one_way: bool = False,
) -> ClothPlan:
    """Lay a repeat on a cut of cloth.

    Args:
        repeat: the endless cloth.
        cut: its size in mm once washed; without a width of its own it is the bolt's.
        bolt: the cloth's width as printed in mm, selvedges included.
        selvedge: each selvedge's width in mm, which is not usable.
        repeat_width: one tile's width once washed, in mm.
        repeats_across: instead, how many tiles fill the cut, between the selvedges.
        shrinkage: what the wash takes.
        one_way: whether the design or the cloth's nap has a top and a bottom.

    Raises:
        InputError: a cut wider than is usable, selvedges that leave nothing, or both a repeat
            width and a number.
    """
    shrinkage = shrinkage or Shrinkage()
    usable = bolt - 2 * selvedge
    if usable <= 0:
        raise InputError(
            f"selvedges of {format_mm(selvedge)} leave nothing of {format_mm(bolt)} of cloth"
        )
    if repeat_width is not None and repeats_across is not None:
        raise InputError("a repeat width and a number across exclude each other")
    if repeats_across is not None and repeats_across < 1:
        raise InputError("at least one repeat must go across")
    grow_x, grow_y = 1 / (1 - shrinkage.across), 1 / (1 - shrinkage.along)
    filled = usable if cut.width is None else cut.width * grow_x
    if filled > usable:
        raise InputError(
            f"the cut is printed {format_mm(filled)} wide, and only {format_mm(usable)} of "
            f"{format_mm(bolt)} of cloth are usable",
            hint="choose a wider bolt or a narrower cut",
        )
    if repeats_across is not None:
        repeat_width = filled / repeats_across / grow_x
    washed = printed_size(repeat, repeat_width, None)
    tile = Size(washed.width * grow_x, washed.height * grow_y)
    sheet = Size(bolt if cut.width is None else filled, cut.length * grow_y)
    across = filled / tile.width
    edge = "the selvedge" if sheet.width == bolt else "the cut's edge"
    notes = _notes(across, tile, edge, shrinkage, one_way)
    if selvedge and sheet.width != bolt:
        notes.append("the cut does not reach the cloth's edges, so no selvedges are printed on it")
    return ClothPlan(bolt, selvedge, sheet, tile, across, shrinkage, tuple(notes))


def _notes(
    across: Fraction, tile: Size, edge: str, shrinkage: Shrinkage, one_way: bool
) -> list[str]:
    notes = []
    if across < 1:
        notes.append(f"the width shows {float(across) * 100:.0f} % of one tile's")
    elif across.denominator != 1:
        spare = (across % 1) * tile.width
        notes.append(
            f"{float(across):.3f} tiles go across, so {format_mm(spare)} of one are left at "
            f"{edge}; --across {max(1, round(across))} makes them whole"
        )
    if shrinkage.across or shrinkage.along:
        notes.append(
            f"printed larger for a wash that takes {float(shrinkage.across) * 100:g} % across and "
            f"{float(shrinkage.along) * 100:g} % along: wash a test piece first"
        )
    if one_way:
        notes.append("one way: cut all pieces with the same end up, and allow more cloth for it")
    return notes


def write_cloth(
    repeat: Repeat,
    plan: ClothPlan,
    output: str,
    *,
    dpi: Fraction,
    text: str,
    one_way: bool,
    on_pixels: bool = False,
    settings: Settings,
    progress: Progress | None = None,
) -> Exported:
    """Write a cut of cloth, between its selvedges where it reaches them.

    Args:
        repeat: the endless cloth.
        plan: from :func:`plan_cloth`.
        output: the file.
        dpi: pixels per inch.
        text: runs along the selvedges.
        one_way: put an arrow to the top beside it.
        on_pixels: lay vectors out on whole pixels too; see :meth:`Exporter.sheet`.
        settings: what the format is told.
        progress: called with rows finished.

    Raises:
        InputError: what an export raises, or no font to draw the text with.
    """
    notes: tuple[str, ...] = ()
    parts: tuple[Part, ...] = ()
    if plan.has_selvedges:
        laid, parts, notes = with_selvedges(
            repeat,
            plan.tile,
            plan.bolt,
            plan.selvedge,
            text=text,
            colours=Exporter(repeat).palette(),
            one_way=one_way,
        )
        exporter = Exporter(laid)
        pixels = exporter.plan(dpi)
    else:
        exporter = Exporter(repeat)
        pixels = exporter.plan(dpi, width=plan.tile.width, height=plan.tile.height)
    sheet = replace(exporter.sheet(pixels, size=plan.sheet, on_pixels=on_pixels), parts=parts)
    done = exporter.write(output, sheet, settings=settings, progress=progress)
    # A stretch that the wash takes back is meant.
    told = [note for note in done.notes if "stretch the drawing" not in note]
    if plan.has_selvedges:
        # Its tile is the whole cloth, which nobody has asked for in pixels.
        told = [_snapped(pixels) if note == pixels.note() else note for note in told]
    return replace(done, notes=(*notes, *told))


def _snapped(pixels: PixelPlan) -> str:
    across, down = pixels.deviation_ppm
    return (
        f"at {float(pixels.dpi):g} dpi whole pixels change design and selvedges together by "
        f"{across:+.0f} ppm across and {down:+.0f} ppm down"
    )
