"""The workflows of the arranging commands: motifs laid by the tool, written into a recipe."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vecrepeat.arrange import (
    Arrangement,
    DitsySettings,
    FillSettings,
    RankSettings,
    Row,
    SetSettings,
    StripeSettings,
    TossSettings,
    TrailSettings,
    fill,
    lay_ditsy,
    lay_set,
    lay_stripes,
    lay_trail,
    toss,
)
from vecrepeat.arrange.density import clearance_of, counts_of
from vecrepeat.arrange.flow import WAVE
from vecrepeat.arrange.results import grouped
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.edit import (
    recipe_text,
    require_recipe_name,
    with_placements,
    with_settings,
    write_recipe,
)
from vecrepeat.recipe.model import Placed, Recipe
from vecrepeat.repeat.model import Motif, Placement, Repeat
from vecrepeat.sources.first import ranks
from vecrepeat.sources.source import Source
from vecrepeat.util.files import final_place

_AS_DRAWN = "a drawing's motifs stand as drawn"


@dataclass(frozen=True)
class Arranged:
    """What was arranged and written.

    Attributes:
        file: the recipe.
        line: the facts as one line.
        facts: the same as plain data.
        notes: what could not be placed and why, a sentence each.
    """

    file: Path
    line: str
    facts: Mapping[str, Any]
    notes: tuple[str, ...]


Ranked = list[tuple[Motif, str]]

_GIVE = 0.15
"""The share by which packed motifs may grow or shrink beyond their scales."""

_PLURALS = {"hero": "heroes", "secondary": "secondaries", "filler": "fillers"}


def asked_over(keys: Mapping[str, Any], asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return a recipe's keys with those that were asked for.

    A rank's count and its coverage exclude each other: the one asked for displaces the other. A
    density that is asked for displaces all of them, and the clearance.
    """
    found = {**keys, **asked}
    gone = set()
    for rank, plural in _PLURALS.items():
        for one, other in ((plural, f"{rank}-coverage"), (f"{rank}-coverage", plural)):
            if one in asked or "density" in asked:
                gone.add(other)
    if "density" in asked:
        gone.add("clearance")
    return {key: value for key, value in found.items() if key in asked or key not in gone}


def toss_settings(
    keys: Mapping[str, Any], page: Repeat, ranked: Ranked, source: Source | None = None
) -> TossSettings:
    """Return settings from a recipe's ``[toss]`` keys.

    Args:
        keys: what they say.
        page: the art on its layout.
        ranked: motifs and their ranks.
        source: where a path is found that motifs are to turn along, and what is pinned.

    Raises:
        InputError: there is no such path.
    """
    scales = {rank: keys.get(f"{rank}-scale", (1.0, 1.0)) for rank in _PLURALS}
    counts: Mapping[str, int] = {}
    if "density" in keys:
        counts = counts_of(keys["density"], page, ranked, scales)
        keys = {"clearance": clearance_of(keys["density"], page), **keys}
    settings: dict[str, Any] = {}
    for rank, plural in _PLURALS.items():
        coverage = keys.get(f"{rank}-coverage")
        count = keys.get(plural, None if coverage is not None else counts.get(rank))
        give = _GIVE if keys.get("density") == "packed" else 0.0
        settings[rank] = RankSettings(count, coverage, scales[rank], give)
    along = keys.get("along", ())
    if along and source is not None and (along != WAVE or along in source.pool.motifs):
        from vecrepeat.arrange.drawn_paths import paths_of

        along = paths_of(source, along)
    pinned = tuple(there for _, there in pinned_of(source)) if source else ()
    return TossSettings(**settings, **_common(keys), along=along, pinned=pinned)


def fill_settings(keys: Mapping[str, Any]) -> FillSettings:
    """Return settings from a recipe's ``[fill]`` keys."""
    return FillSettings(
        count=keys.get("count"),
        smallest=keys.get("smallest", 0.0),
        scale=keys.get("scale", (1.0, 1.0)),
        **_common(keys),
    )


def _common(keys: Mapping[str, Any]) -> dict[str, Any]:
    names = {"apart": "same_apart"}
    common = ("seed", "clearance", "direction", "sway", "flip", "apart", "even")
    return {names.get(key, key): keys[key] for key in common if key in keys}


