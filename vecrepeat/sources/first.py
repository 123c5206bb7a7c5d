"""A first recipe from art, which the designer then changes."""

from __future__ import annotations

import os
import pickle
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import shapely
import tomlkit
from tomlkit.items import Table

from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import number
from vecrepeat.core.names import shown
from vecrepeat.core.units import KNOWN, Size
from vecrepeat.recipe.edit import inline_rows, placement_row, require_recipe_name, write_recipe
from vecrepeat.recipe.model import Placed
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Motif
from vecrepeat.sources.grounds import Proposed, propose_ground
from vecrepeat.sources.looks import Look, looks
from vecrepeat.sources.sizes import Sized, sizes
from vecrepeat.sources.source import Pool, read_pool
from vecrepeat.util.cache import kept

HERO, SECONDARY = 0.35, 0.08
"""Motifs of at least these shares of the largest one's area are heroes, and secondaries."""


def ranks(motifs: Sequence[Motif]) -> list[str]:
    """Guess each motif's rank by its painted area."""
    areas = _areas(motifs)
    largest = max(areas, default=0.0)
    return [
        "hero" if a >= HERO * largest else "secondary" if a >= SECONDARY * largest else "filler"
        for a in areas
    ]


def _areas(motifs: Sequence[Motif]) -> list[float]:
    """Return painted areas in mm², kept for the next time: a page waits for their ranks."""

    def united() -> list[float]:
        # GEOS unites, and lets go of Python meanwhile.
        with ThreadPoolExecutor(2) as threads:
            return list(threads.map(lambda motif: float(motif.outline.area), motifs))

    parts = [shapely.to_wkb(motif.parts).tolist() for motif in motifs]
    return kept("areas", pickle.dumps(parts), united)


def first_recipe(
    name: str,
    pool: Pool,
    *,
    art: Sequence[str],
    loose: Sequence[str],
    tile: Size,
    layout: str,
    as_drawn: bool = False,
    density: str = "medium",
) -> str:
    """Return the text of a first recipe.

    Args:
        name: of the design.
        pool: its motifs.
        art: paths of drawings, as the recipe is to name them.
        loose: paths of loose motifs, likewise.
        tile: the tile's size in mm.
        layout: the layout's name.
        as_drawn: leave sizes and placements out, so that motifs are as the drawings have them.
        density: how full a toss of loose motifs is to be.

    Raises:
        InputError: a motif can't be drawn.
    """
    document = tomlkit.document()
    document.add(tomlkit.comment(f"A vecrepeat recipe. Lengths: {KNOWN}."))
    document.add("name", tomlkit.item(name))
    if art:
        document.add("art", tomlkit.item(list(art)))
    if loose:
        document.add("loose", tomlkit.item(list(loose)))
    if pool.left_out:
        names = ", ".join(shown(path.name) for path in pool.left_out)
        _say(document, f"Not in it until they are mended: {names}.")
    document.add("tile", tomlkit.item(_size(tile)))
    document.add("layout", tomlkit.item(layout))
    page = [pool.motifs[name] for name in pool.drawn]
    pixels = [motif for motif in page if motif.is_ground]
    alone = [motif for motif in pool.motifs.values() if motif.name not in pool.drawn]
    seen = looks(alone)
    sized: Sequence[Sized | None] = [None] * len(alone)
    if alone and not as_drawn:
        sized = sizes(alone, seen, tile)
    if pool.ground is not None:
        document.add("ground", tomlkit.item(pool.ground.colour))
    elif pixels:
        document.add("ground", tomlkit.item("none"))
    elif page:
        # Bare cloth may be what the drawing means.
        largest = sorted(page, key=lambda motif: -motif.box.width * motif.box.height)[:_SEEN]
        proposed = _proposed(largest, looks(largest), [None] * len(largest))
        document.add("ground", tomlkit.item("none").comment(f"# {_why(proposed)}"))
    else:
        proposed = _proposed(alone, seen, sized)
        _say(
            document,
            _why(proposed),
            "It is as light as lets every motif be seen, and dark for pale ones.",
            'Change it to any colour, or to "none" for bare cloth.',
        )
        document.add("ground", tomlkit.item(proposed.colour))
    document.add(tomlkit.nl())
    if alone and not as_drawn:
        _say(
            document,
            "Ranks are a guess by detail, colours and area. Widths go by rank: heroes about a",
            "third of the tile, secondaries half of that, fillers a quarter. Change any; one",
            "without a width is as large as it is drawn.",
        )
    elif not pixels:
        _say(document, "Ranks are a guess by size: hero, secondary or filler.")
    rows = [{"name": m.name, "rank": r} for m, r in zip(page, ranks(page), strict=True)]
    rows = [] if pixels else rows
    for motif, rank, one in zip(alone, ranks(alone), sized, strict=True):
        width = {} if one is None else {"width": f"{one.width:.4g}mm"}
        rows.append({"name": motif.name, "rank": str(one.rank) if one else rank, **width})
    if rows:
        document.add("motif", inline_rows(rows))
    if pixels:
        # Hands that slide the cloth must not move it.
        placed = [Placed(motif.name, pinned=True) for motif in pixels]
        document.add("placement", inline_rows([placement_row(one) for one in placed]))
    if pool.drawn and not as_drawn:
        document.add(tomlkit.nl())
        _say(document, "In stacking order. at: the motif's middle, mm from the upper left.")
        placed = [Placed(n, _middle(pool.motifs[n])) for n in pool.drawn]
        document.add("placement", inline_rows([placement_row(one) for one in placed]))
    if alone:
        document.add(tomlkit.nl())
        table = tomlkit.table()
        _say(
            table,
            "How full: airy, medium or packed. heroes = 5 says how many,",
            'clearance = "3mm" how near, whatever the density.',
        )
        table.update({"density": density, **SCALES})
        document.add("toss", table)
    return tomlkit.dumps(document)


