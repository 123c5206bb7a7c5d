"""``vecrepeat screen``: a repeat against a rotary screen."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.layout import Layout

Length = tuple[str, Fraction]


@click.command()
@options.source_options
@click.option(
    "--circumference",
    type=options.LengthType(),
    default="640mm",
    show_default=True,
    metavar="LENGTH",
    help="Of the screen.",
)
@click.option(
    "--width",
    type=options.LengthType(),
    default="1500mm",
    show_default=True,
    metavar="LENGTH",
    help="That the screen prints.",
)
@click.option(
    "--repeat-width", type=options.LengthType(), metavar="LENGTH", help="Print width of one tile."
)
@click.option(
    "--repeat-height", type=options.LengthType(), metavar="LENGTH", help="Print height of one tile."
)
@options.json_option
def command(
    src: Path,
    layout: Layout | None,
    selector: str | None,
    circumference: Length,
    width: Length,
    repeat_width: Length | None,
    repeat_height: Length | None,
    allowed: tuple[Path, ...],
    outline_text: bool,
    as_json: bool,
) -> None:
    """Tell whether SRC's repeat goes round a rotary screen, and the next size that does."""
    from vecrepeat.goods.screens import on_screen
    from vecrepeat.raster.plan import printed_size

    source = options.opened(src, layout, selector, allowed, outline_text)
    repeat = source.repeat
    tile = printed_size(
        repeat,
        None if repeat_width is None else repeat_width[1],
        None if repeat_height is None else repeat_height[1],
    )
    screen = on_screen(repeat.layout, tile, circumference[1], width[1])
    if as_json:
        click.echo(json.dumps(screen.as_dict(), indent=2, ensure_ascii=False))
        return
    options.show_notes(source.notes)
    for line in screen.lines():
        click.echo(line)
