"""The colourways workflow: one design in many colours, and a sheet that shows them together."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vecrepeat.colour.colourway import (
    BARE_CLOTH,
    CONTRAST,
    Colourway,
    Fault,
    art_colours,
    faults,
    full_map,
    in_colourway,
    known_names,
    neighbours,
    recolour_by,
    remixed,
)
from vecrepeat.colour.lineup import Cutting, lineup
from vecrepeat.colour.palette import Palette, grouped_within
from vecrepeat.colour.paletting import palette_of, parse_colour, recipe_names
from vecrepeat.colour.rendered import Rendered
from vecrepeat.colour.suggest import suggestions
from vecrepeat.colour.visible import Visible
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import slug
from vecrepeat.recipe.edit import recipe_text, with_rows, write_recipe
from vecrepeat.recipe.model import AS_DRAWN
from vecrepeat.repeat.model import Repeat
from vecrepeat.util.files import write_whole
from vecrepeat.util.imagefiles import png_of
from vecrepeat.write.composing import compose
from vecrepeat.write.exporting import export

if TYPE_CHECKING:
    from vecrepeat.sources.source import Source

_CHIPS = 9
_KIN = 9.0
"""ΔE2000 within which colours share a chip on the line-up sheet."""


@dataclass(frozen=True)
class WrittenColourway:
    """One colourway as written.

    Attributes:
        name: the colourway's.
        files: what was written of it.
        colours: where each colour of the palette went, by its name.
        ground: the ground's colour, or None for bare cloth.
        faults: colours that it brings too close.
    """

    name: str
    files: tuple[Path, ...]
    colours: dict[str, str]
    ground: str | None
    faults: tuple[Fault, ...]

    def line(self) -> str:
        """Return the facts as one line."""
        where = ", ".join(str(file) for file in self.files) or "on the line-up sheet only"
        found = len(self.faults)
        check = "" if not found else f"; {found} {'pair' if found == 1 else 'pairs'} too close"
        return f"{self.name}: {where}{check}"

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data."""
        return {
            "name": self.name,
            "files": [str(file) for file in self.files],
            "colours": self.colours,
            "ground": self.ground,
            "faults": [fault.as_dict() for fault in self.faults],
        }


def recipe_colourways(source: Source, palette: Palette) -> list[Colourway]:
    """Return the colourways of a recipe's ``[[colourway]]`` tables, none for a drawing.

    Raises:
        InputError: one names what the palette does not have.
    """
    if source.recipe is None:
        return []
    return [colourway_of_row(source, row, palette) for row in source.recipe.colourways]


def colourway_of_row(source: Source, row: Mapping[str, Any], palette: Palette) -> Colourway:
    """Return the colourway of a ``[[colourway]]`` table, whose names are of a source's palette.

    Raises:
        InputError: one is no colour, or the palette does not have it.
    """
    try:
        way = colourway_of(row["name"], row.get("colours", {}), palette)
    except InputError as error:
        raise InputError(error.what, file=source.file, hint=error.hint) from None
    return _remixed(source, replace(way, ground=row.get("ground", way.ground)))


def _remixed(source: Source, way: Colourway) -> Colourway:
    """Return a colourway in which a gingham's mixed colours are mixed anew, if it names none."""
    told = source.recipe.blender if source.recipe else {}
    ground = source.repeat.ground
    if ground is None or way.ground == BARE_CLOTH:
        return way
    new_ground = way.ground or way.colours.get(ground.colour, ground.colour)
    follow = remixed(told, ground.colour, way.colours, new_ground)
    return replace(way, colours={**follow, **way.colours})


def row_of(way: Colourway) -> dict[str, Any]:
    """Return a colourway as a recipe has it."""
    ground = {"ground": way.ground} if way.ground else {}
    return {"name": way.name, **ground, "colours": dict(way.colours)}


def keep_colourways(source: Source, ways: Sequence[Colourway]) -> None:
    """Write colourways that a recipe does not have yet into it.

    Raises:
        InputError: the source is no recipe, or it can't be written.
    """
    recipe, text = recipe_text(source, "only a recipe keeps colourways")
    known = {row["name"] for row in recipe.colourways}
    rows = [row_of(way) for way in ways if way.name not in known]
    write_recipe(source.file, with_rows(text, "colourway", rows), edits=source.file)


def colourway_of(name: str, table: Mapping[str, str], palette: Palette) -> Colourway:
    """Return a colourway from palette names or colours → colours.

    Raises:
        InputError: one is no colour, or the palette does not have it.
    """
    colours = {key: parse_colour(value) for key, value in table.items()}
    ground = None if "ground" in palette.block() else colours.pop("ground", None)
    return Colourway(name, known_names(palette, colours), ground)


