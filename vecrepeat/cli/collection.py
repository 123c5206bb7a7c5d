"""``vecrepeat collection`` and what shows, checks and colours one: prints that go together."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import Reply, option
from vecrepeat.cli.progress import progress
from vecrepeat.proof.papers import PAPERS

COLLECTION = click.Argument(["collection"], type=options.PATH, metavar="COLLECTION")
WAYS = option(
    "--colourway",
    "ways",
    multiple=True,
    metavar="NAME",
    help="Only this colourway (“as drawn” is one); may be given several times.",
)


@options.replying(
    click.Argument(["art"], nargs=-1, required=True, type=options.PATH),
    options.output("The folder to write it into.", options.FOLDER),
    option("--name", metavar="TEXT", help="The collection's name; by default the folder's."),
    option(
        "--colours",
        type=click.IntRange(5, 24),
        default=11,
        metavar="N",
        help="The most that the palette may have.",
    ),
    option("--tile", type=options.SIZE, help="The hero's tile; by default 10x10in."),
    options.ALLOW_DIR,
    options.JSON,
)
def collection(art: tuple[Path, ...], output: Path, **asked: Any) -> Reply:
    """Propose a collection of ART, loose motif files or folders of them.

    It is a hero of all motifs, two secondaries of some and three blenders, in one palette and
    three colourways, each a recipe to go on from, and collection.toml, which holds them together.
    """
    from vecrepeat.collection.proposing import STEPS, propose
    from vecrepeat.recipe.collection import FILE

    with progress(str(output / FILE), STEPS) as step:
        done = propose(art, output, step=step, **asked)
    click.echo(f"next: vecrepeat linesheet {done.file} -o {output / 'line.pdf'}", err=True)
    return Reply(done.as_dict(), [done.line()], done.notes)


@options.replying(
    COLLECTION,
    options.output("The line sheet to write: .pdf, .html, .png or .svg."),
    WAYS,
    option(
        "--paper", type=click.Choice(list(PAPERS)), default="a3", help="Paper of the sheet, lying."
    ),
    options.JSON,
)
def linesheet(collection: Path, output: Path, ways: tuple[str, ...], paper: str) -> Reply:
    """Show all prints of COLLECTION at one scale, with the palette's values, in every colourway.

    A PDF has a page for each colourway, and one that shows the prints used together. An HTML
    file is one page for any browser, to be sent to a buyer.
    """
    from vecrepeat.collection.line import open_line
    from vecrepeat.collection.showing import show

    line = open_line(collection)
    with progress(str(output), len(ways or line.collection.ways) + 1) as step:
        done = show(line, output, ways=ways, paper=paper, step=step)
    return Reply(done.as_dict(), [done.line()], done.notes)


@options.replying(COLLECTION, options.LIMITS, options.JSON)
def cohesion(collection: Path, profile: str | None) -> Reply:
    """Look at whether the prints of COLLECTION belong together.

    Colours that its palette lacks, scales, rest, grounds, prints that look alike, directions,
    and what the process can't hold. Exits with 0 where nothing is found, 1 where something is,
    2 for bad input.
    """
    from vecrepeat.check.profile import DEFAULT, load_profile
    from vecrepeat.collection.cohesion import check_cohesion
    from vecrepeat.collection.line import open_line

    limits = load_profile(profile or DEFAULT)
    line = open_line(collection)
    with progress(f"checking {collection.name}", len(line.prints)) as step:
        report = check_cohesion(line, limits, step)
    found = [f"{number:>3}  {one.line()}" for number, one in enumerate(report.findings, 1)]
    code = 1 if report.findings else 0
    return Reply(report.as_dict(), [*found, report.line()], report.notes, code)


@options.replying(
    click.Argument(["palette"], type=options.PATH, metavar="PALETTE"),
    options.output(
        "Write it: .css, .txt, .svg or .gpl, or a recipe's or collection's .toml, whose other "
        "text stays.",
        required=False,
    ),
    option(
        "--colours", type=options.COUNT, metavar="N", help="Of a picture; by default its 6 main."
    ),
    options.JSON,
)
def swatches(palette: Path, output: Path | None, colours: int | None) -> Reply:
    """Bring a palette in and write it as another file.

    PALETTE is a GIMP palette (.gpl), CSS custom properties, a plain list of #rrggbb (.txt,
    .hex), a recipe or collection with one, or a picture, whose main colours are taken.
    """
    from vecrepeat.sources.palettes import read_palette, write_palette

    found = read_palette(palette, colours)
    if output is not None:
        write_palette(found, output, palette.stem)
    lines = [f"{colour}  {name}" for name, colour in found.items()]
    written = [] if output is None else [f"{output}: {len(found)} colours"]
    return Reply({"file": str(palette), "palette": found}, [*lines, *written])
