"""``vecrepeat fill``: fillers into the voids."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.arrange_options import (
    RangeType,
    asked_keys,
    manner_options,
    recipe_options,
    seed_option,
    tell,
)


@click.command()
@recipe_options
@seed_option
@manner_options
@click.option("--count", type=click.IntRange(0), help="The most fillers; by default all that fit.")
@click.option(
    "--smallest",
    type=options.LengthType(zero=True),
    metavar="LENGTH",
    help="Diameter of the smallest void to fill.",
)
@click.option("--scale", type=RangeType(), metavar="RANGE", help="Fillers' scale, as 0.6-1.")
def command(recipe: Path, output: Path | None, as_json: bool, **asked: Any) -> None:
    """Put RECIPE's fillers into the largest voids; what is placed stays where it is."""
    from vecrepeat.arrange.arranging import fill_recipe
    from vecrepeat.sources.source import open_source

    source = open_source(recipe)
    done = fill_recipe(source, output or recipe, asked_keys(asked))
    tell(source, done, as_json)
