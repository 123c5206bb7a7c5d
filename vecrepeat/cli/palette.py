"""``vecrepeat palette``: the colours of a design and how much is seen of each."""

from __future__ import annotations

from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Answer, Given, option


@options.over_source(
    options.output(
        "Write palette files there: CSS, JSON, CSV, TOML and chip cards.",
        options.FOLDER,
        required=False,
    ),
    option(
        "--merge",
        type=click.FloatRange(min=0),
        default=2.0,
        show_default=True,
        metavar="DELTA-E",
        help="Colours no farther apart than this (CIEDE2000) count as one.",
    ),
    option(
        "--name",
        "named",
        multiple=True,
        metavar="COLOUR=NAME",
        help="Call a colour so; may be given several times.",
    ),
    option("--save", is_flag=True, help="Write the palette into the recipe."),
)
def palette(
    given: Given, output: Path | None, merge: float, named: tuple[str, ...], save: bool
) -> Answer:
    """List the colours of SRC by the area that is seen of them after all overlaps."""
    from vecrepeat.colour import paletting

    asked = paletting.parse_names(named)
    source = given.opened()
    names = paletting.recipe_names(source) | asked
    _, found = paletting.palette_of(source.repeat, merge=merge, names=names)
    if save:
        paletting.save_palette(source, found)
    files = [] if output is None else paletting.write_palette(found, output, source.name)
    facts = {
        "file": str(source.file),
        "colours": [entry.as_dict() for entry in found.entries],
        "bare_cloth": found.cloth,
        "files": [str(file) for file in files],
    }
    written = [] if output is None else [f"{output}: {len(files)} palette files"]
    notes = [*source.notes, *paletting.notes_on(found)]
    return Answer(facts, [*paletting.table(found), *written], notes)
