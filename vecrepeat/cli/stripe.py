"""``vecrepeat stripe``: motifs in stripes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vecrepeat.cli.arrange_options import lay, recipe_options, spaced_options
from vecrepeat.repeat.ranks import RANKS


@click.command()
@recipe_options
@spaced_options
@click.option("--way", type=click.Choice(["down", "across"]), help="How stripes run.")
@click.option(
    "--order",
    type=click.Choice([*RANKS]),
    multiple=True,
    help="The ranks of the stripes in turn, once for each stripe; "
    "by default all there are, with fillers between.",
)
@click.option(
    "--times",
    type=click.IntRange(1, 200),
    help="How often the stripes come on a tile; by default as often as has room.",
)
@click.option(
    "--stagger/--no-stagger",
    default=None,
    help="Begin every other stripe of a rank half a step on.",
)
def command(
    recipe: Path,
    output: Path | None,
    as_json: bool,
    again: bool,
    order: tuple[str, ...],
    **asked: Any,
) -> None:
    """Lay the motifs of RECIPE in stripes and write their placements into it.

    Each stripe holds the motifs of one rank, evenly spaced, in whole rounds over the tile; the
    alleys between stripes are alike.
    """
    asked["order"] = order or None
    lay("stripe", recipe, output, as_json=as_json, again=again, asked=asked)
