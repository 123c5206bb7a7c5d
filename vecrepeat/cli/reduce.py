"""``vecrepeat reduce``: art in a few flat colours."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.layout import Layout


@click.command()
@options.source_options
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path),
    help="The tile to write, SVG or PNG.",
)
@click.option(
    "--colours",
    required=True,
    type=click.IntRange(min=1),
    metavar="N",
    help="How many may be left.",
)
@click.option(
    "--keep",
    multiple=True,
    metavar="COLOUR",
    help="A colour that must be among them; may be given several times.",
)
@click.option(
    "--steps",
    type=click.IntRange(min=1),
    metavar="N",
    help="At most how many bands a gradient has; by default as many as the colours it passes.",
)
@click.option("--dpi", type=options.DpiType(), default="300", show_default=True, metavar="N")
@options.json_option
@options.reading_options
def command(
    src: Path,
    layout: Layout | None,
    selector: str | None,
    allowed: tuple[Path, ...],
    live_text: bool,
    output: Path,
    colours: int,
    keep: tuple[str, ...],
    steps: int | None,
    dpi: Fraction,
    as_json: bool,
) -> None:
    """Bring SRC to N flat colours, for a process with a limit on them.

    Colours are merged where it shows least: visible area times CIEDE2000. Gradients become
    steps of the colours left.
    """
    from vecrepeat.colour.paletting import parse_colour
    from vecrepeat.colour.reduce import write_reduced

    source = options.opened(src, layout, selector, allowed, live_text)
    if output.resolve() == src.resolve():
        raise InputError("that is the drawing itself", file=output, hint="give another name")
    done = write_reduced(
        source.repeat,
        output,
        colours,
        keep=[parse_colour(text) for text in keep],
        steps=steps,
        dpi=dpi,
    )
    if as_json:
        facts = {**done.as_dict(), "notes": [*source.notes, *done.notes]}
        options.show_json(facts)
        return
    options.show_notes([*source.notes, *done.notes])
    for line in done.lines():
        click.echo(line)
