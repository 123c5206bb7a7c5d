"""``vecrepeat colourways``: one design in other colours."""

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
    help="Where the colourways and the line-up sheet go.",
)
@click.option(
    "--map",
    "pairs",
    multiple=True,
    metavar="COLOUR=COLOUR",
    help="Make one colourway of these; palette names will do on the left.",
)
@click.option("--ground", metavar="COLOUR", help="The ground of the colourway given by --map.")
@click.option(
    "--suggest",
    type=click.IntRange(0, 7),
    default=0,
    metavar="N",
    help="Add N colourways by rule: the other ground, tonal, muted, ember, dusk, two hue turns.",
)
@click.option(
    "--keep",
    is_flag=True,
    help="Write the colourways of --map and --suggest into the recipe.",
)
@click.option(
    "--format",
    "formats",
    type=click.Choice(["png", "svg", "none"]),
    multiple=True,
    default=("png",),
    show_default=True,
    help="What to write each as; none for the line-up sheet alone.",
)
@click.option("--dpi", type=options.DpiType(), default="150", show_default=True, metavar="N")
@options.repeat_width_option
@click.option(
    "--contrast",
    type=click.FloatRange(min=0),
    default=5.0,
    show_default=True,
    metavar="DELTA-E",
    help="Warn where touching colours come closer than this (CIEDE2000).",
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
    pairs: tuple[str, ...],
    ground: str | None,
    suggest: int,
    keep: bool,
    formats: tuple[str, ...],
    dpi: Fraction,
    repeat_width: Fraction | None,
    contrast: float,
    as_json: bool,
) -> None:
    """Write SRC in other colours, and one sheet that shows all colourways together.

    A recipe's own [[colourway]] tables come first.
    """
    from vecrepeat.colour import colourways, paletting

    source = options.opened(src, layout, selector, allowed, live_text)
    seen, palette = paletting.palette_of(source.repeat, names=paletting.recipe_names(source))
    ways = colourways.gathered(
        seen,
        palette,
        listed=colourways.recipe_colourways(source, palette),
        pairs=paletting.parse_pairs(pairs, "--map"),
        ground=ground,
        suggest=suggest,
    )
    with progress("colourways", len(ways)) as step:
        written, sheet = colourways.write_colourways(
            seen,
            palette,
            ways,
            output,
            formats=[kind for kind in dict.fromkeys(formats) if kind != "none"],
            dpi=dpi,
            width=repeat_width,
            contrast=contrast,
            step=step,
        )
    if keep:
        colourways.keep_colourways(source, ways)
    if as_json:
        facts = {
            "colourways": [way.as_dict() for way in written],
            "line_up": str(sheet),
            "notes": list(source.notes),
        }
        options.show_json(facts)
        return
    options.show_notes(source.notes)
    for way in written:
        options.show_notes([f"{way.name}: {fault.line()}" for fault in way.faults])
        click.echo(way.line())
    click.echo(f"{sheet}: line-up sheet of {len(written) + 1} colourways")
