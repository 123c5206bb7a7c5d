"""``vecrepeat motifs``: what a drawing holds."""

from __future__ import annotations

from pathlib import Path

from vecrepeat.cli import options
from vecrepeat.cli.options import Answer, Given, option


@options.over_source(
    option(
        "--pictures",
        type=options.FOLDER,
        help="Write a thumbnail of each motif and a contact sheet of them all there.",
    )
)
def motifs(given: Given, pictures: Path | None) -> Answer:
    """List the motifs of SRC: name, size in mm, colours, features and the bounds they cross."""
    from vecrepeat.core.units import counted, format_mm
    from vecrepeat.proof.inventory import motif_rows, table
    from vecrepeat.write.pictures import coarse_pictures

    source = given.opened(placed=False)
    page, motifs = source.page, list(source.pool.motifs.values())
    rows = motif_rows(motifs, page, source.ranks)
    ground = None if page.ground is None else page.ground.colour
    facts = {
        "file": str(source.file),
        "page_mm": [float(page.width), float(page.height)],
        "ground": ground,
        "motifs": [row.as_dict() for row in rows],
    }
    lines = [
        f"{source.file}: page {format_mm(page.width)} × {format_mm(page.height)}, "
        f"ground {ground or 'none'}, {counted(len(rows), 'motif')}",
        *table(rows),
    ]
    if pictures is not None:
        from vecrepeat.proof.thumbnails import write_thumbnails

        written = write_thumbnails(motifs, page, pictures)
        count = counted(len(written) - 1, "thumbnail")
        lines.append(f"{written[-1]}: contact sheet, with {count}")
    return Answer(facts, lines, [*source.notes, *coarse_pictures(page, 1)])
