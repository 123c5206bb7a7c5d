"""The workflows of toss and fill: motifs arranged by the tool, written into a recipe."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vecrepeat.arrange import FillSettings, RankSettings, Row, TossSettings, fill, toss
from vecrepeat.errors import InputError
from vecrepeat.layout import Layout
from vecrepeat.recipe import Placed
from vecrepeat.recipes import ranks, with_placements, with_settings, write_recipe
from vecrepeat.sources import Source

_PLAIN = "turned layouts and plane groups are not arranged by the tool"


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


def toss_settings(keys: Mapping[str, Any]) -> TossSettings:
    """Return settings from a recipe's ``[toss]`` keys."""
    plurals = {"hero": "heroes", "secondary": "secondaries", "filler": "fillers"}
    ranked: dict[str, Any] = {
        rank: RankSettings(
            count=keys.get(plural),
            coverage=keys.get(f"{rank}-coverage"),
            scale=keys.get(f"{rank}-scale", (1.0, 1.0)),
        )
        for rank, plural in plurals.items()
    }
    return TossSettings(**ranked, **_common(keys))


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


def toss_recipe(source: Source, output: Path, asked: Mapping[str, Any]) -> Arranged:
    """Toss a recipe's motifs and write their placements.

    Args:
        source: a recipe that has been read; its placements are given up.
        output: the recipe to write; may be the source itself.
        asked: ``[toss]`` keys that go before the recipe's own; they are written too.

    Raises:
        InputError: settings that make no sense, or a recipe that can't be written.
    """
    recipe, text = _text(source)
    settings = toss_settings({**recipe.toss, **asked})
    page = source.page.with_layout(_plain_layout(source))
    tossed = toss(page, ranked_motifs(source), settings)
    placed = [_placed(row) for row in tossed.rows]
    _write(output, text, "toss", asked, placed, source)
    return Arranged(output, f"{output}: {tossed.line()}", tossed.as_dict(), tossed.notes)


def fill_recipe(source: Source, output: Path, asked: Mapping[str, Any]) -> Arranged:
    """Fill a recipe's voids with its fillers and write their placements after the others.

    Args:
        source: a recipe that has been read, with something placed.
        output: the recipe to write; may be the source itself.
        asked: ``[fill]`` keys that go before the recipe's own; they are written too.

    Raises:
        InputError: there is no filler; or as :func:`toss_recipe`.
    """
    recipe, text = _text(source)
    fillers = [(m, rank) for m, rank in ranked_motifs(source) if rank == "filler"]
    if not fillers:
        raise InputError(
            "no motif has the rank filler", file=source.file, hint='add rank = "filler" to some'
        )
    settings = fill_settings({**recipe.fill, **asked})
    filled = fill(source.page.with_layout(_plain_layout(source)), fillers, settings)
    before = recipe.placements or tuple(Placed(name) for name in source.pool.drawn)
    placed = [*before, *(_placed(row) for row in filled.rows)]
    _write(output, text, "fill", asked, placed, source)
    return Arranged(output, f"{output}: {filled.line()}", filled.as_dict(), filled.notes)


def ranked_motifs(source: Source) -> list[tuple[Any, str]]:
    """Return a source's motifs with their ranks, guessed by size where nothing says them."""
    motifs = list(source.pool.motifs.values())
    known = source.ranks
    guessed = ranks(motifs)
    if known:
        # What the recipe leaves out of a list of ranks is not to be used.
        return [(m, known[m.name]) for m in motifs if m.name in known]
    return list(zip(motifs, guessed, strict=True))


def _plain_layout(source: Source) -> Layout:
    layout = source.layout
    if layout.form:
        raise InputError(
            f"{_PLAIN}, and this is {layout}",
            file=source.file,
            hint="use block, drop or brick, or place motifs by hand",
        )
    return layout


def _text(source: Source) -> tuple[Any, str]:
    if source.recipe is None:
        raise InputError(
            "a drawing's motifs stand as drawn",
            file=source.file,
            hint="write a recipe first: vecrepeat recipe ART -o design.toml",
        )
    return source.recipe, source.file.read_text(encoding="utf-8")


def _placed(row: Row) -> Placed:
    pose = row.pose
    return Placed(row.motif, (pose.x, pose.y), pose.turn, pose.scale, pose.flip)


def _write(
    output: Path,
    text: str,
    table: str,
    asked: Mapping[str, Any],
    placed: list[Placed],
    source: Source,
) -> None:
    if output.resolve().parent != source.file.resolve().parent:
        raise InputError(
            "a recipe names its art by where it lies",
            file=output,
            hint="write it into the same folder",
        )
    changed = with_placements(text, placed)
    if asked:
        plain = {
            key: list(value) if isinstance(value, tuple) else value for key, value in asked.items()
        }
        changed = with_settings(changed, table, plain)
    write_recipe(output, changed)
