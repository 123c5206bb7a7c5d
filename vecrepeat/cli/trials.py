"""``vecrepeat trials``: one toss under many seeds, the best of them on one sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.arrange_options import asked_keys, toss_options
from vecrepeat.cli.progress import progress


@click.command()
@click.argument("src", type=click.Path(path_type=Path))
@click.option(
    "-n",
    "count",
    type=click.IntRange(1, 60),
    default=12,
    show_default=True,
    metavar="N",
    help="How many to show.",
)
@click.option(
    "--seeds",
    "drawn",
    type=click.IntRange(1, 1000),
    default=60,
    show_default=True,
    metavar="N",
    help="How many seeds to choose them from.",
)
@click.option(
    "-o",
    "--output",
    "folder",
    type=click.Path(path_type=Path),
    required=True,
    metavar="FOLDER",
    help="Where to write trials.svg and trials.png.",
)
@click.option(
    "--seed", type=click.IntRange(0), default=1, show_default=True, help="The first of the seeds."
)
@toss_options
@options.json_option
def command(src: Path, count: int, drawn: int, folder: Path, as_json: bool, **asked: Any) -> None:
    """Toss the motifs of SRC under many seeds and show the best on one sheet, to choose by eye.

    Each toss is scored: motifs and colours well apart, gaps even, weight balanced. The settings
    are those of toss and of the recipe; SRC itself stays as it is. Each picture is 2 × 2 tiles,
    so that all joins show, and says its seed and why it scores. Take one with toss --seed.
    """
    from vecrepeat.proof.trials import try_seeds
    from vecrepeat.sources.source import open_source

    source = open_source(src, placed=False)
    with progress("trials", max(count, drawn)) as step:
        done = try_seeds(source, folder, asked_keys(asked), count, drawn=drawn, step=step)
    if as_json:
        options.show_json({**done.as_dict(), "notes": [*source.notes, *done.notes]})
        return
    options.show_notes([*source.notes, *done.notes])
    click.echo(done.line())
