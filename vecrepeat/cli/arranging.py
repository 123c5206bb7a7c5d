"""``vecrepeat toss``, ``fill``, ``set`` and the others that arrange a recipe's motifs."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vecrepeat.blenders.settings import GROUND, KINDS, TILE
from vecrepeat.cli import options
from vecrepeat.cli.options import FOLDER, JSON, LENGTH, LENGTH_OR_ZERO, PATH, Parsed, Reply, option
from vecrepeat.cli.progress import progress
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import parse_size
from vecrepeat.recipe import keys, values
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.ranks import RANKS

if TYPE_CHECKING:
    from vecrepeat.sources.source import Source


def _range(text: str, _: str) -> tuple[float, float]:
    """Return the smaller and the larger of two numbers with a dash or a colon between, or one."""
    try:
        numbers = [float(part) for part in text.replace("–", "-").replace(":", "-").split("-")]
    except ValueError:
        numbers = []
    if len(numbers) not in (1, 2) or min(numbers) <= 0:
        raise InputError(f"the scale “{text}” is not understood", hint="such as 0.8-1.2")
    return (numbers[0], numbers[-1])


def _list(text: str, _: str) -> list[str]:
    """Return what commas part."""
    return [part.strip() for part in text.split(",") if part.strip()]


def _size(text: str, what: str) -> str:
    """Return a size as it was given."""
    parse_size(text, what)
    return text


RANGE = Parsed("range", _range)
_SIZE = Parsed("size", _size)
LIST = Parsed("one,two", _list)

_RECIPE = (
    click.Argument(["recipe"], type=PATH),
    options.output("The recipe to write; by default the same one.", required=False),
    JSON,
)
_AGAIN = option(
    "--again",
    is_flag=True,
    help="Give up placements that the recipe has; a toss keeps those that are pinned.",
)
_KINDS: dict[Any, Any] = {
    values.read_gap: LENGTH_OR_ZERO,
    values.read_length: LENGTH,
    values.read_range: RANGE,
    values.read_paints: LIST,
    values.read_widths: LIST,
    values.read_marks: LIST,
}


def _options(table: str, *without: str) -> Iterator[click.Option]:
    """Yield an option for each key of a recipe's table, but for some; None is one not given."""
    for name, key in keys.TABLES[table].items():
        # A range is written otherwise in TOML.
        about = key.about.replace("[0.8, 1.2]", "0.8-1.2")
        about = re.sub(r'\["([^]]*)"\]', lambda rows: rows[1].replace('", "', ","), about)
        kind: Any
        match key.read:
            case values.Whole(low, high):
                kind = click.IntRange(low, high)
            case values.Between(low, high):
                kind = click.FloatRange(low, high)
            case values.OneOf(words):
                kind = click.Choice(words)
            case read:
                kind = _KINDS.get(read)
        if key.read is values.read_flag:
            yield option(f"--{name}/--no-{name}", default=None, help=about)
        elif name not in without:
            yield option(f"--{name}", type=kind, help=about)


def _laid(way: str, /, recipe: Path, output: Path | None, again: bool, **asked: Any) -> Reply:
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
    keys = _keys(asked)
    if way == "toss":
        _foretell(source, keys)
    done = arrange_recipe(way, source, output or recipe, keys)
    return Reply(done.facts, [done.line], [*source.notes, *done.notes])


def _foretell(source: Source, asked: dict[str, Any]) -> None:
    """Say beforehand how many motifs a toss is asked for, where they are many, or too many."""
    from vecrepeat.arrange.arranging import (
        arranged_page,
        asked_over,
        ranked_motifs,
        toss_settings,
    )
    from vecrepeat.arrange.tossing import MANY, MOST, foreseen

    keys = source.recipe.arranged["toss"] if source.recipe else {}
    page, ranked = arranged_page(source), ranked_motifs(source)
    settings = toss_settings(asked_over(keys, asked), page, ranked, source)
    asked_for, held = foreseen(page, ranked, settings)
    if held < asked_for <= MOST:
        options.show_notes(
            [f"{asked_for:,} motifs are asked for, and the cloth holds about {held:,} at most"]
        )
    elif MANY <= asked_for <= MOST:
        options.show_notes([f"about {asked_for:,} motifs are asked for, which takes a while"])


def _keys(asked: dict[str, Any]) -> dict[str, Any]:
    """Return the recipe keys of options that were given, as the recipe writes them."""
    return {
        name.replace("_", "-"): float(value) if isinstance(value, Fraction) else value
        for name, value in asked.items()
        if value is not None
    }


@options.replying(*_RECIPE, *_options("toss"), _AGAIN)
def toss(**asked: Any) -> Reply:
    """Toss the motifs of RECIPE over the repeat and write their placements into it.

    Heroes come first, spread evenly, then secondaries, then fillers into what is left; no two
    come closer than the clearance, over the joins too. The same seed gives the same toss.
    """
    return _laid("toss", **asked)


