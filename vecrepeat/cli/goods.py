"""``vecrepeat cloth``, ``roll``, ``screen`` and ``spec``: a repeat as goods."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Given, Reply, option
from vecrepeat.cli.print_options import PRINT_OPTIONS, print_settings
from vecrepeat.cli.progress import progress
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import MM_PER_INCH, Size

PERCENT = options.named("percent", click.FloatRange(0, 50))


@options.over_source(
    options.output(
        "Write it: .png, .tif, .pdf, .jpg or .webp.", click.STRING, metavar="FILE", required=False
    ),
    option(
        "--cut",
        "piece",
        default="metre",
        metavar="NAME",
        help="yard, half-yard, quarter-yard, fat-quarter, fat-eighth, metre, half-metre, one of "
        "--table, or a size: 5yd, 50cmx70cm.",
    ),
    option(
        "--bolt",
        default="140cm",
        metavar="NAME",
        help="quilting, apparel, upholstery, wide-back, 110cm, 140cm, 150cm, one of --table, or a "
        "width.",
    ),
    option("--table", type=options.FILE, help="Your own cuts and bolts, in TOML."),
    option("--repeat-width", type=options.LENGTH, help="One tile's width."),
    option("--across", "repeats_across", type=int, metavar="N", help="So many tiles fill the cut."),
    option("--selvedge", type=options.LENGTH_OR_ZERO, default="0mm", help="Each one's width."),
    option(
        "--selvedge-text",
        metavar="TEXT",
        help="Runs along both; the design's name where not given.",
    ),
    option("--one-way", is_flag=True, help="The design (or the nap) has a top and a bottom."),
    option("--shrink-across", type=PERCENT, default=0, help="What a wash takes off the width."),
    option("--shrink-along", type=PERCENT, default=0, help="What a wash takes off the length."),
    options.GOODS_DPI,
    *PRINT_OPTIONS,
)
def cloth(
    given: Given,
    output: str | None,
    piece: str,
    bolt: str,
    table: Path | None,
    selvedge_text: str | None,
    one_way: bool,
    shrink_across: float,
    shrink_along: float,
    dpi: Fraction | None,
    **asked: Any,
) -> Reply:
    """Lay SRC on a cut of cloth and, with -o, write it.

    Sizes are those of the washed cloth; give what the wash takes and it is printed larger.
    """
    from vecrepeat.goods.cloth import Shrinkage, plan_cloth, write_cloth
    from vecrepeat.goods.tables import read_tables

    settings = print_settings(asked)
    tables = read_tables(table)
    shrinkage = Shrinkage(*(Fraction(str(v)) / 100 for v in (shrink_across, shrink_along)))
    cut, width = tables.cut(piece), tables.bolt(bolt)
    source = given.opened()
    plan = plan_cloth(source.repeat, cut, width, shrinkage=shrinkage, one_way=one_way, **asked)
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
    return Reply(facts, [plan.line(), *(done.line() for done in written)], notes)


@options.over_source(
    option("--roll", type=options.SIZE, default="53cmx10.05m", help="A roll's width and length."),
    option(
        "--wall",
        "walls",
        type=options.SIZE,
        multiple=True,
        help="A wall to paper: 4.2x2.5m; may be given several times.",
    ),
    option(
        "--opening",
        "openings",
        type=options.SIZE,
        multiple=True,
        help="A door or window in the only wall given; may be given several times.",
    ),
    option(
        "--trim",
        type=options.LENGTH_OR_ZERO,
        default="10cm",
        help="Cut off each drop, top and bottom together.",
    ),
    option(
        "--match",
        type=click.Choice(["layout", "free"]),
        default="layout",
        help="free for designs that join anywhere.",
    ),
    options.REPEAT_WIDTH,
    options.REPEAT_HEIGHT,
    options.output(
        "Write the only wall given as printable drops; the name must hold {number}.",
        click.STRING,
        metavar="FILE",
        required=False,
    ),
    option(
        "--overlap",
        type=options.LENGTH_OR_ZERO,
        default="0mm",
        help="By how much drops that are written lie over each other.",
    ),
    options.GOODS_DPI,
    *PRINT_OPTIONS,
)
def roll(
    given: Given,
    walls: tuple[Size, ...],
    openings: tuple[Size, ...],
    trim: Fraction,
    match: str,
    output: str | None,
    overlap: Fraction,
    dpi: Fraction | None,
    **asked: Any,
) -> Reply:
    """Work out the match and the rolls that walls take, and write a wall's drops.

    Measure on the site itself and buy all rolls of one batch. How wallpaper must behave in
    fire is a matter of local codes, for its printer and its hanger.
    """
    from vecrepeat.goods.papering import Papering, write_panels

    settings = print_settings(asked)
    if (openings or output) and len(walls) != 1:
        raise InputError("--opening and -o go with exactly one --wall")
    source = given.opened()
    room = Papering.of(
        source.repeat,
        walls=walls,
        openings=openings,
        trim=trim,
        free=match == "free",
        overlap=None if output is None else overlap,
        **asked,
    )
    written = []
    if output is not None:
        pixels = dpi or options.CLOTH_DPI
        rows = int(room.drops[0].size.height * pixels / MM_PER_INCH) * len(room.drops)
        with progress(output, rows) as step:
            written = write_panels(
                source.repeat,
                source.name,
                output,
                room.drops,
                dpi=pixels,
                on_pixels=dpi is not None,
                width=asked["width"],
                height=asked["height"],
                trim=trim,
                settings=settings,
                progress=step,
            )
    facts = {**room.as_dict(), "files": [done.as_dict() for done in written]}
    notes = [*source.notes, *room.notes]
    options.tell((), [*notes, *(note for done in written for note in done.notes)])
    return Reply(facts, [*room.lines(), *(done.line() for done in written)], notes)


@options.over_source(
    option("--circumference", type=options.LENGTH, default="640mm", help="Of the screen."),
    option(
        "--width", "printed", type=options.LENGTH, default="1500mm", help="That the screen prints."
    ),
    options.REPEAT_WIDTH,
    options.REPEAT_HEIGHT,
)
def screen(
    given: Given,
    circumference: Fraction,
    printed: Fraction,
    width: Fraction | None,
    height: Fraction | None,
) -> Reply:
    """Tell whether SRC's repeat goes round a rotary screen, and the next size that does."""
    from vecrepeat.draw.plan import printed_size
    from vecrepeat.goods.screens import on_screen

    source = given.opened()
    tile = printed_size(source.repeat, width, height)
    found = on_screen(source.repeat.layout, tile, circumference, printed)
    return Reply(found.as_dict(), found.lines(), source.notes)


@options.over_source(
    options.output("The sheet to write: .pdf, .png or .svg."), options.REPEAT_WIDTH, options.LIMITS
)
def spec(given: Given, output: Path, **asked: Any) -> Reply:
    """Write the facts of SRC on one page: repeat, layout, match, direction, colours, cautions.

    Of a collection there is a page for every print in every colourway, or the one given.
    """
    from vecrepeat.check.findings import QUESTIONS
    from vecrepeat.proof.proving import specify
    from vecrepeat.recipe.files import is_collection

    if is_collection(given.file):
        from vecrepeat.collection.line import open_line
        from vecrepeat.collection.showing import specify_all

        if asked["width"] is not None:
            raise InputError("prints of a collection have the widths that it says")
        line = open_line(given.file)
        ways = [way] if (way := given.reading["colourway"]) else []
        with progress(str(output), len(QUESTIONS) * len(line.prints)) as step:
            every = specify_all(line, output, ways=ways, profile=asked["profile"], step=step)
        return Reply(every.as_dict(), [every.line()], every.notes)
    source = given.opened()
    with progress(str(output), len(QUESTIONS)) as step:
        done = specify(source, output, step=step, **asked)
    return Reply(done.as_dict(), [done.line()], done.notes)
