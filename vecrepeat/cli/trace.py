"""``vecrepeat trace``: flat-coloured pixel motifs to vector motifs."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import click

from vecrepeat.cli import options
from vecrepeat.cli.progress import progress


@click.command()
@click.argument(
    "pictures", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="PICTURE..."
)
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FILE|FOLDER",
    help="The SVG file to write, or a folder for one of each picture.",
)
@click.option(
    "--colours",
    type=click.IntRange(1, 256),
    metavar="N",
    help="Reduce to so many colours, the ground not counted; else those of its flat areas.",
)
@click.option(
    "--speck",
    default="0.05",
    show_default=True,
    type=click.FloatRange(0, 1_000_000),
    metavar="MM2",
    help="Drop areas smaller than this many square millimetres.",
)
@click.option("--keep-ground", is_flag=True, help="Keep a flat ground, as a rectangle.")
@click.option(
    "--dpi", type=options.DpiType(), metavar="N", help="The pictures' dpi, in place of their own."
)
@click.option(
    "--width",
    type=options.LengthType(),
    metavar="LENGTH",
    help="The width of each whole picture, in place of its own.",
)
@options.json_option
def command(
    pictures: tuple[Path, ...],
    output: Path,
    colours: int | None,
    speck: float,
    keep_ground: bool,
    dpi: Fraction | None,
    width: Fraction | None,
    as_json: bool,
) -> None:
    """Turn each PICTURE of flat colours (PNG, WebP, TIFF or JPEG) into an SVG motif.

    The palette is reduced first, to colours that the picture has; a flat ground is dropped. The
    size stays. It prints how far the edges are from the pixels', in mm.
    """
    from vecrepeat.sources.tracing import outputs, trace_picture

    results = []
    for picture, file in outputs(pictures, output):
        with progress(picture.name, 100) as step:
            done = trace_picture(
                picture,
                file,
                colours=colours,
                speck=Fraction(speck),
                keep_ground=keep_ground,
                dpi=dpi,
                width=width,
                progress=step,
            )
        results.append(done.as_dict())
        if not as_json:
            options.show_notes(done.notes)
            click.echo(done.line())
    if as_json:
        options.show_json({"files": results})
