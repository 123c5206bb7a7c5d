"""The recipe: a small text file that says how a repeat is made.

A recipe is TOML. This module turns its text into plain data, by the keys of
:mod:`vecrepeat.recipe.keys`; it opens no file.

Source: TOML v1.0.0.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from vecrepeat.core.allowance import PLACEMENTS
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.keys import ARRANGED, FREE, REPEATED, TABLES, Key, Read
from vecrepeat.recipe.values import UnfitError, nearest
from vecrepeat.util.files import parse_toml

AS_DRAWN = "as drawn"
"""What the colours are called that no colourway has changed."""


@dataclass(frozen=True)
class Placed:
    """One placement as the recipe says it.

    Attributes:
        motif: the motif's name.
        at: the middle of its box in mm from the tile's corner; None as drawn.
        turn: degrees clockwise.
        scale: 1 is the motif's own size.
        flip: mirrored left to right, before it is turned.
        pinned: stays where it is when the rest is tossed anew.
    """

    motif: str
    at: tuple[float, float] | None = None
    turn: float = 0.0
    scale: float = 1.0
    flip: bool = False
    pinned: bool = False


@dataclass(frozen=True)
class Recipe:
    """A recipe's plain data; keys that are absent are absent here too.

    Attributes:
        file: where it came from.
        keys: the keys at the top.
        motifs: the ``[[motif]]`` tables, by the motif's name.
        placements: in stacking order; empty where motifs stand as drawn.
        arranged: settings of the arranging commands, by table: ``toss``, ``fill`` and so on.
        blender: the ``[blender]`` table; empty where there is none.
        palette: colours by name.
        colourways: the ``[[colourway]]`` tables.
        prints: the ``[[print]]`` tables.
        lines: the line that each placement's and motif's table begins at, by (table, number).
    """

    file: Path
    keys: Mapping[str, Any]
    motifs: Mapping[str, Mapping[str, Any]]
    placements: tuple[Placed, ...]
    arranged: Mapping[str, Mapping[str, Any]]
    blender: Mapping[str, Any]
    palette: Mapping[str, str]
    colourways: tuple[Mapping[str, Any], ...]
    prints: tuple[Mapping[str, Any], ...]
    lines: Mapping[tuple[str, int], int] = field(default_factory=dict)


def parse_prints(text: str, file: Path) -> tuple[Mapping[str, Any], ...]:
    """Read a text of ``[[print]]`` tables alone, which any number of designs are written as.

    Raises:
        InputError: as :func:`parse_recipe`; or there is none.
    """
    document = parse_toml(text, file)
    where = Where(text, file)
    for key in document:
        if key != "print":
            raise where.unknown("", 0, key, ["print"])
    if not document:
        raise InputError("it has no prints", file=file, hint="write a [[print]] table for each")
    return tuple(where.rows("print", document["print"]))


def parse_recipe(text: str, file: Path) -> Recipe:
    """Read a recipe's text.

    Raises:
        InputError: it is not TOML, has a key that is not known, or a value that does not suit;
            the message names the line, the key, what is expected and the nearest valid key.
    """
    document = parse_toml(text, file)
    where = Where(text, file)
    rows = document.get("placement")
    if isinstance(rows, list) and len(rows) > PLACEMENTS:
        raise where.error("placement", PLACEMENTS, "", f"a tile holds at most {PLACEMENTS:,}")
    top, tables = where.document(document)
    motifs: dict[str, Mapping[str, Any]] = {}
    for i, row in enumerate(tables["motif"]):
        if row["name"] in motifs:
            raise where.error("motif", i, "name", f"“{row['name']}” is there twice")
        motifs[row["name"]] = row
    if not ("art" in top or "loose" in top or tables["blender"]):
        raise InputError(
            "it names no art", file=file, hint='add a line such as art = ["flowers.svg"]'
        )
    return Recipe(
        file=file,
        keys=top,
        motifs=motifs,
        placements=tuple(Placed(**row) for row in tables["placement"]),
        arranged={name: tables[name] for name in ARRANGED},
        blender=tables["blender"],
        palette=tables["palette"],
        colourways=tuple(tables["colourway"]),
        prints=tuple(tables["print"]),
        lines=where.starts,
    )


_HEADER_RE = re.compile(r"""\s*\[\[?\s*["']?([A-Za-z0-9_-]+)["']?\s*\]""")
_KEY_RE = re.compile(r"""\s*["']?([^"'=\[\]#]+?)["']?\s*=""")


class Where:
    """Knows the line of every key, reads values, and words errors.

    Args:
        text: the file's.
        file: for errors.
        tables: every table's keys.
        free: what the tables that take any names have for each.
        repeated: tables that are there once for each of something.
    """

    def __init__(
        self,
        text: str,
        file: Path,
        tables: Mapping[str, Mapping[str, Key]] = TABLES,
        free: Mapping[str, Read] = FREE,
        repeated: Collection[str] = REPEATED,
    ) -> None:
        self._file = file
        self._tables = tables
        self._free = free
        self._repeated = repeated
        self._lines: dict[tuple[str, int, str], int] = {}
        self.starts: dict[tuple[str, int], int] = {}
        counts: dict[str, int] = {}
        table, number = "", 0
        listed, row = "", 0
        for n, line in enumerate(text.splitlines(), 1):
            if not line.startswith(" ") and (header := _HEADER_RE.match(line)):
                listed = ""
                table = header.group(1)
                number = counts.get(table, 0)
                counts[table] = number + 1
                self.starts[table, number] = n
            elif not line.lstrip().startswith("{") and (key := _KEY_RE.match(line)):
                self._lines.setdefault((table, number, key.group(1)), n)
                if not table and key.group(1) in repeated:
                    listed, row = key.group(1), 0
            elif listed and line.lstrip().startswith("{"):
                # A table of an array that stands on a line of its own.
                self.starts[listed, row] = n
                row += 1

    def error(self, table: str, number: int, key: str, what: str) -> InputError:
        """Return an error at a key, or at its table where the key is not found."""
        line = self._lines.get((table, number, key)) or self.starts.get((table, number))
        name = ".".join(part for part in (table, key) if part)
        at = f"line {line}: " if line else ""
        return InputError(f"{at}{name}: {what}", file=self._file)

    def unknown(self, table: str, number: int, key: str, known: Sequence[str]) -> InputError:
        """Return the error for a key that is not known, with the nearest that is."""
        near = nearest(key, known)
        hint = f"did you mean {near}?" if near else f"known are {', '.join(known)}"
        return self.error(table, number, key, f"there is no such key; {hint}")

    def read(self, table: str, number: int, key: str, value: Any) -> Any:
        """Return a key's value as ours."""
        try:
            read = self._free.get(table) or self._tables[table][key].read
            return read(value)
        except InputError as error:
            told = f"{error.what} ({error.hint})" if error.hint else error.what
            raise self.error(table, number, key, told) from None
        except UnfitError as error:
            shown = "a table" if isinstance(value, dict) else f"“{str(value)[:40]}”"
            raise self.error(table, number, key, f"expected {error}, not {shown}") from None

    def document(self, document: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
        """Return the values of the keys that stand before all tables, and those of each table."""
        names = [name for name in self._tables if name]
        tables: dict[str, Any] = {name: [] if name in self._repeated else {} for name in names}
        top: dict[str, Any] = {}
        for key, value in document.items():
            if key in self._tables[""]:
                top[key] = self.read("", 0, key, value)
            elif key in self._repeated:
                tables[key] = self.rows(key, value)
            elif key in tables:
                if not isinstance(value, dict):
                    raise self.error(key, 0, "", f"write it as a table [{key}]")
                tables[key] = self.table(key, 0, value)
            else:
                raise self.unknown("", 0, key, [*self._tables[""], *tables])
        return top, tables

    def rows(self, table: str, rows: Any) -> list[dict[str, Any]]:
        """Return the values of a table that is there once for each, as ours."""
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            raise self.error(table, 0, "", f"write it as [[{table}]], once for each")
        return [self.table(table, i, row) for i, row in enumerate(rows)]

    def table(self, table: str, number: int, row: Mapping[str, Any]) -> dict[str, Any]:
        """Return a table's values as ours."""
        found = {}
        for key, value in row.items():
            if table not in self._free and key not in self._tables[table]:
                raise self.unknown(table, number, key, list(self._tables[table]))
            found[key] = self.read(table, number, key, value)
        for key, known in self._tables[table].items():
            if known.required and key not in found:
                raise self.error(table, number, key, "it is missing")
        return found
