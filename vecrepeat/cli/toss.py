"""``vecrepeat toss``: motifs strewn over the cloth."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vecrepeat.cli.arrange_options import (
    again_option,
    lay,
    recipe_options,
    seed_option,
    toss_options,
)


@click.command()
@recipe_options
@seed_option
@toss_options
@again_option
def command(recipe: Path, output: Path | None, as_json: bool, again: bool, **asked: Any) -> None:
    """Toss the motifs of RECIPE over the repeat and write their placements into it.

    Heroes come first, spread evenly, then secondaries, then fillers into what is left; no two
    come closer than the clearance, over the joins too. The same seed gives the same toss.
    """
    lay("toss", recipe, output, as_json=as_json, again=again, asked=asked)
