"""``vecrepeat palette``: the colours of a design and how much is seen of each."""

from __future__ import annotations

from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.repeat.layout import Layout


@click.command()
@options.source_options
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Write palette files there: CSS, JSON, CSV, TOML and chip cards.",
)
@click.option(
    "--merge",
    type=click.FloatRange(min=0),
    default=2.0,
    show_default=True,
    metavar="DELTA-E",
    help="Colours no farther apart than this (CIEDE2000) count as one.",
)
@click.option(
    "--name",
    "named",
    multiple=True,
    metavar="COLOUR=NAME",
    help="Call a colour so; may be given several times.",
)
@click.option("--save", is_flag=True, help="Write the palette into the recipe.")
@options.json_option
@options.reading_options
def command(
    src: Path,
    layout: Layout | None,
    selector: str | None,
    allowed: tuple[Path, ...],
    live_text: bool,
    output: Path | None,
    merge: float,
    named: tuple[str, ...],
    save: bool,
    as_json: bool,
) -> None:
    """List the colours of SRC by the area that is seen of them after all overlaps."""
    from vecrepeat.colour import paletting

    asked = paletting.parse_names(named)
    source = options.opened(src, layout, selector, allowed, live_text)
    names = paletting.recipe_names(source) | asked
    _, found = paletting.palette_of(source.repeat, merge=merge, names=names)
    if save:
        paletting.save_palette(source, found)
    files = [] if output is None else paletting.write_palette(found, output, source.name)
    notes = [*source.notes, *paletting.notes_on(found)]
    if as_json:
        facts = {
            "file": str(source.file),
            "colours": [entry.as_dict() for entry in found.entries],
            "bare_cloth": found.cloth,
            "files": [str(file) for file in files],
            "notes": notes,
        }
        options.show_json(facts)
        return
    options.show_notes(notes)
    for line in paletting.table(found):
        click.echo(line)
    if output is not None:
        click.echo(f"{output}: {len(files)} palette files")
