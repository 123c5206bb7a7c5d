"""``vecrepeat spec``: a design's facts on one page."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.cli.progress import progress
from vecrepeat.repeat.layout import Layout


@click.command()
@options.source_options
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path),
    help="The sheet to write: .pdf, .png or .svg.",
)
@options.repeat_width_option
@options.profile_option
@options.json_option
@options.reading_options
def command(
    src: Path,
    layout: Layout | None,
    selector: str | None,
    allowed: tuple[Path, ...],
    live_text: bool,
    output: Path,
    repeat_width: Fraction | None,
    profile: str | None,
    as_json: bool,
) -> None:
    """Write the facts of SRC on one page: repeat, layout, match, direction, colours, cautions."""
    from vecrepeat.check.findings import QUESTIONS
    from vecrepeat.proof.proving import specify

    source = options.opened(src, layout, selector, allowed, live_text)
    with progress(str(output), len(QUESTIONS)) as step:
        done = specify(
            source,
            output,
            width=repeat_width,
            profile=profile,
            step=step,
        )
    if as_json:
        options.show_json(done.as_dict())
        return
    options.show_notes(done.notes)
    click.echo(done.line())
