"""``vecrepeat separate``: plates for printing colour by colour."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Answer, Given, option
from vecrepeat.cli.progress import progress


@options.over_source(
    options.output("Where the plates go.", options.FOLDER),
    option(
        "--colours",
        type=click.IntRange(min=1),
        metavar="N",
        help="How many inks; by default one for every flat colour.",
    ),
    option(
        "--keep",
        multiple=True,
        metavar="COLOUR",
        help="A colour that must be an ink; may be given several times.",
    ),
    option(
        "--name",
        "named",
        multiple=True,
        metavar="COLOUR=NAME",
        help="Call an ink so; may be given several times.",
    ),
    option(
        "--soft",
        type=click.Choice(["refuse", "flat", "halftone", "tint"]),
        default="refuse",
        show_default=True,
        help="What becomes of gradients and opacity: an error, flat steps, dots, or 8-bit tints.",
    ),
    option(
        "--cloth",
        metavar="COLOUR",
        help="The colour of the cloth: what is of it takes no ink and makes no plate.",
    ),
    option(
        "--trap",
        type=options.LENGTH_OR_ZERO,
        help="Spread the lighter ink under the darker by this much where they meet.",
    ),
    option(
        "--overprint",
        multiple=True,
        metavar="INK",
        help="Knock nothing out below this ink; may be given several times.",
    ),
    option(
        "--format",
        "formats",
        type=click.Choice(["svg", "pdf", "tiff"]),
        multiple=True,
        help="What to write plates as (svg; tiff where --soft is halftone or tint); several will "
        "do.",
    ),
    option("--dpi", type=options.DPI, default="300", show_default=True),
    options.REPEAT_WIDTH,
    option(
        "--marks/--no-marks",
        default=True,
        show_default=True,
        help="Put registration and colour marks round the repeat.",
    ),
    option(
        "--lines",
        type=click.FloatRange(5, 300),
        default=45.0,
        show_default=True,
        metavar="N",
        help="Halftone dots to the inch.",
    ),
    option(
        "--laydown",
        type=click.FloatRange(min=0, min_open=True),
        metavar="GRAMS",
        help="Grams of ink on a square metre printed solid; tells the grams each plate uses.",
    ),
)
def separate(
    given: Given,
    output: Path,
    colours: int | None,
    keep: tuple[str, ...],
    named: tuple[str, ...],
    soft: str,
    cloth: str | None,
    trap: Fraction | None,
    formats: tuple[str, ...],
    **asked: Any,
) -> Answer:
    """Write a plate for each colour of SRC, light to dark, over one straight block."""
    from vecrepeat.colour.paletting import parse_colour, parse_names
    from vecrepeat.colour.plates.separating import Wanted, summary, write_plates

    wanted = Wanted(
        colours=colours,
        keep=tuple(parse_colour(text) for text in keep),
        names=parse_names(named),
        soft=soft,
        cloth=None if cloth is None else parse_colour(cloth),
        trap=float(trap or 0),
        formats=formats or (("tiff",) if soft in ("halftone", "tint") else ("svg",)),
        **asked,
    )
    source = given.opened()
    with progress("plates", colours or 1) as step:
        done = write_plates(source.repeat, output, wanted, step=step)
    lines = [*done.lines(), summary(done, output)]
    return Answer(done.as_dict(), lines, [*source.notes, *done.notes])