@options.replying(
    click.Argument(["src"], type=PATH),
    option(
        "-n", "count", type=click.IntRange(1, 60), default=12, metavar="N", help="How many to show."
    ),
    option(
        "--seeds",
        "drawn",
        type=click.IntRange(1, 1000),
        default=60,
        metavar="N",
        help="How many seeds to choose them from.",
    ),
    options.output("Where to write trials.svg and trials.png.", FOLDER),
    option("--seed", type=click.IntRange(0), default=1, help="The first of the seeds."),
    *_options("toss", "seed"),
    JSON,
)
def trials(src: Path, count: int, drawn: int, output: Path, **asked: Any) -> Reply:
    """Toss the motifs of SRC under many seeds and show the best on one sheet, to choose by eye.

    Each toss is scored: motifs and colours well apart, gaps even, weight balanced. The settings
    are those of toss and of the recipe; SRC itself stays as it is. Each picture is 2 × 2 tiles,
    so that all joins show, and says its seed and why it scores. Take one with toss --seed.
    """
    from vecrepeat.proof.trials import try_seeds
    from vecrepeat.sources.source import open_source

    source = open_source(src, placed=False)
    with progress("trials", max(count, drawn)) as step:
        done = try_seeds(source, output, _keys(asked), count, drawn=drawn, step=step)
    return Reply(done.as_dict(), [done.line()], [*source.notes, *done.notes])


@options.replying(*_RECIPE, *_options("fill"))
def fill(recipe: Path, output: Path | None, **asked: Any) -> Reply:
    """Put RECIPE's fillers into the largest voids; what is placed stays where it is."""
    from vecrepeat.arrange.arranging import fill_recipe
    from vecrepeat.sources.source import open_source

    source = open_source(recipe)
    done = fill_recipe(source, output or recipe, _keys(asked))
    return Reply(done.facts, [done.line], [*source.notes, *done.notes])


@options.replying(*_RECIPE, *_options("set"), _AGAIN)
def set(**asked: Any) -> Reply:
    """Set the motifs of RECIPE on a regular grid and write their placements into it.

    Heroes and secondaries take the grid's points in turn, fillers the middles between. The
    grid runs on over every join. Motifs are brought to much the same size, and made smaller
    together where they would not keep the clearance.
    """
    return _laid("set", **asked)


@options.replying(
    *_RECIPE,
    *_options("stripe", "order"),
    option(
        "--order",
        type=click.Choice([str(rank) for rank in RANKS]),
        multiple=True,
        help="The ranks of the stripes in turn, once for each stripe; "
        "by default all there are, with fillers between.",
    ),
    _AGAIN,
)
def stripe(order: tuple[str, ...], **asked: Any) -> Reply:
    """Lay the motifs of RECIPE in stripes and write their placements into it.

    Each stripe holds the motifs of one rank, evenly spaced, in whole rounds over the tile; the
    alleys between stripes are alike.
    """
    return _laid("stripe", order=order or None, **asked)


@options.replying(*_RECIPE, *_options("trail"), _AGAIN)
def trail(**asked: Any) -> Reply:
    """Lay the motifs of RECIPE along a drawn path and write their placements into it.

    The path may cross the page's edges. Where it ends at its own beginning, or where the next
    tile's copy of it begins, motifs go round without a seam. A motif of the recipe that serves
    as the path is placed as drawn, below the others.
    """
    return _laid("trail", **asked)


@options.replying(*_RECIPE, *_options("ditsy"), _AGAIN)
def ditsy(**asked: Any) -> Reply:
    """Scatter the motifs of RECIPE, all small, and write their placements into it.

    No motif is above another: ranks are of no account. Clearance is 1.5 mm and motifs may be
    mirrored unless you say otherwise. The same motif keeps a little apart from itself.
    """
    return _laid("ditsy", **asked)


@options.replying(
    click.Argument(["kind"], type=click.Choice(tuple(KINDS)), metavar="KIND"),
    options.output("The recipe to write, a .toml file."),
    option("--tile", type=_SIZE, default=TILE, help="The tile's size."),
    options.LAYOUT,
    option("--ground", metavar="#RRGGBB", default=GROUND, help="The colour below, or “none”."),
    *_options("blender", "kind"),
    option(
        "--into",
        type=options.PATH,
        metavar="COLLECTION",
        help="A collection that it becomes a print of; its colours are the palette's.",
    ),
    JSON,
)
def blender(
    kind: str,
    output: Path,
    tile: str,
    layout: Layout | None,
    ground: str,
    into: Path | None,
    **asked: Any,
) -> Reply:
    """Write a recipe of a blender: dots, stripes, checks and the like, drawn by the tool.

    KIND is dots, stripes, checks, gingham, windowpane, chevron, lattice, trellis, scallops,
    crosshatch, dashes or scatter. Every command takes the recipe; its measures and colours are
    keys to change. Its [blender] table in another recipe draws it under that one's motifs.
    """
    from vecrepeat.check.checking import draw_look
    from vecrepeat.check.glare import check_glare
    from vecrepeat.check.profile import load_profile
    from vecrepeat.core.geometry import number
    from vecrepeat.sources.blending import start_blender

    told = {
        name: f"{number(float(value))}mm" if isinstance(value, Fraction) else value
        for name, value in asked.items()
        if value is not None
    }
    page = {"tile": tile, "layout": str(layout or Layout()), "ground": ground}
    done = start_blender(kind, output, told, into=into, **page)
    glare = check_glare(*draw_look(done.repeat), load_profile().glare).findings
    cautions = [f"{one.what}: {one.advice}" for one in glare]
    return Reply(done.as_dict(), [done.line()], [*done.notes, *cautions])
