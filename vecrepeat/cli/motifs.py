"""``vecrepeat motifs``: what a drawing holds."""

from __future__ import annotations

import json
from pathlib import Path

import click

from vecrepeat.cli import options


@click.command()
@options.art_argument
@options.motifs_option
@options.allow_dir_option
@click.option(
    "--pictures",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Write a thumbnail of each motif and a contact sheet of them all there.",
)
@options.json_option
def command(
    art: Path,
    selector: str | None,
    allowed: tuple[Path, ...],
    pictures: Path | None,
    as_json: bool,
) -> None:
    """List the motifs of ART: name, size in mm, colours, features and the bounds they cross."""
    from vecrepeat.art.read import read_art
    from vecrepeat.inventory import motif_rows, table
    from vecrepeat.units import counted, format_mm

    drawing = read_art(art, motifs=selector, allowed=allowed)
    rows = motif_rows(drawing)
    if pictures is not None:
        from vecrepeat.thumbnails import write_thumbnails

        written = write_thumbnails(drawing, pictures)
    if as_json:
        facts = {
            "file": str(drawing.file),
            "page_mm": [float(drawing.width), float(drawing.height)],
            "ground": None if drawing.ground is None else drawing.ground.colour,
            "motifs": [row.as_dict() for row in rows],
            "notes": list(drawing.notes),
        }
        click.echo(json.dumps(facts, indent=2, ensure_ascii=False))
        return
    ground = "none" if drawing.ground is None else drawing.ground.colour
    click.echo(
        f"{drawing.file}: page {format_mm(drawing.width)} × {format_mm(drawing.height)}, "
        f"ground {ground}, {counted(len(rows), 'motif')}"
    )
    for line in table(rows):
        click.echo(line)
    if pictures is not None:
        click.echo(f"{written[-1]}: contact sheet, with {counted(len(written) - 1, 'thumbnail')}")
    options.show_notes(drawing.notes)
