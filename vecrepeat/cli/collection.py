"""``vecrepeat collection`` and what shows, checks and colours one: prints that go together."""

from __future__ import annotations

from pathlib import Path

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
