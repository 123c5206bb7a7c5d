"""The workflow of cloth: a plan to a print file."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from vecrepeat.draw.plan import PixelPlan
from vecrepeat.goods.cloth import ClothPlan
from vecrepeat.goods.selvedge import with_selvedges
from vecrepeat.repeat.model import Repeat
from vecrepeat.write.exporting import Exported, Exporter
from vecrepeat.write.formats import Part, Progress, Settings


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
        plan: from :func:`vecrepeat.goods.cloth.plan_cloth`.
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
