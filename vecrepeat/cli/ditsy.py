"""``vecrepeat ditsy``: small motifs scattered close."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.arrange_options import (
    again_option,
    lay,
    manner_options,
    recipe_options,
    seed_option,
)
from vecrepeat.core.allowance import PLACEMENTS


@click.command()
@recipe_options
@seed_option
@manner_options
@click.option(
    "--size",
    type=options.LengthType(),
    metavar="LENGTH",
    help="The largest motif's longer side; by default a 12th of the tile.",
)
@click.option("--count", type=click.IntRange(1, PLACEMENTS), help="How many on a tile.")
@click.option(
    "--spacing",
    type=click.FloatRange(0.5, 20),
    help="Mean distance between motifs, in sizes, where no count is given; 0.8 by default.",
)
@again_option
def command(recipe: Path, output: Path | None, as_json: bool, again: bool, **asked: Any) -> None:
    """Scatter the motifs of RECIPE, all small, and write their placements into it.

    No motif is above another: ranks are of no account. Clearance is 1.5 mm and motifs may be
    mirrored unless you say otherwise. The same motif keeps a little apart from itself.
    """
    lay("ditsy", recipe, output, as_json=as_json, again=again, asked=asked)