SCALES = {"hero-scale": [0.95, 1.05], "secondary-scale": [0.9, 1.1], "filler-scale": [0.8, 1.2]}
"""By how much placements of a motif differ in size, so that it is no stamp."""

_SEEN = 12
"""So many of a drawing's motifs, the largest, are looked at to propose a ground."""


def _say(into: tomlkit.TOMLDocument | Table, *lines: str) -> None:
    for line in lines:
        into.add(tomlkit.comment(line))


def _proposed(
    motifs: Sequence[Motif], seen: Sequence[Look], sized: Sequence[Sized | None]
) -> Proposed:
    """Return a ground for motifs, sized or as they are drawn."""
    areas = []
    for motif, one in zip(motifs, sized, strict=True):
        by = 1.0 if one is None else one.width / motif.box.width
        areas.append(motif.box.width * motif.box.height * by * by)
    return propose_ground(seen, areas)


def _why(proposed: Proposed) -> str:
    hue = "of the motifs' own" if proposed.own else "that goes with most"
    return (
        f"{proposed.colour} is {proposed.kind}, in a hue {hue}, and "
        f"{1 - proposed.lost:.0%} of their edges stand out from it."
    )


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
    density: str = "medium",
    finished: bool = False,
    allowed: Sequence[Path] = (),
) -> Started:
    """Write a first recipe from art.

    Args:
        art: drawings of a page, loose motif files, or folders of them.
        output: the recipe to write; there must be none yet.
        all_loose: take each SVG file as one motif.
        tile: the tile's size; by default the first page's.
        layout: how tiles lie.
        as_drawn: leave sizes and placements to the drawings.
        density: how full a toss of loose motifs is to be.
        finished: the art is one finished tile, of pixels too, and stays as it is.
        allowed: folders besides the art's own that linked pictures may be taken from.

    Raises:
        InputError: art can't be read, or the recipe is there already or can't be written.
    """
    require_recipe_name(output)
    if output.exists():
        raise InputError(
            "it is there already", file=output, hint="give another name, or move it away"
        )
    drawings = (".svg", ".svgz")
    pages = [p for p in art if finished or (p.suffix.lower() in drawings and not all_loose)]
    pages = [p for p in pages if not p.is_dir()]
    if finished and (len(art) != 1 or not pages):
        raise InputError("a finished tile is one file", hint="leave --finished out for motifs")
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
        as_drawn=as_drawn or finished,
        density=density,
    )
    write_recipe(output, text)
    return Started(pool.notes, len(pool.motifs), bool(pool.drawn))


def default_tile(pool: Pool) -> Size:
    """Return the tile's size where nothing says it: the page's, else 10 × 10 in.

    10 in is a common size for a repeat (common practice, no source).
    """
    return pool.page or Size(Fraction(254), Fraction(254))
