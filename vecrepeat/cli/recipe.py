"""``vecrepeat recipe``: a first recipe from art."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import option
from vecrepeat.repeat.layout import Layout


@click.command(
    params=[
        click.Argument(["art"], nargs=-1, required=True, type=options.PATH),
        options.output("The recipe to write, a .toml file."),
        option(
            "--loose",
            "all_loose",
            is_flag=True,
            help="Take each SVG file as one motif, not as a page. Folders and pictures always are.",
        ),
        option(
            "--tile",
            type=options.SIZE,
            help="The tile's size; by default the first page's, else 10x10in.",
        ),
        options.LAYOUT,
        option("--as-drawn", is_flag=True, help="Leave placements to the drawing."),
        options.ALLOW_DIR,
    ]
)
def recipe(art: tuple[Path, ...], output: Path, layout: Layout | None, **asked: Any) -> None:
    """Write a first recipe from ART: drawings of a page, loose motif files, or folders of them.

    Every command takes a recipe wherever it takes a drawing. Open it in any text editor.
    """
    from vecrepeat.core.units import counted
    from vecrepeat.sources.first import start_recipe

    started = start_recipe(art, output, layout=layout or Layout(), **asked)
    options.tell([f"{output}: {counted(started.motifs, 'motif')}"], started.notes)
    step = "board" if started.placed else "toss"
    click.echo(f"next: vecrepeat {step} {output}", err=True)