Lay = Callable[[Source, Repeat, Ranked, Mapping[str, Any]], Arrangement]


def _toss(source: Source, page: Repeat, ranked: Ranked, keys: Mapping[str, Any]) -> Arrangement:
    return toss(page, ranked, toss_settings(keys, page, ranked, source))


def _set(_: Source, page: Repeat, ranked: Ranked, keys: Mapping[str, Any]) -> Arrangement:
    return lay_set(page, ranked, SetSettings(**keys))


def _stripe(_: Source, page: Repeat, ranked: Ranked, keys: Mapping[str, Any]) -> Arrangement:
    return lay_stripes(page, ranked, StripeSettings(**keys))


def _trail(source: Source, page: Repeat, ranked: Ranked, keys: Mapping[str, Any]) -> Arrangement:
    from vecrepeat.arrange.drawn_paths import paths_of

    along = keys.get("along")
    if along is None:
        raise InputError(
            "nothing says what path to go along",
            file=source.file,
            hint="give --along with a motif's name or an SVG file",
        )
    settings = TrailSettings(**{key: value for key, value in keys.items() if key != "along"})
    stem = source.pool.motifs.get(along)
    laid = [one for one in ranked if one[0] is not stem]
    return lay_trail(page, laid, paths_of(source, along), settings)


def _ditsy(_: Source, page: Repeat, ranked: Ranked, keys: Mapping[str, Any]) -> Arrangement:
    own: dict[str, Any] = {key: keys[key] for key in ("count", "spacing") if key in keys}
    if "size" in keys:
        own["size"] = float(keys["size"])
    return lay_ditsy(page, ranked, DitsySettings(**own, **_common(keys)))


WAYS: dict[str, Lay] = {
    "toss": _toss,
    "set": _set,
    "stripe": _stripe,
    "trail": _trail,
    "ditsy": _ditsy,
}
"""How motifs are laid anew, by command and by the recipe's table."""


def arrange_recipe(way: str, source: Source, output: Path, asked: Mapping[str, Any]) -> Arranged:
    """Arrange a recipe's motifs and write their placements.

    Args:
        way: one of :data:`WAYS`.
        source: a recipe that has been read; its placements are given up.
        output: the recipe to write; may be the source itself.
        asked: keys of the way's table that go before the recipe's own; they are written too.

    Raises:
        InputError: settings that make no sense, or a recipe that can't be written.
    """
    recipe, text = _changed(source, output)
    placed, done, notes = laid(way, source, asked)
    gone = recipe.arranged[way].keys() - asked_over(recipe.arranged[way], asked).keys()
    _write(output, text, way, asked, placed, source, gone)
    facts = {**done.as_dict(), "notes": list(notes)}
    return Arranged(output, f"{output}: {done.line()}", facts, notes)


def laid(
    way: str, source: Source, asked: Mapping[str, Any]
) -> tuple[list[Placed], Arrangement, tuple[str, ...]]:
    """Return a recipe's motifs as one of :data:`WAYS` lays them, how, and notes of it.

    Args:
        way: one of :data:`WAYS`.
        source: a recipe; its placements are given up, but for what a toss keeps as pinned.
        asked: keys of the way's table that go before the recipe's own.

    Raises:
        InputError: settings that make no sense.
    """
    keys = asked_over(source.recipe.arranged[way] if source.recipe else {}, asked)
    ranked = ranked_motifs(source)
    done = WAYS[way](source, arranged_page(source), ranked, keys)
    placed = [as_placed(row) for row in done.rows]
    staying = [one for one, _ in pinned_of(source)]
    given_up: list[str] = []
    if way == "toss":
        placed = [*staying, *placed]
    elif staying:
        names = grouped([one.motif for one in staying])
        given_up = [f"only a toss keeps what is pinned down: {names}"]
    if way == "trail" and keys["along"] in source.pool.motifs:
        # The stem itself, as drawn, below what grows on it.
        placed = [Placed(keys["along"]), *placed]
    told = absent(ranked, {one.motif for one in placed}, keys, done.notes)
    return placed, done, (*done.notes, *told, *given_up)


