"""Toss and fill for the board: placements as rows, nothing written."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from vecrepeat.arrange import Row, fill, toss
from vecrepeat.arrange.arranging import (
    absent,
    asked_over,
    fill_settings,
    ranked_motifs,
    toss_settings,
)
from vecrepeat.board.cloth import repeat_of
from vecrepeat.board.state import State
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.edit import placement_row
from vecrepeat.recipe.keys import TABLES
from vecrepeat.recipe.model import Placed
from vecrepeat.sources.source import Source


def tossed(source: Source, state: State, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return all motifs tossed anew on the state's layout.

    Args:
        source: what was read; its recipe's ``[toss]`` keys hold where nothing is asked.
        state: the moment; its placements are given up.
        asked: ``[toss]`` keys that go before them.

    Raises:
        InputError: settings that make no sense.
    """
    recipe = source.recipe
    keys = asked_over(recipe.toss if recipe else {}, _read("toss", asked))
    repeat, ranked = repeat_of(source, state), ranked_motifs(source)
    done = toss(repeat, ranked, toss_settings(keys, repeat, ranked))
    rows = [placement_row(_placed(row)) for row in done.rows]
    there = {row.motif for row in done.rows}
    left = [(motif, rank) for motif, rank in ranked if motif.name not in there]
    return {
        "rows": rows,
        "line": done.line(),
        "notes": [*done.notes, *absent(left, keys, done.notes)],
    }


def filled(source: Source, state: State, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return fillers for the state's voids, to be laid over what is there.

    Args:
        source: what was read; its recipe's ``[fill]`` keys hold where nothing is asked.
        state: the moment.
        asked: ``[fill]`` keys that go before them.

    Raises:
        InputError: there is no filler, or as :func:`tossed`.
    """
    recipe = source.recipe
    fillers = [(m, rank) for m, rank in ranked_motifs(source) if rank == "filler"]
    if not fillers:
        raise InputError("no motif has the rank filler", hint="the recipe can give it to some")
    settings = fill_settings({**(recipe.fill if recipe else {}), **_read("fill", asked)})
    done = fill(repeat_of(source, state), fillers, settings)
    rows = [placement_row(_placed(row)) for row in done.rows]
    return {"rows": rows, "line": done.line(), "notes": list(done.notes)}


def _read(table: str, asked: Mapping[str, Any]) -> dict[str, Any]:
    try:
        return {key: TABLES[table][key].read(value) for key, value in asked.items()}
    except (KeyError, ValueError) as error:
        raise InputError(f"{table} can't be asked for that: {error}") from None


def _placed(row: Row) -> Placed:
    pose = row.pose
    return Placed(row.motif, (pose.x, pose.y), pose.turn, pose.scale, pose.flip)
