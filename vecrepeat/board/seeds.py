"""Tosses kept beside a recipe, so that one can go back to them once the journal is gone."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

from vecrepeat.board.state import State, plain_settings, read_placed, read_settings
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.edit import placement_row
from vecrepeat.util.files import read_plain, write_whole

MOST = 12
"""So many of each way to arrange are kept, the last ones."""

_LONGEST = 64 << 20
"""The most bytes of the list."""

Seed = dict[str, Any]
"""``way``, its ``settings`` with the seed, and the ``rows`` that it laid, as a recipe has them."""


def seeds_path(recipe: Path) -> Path:
    """Return where a recipe's tosses are kept: hidden, beside it."""
    return recipe.parent / f".{recipe.name}.seeds"


def seeds_of(states: Sequence[State]) -> list[Seed]:
    """Return what arranging by a seed made of the moments that follow each other."""
    return [
        {"way": way, "settings": dict(keys), "rows": [placement_row(one) for one in now.placed]}
        for before, now in pairwise(states)
        for way, keys in now.settings.items()
        # A step that arranges says its settings, be they the same again.
        if "seed" in keys and keys is not before.settings.get(way)
    ]


def read_seeds(recipe: Path, known: Collection[str]) -> list[Seed]:
    """Return the tosses kept of a recipe, but for those whose motifs or settings are no more.

    Raises:
        InputError: the list can't be read.
    """
    path = seeds_path(recipe)
    try:
        found = json.loads(read_plain(path, _LONGEST))
        return [one for one in found if _is_known(one, known)]
    except FileNotFoundError:
        return []
    except (OSError, ValueError, TypeError, KeyError, RecursionError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is damaged"
        raise InputError(f"can't read the seeds kept: {why}", file=path) from None


def _is_known(one: Any, known: Collection[str]) -> bool:
    rows, settings = one["rows"], one["settings"]
    try:
        for row in rows:
            read_placed(row, known)
        return "seed" in plain_settings(read_settings(one["way"], settings))
    except InputError:
        return False


def keep_seeds(recipe: Path, seeds: Sequence[Seed]) -> list[Seed]:
    """Keep the last tosses of each way, each seed once; return them.

    Raises:
        InputError: they can't be written.
    """
    last: dict[tuple[str, int], Seed] = {}
    for one in reversed(seeds):
        last.setdefault((one["way"], one["settings"]["seed"]), one)
    count = Counter[str]()
    kept: list[Seed] = []
    for one in last.values():
        count[one["way"]] += 1
        if count[one["way"]] <= MOST:
            kept.insert(0, one)
    if kept:
        data = json.dumps(kept, ensure_ascii=False, separators=(",", ":")).encode()
        write_whole(seeds_path(recipe), data, edits=seeds_path(recipe))
    return kept