def pinned_of(source: Source) -> list[tuple[Placed, Placement]]:
    """Return what a source has pinned down, as its recipe says it and where that is."""
    recipe = source.recipe
    if recipe is None or not recipe.placements:
        return []
    both = zip(recipe.placements, source.page.placements, strict=True)
    return [(said, there) for said, there in both if said.pinned]


def absent(
    ranked: Ranked, there: Collection[str], keys: Mapping[str, Any], told: Sequence[str]
) -> list[str]:
    """Return a note of motifs that are nowhere, but for ranks of which none was asked for.

    Args:
        ranked: all motifs and their ranks.
        there: names of those that are placed.
        keys: what was asked for.
        told: other notes; whom they name is not named again.
    """
    asked = [motif.name for motif, rank in ranked if keys.get(_PLURALS[rank]) != 0]
    named = "\n".join(told)
    names = [n for n in asked if n not in there]
    names = [n for n in names if not re.search(rf"(“|: |, ){re.escape(n)}(”|,|$)", named, re.M)]
    if not names:
        return []
    return [f"nowhere on the tile, for want of room or of a number: {grouped(names)}"]


def fill_recipe(source: Source, output: Path, asked: Mapping[str, Any]) -> Arranged:
    """Fill a recipe's voids with its fillers and write their placements after the others.

    Args:
        source: a recipe that has been read, with something placed.
        output: the recipe to write; may be the source itself.
        asked: ``[fill]`` keys that go before the recipe's own; they are written too.

    Raises:
        InputError: there is no filler; or as :func:`arrange_recipe`.
    """
    recipe, text = _changed(source, output)
    fillers = [(m, rank) for m, rank in ranked_motifs(source) if rank == "filler"]
    if not fillers:
        raise InputError(
            "no motif has the rank filler", file=source.file, hint='add rank = "filler" to some'
        )
    settings = fill_settings({**recipe.arranged["fill"], **asked})
    filled = fill(arranged_page(source), fillers, settings)
    before = recipe.placements or tuple(Placed(name) for name in source.pool.drawn)
    placed = [*before, *(as_placed(row) for row in filled.rows)]
    _write(output, text, "fill", asked, placed, source)
    return Arranged(output, f"{output}: {filled.line()}", filled.as_dict(), filled.notes)


def ranked_motifs(source: Source) -> Ranked:
    """Return a source's motifs with their ranks, guessed by size where nothing says them."""
    motifs = list(source.pool.motifs.values())
    known = source.ranks
    guessed = ranks(motifs)
    if known:
        # What the recipe leaves out of a list of ranks is not to be used.
        return [(m, known[m.name]) for m in motifs if m.name in known]
    return list(zip(motifs, guessed, strict=True))


def arranged_page(source: Source) -> Repeat:
    """Return a source's art on its layout, to be arranged.

    Raises:
        InputError: motifs are to be cut where they are turned.
    """
    recipe = source.recipe
    if recipe is not None and recipe.keys.get("cut-to-region"):
        raise InputError(
            "arranged motifs keep clear of their own images, and cut-to-region would cut them",
            file=source.file,
            hint="take cut-to-region out of the recipe",
        )
    return source.page.with_layout(source.layout)


def _changed(source: Source, output: Path) -> tuple[Recipe, str]:
    """Return the recipe to change and its text.

    Raises:
        InputError: it is a drawing, or can't be written to that place.
    """
    found = recipe_text(source, _AS_DRAWN)
    require_recipe_name(output)
    final_place(output, edits=source.file)
    if output.resolve().parent != source.file.resolve().parent:
        raise InputError(
            "a recipe names its art by where it lies",
            file=output,
            hint="write it into the same folder",
        )
    return found


def as_placed(row: Row) -> Placed:
    """Return a placement as a recipe has it."""
    pose = row.pose
    return Placed(row.motif, (pose.x, pose.y), pose.turn, pose.scale, pose.flip)


def _write(
    output: Path,
    text: str,
    table: str,
    asked: Mapping[str, Any],
    placed: Sequence[Placed],
    source: Source,
    gone: Collection[str] = (),
) -> None:
    changed = with_placements(text, placed)
    if asked:
        plain = {
            key: list(value) if isinstance(value, tuple) else value for key, value in asked.items()
        }
        changed = with_settings(changed, table, plain, without=gone)
    write_recipe(output, changed, edits=source.file)
