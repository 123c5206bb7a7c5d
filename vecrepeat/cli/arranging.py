"""``vecrepeat toss``, ``fill``, ``set`` and the others that arrange a recipe's motifs."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.cli.options import FOLDER, JSON, LENGTH, LENGTH_OR_ZERO, PATH, Answer, Parsed, option
from vecrepeat.cli.progress import progress
from vecrepeat.core.allowance import PLACEMENTS
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.ranks import DIRECTIONS, RANKS


def _range(text: str, _: str) -> tuple[float, float]:
    """Return the smaller and the larger of two numbers with a dash or a colon between, or one."""
    try:
        numbers = [float(part) for part in text.replace("–", "-").replace(":", "-").split("-")]
    except ValueError:
        numbers = []
    if len(numbers) not in (1, 2) or min(numbers) <= 0:
        raise InputError(f"the scale “{text}” is not understood", hint="such as 0.8-1.2")
    return (numbers[0], numbers[-1])


RANGE = Parsed("range", _range)

_RECIPE = (
    click.Argument(["recipe"], type=PATH),
    options.output("The recipe to write; by default the same one.", required=False),
    JSON,
)
_SEED = option("--seed", type=click.IntRange(0), help="Another seed, another arrangement.")
_CLEARANCE = option(
    "--clearance",
    type=LENGTH_OR_ZERO,
    help="Least distance between painted outlines; 3mm by default.",
)
_AGAIN = option("--again", is_flag=True, help="Give up the placements that the recipe has.")
# Options that are not given are None: the recipe's own keys stand.
_SCATTER = (
    _CLEARANCE,
    option("--direction", type=click.Choice(list(DIRECTIONS)), help="How motifs may be turned."),
    option("--sway", type=float, metavar="DEGREES", help="How far they may lean from that."),
    option("--flip/--no-flip", default=None, help="Whether motifs may be mirrored."),
    option(
        "--apart", type=LENGTH_OR_ZERO, help="Least distance between the middles of the same motif."
    ),
    option("--even/--no-even", default=None, help="Whether to even the gaps out."),
)
_SPACED = (
    option(
        "--seed",
        type=click.IntRange(0),
        help="Shuffle the motifs' order; by default it is the recipe's.",
    ),
    _CLEARANCE,
    option(
        "--direction",
        type=click.Choice(list(DIRECTIONS)),
        help="How motifs are turned, one after the other; one-way by default.",
    ),
    option("--flip/--no-flip", default=None, help="Mirror every other motif."),
    option(
        "--scale",
        type=click.FloatRange(0.01, 100),
        help="The largest scale; smaller where motifs would not fit.",
    ),
    _AGAIN,
)
_PLURALS = {"hero": "heroes", "secondary": "secondaries", "filler": "fillers"}
_TOSS = (
    *(
        option(f"--{several}", type=click.IntRange(0), help=f"How many {several} on a tile.")
        for several in _PLURALS.values()
    ),
    *(
        option(
            f"--{rank}-coverage",
            type=click.FloatRange(0, 1),
            help=f"Share of the cloth for {several} to paint.",
        )
        for rank, several in _PLURALS.items()
    ),
    *(
        option(f"--{rank}-scale", type=RANGE, help=f"Scale of {several}, such as 0.9-1.1.")
        for rank, several in _PLURALS.items()
    ),
    *_SCATTER,
)


def _laid(way: str, /, recipe: Path, output: Path | None, again: bool, **asked: Any) -> Answer:
    """Arrange a recipe's motifs anew and write it.

    Args:
        way: the command.
        recipe: the recipe's file.
        output: where the new one goes; None for the same file.
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
    done = arrange_recipe(way, source, output or recipe, _keys(asked))
    return Answer(done.facts, [done.line], [*source.notes, *done.notes])


def _keys(asked: dict[str, Any]) -> dict[str, Any]:
    """Return the recipe keys of options that were given, as the recipe writes them."""
    return {
        name.replace("_", "-"): float(value) if isinstance(value, Fraction) else value
        for name, value in asked.items()
        if value is not None
    }


@options.answering(*_RECIPE, _SEED, *_TOSS, _AGAIN)
def toss(**asked: Any) -> Answer:
    """Toss the motifs of RECIPE over the repeat and write their placements into it.

    Heroes come first, spread evenly, then secondaries, then fillers into what is left; no two
    come closer than the clearance, over the joins too. The same seed gives the same toss.
    """
    return _laid("toss", **asked)


@options.answering(
    click.Argument(["src"], type=PATH),
    option(
        "-n", "count", type=click.IntRange(1, 60), default=12, metavar="N", help="How many seeds."
    ),
    options.output("Where to write trials.svg and trials.png.", FOLDER),
    option("--seed", type=click.IntRange(0), default=1, help="The first of the seeds."),
    *_TOSS,
    JSON,
)
def trials(src: Path, count: int, output: Path, **asked: Any) -> Answer:
    """Toss the motifs of SRC under N seeds and show them on one sheet, to choose by eye.

    The settings are those of toss and of the recipe; SRC itself stays as it is. Each picture
    is 2 × 2 tiles, so that all joins show, and says its seed. Take one with toss --seed.
    """
    from vecrepeat.proof.trials import try_seeds
    from vecrepeat.sources.source import open_source

    source = open_source(src, placed=False)
    with progress("trials", count) as step:
        done = try_seeds(source, output, _keys(asked), count, step=step)
    return Answer(done.as_dict(), [done.line()], [*source.notes, *done.notes])


