"""``vecrepeat separate``: plates for printing colour by colour."""

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
    metavar="FOLDER",
    help="Where the plates go.",
)
@click.option(
    "--colours",
    type=click.IntRange(min=1),
    metavar="N",
    help="How many inks; by default one for every flat colour.",
)
@click.option(
    "--keep",
    multiple=True,
    metavar="COLOUR",
    help="A colour that must be an ink; may be given several times.",
)
@click.option(
    "--name",
    "named",
    multiple=True,
    metavar="COLOUR=NAME",
    help="Call an ink so; may be given several times.",
)
@click.option(
    "--soft",
    type=click.Choice(["refuse", "flat", "halftone", "tint"]),
    default="refuse",
    show_default=True,
    help="What becomes of gradients and opacity: an error, flat steps, dots, or 8-bit tints.",
)
@click.option(
    "--cloth",
    metavar="COLOUR",
    help="The colour of the cloth: what is of it takes no ink and makes no plate.",
)
@click.option(
    "--trap",
    type=options.LengthType(zero=True),
    metavar="LENGTH",
    help="Spread the lighter ink under the darker by this much where they meet.",
)
@click.option(
    "--overprint",
    multiple=True,
    metavar="INK",
    help="Knock nothing out below this ink; may be given several times.",
)
@click.option(
    "--format",
    "formats",
    type=click.Choice(["svg", "pdf", "tiff"]),
    multiple=True,
    help="What to write plates as (svg; tiff where --soft is halftone or tint); several will do.",
)
@click.option("--dpi", type=options.DpiType(), default="300", show_default=True, metavar="N")
@options.repeat_width_option
@click.option(
    "--marks/--no-marks",
    default=True,
    show_default=True,
    help="Put registration and colour marks round the repeat.",
)
@click.option(
    "--lines",
    type=click.FloatRange(5, 300),
    default=45.0,
    show_default=True,
    metavar="N",
    help="Halftone dots to the inch.",
)
@click.option(
    "--laydown",
    type=click.FloatRange(min=0, min_open=True),
    metavar="GRAMS",
    help="Grams of ink on a square metre printed solid; tells the grams each plate uses.",
)
@options.json_option
@options.reading_options
def command(
    src: Path,
    layout: Layout | None,
    selector: str | None,
    allowed: tuple[Path, ...],
    live_text: bool,
    output: Path,
    colours: int | None,
    keep: tuple[str, ...],
    named: tuple[str, ...],
    soft: str,
    cloth: str | None,
    trap: Fraction | None,
    overprint: tuple[str, ...],
    formats: tuple[str, ...],
    dpi: Fraction,
    repeat_width: Fraction | None,
    marks: bool,
    lines: float,
    laydown: float | None,
    as_json: bool,
) -> None:
    """Write a plate for each colour of SRC, light to dark, over one straight block."""
    from vecrepeat.colour.paletting import parse_colour, parse_names
    from vecrepeat.colour.plates.separating import Wanted, write_plates

    wanted = Wanted(
        colours=colours,
        keep=tuple(parse_colour(text) for text in keep),
        names=parse_names(named),
        soft=soft,
        cloth=None if cloth is None else parse_colour(cloth),
        trap=float(trap or 0),
        overprint=overprint,
        formats=formats or (("tiff",) if soft in ("halftone", "tint") else ("svg",)),
        dpi=dpi,
        width=repeat_width,
        marks=marks,
        lines=lines,
        laydown=laydown,
    )
    source = options.opened(src, layout, selector, allowed, live_text)
    with progress("plates", colours or 1) as step:
        done = write_plates(source.repeat, output, wanted, step=step)
    if as_json:
        facts = {**done.as_dict(), "notes": [*source.notes, *done.notes]}
        options.show_json(facts)
        return
    options.show_notes([*source.notes, *done.notes])
    for line in done.lines():
        click.echo(line)
