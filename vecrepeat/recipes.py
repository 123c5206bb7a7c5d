"""Writing recipes: a first one from art, and new placements into one that exists.

What the designer wrote stays as it is, comments and the order of keys included.
"""

from __future__ import annotations

import difflib
import os
import re
from collections.abc import Callable, Collection, Mapping, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.items import AoT, Array

from vecrepeat.errors import InputError
from vecrepeat.files import MOST_TEXT, read_file, write_whole
from vecrepeat.geometry import number
from vecrepeat.layout import Layout
from vecrepeat.recipe import Placed, Recipe
from vecrepeat.recipefiles import is_recipe
from vecrepeat.repeat import Motif
from vecrepeat.sources import Pool, Source, read_pool
from vecrepeat.units import KNOWN, Size

HERO, SECONDARY = 0.35, 0.08
"""Motifs of at least these shares of the largest one's area are heroes, and secondaries."""


def ranks(motifs: Sequence[Motif]) -> list[str]:
    """Guess each motif's rank by its painted area."""
    areas = [motif.outline.area for motif in motifs]
    largest = max(areas, default=0.0)
    return [
        "hero" if a >= HERO * largest else "secondary" if a >= SECONDARY * largest else "filler"
        for a in areas
    ]


def first_recipe(
    name: str,
    pool: Pool,
    *,
    art: Sequence[str],
    loose: Sequence[str],
    tile: Size,
    layout: str,
    as_drawn: bool = False,
) -> str:
    """Return the text of a first recipe.

    Args:
        name: of the design.
        pool: its motifs.
        art: paths of drawings, as the recipe is to name them.
        loose: paths of loose motifs, likewise.
        tile: the tile's size in mm.
        layout: the layout's name.
        as_drawn: leave placements out, so that motifs stand as the drawing has them.
    """
    document = tomlkit.document()
    document.add(tomlkit.comment(f"A vecrepeat recipe. Lengths: {KNOWN}."))
    document.add("name", tomlkit.item(name))
    if art:
        document.add("art", tomlkit.item(list(art)))
    if loose:
        document.add("loose", tomlkit.item(list(loose)))
    document.add("tile", tomlkit.item(_size(tile)))
    document.add("layout", tomlkit.item(layout))
    ground = tomlkit.item("none" if pool.ground is None else pool.ground.colour)
    document.add("ground", ground)
    document.add(tomlkit.nl())
    document.add(tomlkit.comment("Ranks are a guess by size: hero, secondary or filler."))
    motifs = list(pool.motifs.values())
    ranked = list(zip(motifs, ranks(motifs), strict=True))
    document.add("motif", _lines([{"name": m.name, "rank": r} for m, r in ranked]))
    if pool.drawn and not as_drawn:
        document.add(tomlkit.nl())
        document.add(
            tomlkit.comment("In stacking order. at: the motif's middle, mm from the upper left.")
        )
        placed = [Placed(n, _middle(pool.motifs[n])) for n in pool.drawn]
        document.add("placement", _lines([placement_row(one) for one in placed]))
    if not pool.drawn:
        document.add(tomlkit.nl())
        table = tomlkit.table()
        table.add(tomlkit.comment("How much of the cloth each rank is to paint."))
        table.update(_shares([rank for _, rank in ranked]))
        document.add("toss", table)
    return tomlkit.dumps(document)


PAINTED = 0.24
"""The share of the cloth that a first recipe has motifs paint: open, but no bare cloth."""

_WEIGHTS = {"hero": 3, "secondary": 2, "filler": 1}


def _shares(known: Collection[str]) -> dict[str, float]:
    """Return how much of the cloth each rank of some motifs is to paint."""
    weights = {rank: weight for rank, weight in _WEIGHTS.items() if rank in known}
    whole = sum(weights.values())
    return {f"{rank}-coverage": round(PAINTED * w / whole, 2) for rank, w in weights.items()}


def _size(size: Size) -> str:
    width, height = (number(float(side)) for side in size)
    return f"{width}x{height}mm"