def gathered(
    seen: Visible | Rendered,
    palette: Palette,
    *,
    listed: Sequence[Colourway] = (),
    pairs: Mapping[str, str] | None = None,
    ground: str | None = None,
    suggest: int = 0,
) -> list[Colourway]:
    """Return the colourways asked for: a recipe's, one map's, and those by rule.

    Args:
        seen: what is seen of the repeat.
        palette: its palette.
        listed: colourways that a recipe has.
        pairs: one colourway's palette names or colours → colours.
        ground: that colourway's ground.
        suggest: how many to add by rule.

    Raises:
        InputError: there is none, or one can't be used.
    """
    ways = list(listed)
    if pairs or ground:
        way = colourway_of("map", pairs or {}, palette)
        ways.append(replace(way, ground=parse_colour(ground)) if ground else way)
    if suggest:
        moved = art_colours(seen.repeat, palette)
        if palette.gathered:
            moved = [entry.colour for entry in palette.entries]
        ways += suggestions(palette, moved, suggest)
    if not ways:
        raise InputError(
            "no colourway is asked for", hint="give --map or --suggest N, or a recipe that has some"
        )
    return ways


def chips(repeat: Repeat, palette: Palette, targets: dict[str, str]) -> list[str]:
    """Return the colours that tell a colourway best: the most seen of each kin."""
    seen = [] if repeat.ground is None else [repeat.ground.colour]
    painted = {colour for placement in repeat.placements for colour in placement.motif.colours}
    for entry in palette.entries:
        # Of what the ground was nothing may be left.
        if entry.area > 0 and (not entry.is_ground or targets[entry.colour] in painted):
            seen.append(targets[entry.colour])
    groups = grouped_within(dict.fromkeys(seen), _KIN)
    return [group[0] for group in groups[:_CHIPS]]


def write_colourways(
    seen: Visible | Rendered,
    palette: Palette,
    ways: Sequence[Colourway],
    folder: Path,
    *,
    formats: Sequence[str] = ("png",),
    dpi: Fraction = Fraction(150),
    width: Fraction | None = None,
    contrast: float = CONTRAST,
    step: Callable[[int], None] | None = None,
) -> tuple[list[WrittenColourway], Path]:
    """Write every colourway and the line-up sheet of them and the design as drawn.

    Args:
        seen: what is seen of the repeat.
        palette: its palette.
        ways: the colourways.
        folder: where the files go.
        formats: of ``png`` and ``svg``; none for the line-up sheet alone.
        dpi: of PNG files.
        width: one tile's print width in mm.
        contrast: ΔE2000 that touching colours must keep.
        step: called with colourways finished.

    Raises:
        InputError: two colourways of one name, or a file that can't be written.
    """
    repeat = seen.repeat
    names = [slug(way.name) or f"colourway-{n}" for n, way in enumerate(ways, 1)]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise InputError(f"two colourways would be called {twice}", hint="give each its own name")
    touching = neighbours(seen, palette)
    own = {colour: colour for colour in art_colours(repeat, palette)}
    shown = [Cutting(AS_DRAWN, repeat, chips(repeat, palette, own))]
    written = []
    for way, name in zip(ways, names, strict=True):
        targets = full_map(repeat, palette, way)
        changed = recolour_by(repeat, targets, way)
        files = []
        for kind in formats:
            file = folder / f"{slug(repeat.name) or 'repeat'}-{name}.{kind}"
            if kind == "svg":
                compose(changed, file, width=width)
            else:
                export(changed, file, dpi=dpi, width=width)
            files.append(file)
        found = faults(palette, targets, touching, ground=way.ground, contrast=contrast)
        colours = {entry.name: targets[entry.colour] for entry in palette.entries}
        ground = None if changed.ground is None else changed.ground.colour
        written.append(WrittenColourway(way.name, tuple(files), colours, ground, tuple(found)))
        shown.append(Cutting(way.name, changed, chips(changed, palette, targets)))
        if step is not None:
            step(1)
    sheet = folder / "line-up.png"
    write_whole(sheet, png_of(lineup(repeat.name, shown)))
    return written, sheet


def recipe_colourway(source: Source, name: str) -> tuple[Palette, Colourway]:
    """Return one of a recipe's colourways by name, and the palette that its names are of.

    Raises:
        InputError: there is none of that name, or it names colours that the art does not have.
    """
    recipe = source.recipe
    rows = {} if recipe is None else {row["name"]: row for row in recipe.colourways}
    if name not in rows:
        hint = f"it has {', '.join(rows)}" if rows else "add a [[colourway]] to a recipe"
        raise InputError(f"there is no colourway “{name[:60]}”", file=source.file, hint=hint)
    palette = _palette(source)
    return palette, colourway_of_row(source, rows[name], palette)


@lru_cache(maxsize=2)
def _palette(source: Source) -> Palette:
    """Return a source's palette, once for all of its colourways."""
    return palette_of(source.repeat, names=recipe_names(source))[1]


def in_recipe_colourway(source: Source, name: str) -> Repeat:
    """Return a recipe's repeat in one of its colourways.

    Raises:
        InputError: see :func:`recipe_colourway`.
    """
    return in_colourway(source.repeat, *recipe_colourway(source, name))
