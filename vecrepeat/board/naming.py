"""Which of a recipe's files of art a dropped one stands for, and how the recipe names its copy."""

from __future__ import annotations

import os
from collections.abc import Collection
from pathlib import Path

from vecrepeat.core.names import plain_name
from vecrepeat.recipe.files import beside
from vecrepeat.recipe.model import Recipe
from vecrepeat.sources.loose import motif_files

KEYS = ("art", "loose")
"""A recipe's keys that name files of art, or folders of them."""


def standing_for(recipe: Recipe, name: str) -> Path | None:
    """Return the file of a recipe's art that goes by a name, or None."""
    wanted = plain_name(name)
    files = (
        file
        for key in KEYS
        for one in beside(recipe.file, recipe.keys.get(key))
        for file in _files(key, one)
    )
    return next((file for file in files if plain_name(file.name) == wanted), None)


def named_instead(
    recipe: Recipe, file: Path, copy: Path, left_out: Collection[Path]
) -> dict[str, list[str]]:
    """Return a recipe's keys with a copy in the place of a file.

    A folder becomes its files but for those left out, which no recipe may name by themselves.
    """
    found: dict[str, list[str]] = {}
    for key in KEYS:
        before = beside(recipe.file, recipe.keys.get(key))
        names: list[str] = []
        for said, one in zip(recipe.keys.get(key, ()), before, strict=True):
            inside = _files(key, one)
            if file in inside:
                named = [each for each in inside if each == file or each not in left_out]
                names += [_said(recipe, copy if each == file else each) for each in named]
            else:
                names.append(said)
        if len(before) != len(names) or file in before:
            found[key] = names
    return found


def named_too(recipe: Recipe, copy: Path) -> dict[str, list[str]]:
    """Return a recipe's keys with one more file of a loose motif."""
    return {"loose": [*recipe.keys.get("loose", ()), _said(recipe, copy)]}


def _files(key: str, path: Path) -> list[Path]:
    return motif_files(path)[0] if key == "loose" else [path]


def _said(recipe: Recipe, path: Path) -> str:
    return Path(os.path.relpath(path, recipe.file.parent)).as_posix()
