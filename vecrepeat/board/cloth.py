"""What the page needs to draw: motifs, tile, ground and layout, as plain data in mm."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from vecrepeat.board.desk import Desk, on_tile
from vecrepeat.board.state import MOTIF, State, read_settings
from vecrepeat.recipe.keys import ARRANGED, TABLES
from vecrepeat.recipe.values import (
    Between,
    OneOf,
    Whole,
    read_flag,
    read_gap,
    read_length,
    read_range,
    read_word_list,
    read_words,
)
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import REGION_BLEED, Ground, Placement, Repeat
from vecrepeat.sources.first import ranks
from vecrepeat.sources.source import Source, on_ground, placement, sized
from vecrepeat.write.svg import Motifs

_MOST_COLOURS = 12
"""So many of a design's colours are offered."""


def describe_cloth(desk: Desk, art: dict[str, Any]) -> dict[str, Any]:
    """Return everything that a page draws with; ``art`` is :func:`describe_art` of its source."""
    now = desk.now
    # A gingham is mixed with its ground.
    laid = (now.layout, now.tile, now.ground if art["blender"] else "")
    return {
        **art,
        "file": desk.file.name,
        "base": desk.history.states[0].as_dict(),
        "steps": desk.steps,
        "seeds": desk.seeds,
        "takenUp": desk.taken_up,
        "version": desk.version,
        # What it lies on now is asked for first.
        "lies": {" ".join(laid): describe_lie(desk.source, *laid)},
        "ways": {way: describe_settings(way) for way in ARRANGED},
        "warnings": desk.told,
    }


def describe_art(source: Source) -> dict[str, Any]:
    """Return what a source gives to draw with, whatever lies on the cloth."""
    page, keys = source.page, source.recipe.keys if source.recipe else {}
    found = list(source.pool.motifs.values())
    guessed = dict(zip(source.pool.motifs, ranks(found), strict=True))
    drawn, said = source.pool.ground, source.recipe.motifs if source.recipe else {}
    return {
        "name": page.name,
        # What the page draws where the recipe says no ground.
        "drawnGround": None if drawn is None else [drawn.colour, drawn.opacity],
        "motifs": [
            {
                "name": motif.name,
                "guessed": guessed[motif.name],
                "drawn": source.pool.as_drawn(motif.name).box.width,
                "line": float(said.get(motif.name, {}).get("least-line", 0)),
                **describe_motif(source, motif.name),
            }
            for motif in found
        ],
        "pictures": describe_pictures(replace(page, placements=tuple(Placement(m) for m in found))),
        "palette": _palette(source),
        "blender": bool(source.recipe and source.recipe.blender),
        "cut": bool(keys.get("cut-to-region")),
        "notes": list(source.notes),
    }


def _palette(source: Source) -> list[tuple[str, str]]:
    """Return colours with their names: the recipe's palette, then those that most motifs have."""
    named = dict(source.recipe.palette) if source.recipe else {}
    count = Counter(c for motif in source.pool.motifs.values() for c in set(motif.colours))
    others = {c: c for c, _ in count.most_common(_MOST_COLOURS) if c not in named.values()}
    return [*named.items(), *others.items()]


_KINDS: dict[Any, str] = {
    **{read_flag: "flag", read_gap: "length", read_length: "length", read_range: "range"},
    **{read_words: "text", read_word_list: "texts"},
}
"""What a page asks for by, for what reads a key."""


def describe_settings(way: str) -> list[dict[str, Any]]:
    """Return what an arranging command can be told, in the recipe's order."""
    found = []
    for name, key in TABLES[way].items():
        match key.read:
            case Whole(low, high):
                asked: dict[str, Any] = {"kind": "whole", "low": low, "high": high}
            case Between(low, high):
                asked = {"kind": "number", "low": low, "high": high}
            case OneOf(words):
                asked = {"kind": "words", "words": list(words)}
            case read:
                asked = {"kind": _KINDS[read]}
        found.append({"key": name, "about": key.about, **asked})
    return found


def describe_motif(source: Source, name: str) -> dict[str, Any]:
    """Return what a page lays a motif by; ``wide`` is its width in mm without thicker lines."""
    motif, rows = source.pool.motifs[name], source.recipe.motifs if source.recipe else {}
    wide = rows.get(name, {}).get("width", source.pool.as_drawn(name).box.width)
    hull = shapely.convex_hull(shapely.geometrycollections(motif.parts))
    return {
        "wide": float(wide),
        "box": list(motif.box),
        # What a renderer works on, with room for antialiasing.
        "extent": list(motif.extent),
        "hull": np.round(shapely.get_coordinates(hull), 6).tolist()[:-1],
    }


