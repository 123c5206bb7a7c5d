"""``vecrepeat check`` and ``proof``: a repeat before it is printed."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Given, Reply, option
from vecrepeat.cli.progress import progress
from vecrepeat.proof.papers import PAPERS


@options.over_source(
    option(
        "--only",
        metavar="QUESTIONS",
        help="Ask only these: joins, collisions, voids, alleys, balance, print, glare.",
    ),
    options.LIMITS,
    option(
        "--finished/--wraps",
        default=None,
        help="The page is a finished tile, or its motifs wrap by themselves; seen from the drawing "
        "where neither is said.",
    ),
    options.REPEAT_WIDTH,
    option("--dpi", type=options.DPI, help="The print's pixels per inch."),
    option(
        "--picture",
        type=options.FILE,
        help="Draw the findings on the repeated plane, as .svg or .png.",
    ),
)
def check(
    given: Given,
    only: str | None,
    profile: str | None,
    finished: bool | None,
    width: Fraction | None,
    dpi: Fraction | None,
    picture: Path | None,
) -> Reply:
    """Look for what ruins a repeat: bad joins, collisions, voids, alleys and more.

    SRC is a drawing whose motifs wrap, or a finished tile: SVG, PNG, TIFF or JPEG. Exits with
    0 where nothing is found, 1 where something is, 2 for bad input.
    """
    from vecrepeat.check import checking
    from vecrepeat.check.findings import LOOKING
    from vecrepeat.draw.cairo import start_ahead

    questions = checking.parse_questions(only)
    limits = checking.limits_for(profile, dpi)
    checking.require_picture_name(picture)
    with progress(f"checking {given.file.name}", len(questions)) as step:
        if checking.is_picture(given.file):
            layout = given.reading["layout"]
            report = checking.check_picture(
                given.file, layout=layout, profile=limits, only=questions, width=width, step=step
            )
        else:
            if LOOKING & set(questions):
                start_ahead()
            report = checking.check_drawing(
                given.opened(),
                profile=limits,
                only=questions,
                finished=finished,
                width=width,
                step=step,
            )
    if picture is not None:
        checking.write_picture(report, picture)
    found = [f"{number:>3}  {one.line()}" for number, one in enumerate(report.findings, 1)]
    code = 1 if report.findings else 0
    return Reply(report.as_dict(), [*found, report.line()], report.notes, code)


@options.over_source(
    options.output("The proof to write: .pdf, .html, .png or .svg."),
    options.REPEAT_WIDTH,
    option(
        "--paper", type=click.Choice(list(PAPERS)), default="a3", help="Paper of the sheet, lying."
    ),
    options.LIMITS,
)
def proof(given: Given, output: Path, **asked: Any) -> Reply:
    """Write a proof of SRC: true scale with rulers, joins, rhythm, palette and findings.

    A PDF has a second page that shows the design in use. An HTML proof is one file for any
    browser: pan, zoom, other layouts, colourways.
    """
    from vecrepeat.check.findings import QUESTIONS
    from vecrepeat.proof.proving import prove

    source = given.opened()
    with progress(str(output), len(QUESTIONS)) as step:
        done = prove(source, output, step=step, **asked)
    return Reply(done.as_dict(), [done.line()], done.notes)
