"""``vecrepeat colourways``: one design in other colours."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Answer, Given, option
from vecrepeat.cli.progress import progress


@options.over_source(
    options.output("Where the colourways and the line-up sheet go.", options.FOLDER),
    option(
        "--map",
        "pairs",
        multiple=True,
        metavar="COLOUR=COLOUR",
        help="Make one colourway of these; palette names will do on the left.",
    ),
    option("--ground", metavar="COLOUR", help="The ground of the colourway given by --map."),
    option(
        "--suggest",
        type=click.IntRange(0, 7),
        default=0,
        metavar="N",
        help="Add N colourways by rule: the other ground, tonal, muted, ember, dusk, two hue "
        "turns.",
    ),
    option(
        "--keep", is_flag=True, help="Write the colourways of --map and --suggest into the recipe."
    ),
    option(
        "--format",
        "formats",
        type=click.Choice(["png", "svg", "none"]),
        multiple=True,
        default=("png",),
        show_default=True,
        help="What to write each as; none for the line-up sheet alone.",
    ),
    option("--dpi", type=options.DPI, default="150", show_default=True),
    options.REPEAT_WIDTH,
    option(
        "--contrast",
        type=click.FloatRange(min=0),
        default=5.0,
        show_default=True,
        metavar="DELTA-E",
        help="Warn where touching colours come closer than this (CIEDE2000).",
    ),
)
def colourways(
    given: Given,
    output: Path,
    pairs: tuple[str, ...],
    ground: str | None,
    suggest: int,
    keep: bool,
    formats: tuple[str, ...],
    **asked: Any,
) -> Answer:
    """Write SRC in other colours, and one sheet that shows all colourways together.

    A recipe's own [[colourway]] tables come first.
    """
    from vecrepeat.colour import colourways, paletting

    source = given.opened()
    seen, palette = paletting.palette_of(source.repeat, names=paletting.recipe_names(source))
    ways = colourways.gathered(
        seen,
        palette,
        listed=colourways.recipe_colourways(source, palette),
        pairs=paletting.parse_pairs(pairs, "--map"),
        ground=ground,
        suggest=suggest,
    )
    kinds = [kind for kind in dict.fromkeys(formats) if kind != "none"]
    with progress("colourways", len(ways)) as step:
        written, sheet = colourways.write_colourways(
            seen, palette, ways, output, formats=kinds, step=step, **asked
        )
    if keep:
        colourways.keep_colourways(source, ways)
    faults = [f"{way.name}: {fault.line()}" for way in written for fault in way.faults]
    options.tell((way.line() for way in written), [*source.notes, *faults])
    facts = {"colourways": [way.as_dict() for way in written], "line_up": str(sheet)}
    last = f"{sheet}: line-up sheet of {len(written) + 1} colourways"
    return Answer(facts, [last], source.notes)