def describe_pictures(repeat: Repeat) -> dict[str, Any]:
    """Return a repeat's motifs as SVG by name, and the definitions that they need by id."""
    motifs = Motifs(repeat)
    return {
        "motifs": {
            motif.name: {"markup": written.markup, "needs": list(written.needs)}
            for motif, written in motifs.fragments.items()
        },
        "resources": dict(motifs.resources),
    }


def describe_lie(source: Source, layout: str, tile: str, ground: str) -> dict[str, Any]:
    """Return how tiles of a source lie on a layout, and the blender under its motifs, if any.

    Args:
        source: what was read.
        layout: the layout's name.
        tile: the tile's size; "" is its own.
        ground: as :class:`vecrepeat.board.state.State` has it: a gingham is mixed with it.

    Raises:
        InputError: as :func:`describe_layout`; or the tile can't have that size.
    """
    page, recipe = on_tile(source.page, tile, source.file), source.recipe
    cut = bool(recipe and recipe.keys.get("cut-to-region"))
    sides = [float(page.width), float(page.height)]
    bare = replace(page, placements=(), ground=_ground_of(source, ground))
    cloth, _ = on_ground(bare.with_layout(Layout.parse(layout)), recipe)
    under = layers_of(cloth)
    return {
        **describe_layout(page, layout, cut=cut),
        "tile": sides,
        "under": [{"name": p.motif.name, "box": list(p.motif.extent)} for p in under],
        "pictures": describe_pictures(replace(bare, placements=under)),
    }


def layers_of(repeat: Repeat) -> tuple[Placement, ...]:
    """Return the layers of a blender, the lowest first, by names that no motif has."""
    layers = [p for p in repeat.placements if p.motif.is_ground]
    return tuple(
        Placement(replace(p.motif, name=f"/blender {number}"), p.transform)
        for number, p in enumerate(layers)
    )


def describe_layout(page: Repeat, name: str, *, cut: bool) -> dict[str, Any]:
    """Return how tiles of a page lie on a layout; ``cut`` cuts the art to the layout's region.

    Raises:
        InputError: the name is not known, or the page does not suit it.
    """
    layout = Layout.parse(name)
    cell = layout.cell(page.width, page.height)
    plain = layout if cell is None else Layout(cell.kind, cell.shift)
    width, height = (page.width, page.height) if cell is None else (cell.width, cell.height)
    region = None
    if cut and cell is not None:
        shape = shapely.Polygon(cell.symmetry.region_mm)
        bleed = shape.buffer(REGION_BLEED, join_style="mitre")
        region = shapely.get_coordinates(bleed).tolist()[:-1]
    return {
        "name": str(layout),
        **plain.as_dict(width, height),
        "steps": plain.steps,
        "turns": [[1, 0, 0, 1, 0, 0]]
        if cell is None
        else [list(map(float, turn)) for turn in cell.symmetry.transforms],
        "region": region,
    }


def at_moment(source: Source, state: State) -> Source:
    """Return a source as a recipe saved at a moment would be read.

    Raises:
        InputError: the page does not suit the layout, or nothing lies in its region.
    """
    recipe = source.recipe
    assert recipe is not None
    rows = {
        name: {k: v for k, v in row.items() if k not in MOTIF}
        for name, row in recipe.motifs.items()
    }
    for name, row in state.motifs.items():
        rows[name] = {**rows.get(name, {"name": name}), **row}
    recipe = replace(
        recipe,
        motifs=rows,
        placements=state.placed,
        arranged={way: read_settings(way, state.settings.get(way, {})) for way in recipe.arranged},
    )
    source = replace(source, recipe=recipe, pool=sized(source.pool, state.motifs))
    page = _page_of(source, state)
    cut = bool(recipe.keys.get("cut-to-region"))
    layout = Layout.parse(state.layout)
    repeat, _ = on_ground(page.with_layout(layout, cut=cut and bool(layout.form)), recipe)
    return replace(source, page=page, layout=layout, repeat=repeat)


def repeat_of(source: Source, state: State) -> Repeat:
    """Return the endless cloth of a moment; raises as :func:`at_moment`."""
    return at_moment(source, state).repeat


def _page_of(source: Source, state: State) -> Repeat:
    page = on_tile(source.page, state.tile, source.file)
    return replace(
        page,
        ground=_ground_of(source, state.ground),
        placements=tuple(
            placement(one, source.recipe, source.pool, number)
            for number, one in enumerate(state.placed)
        ),
    )


def _ground_of(source: Source, said: str) -> Ground | None:
    """Return the ground that a moment says: "" is as drawn."""
    if not said:
        return source.pool.ground
    return None if said == "none" else Ground(said)
