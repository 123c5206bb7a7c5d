"""``vecrepeat proof``: a strike-off sheet."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.cli.progress import progress
from vecrepeat.proof.papers import PAPERS
from vecrepeat.repeat.layout import Layout


@click.command()
@options.source_options
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path),
    help="The proof to write: .pdf, .html, .png or .svg.",
)
@options.repeat_width_option
@click.option(
    "--paper",
    type=click.Choice(list(PAPERS)),
    default="a3",
    show_default=True,
    help="Paper of the sheet, lying.",
)
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
    paper: str,
    profile: str | None,
    as_json: bool,
) -> None:
    """Write a proof of SRC: true scale with rulers, joins, rhythm, palette and findings.

    A PDF has a second page that shows the design in use. An HTML proof is one file for any
    browser: pan, zoom, other layouts, colourways.
    """
    from vecrepeat.check.findings import QUESTIONS
    from vecrepeat.proof.proving import prove

    source = options.opened(src, layout, selector, allowed, live_text)
    with progress(str(output), len(QUESTIONS)) as step:
        done = prove(
            source,
            output,
            width=repeat_width,
            paper=paper,
            profile=profile,
            step=step,
        )
    if as_json:
        options.show_json(done.as_dict())
        return
    options.show_notes(done.notes)
    click.echo(done.line())
