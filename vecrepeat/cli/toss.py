"""``vecrepeat toss``: motifs strewn over the cloth."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.arrange_options import RangeType, arrange_options, asked_keys
from vecrepeat.errors import InputError


@click.command()
@arrange_options
@click.option("--heroes", type=click.IntRange(0), help="How many heroes on a tile.")
@click.option("--secondaries", type=click.IntRange(0), help="How many secondaries.")
@click.option("--fillers", type=click.IntRange(0), help="How many fillers.")
@click.option("--hero-coverage", type=click.FloatRange(0, 1), help="Share for heroes to paint.")
@click.option("--secondary-coverage", type=click.FloatRange(0, 1), help="Share for secondaries.")
@click.option("--filler-coverage", type=click.FloatRange(0, 1), help="Share for fillers.")
@click.option("--hero-scale", type=RangeType(), metavar="RANGE", help="Such as 0.9-1.1.")
@click.option("--secondary-scale", type=RangeType(), metavar="RANGE", help="Likewise.")
@click.option("--filler-scale", type=RangeType(), metavar="RANGE", help="Likewise.")
@click.option("--again", is_flag=True, help="Give up the placements that the recipe has.")
def command(recipe: Path, output: Path | None, as_json: bool, again: bool, **asked: Any) -> None:
    """Toss the motifs of RECIPE over the repeat and write their placements into it.

    Heroes come first, spread evenly, then secondaries, then fillers into what is left; no two
    come closer than the clearance, over the joins too. The same seed gives the same toss.
    """
    from vecrepeat.arranging import toss_recipe
    from vecrepeat.sources import open_source

    source = open_source(recipe, placed=False)
    if output is None and not again and source.recipe is not None and source.recipe.placements:
        raise InputError(
            "it has placements, which a toss would give up",
            file=recipe,
            hint="give --again, or another name with -o",
        )
    done = toss_recipe(source, output or recipe, asked_keys(asked))
    notes = [*source.notes, *done.notes]
    if as_json:
        click.echo(json.dumps({**done.facts, "notes": notes}, indent=2, ensure_ascii=False))
        return
    options.show_notes(notes)
    click.echo(done.line)
