"""``vecrepeat compose``: the repeat as an SVG file."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.core.units import Size
from vecrepeat.repeat.layout import Layout


@click.command()
@options.source_options
@click.option(
    "-o", "--output", required=True, type=click.Path(path_type=Path), help="The SVG file to write."
)
@click.option(
    "--sheet",
    type=options.SizeType(),
    metavar="SIZE",
    help="Fill a sheet of this size, such as 54x36in, instead of one straight block.",
)
@options.repeat_width_option
@options.repeat_height_option
@click.option(
    "--inline",
    is_flag=True,
    help="Write every copy out, for programs that ignore <use> inside patterns.",
)
@click.option(
    "--tile-only", is_flag=True, help="Write one finished tile as a plain drawing, no pattern."
)
@options.json_option
@options.reading_options
def command(
    src: Path,
    output: Path,
    layout: Layout | None,
    selector: str | None,
    sheet: Size | None,
    repeat_width: Fraction | None,
    repeat_height: Fraction | None,
    inline: bool,
    tile_only: bool,
    allowed: tuple[Path, ...],
    live_text: bool,
    as_json: bool,
) -> None:
    """Write the seamless repeat of SRC as an SVG pattern.

    Motifs that cross the page's edges or corners come in again on the other side.
    """
    from vecrepeat.write.composing import compose

    source = options.opened(src, layout, selector, allowed, live_text)
    composed = compose(
        source.repeat,
        output,
        sheet=sheet,
        width=repeat_width,
        height=repeat_height,
        inline=inline,
        tile_only=tile_only,
    )
    if as_json:
        facts = {**composed.as_dict(), "notes": list(source.notes)}
        options.show_json(facts)
        return
    options.show_notes(source.notes)
    click.echo(composed.line())
