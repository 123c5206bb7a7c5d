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
@options.json_option
def command(art: Path, selector: str | None, allowed: tuple[Path, ...], as_json: bool) -> None:
    """List the motifs of ART: name, size in mm and the bounds of the page they cross."""
    from vecrepeat.art.read import read_art
    from vecrepeat.inventory import motif_rows
    from vecrepeat.units import counted, format_mm

    drawing = read_art(art, motifs=selector, allowed=allowed)
    rows = motif_rows(drawing)
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
    widest = max(len(row.name) for row in rows)
    click.echo(f"{'motif':<{widest}}  {'size in mm':>15}  crosses")
    for row in rows:
        size = f"{row.width:.1f} × {row.height:.1f}"
        click.echo(f"{row.name:<{widest}}  {size:>15}  {', '.join(row.crosses) or '–'}")
    options.show_notes(drawing.notes)
