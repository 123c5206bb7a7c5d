"""``vecrepeat motifs``: what a drawing holds."""

from __future__ import annotations

from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.repeat.layout import Layout


@click.command()
@options.source_options
@click.option(
    "--pictures",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Write a thumbnail of each motif and a contact sheet of them all there.",
)
@options.json_option
@options.reading_options
def command(
    src: Path,
    layout: Layout | None,
    selector: str | None,
    allowed: tuple[Path, ...],
    live_text: bool,
    pictures: Path | None,
    as_json: bool,
) -> None:
    """List the motifs of SRC: name, size in mm, colours, features and the bounds they cross."""
    from vecrepeat.core.units import counted, format_mm
    from vecrepeat.proof.inventory import motif_rows, table
    from vecrepeat.write.pictures import coarse_pictures

    source = options.opened(src, layout, selector, allowed, live_text, placed=False)
    page, motifs = source.page, list(source.pool.motifs.values())
    rows = motif_rows(motifs, page, source.ranks)
    notes = [*source.notes, *coarse_pictures(page, 1)]
    if pictures is not None:
        from vecrepeat.proof.thumbnails import write_thumbnails

        written = write_thumbnails(motifs, page, pictures)
    if as_json:
        facts = {
            "file": str(source.file),
            "page_mm": [float(page.width), float(page.height)],
            "ground": None if page.ground is None else page.ground.colour,
            "motifs": [row.as_dict() for row in rows],
            "notes": notes,
        }
        options.show_json(facts)
        return
    ground = "none" if page.ground is None else page.ground.colour
    click.echo(
        f"{source.file}: page {format_mm(page.width)} × {format_mm(page.height)}, "
        f"ground {ground}, {counted(len(rows), 'motif')}"
    )
    for line in table(rows):
        click.echo(line)
    if pictures is not None:
        click.echo(f"{written[-1]}: contact sheet, with {counted(len(written) - 1, 'thumbnail')}")
    options.show_notes(notes)
