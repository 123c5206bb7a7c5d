"""``vecrepeat cloth``: a repeat on a cut of cloth."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vecrepeat.cli import options
from vecrepeat.cli.print_options import print_options
from vecrepeat.core.units import MM_PER_INCH
from vecrepeat.repeat.layout import Layout

if TYPE_CHECKING:
    from vecrepeat.write.formats import Settings


@click.command()
@options.source_options
@click.option("-o", "--output", metavar="FILE", help="Write it: .png, .tif, .pdf, .jpg or .webp.")
@click.option(
    "--cut",
    default="metre",
    show_default=True,
    metavar="NAME",
    help="yard, half-yard, quarter-yard, fat-quarter, fat-eighth, metre, half-metre, one of "
    "--table, or a size: 5yd, 50cmx70cm.",
)
@click.option(
    "--bolt",
    default="140cm",
    show_default=True,
    metavar="NAME",
    help="quilting, apparel, upholstery, wide-back, 110cm, 140cm, 150cm, one of --table, or a "
    "width.",
)
@click.option(
    "--table",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Your own cuts and bolts, in TOML.",
)
@click.option(
    "--repeat-width", type=options.LengthType(), metavar="LENGTH", help="One tile's width."
)
@click.option("--across", type=int, metavar="N", help="So many tiles fill the cut.")
@click.option(
    "--selvedge", type=options.LengthType(zero=True), metavar="LENGTH", help="Each one's width."
)
@click.option(
    "--selvedge-text", metavar="TEXT", help="Runs along both; the design's name where not given."
)
@click.option("--one-way", is_flag=True, help="The design (or the nap) has a top and a bottom.")
@click.option(
    "--shrink-across",
    type=click.FloatRange(0, 50),
    default=0,
    metavar="PERCENT",
    help="What a wash takes off the width.",
)
@click.option(
    "--shrink-along",
    type=click.FloatRange(0, 50),
    default=0,
    metavar="PERCENT",
    help="What a wash takes off the length.",
)
@options.dpi_option
@print_options
@options.json_option
@options.reading_options
def command(
    src: Path,
    layout: Layout | None,
    selector: str | None,
    output: str | None,
    cut: str,
    bolt: str,
    table: Path | None,
    repeat_width: Fraction | None,
    across: int | None,
    selvedge: Fraction | None,
    selvedge_text: str | None,
    one_way: bool,
    shrink_across: float,
    shrink_along: float,
    dpi: Fraction | None,
    allowed: tuple[Path, ...],
    live_text: bool,
    as_json: bool,
    settings: Settings,
) -> None:
    """Lay SRC on a cut of cloth and, with -o, write it.

    Sizes are those of the washed cloth; give what the wash takes and it is printed larger.
    """
    from vecrepeat.cli.progress import progress
    from vecrepeat.goods.cloth import Shrinkage, plan_cloth, write_cloth
    from vecrepeat.goods.tables import read_tables

    tables = read_tables(table)
    shrinkage = Shrinkage(*(Fraction(str(v)) / 100 for v in (shrink_across, shrink_along)))
    piece, width = tables.cut(cut), tables.bolt(bolt)
    source = options.opened(src, layout, selector, allowed, live_text)
    plan = plan_cloth(
        source.repeat,
        piece,
        width,
        selvedge=selvedge or Fraction(0),
        repeat_width=repeat_width,
        repeats_across=across,
        shrinkage=shrinkage,
        one_way=one_way,
    )
    notes = [*source.notes, *plan.notes]
    done = None
    if output is not None:
        pixels = dpi or options.CLOTH_DPI
        with progress(output, int(plan.sheet.height * pixels / MM_PER_INCH)) as step:
            done = write_cloth(
                source.repeat,
                plan,
                output,
                dpi=pixels,
                text=source.name if selvedge_text is None else selvedge_text,
                one_way=one_way,
                on_pixels=dpi is not None,
                settings=settings,
                progress=step,
            )
        notes += done.notes
    if as_json:
        facts = {**plan.as_dict(), "files": [] if done is None else [done.as_dict()]}
        options.show_json({**facts, "notes": notes})
        return
    options.show_notes(notes)
    click.echo(plan.line())
    if done is not None:
        click.echo(done.line())
