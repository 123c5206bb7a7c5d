"""``vecrepeat recipe``: a first recipe from art."""

from __future__ import annotations

from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.core.units import Size
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.ranks import DENSITIES


@click.command()
@click.argument("art", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path),
    help="The recipe to write, a .toml file.",
)
@click.option(
    "--loose",
    "all_loose",
    is_flag=True,
    help="Take each SVG file as one motif, not as a page. Folders and pictures always are.",
)
@click.option(
    "--tile",
    type=options.SizeType(),
    metavar="SIZE",
    help="The tile's size; by default the first page's, else 10x10in.",
)
@options.layout_option
@click.option("--as-drawn", is_flag=True, help="Leave sizes and placements to the drawings.")
@click.option(
    "--density",
    type=click.Choice(DENSITIES),
    default="medium",
    help="How full a toss of loose motifs is; medium by default.",
)
@options.allow_dir_option
def command(
    art: tuple[Path, ...],
    output: Path,
    all_loose: bool,
    tile: Size | None,
    layout: Layout | None,
    as_drawn: bool,
    density: str,
    allowed: tuple[Path, ...],
) -> None:
    """Write a first recipe from ART: drawings of a page, loose motif files, or folders of them.

    Loose motifs get ranks and sizes that belong together, and a ground to stand on; all are keys
    to change. Every command takes a recipe wherever it takes a drawing. Open it in any text editor.
    """
    from vecrepeat.core.units import counted
    from vecrepeat.sources.first import start_recipe

    started = start_recipe(
        art,
        output,
        all_loose=all_loose,
        tile=tile,
        layout=layout or Layout(),
        as_drawn=as_drawn,
        density=density,
        allowed=allowed,
    )
    options.show_notes(started.notes)
    click.echo(f"{output}: {counted(started.motifs, 'motif')}")
    step = "board" if started.placed else "toss"
    click.echo(f"next: vecrepeat {step} {output}", err=True)
