"""``vecrepeat check``: find what ruins a repeat before it is printed."""

from __future__ import annotations

import sys
from fractions import Fraction
from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.cli.progress import progress
from vecrepeat.repeat.layout import Layout


@click.command()
@options.source_options
@click.option(
    "--only",
    metavar="QUESTIONS",
    help="Ask only these: joins, collisions, voids, alleys, balance, print, glare.",
)
@options.profile_option
@click.option(
    "--finished/--wraps",
    default=None,
    help="The page is a finished tile, or its motifs wrap by themselves; seen from the drawing "
    "where neither is said.",
)
@options.repeat_width_option
@click.option("--dpi", type=options.DpiType(), metavar="N", help="The print's pixels per inch.")
@click.option(
    "--picture",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Draw the findings on the repeated plane, as .svg or .png.",
)
@options.json_option
@options.reading_options
def command(
    src: Path,
    layout: Layout | None,
    selector: str | None,
    only: str | None,
    profile: str | None,
    finished: bool | None,
    repeat_width: Fraction | None,
    dpi: Fraction | None,
    picture: Path | None,
    allowed: tuple[Path, ...],
    live_text: bool,
    as_json: bool,
) -> None:
    """Look for what ruins a repeat: bad joins, collisions, voids, alleys and more.

    SRC is a drawing whose motifs wrap, or a finished tile: SVG, PNG, TIFF or JPEG. Exits with
    0 where nothing is found, 1 where something is, 2 for bad input.
    """
    from vecrepeat.check import checking
    from vecrepeat.draw.cairo import start_ahead

    questions = checking.asked(only)
    limits = checking.limits(profile, dpi)
    checking.require_picture_name(picture)
    with progress(f"checking {src.name}", len(questions)) as step:
        if checking.is_picture(src):
            report = checking.check_picture(
                src, layout=layout, profile=limits, only=questions, width=repeat_width, step=step
            )
        else:
            if {"balance", "glare"} & set(questions):
                start_ahead()
            source = options.opened(src, layout, selector, allowed, live_text)
            report = checking.check_drawing(
                source,
                profile=limits,
                only=questions,
                finished=finished,
                width=repeat_width,
                step=step,
            )
    if picture is not None:
        checking.write_picture(report, picture)
    if as_json:
        options.show_json(report.as_dict())
    else:
        options.show_notes(report.notes)
        for number, finding in enumerate(report.findings, 1):
            click.echo(f"{number:>3}  {finding.line()}")
        click.echo(report.line())
    sys.exit(1 if report.findings else 0)
