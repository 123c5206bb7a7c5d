"""The collection: a small text file that says which prints belong together, in which colours.

A collection is TOML, as recipes are. This module turns its text into plain data and opens none
of its prints.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from string import Formatter
from typing import Any

from vecrepeat.core.errors import InputError
from vecrepeat.core.names import slug
from vecrepeat.recipe.keys import TABLES, Key, Read
from vecrepeat.recipe.model import AS_DRAWN, Where
from vecrepeat.recipe.values import (
    OneOf,
    UnfitError,
    nearest,
    read_colour,
    read_file_words,
    read_length,
    read_word_list,
    read_words,
)
from vecrepeat.util.files import parse_toml

FILE = "collection.toml"
"""The name of a collection's file in a folder of its own."""

ROLES = ("hero", "secondary", "blender")
"""What prints are in a collection, in the order they are shown (common practice, no source)."""

GROUND = "ground"
"""The role of a print's ground in its ``map``."""

NO_GROUND = "none"


def _read_colours(value: Any) -> dict[str, str]:
    if not isinstance(value, Mapping):
        raise UnfitError('palette names with colours such as { ink = "#2980b9" }')
    return {read_words(k): read_colour(v) for k, v in value.items()}


def _read_map(value: Any) -> dict[str, str]:
    if not isinstance(value, Mapping):
        raise UnfitError('roles with palette names such as { ground = "ink" }')
    return {read_words(k): read_words(v) for k, v in value.items()}


FILES = "{number}-{role}-{name}"
"""What a print's files are called where nothing says it."""


def _read_pattern(value: Any) -> str:
    pattern = read_file_words(value)
    try:
        parts = [(field, more) for _, field, *more in Formatter().parse(pattern) if field]
        known = all(field in _FIELDS and more == ["", None] for field, more in parts)
    except ValueError:
        known = False
    if not known or not {"number", "name"} & {field for field, _ in parts}:
        raise UnfitError(f"a pattern such as “{FILES}”, with {{number}} or {{name}}")
    return pattern


_FIELDS = ("collection", "role", "number", "name")

KEYS: dict[str, dict[str, Key]] = {
    "": {
        "name": Key(read_file_words, "The collection's name.", required=True),
        "files": Key(
            _read_pattern,
            "How batch calls a print's files: of {collection}, {role}, {number} and {name}; "
            "by default “{number}-{role}-{name}”.",
        ),
    },
    "palette": {},
    "printer": {},
    "colourway": {
        "name": Key(read_words, "The colourway's name, for files.", required=True),
        "colours": Key(_read_colours, "From palette names to colours; others stay."),
    },
    "print": {
        "name": Key(read_file_words, "The print's name, for files.", required=True),
        "role": Key(OneOf(ROLES), "hero, secondary or blender.", required=True),
        "from": Key(
            read_words, "Its recipe or drawing, beside the collection's file.", required=True
        ),
        "width": Key(read_length, "Print width of one tile; by default as its recipe says."),
        "colours": Key(
            read_word_list,
            "Palette colours that it may use: every other goes to the nearest of these.",
        ),
        "map": Key(
            _read_map,
            "From its ground, or colours or palette names of its recipe, to palette names.",
        ),
    },
    "goods": TABLES["print"],
}
"""Every table's keys. "palette" and "printer" take any names: see :data:`FREE_KEYS`."""

FREE_KEYS: Mapping[str, Read] = {"palette": read_colour, "printer": read_words}
"""What the tables that take any names have for each: a colour, and what a printer calls it."""

REPEATED_KEYS = frozenset(("colourway", "print", "goods"))


