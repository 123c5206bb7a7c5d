"""``vecrepeat cloth``: a repeat on a cut of cloth."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Answer, Given, option
from vecrepeat.cli.print_options import PRINT_OPTIONS, print_settings
from vecrepeat.cli.progress import progress
from vecrepeat.core.units import MM_PER_INCH


@options.over_source(
    options.output(
        "Write it: .png, .tif, .pdf, .jpg or .webp.", click.STRING, metavar="FILE", required=False
    ),
    option(
        "--cut",
        "piece",
        default="metre",
        show_default=True,
        metavar="NAME",
        help="yard, half-yard, quarter-yard, fat-quarter, fat-eighth, metre, half-metre, one of "
        "--table, or a size: 5yd, 50cmx70cm.",
    ),
    option(
        "--bolt",
        default="140cm",
        show_default=True,
        metavar="NAME",
        help="quilting, apparel, upholstery, wide-back, 110cm, 140cm, 150cm, one of --table, or a "
        "width.",
    ),
    option("--table", type=options.FILE, help="Your own cuts and bolts, in TOML."),
    option("--repeat-width", type=options.LENGTH, help="One tile's width."),
    option("--across", type=int, metavar="N", help="So many tiles fill the cut."),
    option("--selvedge", type=options.LENGTH_OR_ZERO, help="Each one's width."),
    option(
        "--selvedge-text",
        metavar="TEXT",
        help="Runs along both; the design's name where not given.",
    ),
    option("--one-way", is_flag=True, help="The design (or the nap) has a top and a bottom."),
    option(
        "--shrink-across",
        type=click.FloatRange(0, 50),
        default=0,
        metavar="PERCENT",
        help="What a wash takes off the width.",
    ),
    option(
        "--shrink-along",
        type=click.FloatRange(0, 50),
        default=0,
        metavar="PERCENT",
        help="What a wash takes off the length.",
    ),
    options.GOODS_DPI,
    *PRINT_OPTIONS,
)
def cloth(
    given: Given,
    output: str | None,
    piece: str,
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
    **asked: Any,
) -> Answer:
    """Lay SRC on a cut of cloth and, with -o, write it.

    Sizes are those of the washed cloth; give what the wash takes and it is printed larger.
    """
    from vecrepeat.goods.cloth import Shrinkage, plan_cloth
    from vecrepeat.goods.lengths import write_cloth
    from vecrepeat.goods.tables import read_tables

    settings = print_settings(asked)
    tables = read_tables(table)
    shrinkage = Shrinkage(*(Fraction(str(v)) / 100 for v in (shrink_across, shrink_along)))
    cut, width = tables.cut(piece), tables.bolt(bolt)
    source = given.opened()
    plan = plan_cloth(
        source.repeat,
        cut,
        width,
        selvedge=selvedge or Fraction(0),
        repeat_width=repeat_width,
        repeats_across=across,
        shrinkage=shrinkage,
        one_way=one_way,
    )
    written = []
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
        written.append(done)
    notes = [*source.notes, *plan.notes, *(note for done in written for note in done.notes)]
    facts = {**plan.as_dict(), "files": [done.as_dict() for done in written]}
    return Answer(facts, [plan.line(), *(done.line() for done in written)], notes)