@options.answering(
    *_RECIPE,
    _SEED,
    *_SCATTER,
    option("--count", type=click.IntRange(0), help="The most fillers; by default all that fit."),
    option("--smallest", type=LENGTH_OR_ZERO, help="Diameter of the smallest void to fill."),
    option("--scale", type=RANGE, help="Fillers' scale, as 0.6-1."),
)
def fill(recipe: Path, output: Path | None, **asked: Any) -> Answer:
    """Put RECIPE's fillers into the largest voids; what is placed stays where it is."""
    from vecrepeat.arrange.arranging import fill_recipe
    from vecrepeat.sources.source import open_source

    source = open_source(recipe)
    done = fill_recipe(source, output or recipe, _keys(asked))
    return Answer(done.facts, [done.line], [*source.notes, *done.notes])


@options.answering(
    *_RECIPE,
    *_SPACED,
    option(
        "--columns",
        type=click.IntRange(1, 200),
        help="On a tile; by default each motif has a place.",
    ),
    option("--rows", type=click.IntRange(1, 200), help="On a tile; likewise."),
    option(
        "--stagger",
        type=click.Choice(["none", "drop", "brick"]),
        help="Move every other column (drop) or row (brick) by half a step.",
    ),
    option(
        "--alike/--no-alike",
        default=None,
        help="Bring motifs to much the same size, or keep their proportions; alike by default.",
    ),
)
def set(**asked: Any) -> Answer:
    """Set the motifs of RECIPE on a regular grid and write their placements into it.

    Heroes and secondaries take the grid's points in turn, fillers the middles between. The
    grid runs on over every join. Motifs are brought to much the same size, and made smaller
    together where they would not keep the clearance.
    """
    return _laid("set", **asked)


@options.answering(
    *_RECIPE,
    *_SPACED,
    option("--way", type=click.Choice(["down", "across"]), help="How stripes run."),
    option(
        "--order",
        type=click.Choice([*RANKS]),
        multiple=True,
        help="The ranks of the stripes in turn, once for each stripe; "
        "by default all there are, with fillers between.",
    ),
    option(
        "--times",
        type=click.IntRange(1, 200),
        help="How often the stripes come on a tile; by default as often as has room.",
    ),
    option(
        "--stagger/--no-stagger",
        default=None,
        help="Begin every other stripe of a rank half a step on.",
    ),
)
def stripe(order: tuple[str, ...], **asked: Any) -> Answer:
    """Lay the motifs of RECIPE in stripes and write their placements into it.

    Each stripe holds the motifs of one rank, evenly spaced, in whole rounds over the tile; the
    alleys between stripes are alike.
    """
    return _laid("stripe", order=order or None, **asked)


@options.answering(
    *_RECIPE,
    option(
        "--along",
        metavar="NAME|FILE",
        help="The path: a motif of the recipe, such as a drawn stem, or an SVG file beside it.",
    ),
    *_SPACED,
    option(
        "--side",
        type=click.Choice(["both", "left", "right", "on"]),
        help="Where motifs sit, as the path was drawn; both sides in turn by default.",
    ),
    option(
        "--off",
        type=LENGTH_OR_ZERO,
        help="How far off the path they sit; by default they touch it.",
    ),
    option(
        "--lean",
        type=click.FloatRange(-90, 90),
        metavar="DEGREES",
        help="How far they lean forward along it; 35 by default.",
    ),
    option("--follow/--no-follow", default=None, help="Whether they turn with the path."),
    option(
        "--spacing",
        type=LENGTH_OR_ZERO,
        help="Least distance along the path; by default the clearance.",
    ),
)
def trail(**asked: Any) -> Answer:
    """Lay the motifs of RECIPE along a drawn path and write their placements into it.

    The path may cross the page's edges. Where it ends at its own beginning, or where the next
    tile's copy of it begins, motifs go round without a seam. A motif of the recipe that serves
    as the path is placed as drawn, below the others.
    """
    return _laid("trail", **asked)


@options.answering(
    *_RECIPE,
    _SEED,
    *_SCATTER,
    option(
        "--size",
        type=LENGTH,
        help="The largest motif's longer side; by default a 12th of the tile.",
    ),
    option("--count", type=click.IntRange(1, PLACEMENTS), help="How many on a tile."),
    option(
        "--spacing",
        type=click.FloatRange(0.5, 20),
        help="Mean distance between motifs, in sizes, where no count is given; 0.8 by default.",
    ),
    _AGAIN,
)
def ditsy(**asked: Any) -> Answer:
    """Scatter the motifs of RECIPE, all small, and write their placements into it.

    No motif is above another: ranks are of no account. Clearance is 1.5 mm and motifs may be
    mirrored unless you say otherwise. The same motif keeps a little apart from itself.
    """
    return _laid("ditsy", **asked)
