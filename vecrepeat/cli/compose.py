"""``vecrepeat compose``: the repeat as an SVG file."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.errors import InputError
from vecrepeat.layout import Layout
from vecrepeat.units import Size


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
@click.option(
    "--repeat-width", type=options.LengthType(), metavar="LENGTH", help="Print width of one tile."
)
@click.option(
    "--repeat-height", type=options.LengthType(), metavar="LENGTH", help="Print height of one tile."
)
@click.option(
    "--inline",
    is_flag=True,
    help="Write every copy out, for programs that ignore <use> inside patterns.",
)
@click.option(
    "--tile-only", is_flag=True, help="Write one finished tile as a plain drawing, no pattern."
)
@options.json_option
def command(
    src: Path,
    output: Path,
    layout: Layout | None,
    selector: str | None,
    sheet: Size | None,
    repeat_width: tuple[str, Fraction] | None,
    repeat_height: tuple[str, Fraction] | None,
    inline: bool,
    tile_only: bool,
    allowed: tuple[Path, ...],
    outline_text: bool,
    as_json: bool,
) -> None:
    """Write the seamless repeat of SRC as an SVG pattern.

    Motifs that cross the page's edges or corners come in again on the other side.
    """
    from vecrepeat.composing import compose

    source = options.opened(src, layout, selector, allowed, outline_text)
    if output.resolve() == src.resolve():
        raise InputError("that is the drawing itself", file=output, hint="give another name")
    composed = compose(
        source.repeat,
        output,
        sheet=sheet,
        width=None if repeat_width is None else repeat_width[1],
        height=None if repeat_height is None else repeat_height[1],
        inline=inline,
        tile_only=tile_only,
    )
    if as_json:
        facts = {**composed.as_dict(), "notes": list(source.notes)}
        click.echo(json.dumps(facts, indent=2, ensure_ascii=False))
        return
    options.show_notes(source.notes)
    click.echo(composed.line())
