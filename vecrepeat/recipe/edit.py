"""Writing into recipes: placements, settings and rows put into one that exists.

What the designer wrote stays as it is, comments and the order of keys included.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Collection, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.items import AoT, Array

from vecrepeat.core.errors import InputError
from vecrepeat.recipe.files import is_recipe
from vecrepeat.recipe.model import Placed, Recipe
from vecrepeat.util.files import read_text, write_whole

if TYPE_CHECKING:
    from vecrepeat.sources.source import Source


def placement_row(placed: Placed) -> dict[str, Any]:
    """Return a placement as the recipe writes it: to 0.1 µm, without what goes without saying."""
    row: dict[str, Any] = {"motif": placed.motif}
    if placed.at is not None:
        row["at"] = [_plain(round(v, 4)) for v in placed.at]
    if placed.turn % 360:
        row["turn"] = _plain(round(placed.turn % 360, 4))
    if placed.scale != 1:
        row["scale"] = _plain(round(placed.scale, 5))
    if placed.flip:
        row["flip"] = True
    if placed.pinned:
        row["pinned"] = True
    return row


def _plain(value: float) -> float | int:
    return int(value) if value == int(value) else value


def _inline(row: Mapping[str, Any]) -> Any:
    table = tomlkit.inline_table()
    table.update(row)
    return table


def inline_rows(rows: Sequence[Mapping[str, Any]]) -> Array:
    """Return tables as an array with a line for each."""
    array = tomlkit.array()
    for row in rows:
        array.append(_inline(row))
    return array.multiline(True)


def with_placements(text: str, placements: Sequence[Placed]) -> str:
    """Return a recipe's text with other placements, everything else untouched.

    Placements that did not change keep their line, with what stands beside it.
    """
    rows = [placement_row(one) for one in placements]

    def change(document: TOMLDocument) -> None:
        before = document.get("placement")
        if before is None:
            document.add("placement", inline_rows(rows))
        else:
            _rewrite(before, rows)

    return _edited(text, change)


def with_motifs(text: str, motifs: Mapping[str, Mapping[str, Any]]) -> str:
    """Return a recipe's text with keys of motifs set, or taken out for None, the rest untouched."""
    before = tomlkit.parse(text.removeprefix(_MARK)).get("motif", [])
    rows = {str(row["name"]): row.unwrap() for row in before}
    for name, keys in motifs.items():
        row = {**rows.get(name, {"name": name}), **keys}
        rows[name] = {key: value for key, value in row.items() if value is not None}
    wanted = [row for name, row in rows.items() if len(row) > 1 or name not in motifs]
    if not before:
        return with_rows(text, "motif", wanted) if wanted else text
    return _edited(text, lambda document: _rewrite(document["motif"], wanted))


def with_colourways(text: str, rows: Sequence[Mapping[str, Any]]) -> str:
    """Return a recipe's text with other colourways, everything else untouched."""

    def change(document: TOMLDocument) -> None:
        if rows:
            _rewrite(document["colourway"], rows)
        else:
            document.pop("colourway", None)

    known = "colourway" in tomlkit.parse(text.removeprefix(_MARK))
    return _edited(text, change) if known or not rows else with_rows(text, "colourway", rows)


def with_keys(text: str, keys: Mapping[str, str] | Mapping[str, list[str]]) -> str:
    """Return a recipe's text with keys at its top set, or taken out for "", the rest untouched."""

    def change(document: TOMLDocument) -> None:
        for key, value in keys.items():
            if value:
                document[key] = value
            else:
                document.pop(key, None)

    return _edited(text, change)


_MARK = "\ufeff"
"""A byte order mark, which some editors begin a file with."""


def _edited(text: str, change: Callable[[TOMLDocument], None]) -> str:
    """Return a recipe's text with a change made to it, its byte order mark and line ends kept."""
    document = tomlkit.parse(text.removeprefix(_MARK))
    change(document)
    changed = tomlkit.dumps(document)
    lone = re.compile(r"(?<!\r)\n")
    if "\r\n" in text and not lone.search(text):
        changed = lone.sub("\r\n", changed)
    return _MARK + changed if text.startswith(_MARK) else changed


