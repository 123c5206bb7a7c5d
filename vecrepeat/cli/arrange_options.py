"""Options that the arranging commands share; each is written once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from vecrepeat.cli import options
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.ranks import DIRECTIONS

if TYPE_CHECKING:
    from vecrepeat.arrange.arranging import Arranged
    from vecrepeat.sources.source import Source

_F = TypeVar("_F", bound=Callable[..., Any])


class RangeType(click.ParamType):  # type: ignore[type-arg]
    """One number, or two with a dash or a colon between."""

    name = "range"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float]:
        """Return the smaller and the larger number."""
        if isinstance(value, tuple):
            return value
        try:
            numbers = [float(part) for part in value.replace("–", "-").replace(":", "-").split("-")]
        except ValueError:
            numbers = []
        if len(numbers) not in (1, 2) or min(numbers) <= 0:
            raise InputError(f"the scale “{value}” is not understood", hint="such as 0.8-1.2")
        return (numbers[0], numbers[-1])


def _with(function: _F, added: Sequence[Callable[[_F], _F]]) -> _F:
    for add in reversed(added):
        function = add(function)
    return function


def recipe_options(function: _F) -> _F:
    """Add what every command that writes placements takes: RECIPE, -o, --json."""
    return _with(
        function,
        (
            click.argument("recipe", type=click.Path(path_type=Path)),
            click.option(
                "-o",
                "--output",
                type=click.Path(path_type=Path),
                help="The recipe to write; by default the same one.",
            ),
            options.json_option,
        ),
    )


seed_option = click.option(
    "--seed", type=click.IntRange(0), help="Another seed, another arrangement."
)
clearance_option = click.option(
    "--clearance",
    type=options.LengthType(zero=True),
    metavar="LENGTH",
    help="Least distance between painted outlines; 3mm by default.",
)
direction_option = click.option(
    "--direction", type=click.Choice(list(DIRECTIONS)), help="How motifs may be turned."
)
sway_option = click.option(
    "--sway", type=float, metavar="DEGREES", help="How far they may lean from that."
)
flip_option = click.option("--flip/--no-flip", default=None, help="Whether motifs may be mirrored.")
again_option = click.option(
    "--again", is_flag=True, help="Give up the placements that the recipe has."
)


def manner_options(function: _F) -> _F:
    """Add how motifs may lie in a scatter; options not given are None."""
    return _with(
        function,
        (
            clearance_option,
            direction_option,
            sway_option,
            flip_option,
            click.option(
                "--apart",
                type=options.LengthType(zero=True),
                metavar="LENGTH",
                help="Least distance between the middles of the same motif.",
            ),
            click.option("--even/--no-even", default=None, help="Whether to even the gaps out."),
        ),
    )


def spaced_options(function: _F) -> _F:
    """Add what set, stripe and trail share; options not given are None."""
    return _with(
        function,
        (
            click.option(
                "--seed",
                type=click.IntRange(0),
                help="Shuffle the motifs' order; by default it is the recipe's.",
            ),
            clearance_option,
            click.option(
                "--direction",
                type=click.Choice(list(DIRECTIONS)),
                help="How motifs are turned, one after the other; one-way by default.",
            ),
            click.option("--flip/--no-flip", default=None, help="Mirror every other motif."),
            click.option(
                "--scale",
                type=click.FloatRange(0.01, 100),
                help="The largest scale; smaller where motifs would not fit.",
            ),
            again_option,
        ),
    )


def toss_options(function: _F) -> _F:
    """Add what toss and trials share: everything that a toss is told but its seed."""
    plurals = {"hero": "heroes", "secondary": "secondaries", "filler": "fillers"}
    several = plurals.items()
    return _with(
        manner_options(function),
        (
            *(
                click.option(f"--{s}", type=click.IntRange(0), help=f"How many {s} on a tile.")
                for _, s in several
            ),
            *(
                click.option(
                    f"--{rank}-coverage",
                    type=click.FloatRange(0, 1),
                    help=f"Share of the cloth for {s} to paint.",
                )
                for rank, s in several
            ),
            *(
                click.option(
                    f"--{rank}-scale",
                    type=RangeType(),
                    metavar="RANGE",
                    help=f"Scale of {s}, such as 0.9-1.1.",
                )
                for rank, s in several
            ),
        ),
    )


def lay(
    way: str,
    recipe: Path,
    output: Path | None,
    *,
    as_json: bool,
    again: bool,
    asked: dict[str, Any],
) -> None:
    """Arrange a recipe's motifs anew, write it and tell.

    Args:
        way: the command.
        recipe: the recipe's file.
        output: where the new one goes; None for the same file.
        as_json: print the facts as JSON.
        again: placements that the recipe has may be given up.
        asked: the way's options.

    Raises:
        InputError: it has placements, and nothing says that they may go; or as the way does.
    """
    from vecrepeat.arrange.arranging import arrange_recipe
    from vecrepeat.sources.source import open_source

    source = open_source(recipe, placed=False)
    same = output is None or output.resolve() == recipe.resolve()
    if same and not again and source.recipe is not None and source.recipe.placements:
        raise InputError(
            f"it has placements, which a {way} would give up",
            file=recipe,
            hint="give --again, or another name with -o",
        )
    keys = asked_keys(asked)
    if way == "toss":
        _foretell(source, keys)
    tell(source, arrange_recipe(way, source, output or recipe, keys), as_json)


def _foretell(source: Source, asked: dict[str, Any]) -> None:
    """Say beforehand how many motifs a toss is asked for, where they are many."""
    from vecrepeat.arrange.arranging import (
        arranged_page,
        asked_over,
        ranked_motifs,
        toss_settings,
    )
    from vecrepeat.arrange.tossing import MANY, MOST, foreseen

    keys = source.recipe.toss if source.recipe else {}
    settings = toss_settings(asked_over(keys, asked))
    count = foreseen(arranged_page(source), ranked_motifs(source), settings)
    if MANY <= count <= MOST:
        options.show_notes([f"about {count:,} motifs are asked for, which takes a while"])


def asked_keys(values: dict[str, Any]) -> dict[str, Any]:
    """Return the recipe keys of options that were given, as the recipe writes them."""
    keys = {}
    for name, value in values.items():
        if value is None:
            continue
        keys[name.replace("_", "-")] = float(value) if isinstance(value, Fraction) else value
    return keys


def tell(source: Source, done: Arranged, as_json: bool) -> None:
    """Print what was arranged."""
    notes = [*source.notes, *done.notes]
    if as_json:
        options.show_json({**done.facts, "notes": notes})
        return
    options.show_notes(notes)
    click.echo(done.line)
