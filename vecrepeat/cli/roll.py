"""``vecrepeat roll``: what a room takes, and a wall's drops as files."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vecrepeat.cli import options
from vecrepeat.cli.print_options import print_options
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import MM_PER_INCH, Size
from vecrepeat.repeat.layout import Layout

if TYPE_CHECKING:
    from vecrepeat.write.formats import Settings


@click.command()
@options.source_options
@click.option(
    "--roll",
    "roll_size",
    type=options.SizeType(),
    default="53cmx10.05m",
    show_default=True,
    metavar="SIZE",
    help="A roll's width and length.",
)
@click.option(
    "--wall",
    "walls",
    type=options.SizeType(),
    multiple=True,
    metavar="SIZE",
    help="A wall to paper: 4.2x2.5m; may be given several times.",
)
@click.option(
    "--opening",
    "openings",
    type=options.SizeType(),
    multiple=True,
    metavar="SIZE",
    help="A door or window in the only wall given; may be given several times.",
)
@click.option(
    "--trim",
    type=options.LengthType(zero=True),
    default="10cm",
    show_default=True,
    metavar="LENGTH",
    help="Cut off each drop, top and bottom together.",
)
@click.option(
    "--match",
    "match_name",
    type=click.Choice(["layout", "free"]),
    default="layout",
    show_default=True,
    help="free for designs that join anywhere.",
)
@options.repeat_width_option
@options.repeat_height_option
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    help="Write the only wall given as printable drops; the name must hold {number}.",
)
@click.option(
    "--overlap",
    type=options.LengthType(zero=True),
    metavar="LENGTH",
    help="By how much drops that are written lie over each other.",
)
@options.dpi_option
@print_options
@options.json_option
@options.reading_options
def command(
    src: Path,
    layout: Layout | None,
    selector: str | None,
    roll_size: Size,
    walls: tuple[Size, ...],
    openings: tuple[Size, ...],
    trim: Fraction,
    match_name: str,
    repeat_width: Fraction | None,
    repeat_height: Fraction | None,
    output: str | None,
    overlap: Fraction | None,
    dpi: Fraction | None,
    allowed: tuple[Path, ...],
    live_text: bool,
    as_json: bool,
    settings: Settings,
) -> None:
    """Work out the match and the rolls that walls take, and write a wall's drops.

    Measure on the site itself and buy all rolls of one batch. How wallpaper must behave in
    fire is a matter of local codes, for its printer and its hanger.
    """
    from vecrepeat.cli.progress import progress
    from vecrepeat.goods.papering import Papering, write_panels

    if (openings or output) and len(walls) != 1:
        raise InputError("--opening and -o go with exactly one --wall")
    source = options.opened(src, layout, selector, allowed, live_text)
    room = Papering.of(
        source.repeat,
        width=repeat_width,
        height=repeat_height,
        roll=roll_size,
        walls=walls,
        openings=openings,
        trim=trim,
        free=match_name == "free",
        overlap=None if output is None else overlap or Fraction(0),
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
                width=repeat_width,
                height=repeat_height,
                trim=trim,
                settings=settings,
                progress=step,
            )
    if as_json:
        facts = {**room.as_dict(), "files": [done.as_dict() for done in written]}
        facts["notes"] = [*source.notes, *room.notes]
        options.show_json(facts)
        return
    options.show_notes([*source.notes, *room.notes])
    options.show_notes(list(dict.fromkeys(note for done in written for note in done.notes)))
    for line in [*room.lines(), *(done.line() for done in written)]:
        click.echo(line)
