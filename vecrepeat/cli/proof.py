"""``vecrepeat proof``: a strike-off sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Answer, Given, option
from vecrepeat.cli.progress import progress
from vecrepeat.proof.papers import PAPERS


@options.over_source(
    options.output("The proof to write: .pdf, .html, .png or .svg."),
    options.REPEAT_WIDTH,
    option(
        "--paper",
        type=click.Choice(list(PAPERS)),
        default="a3",
        show_default=True,
        help="Paper of the sheet, lying.",
    ),
    options.LIMITS,
)
def proof(given: Given, output: Path, **asked: Any) -> Answer:
    """Write a proof of SRC: true scale with rulers, joins, rhythm, palette and findings.

    A PDF has a second page that shows the design in use. An HTML proof is one file for any
    browser: pan, zoom, other layouts, colourways.
    """
    from vecrepeat.check.findings import QUESTIONS
    from vecrepeat.proof.proving import prove

    source = given.opened()
    with progress(str(output), len(QUESTIONS)) as step:
        done = prove(source, output, step=step, **asked)
    return Answer(done.as_dict(), [done.line()], done.notes)
