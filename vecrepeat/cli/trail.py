"""``vecrepeat trail``: motifs along a drawn path."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.arrange_options import lay, recipe_options, spaced_options


@click.command()
@recipe_options
@click.option(
    "--along",
    metavar="NAME|FILE",
    help="The path: a motif of the recipe, such as a drawn stem, or an SVG file beside it.",
)
@spaced_options
@click.option(
    "--side",
    type=click.Choice(["both", "left", "right", "on"]),
    help="Where motifs sit, as the path was drawn; both sides in turn by default.",
)
@click.option(
    "--off",
    type=options.LengthType(zero=True),
    metavar="LENGTH",
    help="How far off the path they sit; by default they touch it.",
)
@click.option(
    "--lean",
    type=click.FloatRange(-90, 90),
    metavar="DEGREES",
    help="How far they lean forward along it; 35 by default.",
)
@click.option("--follow/--no-follow", default=None, help="Whether they turn with the path.")
@click.option(
    "--spacing",
    type=options.LengthType(zero=True),
    metavar="LENGTH",
    help="Least distance along the path; by default the clearance.",
)
def command(recipe: Path, output: Path | None, as_json: bool, again: bool, **asked: Any) -> None:
    """Lay the motifs of RECIPE along a drawn path and write their placements into it.

    The path may cross the page's edges. Where it ends at its own beginning, or where the next
    tile's copy of it begins, motifs go round without a seam. A motif of the recipe that serves
    as the path is placed as drawn, below the others.
    """
    lay("trail", recipe, output, as_json=as_json, again=again, asked=asked)
