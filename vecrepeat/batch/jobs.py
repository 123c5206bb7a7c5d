"""What a batch is to write: every print of every design in every colourway, a job each.

Planning reads recipes and no art, so that a batch gets going at once; the jobs are run by
:mod:`vecrepeat.batch.running`.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import Any, NamedTuple

from vecrepeat.core.errors import InputError
from vecrepeat.core.names import slug
from vecrepeat.recipe.files import (
    beside,
    is_collection,
    is_recipe,
    print_named,
    read_collection,
    read_prints,
    read_recipe,
)
from vecrepeat.recipe.model import AS_DRAWN, Recipe
from vecrepeat.repeat.layout import Layout
from vecrepeat.util.files import final_place, note_read, read_toml

DEFAULT_PRINT: Mapping[str, Any] = {"dpi": Fraction(300)}
READ_SUFFIXES = (".svg", ".svgz", ".png", ".webp", ".tif", ".tiff", ".jpg", ".jpeg", ".gif")


@dataclass(frozen=True)
class Job:
    """One file to write, as plain data that can be sent to another machine.

    Attributes:
        source: path of the recipe, drawing or print of a collection.
        colourway: its name, or :data:`AS_DRAWN`.
        prints: path of the file whose prints it is one of: the recipe's, or one for all designs.
        number: which of these prints; -1 where there is none.
        file: path of the file.
        content: hash of the source, its art and its layout: what is kept of it is of no other.
        key: hash of all that the file depends on.
        layout: how tiles lie; by default as the recipe says, a block for a drawing.
    """

    source: str
    colourway: str
    prints: str
    number: int
    file: str
    content: str
    key: str
    layout: str | None = None


@dataclass(frozen=True)
class Limits:
    """What a receiver takes.

    Attributes:
        formats: endings such as ``png``; empty for any.
        max_pixels: of the whole picture.
        max_side: of either side in pixels.
        max_bytes: of the file.
    """

    formats: tuple[str, ...] = ()
    max_pixels: int | None = None
    max_side: int | None = None
    max_bytes: int | None = None

    def refusal(
        self, file: Path, width: int | None, height: int | None, size: int | None = None
    ) -> InputError | None:
        """Return why the receiver would not take a file, or None.

        Args:
            file: where it is, or is going to be.
            width: in pixels; None where it is not made of them.
            height: likewise.
            size: in bytes, where it is known.
        """
        ending, hint = file.suffix.lstrip(".").lower(), "lower the dpi or the size"
        sides = (width or 0, height or 0)
        if self.formats and ending not in self.formats:
            what, hint = f"the receiver takes no .{ending}", f"use {', '.join(self.formats)}"
        elif self.max_side is not None and max(sides) > self.max_side:
            what = f"{width:,} × {height:,} px is longer than the receiver's {self.max_side:,} px"
        elif self.max_pixels is not None and sides[0] * sides[1] > self.max_pixels:
            what = f"{sides[0] * sides[1]:,} px are more than the receiver's {self.max_pixels:,}"
        elif size is not None and self.max_bytes is not None and size > self.max_bytes:
            what = f"it has {size:,} bytes, the receiver takes {self.max_bytes:,}"
            hint = f"{hint}, or choose another format"
        else:
            return None
        return InputError(what, file=file, hint=hint)


ANY = Limits()
"""The limits of a receiver that takes anything."""


def jobs_of(
    sources: Sequence[Path],
    folder: Path,
    *,
    only: Sequence[str] = (),
    prints: Path | None = None,
    layout: Layout | None = None,
) -> list[Job]:
    """Return every file that is asked for: each design's prints in each of its colourways.

    Args:
        sources: recipes, drawings, collections and prints of them.
        folder: where the files go: ``NAME/NAME-COLOURWAY-PRINT.FORMAT``; prints of a collection
            lie together in its own.
        only: names of the colourways to write; by default all, and as drawn.
        prints: a file of prints for all designs, in place of the recipes' own.
        layout: how tiles lie; by default as recipes say, and as blocks for drawings.

    Raises:
        InputError: a file can't be read, two files would have one name, or a colourway is
            not known to any recipe.
    """
    found: dict[str, Job] = {}
    known = {AS_DRAWN}
    hashes: dict[Path, str] = {}
    shared = None if prints is None else read_prints(prints)
    lie = None if layout is None else str(layout)
    for design in (design for path in sources for design in _designs(path, hashes)):
        rows = design.prints if shared is None else shared
        within = design.source if prints is None else prints
        profiles = _profiles(design.beside if prints is None else prints.parent, rows)
        known |= set(design.ways)
        for way, colours in design.ways.items():
            if only and way not in only:
                continue
            own = _hash(design.content, profiles, lie)
            content = _hash(own, design.ways, *map(_print_text, rows))
            for number, row in enumerate(rows) if rows else [(-1, DEFAULT_PRINT)]:
                file = folder / design.folder / _file_name(design.name, way, row)
                if str(file) in found:
                    raise InputError(
                        f"two jobs would both write {file.name}",
                        file=design.source,
                        hint='give each [[print]], and each recipe, a name = "…" of its own',
                    )
                told = _print_text(row)
                key = _hash(own, way, colours, number, told, file.relative_to(folder))
                found[str(file)] = Job(
                    source=str(design.source),
                    colourway=way,
                    prints=str(within),
                    number=number,
                    file=str(file),
                    content=content,
                    key=key,
                    layout=lie,
                )
    # The processes that draw know no others' art.
    for name in found:
        final_place(Path(name))
    for way in only:
        if way not in known:
            raise InputError(
                f"no recipe has the colourway “{way}”", hint=f"they have {', '.join(sorted(known))}"
            )
    return list(found.values())


class _Design(NamedTuple):
    """One design of a batch: a recipe, a drawing or a print of a collection.

    Attributes:
        source: its path.
        name: what its files' names begin with.
        folder: that they go into.
        beside: the folder that its profiles are named from.
        content: a hash of it and its art.
        prints: its own.
        ways: what it is written in, each with what only that depends on.
    """

    source: Path
    name: str
    folder: str
    beside: Path
    content: str
    prints: Sequence[Mapping[str, Any]]
    ways: Mapping[str, object]


def _designs(path: Path, hashes: dict[Path, str]) -> Iterator[_Design]:
    """Yield the designs of a source: all prints of a collection, or the one that it is."""
    named = print_named(path)
    if named is None and not is_collection(path):
        recipe = read_recipe(path) if is_recipe(path) else None
        name = slug(path.stem if recipe is None else recipe.keys.get("name", path.stem)) or "design"
        own = () if recipe is None else recipe.prints
        ways = [AS_DRAWN, *(row["name"] for row in (recipe.colourways if recipe else ()))]
        content = _content(path, recipe, hashes)
        yield _Design(path, name, name, path.parent, content, own, dict.fromkeys(ways))
        return
    file = path if named is None else named[0]
    collection = read_collection(file)
    for one in collection.prints if named is None else [collection.print_of(named[1])]:
        recipe = read_recipe(one.file) if is_recipe(one.file) else None
        told = (one.name, one.width, one.colours, dict(one.roles), dict(collection.palette))
        yield _Design(
            source=file / slug(one.name),
            name=collection.file_name(one),
            folder=slug(collection.name) or "collection",
            beside=file.parent,
            content=_hash(_content(one.file, recipe, hashes), told),
            prints=collection.goods,
            # A colourway that is changed leaves the others' files as they are.
            ways={way: collection.palette_in(way) for way in collection.ways},
        )


def _print_text(row: Mapping[str, Any]) -> str:
    """Return a print as text, the same for the same."""
    return json.dumps({key: str(value) for key, value in row.items()}, sort_keys=True)


def _file_name(name: str, way: str, row: Mapping[str, Any]) -> str:
    parts = [name]
    if way != AS_DRAWN:
        parts.append(slug(way) or "colourway")
    if "name" in row:
        parts.append(slug(row["name"]) or "print")
    else:
        for key in ("width", "height"):
            if key in row:
                parts.append(f"{float(row[key]):g}mm")
        parts.append(f"{float(row.get('dpi', 300)):g}dpi")
    return f"{'-'.join(parts)}.{row.get('format', 'png').lstrip('.').lower()}"


def _content(path: Path, recipe: Recipe | None, hashes: dict[Path, str]) -> str:
    """Return a hash of a source and of all files that its art may draw on.

    Args:
        path: the recipe's or drawing's.
        recipe: what the recipe says.
        hashes: of folders that were looked through before; more are added.
    """
    parts = []
    art = [path]
    if recipe is not None:
        parts.append(sha256_of(path))
        art = [p for key in ("art", "loose") for p in beside(path, recipe.keys.get(key))]
    for drawing in art:
        # Drawings may link pictures beside them.
        folder = drawing if drawing.is_dir() else drawing.parent
        for file in _drawn(folder) if drawing.is_dir() else [drawing]:
            if file.is_file():
                note_read(file)
        if folder not in hashes:
            hashes[folder] = _pictures(folder)
        parts.append(hashes[folder])
    return _hash(*parts)


def _profiles(folder: Path, rows: Sequence[Mapping[str, Any]]) -> str:
    """Return a hash of the profiles that prints name, as they lie in a folder."""
    named = [folder / row["profile"] for row in rows if "profile" in row]
    return _hash(*(sha256_of(path) for path in named if path.is_file()))


def _pictures(folder: Path) -> str:
    """Return a hash of a folder's drawings and pictures."""
    return _hash(*(part for file in _drawn(folder) for part in (file.name, sha256_of(file))))


