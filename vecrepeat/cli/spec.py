"""``vecrepeat spec``: a design's facts on one page."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.cli.progress import progress
from vecrepeat.layout import Layout

QUESTIONS = 7


@click.command()
@options.source_options
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path),
    help="The sheet to write: .pdf, .png or .svg.",
)
@click.option(
    "--repeat-width", type=options.LengthType(), metavar="LENGTH", help="Print width of one tile."
)
@click.option("--profile", metavar="NAME|FILE", help="Limits of the check; see vecrepeat check.")
@options.json_option
def command(
    src: Path,
    layout: Layout | None,
    selector: str | None,
    allowed: tuple[Path, ...],
    outline_text: bool,
    output: Path,
    repeat_width: tuple[str, Fraction] | None,
    profile: str | None,
    as_json: bool,
) -> None:
    """Write the facts of SRC on one page: repeat, layout, match, direction, colours, cautions."""
    from vecrepeat.proving import specify

    source = options.opened(src, layout, selector, allowed, outline_text)
    with progress(str(output), QUESTIONS) as step:
        done = specify(
            source,
            output,
            width=None if repeat_width is None else repeat_width[1],
            profile=profile,
            step=step,
        )
    if as_json:
        click.echo(json.dumps(done.as_dict(), indent=2, ensure_ascii=False))
        return
    options.show_notes(done.notes)
    click.echo(done.line())
