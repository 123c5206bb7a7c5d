"""``vecrepeat proof``: a strike-off sheet."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.cli.progress import progress
from vecrepeat.layout import Layout

QUESTIONS = 7
PAPERS = ("a4", "a3", "a2", "letter", "tabloid")


@click.command()
@options.source_options
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path),
    help="The proof to write: .pdf, .html, .png or .svg.",
)
@click.option(
    "--repeat-width", type=options.LengthType(), metavar="LENGTH", help="Print width of one tile."
)
@click.option(
    "--paper",
    type=click.Choice(PAPERS),
    default="a3",
    show_default=True,
    help="Paper of the sheet, lying.",
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
    paper: str,
    profile: str | None,
    as_json: bool,
) -> None:
    """Write a proof of SRC: true scale with rulers, joins, rhythm, palette and findings.

    A PDF has a second page that shows the design in use. An HTML proof is one file for any
    browser: pan, zoom, other layouts, colourways.
    """
    from vecrepeat.proving import prove

    source = options.opened(src, layout, selector, allowed, outline_text)
    with progress(str(output), QUESTIONS) as step:
        done = prove(
            source,
            output,
            width=None if repeat_width is None else repeat_width[1],
            paper=paper,
            profile=profile,
            step=step,
        )
    if as_json:
        click.echo(json.dumps(done.as_dict(), indent=2, ensure_ascii=False))
        return
    options.show_notes(done.notes)
    click.echo(done.line())
