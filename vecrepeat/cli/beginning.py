"""``vecrepeat recipe``, ``board`` and ``trace``: what a repeat of loose motifs begins with."""

from __future__ import annotations

import signal
import sys
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Reply, option
from vecrepeat.cli.progress import progress, rest
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.ranks import DENSITIES

if TYPE_CHECKING:
    from vecrepeat.board.sharing import Share


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
        option(
            "--finished",
            is_flag=True,
            help="ART is one finished tile, of SVG or pixels, which stays as it is.",
        ),
        option("--as-drawn", is_flag=True, help="Leave sizes and placements to the drawings."),
        option(
            "--density",
            type=click.Choice(DENSITIES),
            default="medium",
            help="How full a toss of loose motifs is; medium by default.",
        ),
        options.ALLOW_DIR,
    ]
)
def recipe(art: tuple[Path, ...], output: Path, layout: Layout | None, **asked: Any) -> None:
    """Write a first recipe from ART: drawings of a page, loose motif files, or folders of them.

    Loose motifs get ranks and sizes that belong together, and a ground to stand on; all are keys
    to change. Every command takes a recipe wherever it takes a drawing. Open it in any text editor.
    """
    from vecrepeat.core.units import counted
    from vecrepeat.sources.first import start_recipe

    started = start_recipe(art, output, layout=layout or Layout(), **asked)
    options.tell([f"{output}: {counted(started.motifs, 'motif')}"], started.notes)
    step = "board" if started.placed else "toss"
    click.echo(f"next: vecrepeat {step} {output}", err=True)


@click.command(
    params=[
        click.Argument(["src"], type=options.PATH, required=False),
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
        option(
            "--share",
            is_flag=True,
            help="Let a device of the same network in too, by a word that is shown.",
        ),
        option(
            "--devices",
            type=click.IntRange(1, 16),
            metavar="N",
            help="With --share: how many devices at once; 1 by default.",
        ),
        option(
            "--address",
            type=click.UNPROCESSED,
            metavar="ADDRESS",
            help="With --share: this machine's IPv4 address in the network, if it has several.",
        ),
    ]
)
def board(
    src: Path | None,
    output: Path | None,
    layout: Layout | None,
    allowed: tuple[Path, ...],
    port: int,
    no_browser: bool,
    share: bool,
    devices: int | None,
    address: str | None,
) -> None:
    """Open a page on which a design is begun, arranged by hand and written, start to end.

    Without SRC, or with a folder, it opens on the designs there. SRC may be one of them, a
    recipe, or a drawing that a recipe is begun for. The art itself is never written. The page is
    this machine's alone unless shared, and ends with this command (Ctrl+C).
    """
    from vecrepeat.board.run import place_for, serve
    from vecrepeat.draw.cairo_library import NO_CAIRO, usual_engine

    root, recipe, note = place_for(src, output, layout, allowed)
    # Now: what is said as the command ends comes too late.
    missing = NO_CAIRO if usual_engine() == "resvg" else None
    options.show_notes([said for said in (note, missing) if said])
    # From here on it waits, and the server answers Ctrl+C itself.
    rest()
    signal.signal(signal.SIGINT, signal.default_int_handler)
    serve(
        root,
        recipe,
        port=port,
        allowed=allowed,
        look=not no_browser,
        share=_share(share, devices, address),
        told=click.echo,
        coded=_show_code,
        noted=options.show_notes,
    )


def _share(share: bool, devices: int | None, address: str | None) -> Share | None:
    if not share:
        if devices is not None or address is not None:
            raise InputError("--devices and --address are for a board that is shared: add --share")
        return None
    from vecrepeat.board.sharing import Share

    return Share(devices or 1, address)


def _show_code(code: str) -> None:
    # Scanners want it dark on light, whatever the terminal's colours are.
    if sys.stdout.isatty():
        for line in code.splitlines():
            click.secho(line, fg="bright_white", bg="black")


@options.replying(
    click.Argument(["pictures"], nargs=-1, required=True, type=options.PATH, metavar="PICTURE..."),
    options.output(
        "The SVG file to write, or a folder for one of each picture.", metavar="FILE|FOLDER"
    ),
    option(
        "--colours",
        type=click.IntRange(1, 256),
        metavar="N",
        help="Reduce to so many colours, the ground not counted; else those of its flat areas.",
    ),
    option(
        "--speck",
        default="0.05",
        type=click.FloatRange(0, 1_000_000),
        metavar="MM2",
        help="Drop areas smaller than this many square millimetres.",
    ),
    option("--keep-ground", is_flag=True, help="Keep a flat ground, as a rectangle."),
    option("--dpi", type=options.DPI, help="The pictures' dpi, in place of their own."),
    option(
        "--width", type=options.LENGTH, help="The width of each whole picture, in place of its own."
    ),
    options.JSON,
)
def trace(pictures: tuple[Path, ...], output: Path, speck: float, **asked: Any) -> Reply:
    """Turn each PICTURE of flat colours (PNG, WebP, TIFF or JPEG) into an SVG motif.

    The palette is reduced first, to colours that the picture has; a flat ground is dropped. The
    size stays. It prints how far the edges are from the pixels', in mm.
    """
    from vecrepeat.sources.tracing import outputs, trace_picture

    results = []
    for picture, file in outputs(pictures, output):
        with progress(picture.name, 100) as step:
            done = trace_picture(picture, file, speck=Fraction(speck), progress=step, **asked)
        results.append(done.as_dict())
        options.tell([done.line()], done.notes)
    return Reply({"files": results}, ())
