"""A first recipe from art, which the designer then changes."""

from __future__ import annotations

import os
from collections.abc import Collection, Sequence
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import tomlkit

from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import number
from vecrepeat.core.units import KNOWN, Size
from vecrepeat.recipe.edit import inline_rows, placement_row, require_recipe_name, write_recipe
from vecrepeat.recipe.model import Placed
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Motif
from vecrepeat.sources.source import Pool, read_pool

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
    document.add("motif", inline_rows([{"name": m.name, "rank": r} for m, r in ranked]))
    if pool.drawn and not as_drawn:
        document.add(tomlkit.nl())
        document.add(
            tomlkit.comment("In stacking order. at: the motif's middle, mm from the upper left.")
        )
        placed = [Placed(n, _middle(pool.motifs[n])) for n in pool.drawn]
        document.add("placement", inline_rows([placement_row(one) for one in placed]))
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


def default_tile(pool: Pool) -> Size:
    """Return the tile's size where nothing says it: the page's, else 10 × 10 in.

    10 in is a common size for a repeat (common practice, no source).
    """
    return pool.page or Size(Fraction(254), Fraction(254))
