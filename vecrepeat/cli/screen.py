"""``vecrepeat screen``: a repeat against a rotary screen."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.repeat.layout import Layout


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
@options.repeat_width_option
@options.repeat_height_option
@options.json_option
@options.reading_options
def command(
    src: Path,
    layout: Layout | None,
    selector: str | None,
    circumference: Fraction,
    width: Fraction,
    repeat_width: Fraction | None,
    repeat_height: Fraction | None,
    allowed: tuple[Path, ...],
    live_text: bool,
    as_json: bool,
) -> None:
    """Tell whether SRC's repeat goes round a rotary screen, and the next size that does."""
    from vecrepeat.draw.plan import printed_size
    from vecrepeat.goods.screens import on_screen

    source = options.opened(src, layout, selector, allowed, live_text)
    repeat = source.repeat
    tile = printed_size(
        repeat,
        repeat_width,
        repeat_height,
    )
    screen = on_screen(repeat.layout, tile, circumference, width)
    if as_json:
        options.show_json(screen.as_dict())
        return
    options.show_notes(source.notes)
    for line in screen.lines():
        click.echo(line)