def _middle(motif: Motif) -> tuple[float, float]:
    box = motif.box
    return ((box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2)


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
    return row


def _plain(value: float) -> float | int:
    return int(value) if value == int(value) else value


def _inline(row: Mapping[str, Any]) -> Any:
    table = tomlkit.inline_table()
    table.update(row)
    return table


def _lines(rows: Sequence[Mapping[str, Any]]) -> Array:
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
            document.add("placement", _lines(rows))
        else:
            _rewrite(before, rows)

    return _edited(text, change)


def with_layout(text: str, layout: str) -> str:
    """Return a recipe's text with another layout, everything else untouched."""
    return _edited(text, lambda document: document.update(layout=layout))


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
    return tuple(sorted((k, tuple(v) if isinstance(v, list) else v) for k, v in row.items()))


def _set(lines: Array | AoT, line: int, row: Mapping[str, Any]) -> None:
    held = lines[line]
    if isinstance(lines, Array):
        if _key(held.unwrap()) != _key(row):
            lines[line] = _inline(row)
        return
    for key in [key for key in held if key not in row]:
        del held[key]
    for key, value in row.items():
        if held.get(key) != value:
            held[key] = value


def _insert(lines: Array | AoT, line: int, row: Mapping[str, Any]) -> None:
    if isinstance(lines, Array):
        if line < len(lines):
            lines.insert(line, _inline(row))
        else:
            lines.add_line(_inline(row), indent="    ")
        return
    table = tomlkit.table()
    table.update(row)
    lines.insert(line, table)


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
        made = tomlkit.table()
        for key, value in row.items():
            made.add(key, _inline(value) if isinstance(value, Mapping) else value)
        added.append(made)

    def change(document: TOMLDocument) -> None:
        before = document.get(table)
        if before is None:
            document.add(table, added)
        elif isinstance(before, Array):
            for row in rows:
                before.add_line(_inline(row), indent="    ")
        else:
            before.extend(added)

    return _edited(text, change)


class Started(NamedTuple):
    """A first recipe.

    Attributes:
        notes: about its art, a sentence each.
        motifs: how many there are.
        placed: whether any stands somewhere.
    """

    notes: tuple[str, ...]
    motifs: int
    placed: bool


def start_recipe(
    art: Sequence[Path],
    output: Path,
    *,
    all_loose: bool = False,
    tile: Size | None = None,
    layout: Layout,
    as_drawn: bool = False,
    allowed: Sequence[Path] = (),
) -> Started:
    """Write a first recipe from art.

    Args:
        art: drawings of a page, loose motif files, or folders of them.
        output: the recipe to write; there must be none yet.
        all_loose: take each SVG file as one motif.
        tile: the tile's size; by default the first page's.
        layout: how tiles lie.
        as_drawn: leave placements to the drawing.
        allowed: folders besides the art's own that linked pictures may be taken from.

    Raises:
        InputError: art can't be read, or the recipe is there already or can't be written.
    """
    require_recipe_name(output)
    if output.exists():
        raise InputError(
            "it is there already", file=output, hint="give another name, or move it away"
        )
    pages = [p for p in art if p.suffix.lower() in (".svg", ".svgz") and not all_loose]
    pages = [p for p in pages if not p.is_dir()]
    loose = [p for p in art if p not in pages]
    pool = read_pool(pages, loose, allowed=allowed)

    def named(paths: Sequence[Path]) -> list[str]:
        here = output.resolve().parent
        return [Path(os.path.relpath(p.resolve(), here)).as_posix() for p in paths]

    text = first_recipe(
        output.stem,
        pool,
        art=named(pages),
        loose=named(loose),
        tile=tile or default_tile(pool),
        layout=str(layout),
        as_drawn=as_drawn,
    )
    write_recipe(output, text)
    return Started(pool.notes, len(pool.motifs), bool(pool.drawn))


def recipe_text(source: Source, otherwise: str) -> tuple[Recipe, str]:
    """Return a source's recipe and its text, to be changed.

    Args:
        source: what was read.
        otherwise: what to say where it is a drawing.

    Raises:
        InputError: it is a drawing.
    """
    if source.recipe is None:
        raise InputError(
            otherwise,
            file=source.file,
            hint="write a recipe first: vecrepeat recipe ART -o design.toml",
        )
    # As bytes: read as a text it would lose the ends that its lines have.
    return source.recipe, read_file(source.file, MOST_TEXT, "recipe").decode()


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


def default_tile(pool: Pool) -> Size:
    """Return the tile's size where nothing says it: the page's, else 10 × 10 in.

    10 in is a common size for a repeat (common practice, no source).
    """
    return pool.page or Size(Fraction(254), Fraction(254))
