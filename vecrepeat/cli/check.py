"""``vecrepeat check``: find what ruins a repeat before it is printed."""

from __future__ import annotations

import json
import sys
from fractions import Fraction
from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.cli.progress import progress
from vecrepeat.layout import Layout


@click.command()
@options.source_options
@click.option(
    "--only",
    metavar="QUESTIONS",
    help="Ask only these: joins, collisions, voids, alleys, balance, print, glare.",
)
@click.option(
    "--profile",
    "profile_name",
    metavar="NAME|FILE",
    help="Limits to hold it to: cloth-digital (the default), cloth-rotary, wallpaper-digital, "
    "screen, or a TOML file.",
)
@click.option(
    "--finished/--wraps",
    default=None,
    help="The page is a finished tile, or its motifs wrap by themselves; seen from the drawing "
    "where neither is said.",
)
@click.option(
    "--repeat-width", type=options.LengthType(), metavar="LENGTH", help="Print width of one tile."
)
@click.option("--dpi", type=options.DpiType(), metavar="N", help="The print's pixels per inch.")
@click.option(
    "--picture",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Draw the findings on the repeated plane, as .svg or .png.",
)
@options.json_option
def command(
    src: Path,
    layout: Layout | None,
    selector: str | None,
    only: str | None,
    profile_name: str | None,
    finished: bool | None,
    repeat_width: tuple[str, Fraction] | None,
    dpi: Fraction | None,
    picture: Path | None,
    allowed: tuple[Path, ...],
    outline_text: bool,
    as_json: bool,
) -> None:
    """Look for what ruins a repeat: bad joins, collisions, voids, alleys and more.

    SRC is a drawing whose motifs wrap, or a finished tile: SVG, PNG, TIFF or JPEG. Exits with
    0 where nothing is found, 1 where something is, 2 for bad input.
    """
    from vecrepeat import checking
    from vecrepeat.raster.cairo_workers import start_ahead

    questions = checking.asked(only)
    profile = checking.limits(profile_name, dpi)
    width = None if repeat_width is None else repeat_width[1]
    checking.require_picture_name(picture)
    with progress(f"checking {src.name}", len(questions)) as step:
        if checking.is_picture(src):
            report = checking.check_picture(
                src, layout=layout, profile=profile, only=questions, width=width, step=step
            )
        else:
            if {"balance", "glare"} & set(questions):
                start_ahead()
            source = options.opened(src, layout, selector, allowed, outline_text)
            report = checking.check_drawing(
                source,
                profile=profile,
                only=questions,
                finished=finished,
                width=width,
                step=step,
            )
    if picture is not None:
        checking.write_picture(report, picture)
    if as_json:
        click.echo(json.dumps(report.as_dict(), indent=2, ensure_ascii=False))
    else:
        options.show_notes(report.notes)
        for number, finding in enumerate(report.findings, 1):
            click.echo(f"{number:>3}  {finding.line()}")
        click.echo(report.line())
    sys.exit(1 if report.findings else 0)
