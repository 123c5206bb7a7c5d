"""``vecrepeat export``: print files from art."""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vecrepeat.cli import options
from vecrepeat.cli.print_options import print_options
from vecrepeat.cli.progress import progress
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import Size
from vecrepeat.repeat.layout import Layout

if TYPE_CHECKING:
    from vecrepeat.write.formats import Settings

Length = tuple[str, Fraction]


@click.command()
@options.source_options
@click.option(
    "-o",
    "--output",
    required=True,
    metavar="FILE",
    help="The file to write: .png, .tif, .jpg, .webp or .pdf; "
    "may hold {name}, {layout}, {width}, {height} and {dpi}.",
)
@click.option(
    "--dpi",
    "dpis",
    type=options.DpiType(),
    multiple=True,
    metavar="N",
    help="Pixels per inch, 300 by default; may be given several times. A PDF's tiles lie on whole "
    "pixels too where it is given, and are exact where not.",
)
@click.option("--sheet", type=options.SizeType(), metavar="SIZE", help="Fill a sheet: 54x36in.")
@click.option("--block", is_flag=True, help="Write the straight block, for printers that need it.")
@click.option(
    "--repeat-width",
    "widths",
    type=options.NamedLengthType(),
    multiple=True,
    metavar="LENGTH",
    help="Print width of one tile; may be given several times.",
)
@click.option(
    "--repeat-height",
    "heights",
    type=options.NamedLengthType(),
    multiple=True,
    metavar="LENGTH",
    help="Print height of one tile; may be given several times.",
)
@click.option("--exact", is_flag=True, help="Refuse sizes that are not whole pixels.")
@click.option("--transparent", is_flag=True, help="Leave the ground out; write an alpha channel.")
@print_options
@click.option(
    "--engine",
    type=click.Choice(["auto", "cairo", "resvg"]),
    default="auto",
    show_default=True,
    help="Which renderer draws; auto takes resvg for art that cairo does not draw faithfully, and "
    "where there is no cairo library.",
)
@options.json_option
@options.reading_options
def command(
    src: Path,
    output: str,
    layout: Layout | None,
    selector: str | None,
    dpis: tuple[Fraction, ...],
    sheet: Size | None,
    block: bool,
    widths: tuple[Length, ...],
    heights: tuple[Length, ...],
    exact: bool,
    transparent: bool,
    engine: str,
    allowed: tuple[Path, ...],
    live_text: bool,
    as_json: bool,
    settings: Settings,
) -> None:
    """Write SRC as a print-ready file: one tile, a straight block or a sheet.

    Without --sheet or --block it writes one tile of the layout. The file's ending says the
    format: PNG and TIFF are lossless, JPEG and WebP are pictures for shops, PDF is vector.
    Pictures' sizes that are not whole pixels are snapped and the difference is told.
    """
    from vecrepeat.core.units import format_mm
    from vecrepeat.draw.cairo import start_ahead
    from vecrepeat.write.exporting import DPI, Exporter, file_name
    from vecrepeat.write.formats import known

    if sheet is not None and block:
        raise InputError("--sheet and --block exclude each other", hint="give one of them")
    sizes = _sizes(widths, heights)
    suffix = known(Path(output))
    if engine != "resvg" and suffix != ".pdf":
        start_ahead()
    source = options.opened(src, layout, selector, allowed, live_text)
    exporter = Exporter(source.repeat, engine=engine)
    jobs = {}
    for (width, height), dpi in product(sizes, dict.fromkeys(dpis or (DPI,))):
        plan = exporter.plan(
            dpi,
            width=None if width is None else width[1],
            height=None if height is None else height[1],
            exact=exact,
        )
        fields = {
            "name": source.name,
            "layout": str(source.repeat.layout),
            "width": width[0] if width else format_mm(plan.printed.width).replace(" ", ""),
            "height": height[0] if height else format_mm(plan.printed.height).replace(" ", ""),
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
    if not as_json:
        options.show_notes(source.notes)
    results = []
    for name, planned in jobs.items():
        with progress(name, planned.height) as step:
            done = exporter.write(
                name, planned, transparent=transparent, settings=settings, progress=step
            )
        results.append(done.as_dict())
        if not as_json:
            options.show_notes(done.notes)
            click.echo(done.line())
    if as_json:
        options.show_json({"files": results, "notes": list(source.notes)})


def _sizes(
    widths: tuple[Length, ...], heights: tuple[Length, ...]
) -> list[tuple[Length | None, Length | None]]:
    """Return the print sizes asked for as (width, height) pairs."""
    if widths and heights:
        if len(widths) > 1 or len(heights) > 1:
            raise InputError(
                "several repeat widths and heights can't be paired",
                hint="give several of one kind only",
            )
        return [(widths[0], heights[0])]
    if widths:
        return [(width, None) for width in dict.fromkeys(widths)]
    return [(None, height) for height in dict.fromkeys(heights)] or [(None, None)]
