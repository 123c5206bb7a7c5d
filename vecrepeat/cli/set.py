"""``vecrepeat set``: motifs on a regular grid."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vecrepeat.cli.arrange_options import lay, recipe_options, spaced_options


@click.command()
@recipe_options
@spaced_options
@click.option(
    "--columns", type=click.IntRange(1, 200), help="On a tile; by default each motif has a place."
)
@click.option("--rows", type=click.IntRange(1, 200), help="On a tile; likewise.")
@click.option(
    "--stagger",
    type=click.Choice(["none", "drop", "brick"]),
    help="Move every other column (drop) or row (brick) by half a step.",
)
@click.option(
    "--alike/--no-alike",
    default=None,
    help="Bring motifs to much the same size, or keep their proportions; alike by default.",
)
def command(recipe: Path, output: Path | None, as_json: bool, again: bool, **asked: Any) -> None:
    """Set the motifs of RECIPE on a regular grid and write their placements into it.

    Heroes and secondaries take the grid's points in turn, fillers the middles between. The
    grid runs on over every join. Motifs are brought to much the same size, and made smaller
    together where they would not keep the clearance.
    """
    lay("set", recipe, output, as_json=as_json, again=again, asked=asked)
