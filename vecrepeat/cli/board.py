"""``vecrepeat board``: motifs moved by hand over the endless cloth."""

from __future__ import annotations

import signal
from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.cli.progress import rest
from vecrepeat.repeat.layout import Layout


@click.command()
@click.argument("src", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    help="The recipe to begin for a drawing; by default beside it, under its name.",
)
@options.layout_option
@options.allow_dir_option
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    help="The port on this machine; by default any that is free.",
)
@click.option("--no-browser", is_flag=True, help="Only print the page's address.")
def command(
    src: Path,
    output: Path | None,
    layout: Layout | None,
    allowed: tuple[Path, ...],
    port: int,
    no_browser: bool,
) -> None:
    """Open a page on which motifs are moved by hand, and the endless cloth is seen to change.

    SRC is a recipe, or a drawing that a recipe is begun for. The art itself is never written.
    The page is this machine's alone, and ends with this command (Ctrl+C).
    """
    from vecrepeat.board.run import recipe_for, serve
    from vecrepeat.draw.cairo_library import NO_CAIRO, usual_engine

    recipe, note = recipe_for(src, output, layout, allowed)
    if note:
        options.show_notes([note])
    if usual_engine() == "resvg":
        # Now: what is said as the command ends comes too late.
        options.show_notes([NO_CAIRO])
    # From here on it waits, and the server answers Ctrl+C itself.
    rest()
    signal.signal(signal.SIGINT, signal.default_int_handler)
    serve(
        recipe,
        port=port,
        allowed=allowed,
        look=not no_browser,
        told=click.echo,
        noted=options.show_notes,
    )
