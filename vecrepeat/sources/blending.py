"""A recipe of a blender alone: dots, stripes, checks and the like."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit

from vecrepeat.blenders.settings import GROUND, INK, KINDS, NONE, TILE
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import slug
from vecrepeat.core.units import KNOWN, counted, format_mm
from vecrepeat.recipe.collection import parse_collection
from vecrepeat.recipe.edit import require_recipe_name, with_rows, with_settings, write_recipe
from vecrepeat.recipe.model import parse_recipe
from vecrepeat.repeat.model import Repeat
from vecrepeat.sources.source import on_ground, page_of, read_pool
from vecrepeat.util.files import read_text, write_together


@dataclass(frozen=True, eq=False)
class Started:
    """A blender's recipe as written.

    Attributes:
        file: the recipe.
        kind: of blender.
        repeat: what it draws.
        notes: what had to change for it to go round, a sentence each.
    """

    file: Path
    kind: str
    repeat: Repeat
    notes: tuple[str, ...]

    def line(self) -> str:
        """Return it as one line."""
        size = f"{format_mm(self.repeat.width)} × {format_mm(self.repeat.height)}"
        return f"{self.file}: {self.kind}, {size}, {counted(len(self._colours), 'colour')}"

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain data, lengths in mm."""
        return {
            "file": str(self.file),
            "kind": self.kind,
            "tile_mm": [float(self.repeat.width), float(self.repeat.height)],
            "layout": str(self.repeat.layout),
            "colours": self._colours,
        }

    @property
    def _colours(self) -> list[str]:
        """All its colours, the ground's first."""
        ground = [self.repeat.ground.colour] if self.repeat.ground else []
        paints = [colour for p in self.repeat.placements for colour in p.motif.colours]
        return list(dict.fromkeys([*ground, *paints]))


def blender_text(
    name: str,
    kind: str,
    told: Mapping[str, Any],
    *,
    tile: str = TILE,
    layout: str = "block",
    ground: str = GROUND,
) -> str:
    """Return the text of a recipe of a blender, with all that its kind may be told.

    Args:
        name: of the design.
        kind: one of :data:`vecrepeat.blenders.settings.KINDS`.
        told: keys of ``[blender]`` as a recipe has them; what is not given is the kind's own.
        tile: the tile's size, such as ``5x5in``.
        layout: the layout's name.
        ground: ``#rrggbb`` or ``none``.
    """
    document = tomlkit.document()
    document.add(tomlkit.comment(f"A vecrepeat recipe. Lengths: {KNOWN}."))
    for key, value in {"name": name, "tile": tile, "layout": layout, "ground": ground}.items():
        document.add(key, tomlkit.item(value))
    document.add(tomlkit.nl())
    table = tomlkit.table()
    for key, value in {"kind": kind, "colours": [INK], **KINDS[kind].keys, **told}.items():
        table.add(key, list(value) if isinstance(value, tuple) else value)
    document.add("blender", table)
    return tomlkit.dumps(document)


def start_blender(
    kind: str, output: Path, told: Mapping[str, Any], *, into: Path | None = None, **page: str
) -> Started:
    """Write a recipe of a blender.

    Args:
        kind: as of :func:`blender_text`.
        output: the recipe to write; there must be none yet.
        told: likewise.
        into: a collection that it becomes a print of, in colours of its palette.
        page: tile, layout and ground, likewise.

    Raises:
        InputError: the recipe is there already or can't be written, its keys don't suit, or the
            collection has no such colour.
    """
    require_recipe_name(output)
    if output.exists():
        raise InputError(
            "it is there already", file=output, hint="give another name, or move it away"
        )
    text = blender_text(output.stem, kind, told, **page)
    repeat, notes = drawn_blender(text, output)
    done = Started(output, kind, repeat, notes)
    if into is None:
        write_recipe(output, text)
        return done
    before = read_text(into, "collection")
    collection = parse_collection(before, into)
    names: dict[str, str] = {}
    for name, colour in collection.palette.items():
        names.setdefault(colour, name)
    marks = [colour for colour in parse_recipe(text, output).blender["colours"] if colour != NONE]
    ground = [repeat.ground.colour] if repeat.ground else []
    used = dict.fromkeys([*ground, *marks])
    for colour in used:
        if colour not in names:
            raise InputError(
                f"the collection's palette has no {colour}",
                file=into,
                hint="it has " + ", ".join(f"{c} ({n})" for c, n in names.items()),
            )
    if slug(output.stem) in [slug(one.name) for one in collection.prints]:
        raise InputError(f"it has a print “{output.stem}” already", file=into)
    beside = Path(os.path.relpath(output.resolve(), into.resolve().parent)).as_posix()
    row = {"name": output.stem, "role": "blender", "from": beside}
    text = with_settings(text, "palette", {names[colour]: colour for colour in used})
    after = with_rows(before, "print", [row])
    write_together({output: text.encode(), into: after.encode()}, edits=into)
    return done


def drawn_blender(text: str, file: Path) -> tuple[Repeat, tuple[str, ...]]:
    """Return what the text of a blender's recipe draws, and notes of it.

    Raises:
        InputError: its keys don't suit.
    """
    recipe = parse_recipe(text, file)
    cloth = page_of(recipe, read_pool([]), file).with_layout(recipe.keys["layout"])
    return on_ground(cloth, recipe)
