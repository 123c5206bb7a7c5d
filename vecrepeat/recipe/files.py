"""Recipes as files: their ending, their reading, and what lies beside them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from vecrepeat.recipe.model import Recipe, parse_prints, parse_recipe
from vecrepeat.util.files import read_text

RECIPE_SUFFIX = ".toml"


def is_recipe(path: str | Path) -> bool:
    """Whether a source is a recipe, by its ending."""
    return Path(path).suffix.lower() == RECIPE_SUFFIX


def beside(file: Path, names: object) -> list[Path]:
    """Return paths that are given relative to a file's folder."""
    return [file.parent / str(name) for name in names] if isinstance(names, tuple) else []


def read_recipe(file: Path) -> Recipe:
    """Read a recipe's file.

    Raises:
        InputError: it can't be read, or is no recipe.
    """
    return parse_recipe(read_text(file, "recipe"), file)


def read_prints(file: Path) -> tuple[Mapping[str, Any], ...]:
    """Read a file of ``[[print]]`` tables.

    Raises:
        InputError: it can't be read, or holds anything else.
    """
    return parse_prints(read_text(file, "prints"), file)
