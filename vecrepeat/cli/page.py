"""``vecrepeat motifs``, ``compose`` and ``export``: a drawn page to a repeat."""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Given, Reply, option
from vecrepeat.cli.print_options import PRINT_OPTIONS, print_settings
from vecrepeat.cli.progress import progress
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import Size

Length = tuple[str, Fraction | None]
_ANY: Length = ("", None)
"""Where no length is asked for."""


@options.over_source(
    option(
        "--pictures",
        type=options.FOLDER,
        help="Write a thumbnail of each motif and a contact sheet of them all there.",
    )
)
def motifs(given: Given, pictures: Path | None) -> Reply:
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
    return Reply(facts, lines, [*source.notes, *coarse_pictures(page, 1)])


@options.over_source(
    options.output("The SVG file to write."),
    option(
        "--sheet",
        type=options.SIZE,
        help="Fill a sheet of this size, such as 54x36in, instead of one straight block.",
    ),
    options.REPEAT_WIDTH,
    options.REPEAT_HEIGHT,
    option(
        "--inline",
        is_flag=True,
        help="Write every copy out, for programs that ignore <use> inside patterns.",
    ),
    option(
        "--tile-only", is_flag=True, help="Write one finished tile as a plain drawing, no pattern."
    ),
)
def compose(given: Given, output: Path, **asked: Any) -> Reply:
    """Write the seamless repeat of SRC as an SVG pattern.

    Motifs that cross the page's edges or corners come in again on the other side.
    """
    from vecrepeat.write import composing

    source = given.opened()
    done = composing.compose(source.repeat, output, **asked)
    return Reply(done.as_dict(), [done.line()], source.notes)


@options.over_source(
    options.output(
        "The file to write: .png, .tif, .jpg, .webp or .pdf; "
        "may hold {name}, {layout}, {width}, {height} and {dpi}.",
        click.STRING,
        metavar="FILE",
    ),
    option(
        "--dpi",
        "dpis",
        type=options.DPI,
        multiple=True,
        help="Pixels per inch, 300 by default; may be given several times. A PDF's tiles lie on "
        "whole pixels too where it is given, and are exact where not.",
    ),
    option("--sheet", type=options.SIZE, help="Fill a sheet: 54x36in."),
    option("--block", is_flag=True, help="Write the straight block, for printers that need it."),
    option(
        "--repeat-width",
        "widths",
        type=options.NAMED_LENGTH,
        multiple=True,
        help="Print width of one tile; may be given several times.",
    ),
    option(
        "--repeat-height",
        "heights",
        type=options.NAMED_LENGTH,
        multiple=True,
        help="Print height of one tile; may be given several times.",
    ),
    option("--exact", is_flag=True, help="Refuse sizes that are not whole pixels."),
    option("--transparent", is_flag=True, help="Leave the ground out; write an alpha channel."),
    *PRINT_OPTIONS,
    option(
        "--engine",
        type=click.Choice(["auto", "cairo", "resvg"]),
        default="auto",
        help="Which renderer draws; auto takes resvg for motifs that cairo does not draw "
        "faithfully, and where there is no cairo library.",
    ),
)
def export(
    given: Given,
    output: str,
    dpis: tuple[Fraction, ...],
    sheet: Size | None,
    block: bool,
    widths: tuple[Length, ...],
    heights: tuple[Length, ...],
    exact: bool,
    transparent: bool,
    engine: str,
    **asked: Any,
) -> Reply:
    """Write SRC as a print-ready file: one tile, a straight block or a sheet.

    Without --sheet or --block it writes one tile of the layout. The file's ending says the
    format: PNG and TIFF are lossless, JPEG and WebP are pictures for shops, PDF is vector.
    Pictures' sizes that are not whole pixels are snapped and the difference is told.
    """
    from vecrepeat.core.units import format_mm
    from vecrepeat.draw.cairo import start_ahead
    from vecrepeat.write.exporting import DPI, Exporter, file_name
    from vecrepeat.write.formats import known

    settings = print_settings(asked)
    if sheet is not None and block:
        raise InputError("--sheet and --block exclude each other", hint="give one of them")
    if widths and heights and len(widths) * len(heights) > 1:
        raise InputError(
            "several repeat widths and heights can't be paired",
            hint="give several of one kind only",
        )
    suffix = known(Path(output))
    if engine != "resvg" and suffix != ".pdf":
        start_ahead()
    source = given.opened()
    exporter = Exporter(source.repeat, engine=engine)
    jobs = {}
    sizes = product(widths or (_ANY,), heights or (_ANY,), dpis or (DPI,))
    for (wide, width), (high, height), dpi in dict.fromkeys(sizes):
        plan = exporter.plan(dpi, width=width, height=height, exact=exact)
        fields = {
            "name": source.name,
            "layout": str(source.repeat.layout),
            "width": wide or format_mm(plan.printed.width).replace(" ", ""),
            "height": high or format_mm(plan.printed.height).replace(" ", ""),
            "dpi": f"{float(dpi):g}",
        }
        name = file_name(output, fields)
        if Path(name).suffix.lower() != suffix:
            raise InputError("the name's ending can't be a placeholder", file=name)
        if name in jobs:
            raise InputError(
                f"two sizes would both be written to {name}",
                hint="put {width}, {height} or {dpi} in the name",
            )
        jobs[name] = exporter.sheet(plan, size=sheet, block=block, on_pixels=bool(dpis))
    options.tell((), source.notes)
    results = []
    for name, planned in jobs.items():
        with progress(name, planned.height) as step:
            done = exporter.write(
                name, planned, transparent=transparent, settings=settings, progress=step
            )
        results.append(done.as_dict())
        options.tell([done.line()], done.notes)
    return Reply({"files": results}, (), source.notes)
