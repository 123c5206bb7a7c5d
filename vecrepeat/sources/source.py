"""What a command is given: a drawing or a recipe, as one endless cloth."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vecrepeat.art.read import Art, read_art
from vecrepeat.blenders.settings import Blender
from vecrepeat.core.allowance import TILE
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import slug, told_apart
from vecrepeat.core.units import Size, counted
from vecrepeat.recipe.files import (
    beside,
    is_collection,
    is_recipe,
    print_named,
    read_collection,
    read_recipe,
)
from vecrepeat.recipe.model import Placed, Recipe
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Ground, Motif, Placement, Repeat
from vecrepeat.repeat.pose import Pose, anchor
from vecrepeat.sources.finished import is_finished, read_finished
from vecrepeat.sources.lines import with_lines

if TYPE_CHECKING:
    from vecrepeat.sources.loose import LeftOut
    from vecrepeat.sources.prints import Collected


@dataclass(frozen=True, eq=False)
class Pool:
    """The motifs that a source has to place.

    Attributes:
        motifs: by their names; where names of two files clash, ``file/name``.
        drawn: names of those that a page places, in its order.
        page: the first page's size in mm, if there is one.
        ground: the first page's ground, if it has one.
        metadata: the first page's title and metadata.
        notes: what was left out or taken in a special way, a sentence each.
        natural: as drawn, those that a recipe gives a width or thicker lines.
        left_out: files of folders that can be no motifs.
    """

    motifs: Mapping[str, Motif]
    drawn: tuple[str, ...]
    page: Size | None
    ground: Ground | None
    metadata: str
    notes: tuple[str, ...]
    natural: Mapping[str, Motif] = field(default_factory=dict)
    left_out: tuple[Path, ...] = ()

    def as_drawn(self, name: str) -> Motif:
        """Return a motif as large as it was drawn."""
        return self.natural.get(name, self.motifs[name])


@dataclass(frozen=True, eq=False)
class Source:
    """A source that has been read.

    Attributes:
        file: where it came from.
        repeat: the endless cloth, on its blender where a recipe has one.
        notes: what was left out or taken in a special way, a sentence each.
        pool: the motifs there are, placed or not.
        page: the art on its tile, before any layout turns it; without any blender.
        layout: the layout that was asked for.
        recipe: the recipe, where it is one.
        collected: how it is coloured, where it is a print of a collection.
    """

    file: Path
    repeat: Repeat
    notes: tuple[str, ...]
    pool: Pool
    page: Repeat
    layout: Layout
    recipe: Recipe | None = None
    collected: Collected | None = None

    @property
    def name(self) -> str:
        """Short name, for files and ids."""
        return self.repeat.name

    @property
    def ranks(self) -> dict[str, str]:
        """Ranks by motif name, where a recipe says them."""
        motifs = self.recipe.motifs.items() if self.recipe else ()
        return {name: row["rank"] for name, row in motifs if "rank" in row}

    def in_colourway(self, name: str) -> Repeat:
        """Return the cloth in one of the recipe's, or the collection's, colourways.

        Raises:
            InputError: there is none of that name, or it names colours that the art has not.
        """
        if self.collected is not None:
            return self.collected.in_colourway(name)
        from vecrepeat.colour.colourways import in_recipe_colourway

        return in_recipe_colourway(self, name)


def open_source(
    path: str | Path,
    *,
    layout: Layout | None = None,
    motifs: str | None = None,
    allowed: Sequence[Path] = (),
    live_text: bool = False,
    cut: bool = False,
    colourway: str | None = None,
    placed: bool = True,
) -> Source:
    """Read a source.

    Args:
        path: a drawing, whose page is the tile, a recipe, or ``FILE/NAME`` for a print of a
            collection.
        layout: how tiles lie; by default what the recipe says, else a block.
        motifs: a CSS selector of the elements to take as motifs.
        allowed: folders besides the source's own that linked pictures may be taken from.
        live_text: keep text live instead of turning it into paths.
        cut: cut the art to the layout's region.
        colourway: the name of a recipe's colourway to take it in.
        placed: whether there must be something placed.

    Raises:
        InputError: it can't be read or used, or nothing is placed.
    """
    file = Path(path)
    if (named := print_named(file)) is not None:
        from vecrepeat.sources.prints import collected

        collection = read_collection(named[0])
        one = collection.print_of(named[1])
        drawn = open_source(
            one.file,
            layout=layout,
            motifs=motifs,
            allowed=allowed,
            live_text=live_text,
            cut=cut,
            placed=placed,
        )
        return collected(collection, one, drawn, colourway)
    if is_collection(file):
        shown = read_collection(file).prints
        raise InputError(
            f"it is a collection of {counted(len(shown), 'print')}",
            file=file,
            hint=f"name one: {file}/{slug(shown[0].name)}",
        )
    recipe = read_recipe(file) if is_recipe(file) else None
    keys, rows = (recipe.keys, recipe.motifs) if recipe else ({}, {})
    pool = read_pool(
        [file] if recipe is None else beside(file, keys.get("art")),
        beside(file, keys.get("loose")),
        motifs=keys.get("selector") if motifs is None else motifs,
        allowed=(*allowed, *beside(file, keys.get("allow-dir"))),
        live_text=live_text or bool(keys.get("live-text")),
        backdrops={name for name, row in rows.items() if row.get("backdrop")},
        needed={*rows, *(one.motif for one in (recipe.placements if recipe else ()))},
        finished=recipe is not None,
    )
    source = source_of(file, recipe, pool, layout=layout, cut=cut, placed=placed)
    return source if colourway is None else replace(source, repeat=source.in_colourway(colourway))


def source_of(
    file: Path,
    recipe: Recipe | None,
    pool: Pool,
    *,
    layout: Layout | None = None,
    cut: bool = False,
    placed: bool = True,
) -> Source:
    """Return a source whose recipe and art have been read; see :func:`open_source`.

    Raises:
        InputError: as there.
    """
    keys = recipe.keys if recipe else {}
    if recipe is not None:
        pool = _sized(pool, recipe)
    page = page_of(recipe, pool, file)
    try:
        _ = page.boxes
    except InputError as error:
        raise InputError(error.what, file=file, element=error.element, hint=error.hint) from None
    if placed and not page.placements and not (recipe and recipe.blender):
        raise InputError(
            "nothing is placed yet",
            file=file,
            hint="run vecrepeat toss, or add [[placement]] tables",
        )
    wanted = layout or keys.get("layout") or Layout()
    cut = bool(page.placements) and (cut or bool(keys.get("cut-to-region")))
    repeat, told = on_ground(page.with_layout(wanted, cut=cut), recipe)
    return Source(file, repeat, (*pool.notes, *told), pool, page, wanted, recipe)


def on_ground(repeat: Repeat, recipe: Recipe | None) -> tuple[Repeat, tuple[str, ...]]:
    """Return a repeat on its recipe's blender, if that has one, and notes of it.

    Raises:
        InputError: the blender can't be drawn as it is told.
    """
    if recipe is None or not recipe.blender:
        return repeat, ()
    from vecrepeat.blenders.grounds import on_blender

    try:
        grounded = on_blender(repeat, Blender.of(recipe.blender))
    except InputError as error:
        raise error.of(recipe.file) from None
    return grounded.repeat, grounded.notes


def read_pool(
    pages: Sequence[Path],
    loose: Sequence[Path] = (),
    *,
    motifs: str | None = None,
    allowed: Sequence[Path] = (),
    live_text: bool = False,
    backdrops: Collection[str] = (),
    needed: Collection[str] = (),
    finished: bool = True,
) -> Pool:
    """Read all art of a source.

    Args:
        pages: drawings whose page is the tile.
        loose: files, or folders of files, that hold one motif each.
        motifs: a CSS selector of the elements to take as motifs.
        allowed: folders besides the art's own that linked pictures may be taken from.
        live_text: keep text live instead of turning it into paths.
        backdrops: names of loose motifs that keep the rectangle that they stand on.
        needed: names of motifs that no folder may leave out.
        finished: whether a page may be a finished tile of pixels.

    Raises:
        InputError: a file of it can't be read or used, and is named by itself or needed.
    """

    def as_page(page: Path) -> Art:
        if finished and is_finished(page):
            return read_finished(page)
        return read_art(page, motifs=motifs, allowed=allowed, live_text=live_text)

    arts = [as_page(page) for page in pages]
    found: list[tuple[str, str, Motif | LeftOut]]
    found = [(art.file.stem, motif.name, motif) for art in arts for motif in art.motifs]
    drawn = len(found)
    notes = [note for art in arts for note in art.notes]
    if loose:
        from vecrepeat.sources.loose import read_loose

        for path in loose:
            own = {name.removeprefix(f"{path.stem}/") for name in backdrops}
            read = read_loose(path, backdrops=own)
            found += [(path.stem, name, one) for name, one in read.found.items()]
            notes += read.notes
    names = told_apart([one[:2] for one in found])
    pool: dict[str, Motif] = {}
    left_out = []
    for name, (_, _, one) in zip(names, found, strict=True):
        if isinstance(one, Motif):
            pool[name] = one if name == one.name else replace(one, name=name)
        elif name in needed:
            raise one.why
        else:
            left_out.append(one.file)
    first = arts[0] if arts else None
    return Pool(
        motifs=pool,
        drawn=tuple(names[:drawn]),
        page=Size(first.width, first.height) if first else None,
        ground=first.ground if first else None,
        metadata=first.metadata if first else "",
        notes=tuple(dict.fromkeys(notes)),
        left_out=tuple(left_out),
    )


def _sized(pool: Pool, recipe: Recipe) -> Pool:
    """Give motifs the widths and lines that the recipe says."""
    for number, name in enumerate(recipe.motifs):
        _known(name, pool, recipe, "motif", number)
    return sized(pool, recipe.motifs)


def sized(pool: Pool, rows: Mapping[str, Mapping[str, Any]]) -> Pool:
    """Return a pool whose motifs have the ``width`` and ``least-line`` that rows say, in mm.

    All others are as drawn. A line's least thickness is that on the motif's own width.

    Raises:
        InputError: a motif's lines can't be thickened.
    """
    said = {name: row for name, row in rows.items() if "width" in row or "least-line" in row}
    natural = {name: pool.as_drawn(name) for name in {**pool.natural, **said}}
    motifs = {**pool.motifs, **natural}
    for name, row in said.items():
        motif = natural[name]
        if "width" in row:
            motif = motif.scaled(float(row["width"]) / motif.box.width, about=anchor(motif))
        if "least-line" in row:
            motif = with_lines(motif, float(row["least-line"]))
        motifs[name] = motif
    return replace(pool, motifs=motifs, natural=natural)


def _known(name: str, pool: Pool, recipe: Recipe | None, table: str, number: int) -> Motif:
    """Return a motif by the name a recipe gives it.

    Raises:
        InputError: there is none.
    """
    if name in pool.motifs:
        return pool.motifs[name]
    near = get_close_matches(name, list(pool.motifs), n=1)
    line = recipe.lines.get((table, number)) if recipe else None
    raise InputError(
        f"{f'line {line}: ' if line else ''}there is no motif “{name}”",
        file=recipe.file if recipe else None,
        hint=f"did you mean “{near[0]}”?" if near else "vecrepeat motifs lists them",
    )


def page_of(recipe: Recipe | None, pool: Pool, file: Path) -> Repeat:
    """Return the art on its tile, on a plain block.

    Raises:
        InputError: there is no tile, or a placement's motif is not known.
    """
    keys = recipe.keys if recipe else {}
    tile = keys.get("tile") or pool.page
    if tile is None:
        raise InputError(
            "the tile has no size", file=file, hint='add a line such as tile = "10x10in"'
        )
    require_tile(tile, file)
    ground = pool.ground
    if "ground" in keys:
        ground = None if keys["ground"] == "none" else Ground(keys["ground"])
    placed: Iterable[Placed] = (Placed(name) for name in pool.drawn)
    if recipe is not None and recipe.placements:
        placed = recipe.placements
    return Repeat(
        name=keys.get("name", file.stem),
        width=Fraction(tile[0]),
        height=Fraction(tile[1]),
        placements=tuple(placement(one, recipe, pool, number) for number, one in enumerate(placed)),
        ground=ground,
        metadata=pool.metadata,
    )


def require_tile(tile: Size, file: Path) -> None:
    """Raise where no tile can have a size.

    Raises:
        InputError: so it is.
    """
    if not all(TILE[0] <= side <= TILE[1] for side in tile):
        raise InputError(
            "the tile's size is absurd", file=file, hint="a tile may be 0.1 mm to 100 m a side"
        )


def placement(placed: Placed, recipe: Recipe | None, pool: Pool, number: int) -> Placement:
    """Return where the recipe puts a motif.

    Raises:
        InputError: the motif is not known.
    """
    motif = _known(placed.motif, pool, recipe, "placement", number)
    middle = anchor(motif)
    x, y = placed.at or middle
    return Placement(motif, Pose(x, y, placed.turn, placed.scale, placed.flip).affine(middle))
