"""``vecrepeat board``: motifs moved by hand over the endless cloth."""

from __future__ import annotations

import signal
from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import option
from vecrepeat.cli.progress import rest
from vecrepeat.repeat.layout import Layout


@click.command(
    params=[
        click.Argument(["src"], type=options.PATH),
        options.output(
            "The recipe to begin for a drawing; by default beside it, under its name.",
            required=False,
        ),
        options.LAYOUT,
        options.ALLOW_DIR,
        option(
            "--port",
            type=click.IntRange(0, 65535),
            default=0,
            help="The port on this machine; by default any that is free.",
        ),
        option("--no-browser", is_flag=True, help="Only print the page's address."),
    ]
)
def board(
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
    # Now: what is said as the command ends comes too late.
    missing = NO_CAIRO if usual_engine() == "resvg" else None
    options.show_notes([said for said in (note, missing) if said])
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