def _rewrite(lines: Array | AoT, rows: Sequence[Mapping[str, Any]]) -> None:
    """Make the lines of an array, or its tables, these rows: each keeps what stands beside it."""
    was = [line.unwrap() for line in lines]
    same = difflib.SequenceMatcher(None, [_key(row) for row in was], [_key(row) for row in rows])
    # From the last, so that places before stay as they were.
    for _, first, last, new, end in reversed(same.get_opcodes()):
        both = min(last - first, end - new)
        for line, row in zip(range(first, first + both), rows[new : new + both], strict=True):
            _set(lines, line, row)
        for line in reversed(range(first + both, last)):
            del lines[line]
        for line, row in enumerate(rows[new + both : end], first + both):
            _insert(lines, line, row)


def _key(row: Mapping[str, Any]) -> tuple[Any, ...]:
    """Return what a row says, whatever the order of its keys."""
    return tuple(sorted((k, _comparable(v)) for k, v in row.items()))


def _comparable(value: Any) -> Any:
    if isinstance(value, Mapping):
        return _key(value)
    return tuple(value) if isinstance(value, list) else value


def _set(lines: Array | AoT, line: int, row: Mapping[str, Any]) -> None:
    held = lines[line]
    if isinstance(lines, Array):
        if _key(held.unwrap()) != _key(row):
            lines[line] = _inline(row)
        return
    _set_keys(held, row)


def _set_keys(held: Any, row: Mapping[str, Any]) -> None:
    for key in [key for key in held if key not in row]:
        del held[key]
    for key, value in row.items():
        if isinstance(value, Mapping) and isinstance(held.get(key), Mapping):
            _set_keys(held[key], value)
        elif held.get(key) != value:
            held[key] = _inline(value) if isinstance(value, Mapping) else value


def _insert(lines: Array | AoT, line: int, row: Mapping[str, Any]) -> None:
    if isinstance(lines, Array):
        if line < len(lines):
            lines.insert(line, _inline(row))
        else:
            lines.add_line(_inline(row), indent="    ")
        return
    lines.insert(line, _table(row))


def _table(row: Mapping[str, Any]) -> Any:
    """Return a row as a table; tables within it are written on one line."""
    table = tomlkit.table()
    for key, value in row.items():
        table.add(key, _inline(value) if isinstance(value, Mapping) else value)
    return table


def with_settings(
    text: str, table: str, settings: Mapping[str, Any], *, without: Collection[str] = ()
) -> str:
    """Return a recipe's text with keys of a table set and some taken out, the rest untouched."""

    def change(document: TOMLDocument) -> None:
        if table not in document:
            document.add(table, tomlkit.table())
        for key, value in settings.items():
            document[table][key] = value
        for key in without:
            document[table].pop(key, None)

    return _edited(text, change)


def with_rows(text: str, table: str, rows: Sequence[Mapping[str, Any]]) -> str:
    """Return a recipe's text with further ``[[table]]`` tables, the rest untouched.

    Tables within them are written on one line.
    """
    added = tomlkit.aot()
    for row in rows:
        added.append(_table(row))

    def change(document: TOMLDocument) -> None:
        before = document.get(table)
        if before is None:
            document.add(table, added)
        elif isinstance(before, Array):
            for row in rows:
                before.add_line(_inline(row), indent="    ")
        else:
            for row in rows:
                # A line between tables, as people write them.
                if not before[-1].as_string().endswith("\n\n"):
                    before[-1].add(tomlkit.nl())
                before.append(_table(row))

    return _edited(text, change)


def recipe_text(source: Source, otherwise: str) -> tuple[Recipe, str]:
    """Return a source's recipe and its text, to be changed.

    Args:
        source: what was read.
        otherwise: what to say where it is a drawing.

    Raises:
        InputError: it is a drawing, or a print of a collection.
    """
    if source.collected is not None:
        raise InputError(
            "a print of a collection is seen here in the collection's colours and size",
            file=source.file,
            hint=f"change what it is made from: {source.collected.one.file}",
        )
    if source.recipe is None:
        raise InputError(
            otherwise,
            file=source.file,
            hint="write a recipe first: vecrepeat recipe ART -o design.toml",
        )
    return source.recipe, read_text(source.file, "recipe")


def require_recipe_name(path: Path) -> None:
    """Raise where a recipe could not be read again under a name.

    Raises:
        InputError: so it is.
    """
    if not is_recipe(path):
        raise InputError("a recipe is TOML", file=path, hint="end the name in .toml")


def write_recipe(path: Path, text: str, *, edits: Path | None = None) -> None:
    """Write a recipe whole or not at all.

    Args:
        path: where.
        text: what.
        edits: the recipe that it was, which may be written over.

    Raises:
        InputError: it can't be written, or the name does not end in .toml.
    """
    require_recipe_name(path)
    write_whole(path, text.encode(), edits=edits)
