"""``vecrepeat roll``: what a room takes, and a wall's drops as files."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Answer, Given, option
from vecrepeat.cli.print_options import PRINT_OPTIONS, print_settings
from vecrepeat.cli.progress import progress
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import MM_PER_INCH, Size


@options.over_source(
    option(
        "--roll",
        type=options.SIZE,
        default="53cmx10.05m",
        show_default=True,
        help="A roll's width and length.",
    ),
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
        show_default=True,
        help="Cut off each drop, top and bottom together.",
    ),
    option(
        "--match",
        type=click.Choice(["layout", "free"]),
        default="layout",
        show_default=True,
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
    overlap: Fraction | None,
    dpi: Fraction | None,
    **asked: Any,
) -> Answer:
    """Work out the match and the rolls that walls take, and write a wall's drops.

    Measure on the site itself and buy all rolls of one batch. How wallpaper must behave in
    fire is a matter of local codes, for its printer and its hanger.
    """
    from vecrepeat.goods.drops import write_panels
    from vecrepeat.goods.papering import Papering

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
        overlap=None if output is None else overlap or Fraction(0),
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
    return Answer(facts, [*room.lines(), *(done.line() for done in written)], notes)
