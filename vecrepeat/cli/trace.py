"""``vecrepeat trace``: flat-coloured pixel motifs to vector motifs."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Answer, option
from vecrepeat.cli.progress import progress


@options.answering(
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
        show_default=True,
        type=click.FloatRange(0, 1_000_000),
        metavar="MM2",
        help="Drop areas smaller than this many square millimetres.",
    ),
    option("--keep-ground", is_flag=True, help="Keep a flat ground, as a rectangle."),
    option("--dpi", type=options.DPI, help="The pictures' dpi, in place of their own."),
    option(
        "--width",
        type=options.LENGTH,
        help="The width of each whole picture, in place of its own.",
    ),
    options.JSON,
)
def trace(pictures: tuple[Path, ...], output: Path, speck: float, **asked: Any) -> Answer:
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
    return Answer({"files": results}, ())
