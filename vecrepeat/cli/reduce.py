"""``vecrepeat reduce``: art in a few flat colours."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Answer, Given, option
from vecrepeat.core.errors import InputError


@options.over_source(
    options.output("The tile to write, SVG or PNG."),
    option(
        "--colours",
        required=True,
        type=click.IntRange(min=1),
        metavar="N",
        help="How many may be left.",
    ),
    option(
        "--keep",
        multiple=True,
        metavar="COLOUR",
        help="A colour that must be among them; may be given several times.",
    ),
    option(
        "--steps",
        type=click.IntRange(min=1),
        metavar="N",
        help="At most how many bands a gradient has; by default as many as the colours it passes.",
    ),
    option("--dpi", type=options.DPI, default="300", show_default=True),
)
def reduce(given: Given, output: Path, colours: int, keep: tuple[str, ...], **asked: Any) -> Answer:
    """Bring SRC to N flat colours, for a process with a limit on them.

    Colours are merged where it shows least: visible area times CIEDE2000. Gradients become
    steps of the colours left.
    """
    from vecrepeat.colour.paletting import parse_colour
    from vecrepeat.colour.reducing import write_reduced

    source = given.opened()
    if output.resolve() == given.file.resolve():
        raise InputError("that is the drawing itself", file=output, hint="give another name")
    kept = [parse_colour(text) for text in keep]
    done = write_reduced(source.repeat, output, colours, keep=kept, **asked)
    return Answer(done.as_dict(), done.lines(), [*source.notes, *done.notes])