def _drawn(folder: Path) -> list[Path]:
    files = sorted(folder.iterdir()) if folder.is_dir() else []
    return [f for f in files if f.suffix.lower() in READ_SUFFIXES and f.is_file()]


@lru_cache
def program() -> str:
    """Return this program's name and version; to ask for that takes milliseconds."""
    return f"vecrepeat {version('vecrepeat')}"


def _hash(*parts: object) -> str:
    told = json.dumps([program(), *map(str, parts)])
    return hashlib.sha256(told.encode()).hexdigest()


def sha256_of(file: Path) -> str:
    """Return a file's SHA-256 in hexadecimal."""
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def read_limits(path: Path) -> Limits:
    """Read a receiver's limits from a TOML file.

    Keys: ``formats``, ``max-pixels``, ``max-side``, ``max-bytes``.

    Raises:
        InputError: it can't be read, or has another key or a value that does not suit.
    """
    data = read_toml(path, "file of limits")
    limits: dict[str, Any] = {}
    for key, value in data.items():
        if key == "formats" and isinstance(value, list) and all(isinstance(v, str) for v in value):
            limits[key] = tuple(v.lstrip(".").lower() for v in value)
        elif key in ("max-pixels", "max-side", "max-bytes") and type(value) is int and value > 0:
            limits[key.replace("-", "_")] = value
        else:
            raise InputError(
                f"{key} = {value!r} is no limit",
                file=path,
                hint="known are formats, max-pixels, max-side and max-bytes",
            )
    return Limits(**limits)