@dataclass(frozen=True)
class Print:
    """One print of a collection.

    Attributes:
        name: unique within the collection, also as a part of a file's name.
        role: one of :data:`ROLES`.
        file: the recipe or drawing.
        width: print width of one tile in mm, where it is not the recipe's own.
        colours: palette names that it may use; empty for any.
        roles: its ground, or colours or palette names of its recipe → palette names.
    """

    name: str
    role: str
    file: Path
    width: Fraction | None = None
    colours: tuple[str, ...] = ()
    roles: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Collection:
    """A collection's plain data.

    Attributes:
        file: where it came from.
        name: of the whole.
        palette: ``#rrggbb`` by name.
        printer: what a printer calls a colour, by its palette name.
        colourways: what each changes of the palette, by the colourway's name.
        prints: heroes first, then secondaries, then blenders, each as written.
        goods: what is written of every print: tables as a recipe's ``[[print]]``.
        files: the pattern of a print's file names.
    """

    file: Path
    name: str
    palette: Mapping[str, str]
    printer: Mapping[str, str]
    colourways: Mapping[str, Mapping[str, str]]
    prints: tuple[Print, ...]
    goods: tuple[Mapping[str, Any], ...] = ()
    files: str = FILES

    def file_name(self, one: Print) -> str:
        """Return what a print's files are called, without colourway, goods and ending."""
        number = f"{self.prints.index(one) + 1:02}"
        fields = {"collection": self.name, "role": one.role, "number": number, "name": one.name}
        return slug(self.files.format(**fields))

    @property
    def ways(self) -> tuple[str, ...]:
        """Names of what it is shown in: the palette as it is, then its colourways."""
        return (AS_DRAWN, *self.colourways)

    def palette_in(self, way: str) -> dict[str, str]:
        """Return the palette in one of :attr:`ways`.

        Raises:
            InputError: there is none of that name.
        """
        if way == AS_DRAWN:
            return dict(self.palette)
        if way not in self.colourways:
            has = ", ".join(self.colourways)
            hint = f"it has {has}" if has else "add a [[colourway]] to the collection"
            raise InputError(f"there is no colourway “{way[:60]}”", file=self.file, hint=hint)
        return {**self.palette, **self.colourways[way]}

    def print_of(self, name: str) -> Print:
        """Return a print by its name.

        Raises:
            InputError: there is none of that name.
        """
        for one in self.prints:
            if name in (one.name, slug(one.name)):
                return one
        names = [one.name for one in self.prints]
        near = nearest(name, names)
        hint = f"did you mean “{near}”?" if near else f"it has {', '.join(names)}"
        raise InputError(f"there is no print “{name[:60]}”", file=self.file, hint=hint)


def parse_collection(text: str, file: Path) -> Collection:
    """Read a collection's text.

    Raises:
        InputError: it is not TOML, has a key or a name that is not known, or a value that does
            not suit; the message names the line, the key and what is expected.
    """
    document = parse_toml(text, file)
    where = Where(text, file, KEYS, FREE_KEYS, REPEATED_KEYS)
    top, tables = where.document(document)
    if "name" not in top:
        raise InputError("it has no name", file=file, hint='add a line such as name = "Meadow"')
    if not tables["print"]:
        raise InputError("it has no prints", file=file, hint="write a [[print]] table for each")
    palette = tables["palette"]
    if not palette:
        raise InputError("it has no palette", file=file, hint="write a table [palette]")

    def known(table: str, number: int, key: str, names: Iterable[str]) -> None:
        for name in names:
            if name not in palette:
                near = nearest(name, list(palette))
                hint = f"did you mean {near}?" if near else f"it has {', '.join(palette)}"
                what = f"the palette has no “{name[:40]}”; {hint}"
                raise where.error(table, number, key, what)

    known("printer", 0, "", tables["printer"])
    ways: dict[str, Mapping[str, str]] = {}
    for number, row in enumerate(tables["colourway"]):
        if row["name"] in (*ways, AS_DRAWN):
            raise where.error("colourway", number, "name", f"“{row['name']}” is there already")
        known("colourway", number, "colours", row.get("colours", {}))
        ways[row["name"]] = row.get("colours", {})
    prints: list[Print] = []
    for number, row in enumerate(tables["print"]):
        if slug(row["name"]) in ("", *(slug(one.name) for one in prints)):
            what = f"“{row['name']}” is taken already, or has no letters for a file's name"
            raise where.error("print", number, "name", what)
        roles = row.get("map", {})
        known("print", number, "colours", row.get("colours", ()))
        wanted = [n for role, n in roles.items() if (role, n) != (GROUND, NO_GROUND)]
        known("print", number, "map", tuple(wanted))
        art = file.parent / row["from"]
        if not art.is_file():
            raise where.error("print", number, "from", f"there is no file {row['from'][:60]}")
        prints.append(
            Print(row["name"], row["role"], art, row.get("width"), row.get("colours", ()), roles)
        )
    prints.sort(key=lambda one: ROLES.index(one.role))
    found = Collection(
        file=file,
        name=top["name"],
        palette=palette,
        printer=tables["printer"],
        colourways=ways,
        prints=tuple(prints),
        goods=tuple(tables["goods"]),
        files=top.get("files", FILES),
    )
    names = [found.file_name(one) for one in found.prints]
    for name in names:
        if names.count(name) > 1:
            raise where.error("", 0, "files", f"two prints would be called {name}; add {{number}}")
    return found
