"""Recipes and collections as files: their ending, their reading, and what lies beside them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from vecrepeat.recipe.collection import Collection, parse_collection
from vecrepeat.recipe.model import Recipe, parse_prints, parse_recipe
from vecrepeat.util.files import parse_toml, read_text

RECIPE_SUFFIX = ".toml"


def is_recipe(path: str | Path) -> bool:
    """Whether a source is a recipe, by its ending."""
    return Path(path).suffix.lower() == RECIPE_SUFFIX


def is_collection(path: str | Path) -> bool:
    """Whether a source is a collection: TOML whose prints have roles.

    Raises:
        InputError: it can't be read, or is not TOML.
    """
    file = Path(path)
    if not is_recipe(file) or not file.is_file():
        return False
    text = read_text(file, "recipe")
    # Recipes may hold thousands of placements: most are told without parsing them twice.
    if "role" not in text:
        return False
    rows = parse_toml(text, file).get("print")
    return isinstance(rows, list) and any("role" in row for row in rows if isinstance(row, dict))


def print_named(path: str | Path) -> tuple[Path, str] | None:
    """Return the collection's file and the print's name of ``FILE/NAME``; None for other paths."""
    file = Path(path)
    inside = is_recipe(file.parent) and file.parent.is_file()
    return (file.parent, file.name) if inside else None


def beside(file: Path, names: object) -> list[Path]:
    """Return paths that are given relative to a file's folder."""
    return [file.parent / str(name) for name in names] if isinstance(names, tuple) else []


def read_recipe(file: Path) -> Recipe:
    """Read a recipe's file.

    Raises:
        InputError: it can't be read, or is no recipe.
    """
    return parse_recipe(read_text(file, "recipe"), file)


def read_collection(file: Path) -> Collection:
    """Read a collection's file.

    Raises:
        InputError: it can't be read, or is no collection.
    """
    return parse_collection(read_text(file, "collection"), file)


def read_prints(file: Path) -> tuple[Mapping[str, Any], ...]:
    """Read a file of ``[[print]]`` tables.

    Raises:
        InputError: it can't be read, or holds anything else.
    """
    return parse_prints(read_text(file, "prints"), file)
