"""What the page needs to draw: motifs, tile, ground and layout, as plain data in mm."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from vecrepeat.board.desk import Desk, on_tile
from vecrepeat.board.state import State
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import REGION_BLEED, Ground, Motif, Placement, Repeat
from vecrepeat.sources.first import ranks
from vecrepeat.sources.source import Source, placement
from vecrepeat.write.svg import Motifs

_MOST_COLOURS = 12
"""So many of a design's colours are offered."""


def describe_cloth(desk: Desk) -> dict[str, Any]:
    """Return everything that a page draws with."""
    source, page = desk.source, desk.source.page
    keys = source.recipe.keys if source.recipe else {}
    found = list(source.pool.motifs.values())
    rank = {**dict(zip(source.pool.motifs, ranks(found), strict=True)), **source.ranks}
    drawn = source.pool.ground
    return {
        "name": page.name,
        "file": desk.file.name,
        # What the page draws where the recipe says no ground.
        "drawnGround": None if drawn is None else [drawn.colour, drawn.opacity],
        "motifs": [_motif(motif, rank[motif.name]) for motif in found],
        "pictures": describe_pictures(replace(page, placements=tuple(Placement(m) for m in found))),
        "base": desk.history.states[0].as_dict(),
        "steps": desk.steps,
        "takenUp": desk.taken_up,
        "version": desk.version,
        "toss": _plain(source.recipe.arranged["toss"]) if source.recipe else {},
        "palette": _palette(source),
        "cut": bool(keys.get("cut-to-region")),
        "notes": list(source.notes),
        "warnings": desk.told,
    }


def _palette(source: Source) -> list[tuple[str, str]]:
    """Return colours with their names: the recipe's palette, then those that most motifs have."""
    named = dict(source.recipe.palette) if source.recipe else {}
    count = Counter(c for motif in source.pool.motifs.values() for c in set(motif.colours))
    others = {c: c for c, _ in count.most_common(_MOST_COLOURS) if c not in named.values()}
    return [*named.items(), *others.items()]


def _plain(table: Any) -> dict[str, Any]:
    return {
        k: v if isinstance(v, str | int | bool) else float(v)
        for k, v in table.items()
        if not isinstance(v, tuple)
    }


def _motif(motif: Motif, rank: str) -> dict[str, Any]:
    box = motif.box
    hull = shapely.convex_hull(shapely.multipoints(shapely.get_coordinates(motif.parts)))
    return {
        "name": motif.name,
        "rank": rank,
        "box": list(box),
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


def describe_lie(source: Source, layout: str, tile: str) -> dict[str, Any]:
    """Return how tiles of a source lie on a layout, at its own size or another; "" is its own.

    Raises:
        InputError: as :func:`describe_layout`; or the tile can't have that size.
    """
    page, recipe = on_tile(source.page, tile, source.file), source.recipe
    cut = bool(recipe and recipe.keys.get("cut-to-region"))
    sides = [float(page.width), float(page.height)]
    return {**describe_layout(page, layout, cut=cut), "tile": sides}


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


def repeat_of(source: Source, state: State) -> Repeat:
    """Return the endless cloth of a moment.

    Raises:
        InputError: the page does not suit the layout, or nothing lies in its region.
    """
    page = on_tile(source.page, state.tile, source.file)
    ground = source.pool.ground if not state.ground else None
    if state.ground not in ("", "none"):
        ground = Ground(state.ground)
    page = replace(
        page,
        ground=ground,
        placements=tuple(
            placement(one, source.recipe, source.pool, number)
            for number, one in enumerate(state.placed)
        ),
    )
    cut = bool(source.recipe and source.recipe.keys.get("cut-to-region"))
    layout = Layout.parse(state.layout)
    return page.with_layout(layout, cut=cut and bool(layout.form))
