"""Prints of a collection: a recipe or drawing in the collection's colours, at its own size."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from vecrepeat.colour.colourway import completed, remixed
from vecrepeat.colour.recolour import recoloured
from vecrepeat.core.colours import differences
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import slug
from vecrepeat.recipe.collection import GROUND, NO_GROUND, Collection, Print
from vecrepeat.recipe.keys import ARRANGED
from vecrepeat.recipe.model import AS_DRAWN, Recipe
from vecrepeat.recipe.values import UnfitError, read_colour
from vecrepeat.repeat.model import Repeat
from vecrepeat.sources.source import Source


@dataclass(frozen=True, eq=False)
class Collected:
    """A print and what it is made from.

    Attributes:
        collection: what it is of.
        one: what the collection says of it.
        drawn: the recipe or drawing as it stands alone.
    """

    collection: Collection
    one: Print
    drawn: Source

    def in_colourway(self, way: str) -> Repeat:
        """Return the cloth at print size in one of the collection's ways.

        Raises:
            InputError: there is none of that name.
        """
        return self._coloured(self.drawn.repeat, way)

    def _coloured(self, repeat: Repeat, way: str) -> Repeat:
        """Return cloth of the art at print size, of which the repeat as laid is the measure."""
        return recoloured(self._at_size(repeat), self.targets(way), self.ground_in(way))

    def in_colours(self, colours: Mapping[str, str], ground: str | None) -> Repeat:
        """Return the cloth at print size, with colours of the art and the ground exchanged."""
        return recoloured(self._at_size(self.drawn.repeat), colours, ground)

    def _at_size(self, repeat: Repeat) -> Repeat:
        width = self.one.width
        if width is not None:
            repeat = repeat.scaled(width / self.drawn.repeat.width)
        return replace(repeat, name=self.one.name)

    def _woven(self, way: str, mapped: Mapping[str, str]) -> dict[str, str]:
        """Return where a gingham's mixed colours go in one of the collection's ways."""
        role, own = self.one.roles.get(GROUND), self.drawn.repeat.ground
        told = self.drawn.recipe.blender if self.drawn.recipe else {}
        if own is None or role == NO_GROUND:
            return {}
        ground = mapped.get(own.colour, own.colour)
        if role is not None and GROUND not in self._names:
            ground = self.collection.palette_in(way)[role]
        return remixed(told, own.colour, mapped, ground)

    @property
    def woven(self) -> Iterable[str]:
        """The colours that yarns of the palette look like together, in a gingham."""
        mapped = {c: self.collection.palette[name] for c, name in self.anchors.items()}
        return () if self.one.colours else self._woven(AS_DRAWN, mapped).values()

    def ground_in(self, way: str) -> str | None:
        """Return the ground in one of the collection's ways, None for bare cloth."""
        role, own = self.one.roles.get(GROUND), self.drawn.repeat.ground
        if role is None or GROUND in self._names:
            return None if own is None else self.targets(way)[own.colour]
        return None if role == NO_GROUND else self.collection.palette_in(way)[role]

    @property
    def page(self) -> Repeat:
        """The art on its tile, as :attr:`vecrepeat.sources.source.Source.page`."""
        return self._coloured(self.drawn.page, AS_DRAWN)

    @property
    def _names(self) -> Mapping[str, str]:
        """The recipe's own palette."""
        return self.drawn.recipe.palette if self.drawn.recipe else {}

    @property
    def anchors(self) -> dict[str, str]:
        """Colours of the art → the palette names that they are.

        What the recipe calls by a name of the collection's palette is that colour; ``map`` says
        more, and goes first.

        Raises:
            InputError: ``map`` names what is neither a colour nor a name of the recipe's.
        """
        names, palette = self._names, self.collection.palette
        found = {colour: name for name, colour in names.items() if name in palette}
        for role, name in self.one.roles.items():
            if role in names:
                found[names[role]] = name
            elif role != GROUND:
                try:
                    found[read_colour(role)] = name
                except UnfitError:
                    known = ", ".join([GROUND, *names])
                    raise InputError(
                        f"print “{self.one.name}”: its map names “{role[:40]}”, which is neither a "
                        "colour nor in its recipe's palette",
                        file=self.collection.file,
                        hint=f"known are {known} and colours such as #1b2a49",
                    ) from None
        return found

    def targets(self, way: str) -> dict[str, str]:
        """Return where every colour of the art goes in one of the collection's ways.

        Where the print may use some colours only, every colour of the art goes with the one it
        is nearest to as drawn; else shades of what has a name follow it, and the rest stays.
        """
        palette = self.collection.palette_in(way)
        anchors = self.anchors
        art = art_colours(self.drawn.repeat)
        allowed = self.one.colours
        if not allowed:
            mapped = {colour: palette[name] for colour, name in anchors.items()}
            return completed(self._woven(way, mapped) | mapped, art)
        known = {colour: name for colour, name in anchors.items() if name in allowed}
        # What the recipe has no colour for is looked for as the collection has it.
        plain = self.collection.palette
        for name in allowed:
            if name not in known.values():
                known.setdefault(plain[name], name)
        kept = {colour: name for colour, name in anchors.items() if colour in known}
        near = differences(art, known).argmin(axis=1) if art else ()
        names = list(known.values())
        found = {colour: names[int(k)] for colour, k in zip(art, near, strict=True)} | kept
        return {colour: palette[name] for colour, name in found.items()}


def art_colours(repeat: Repeat) -> list[str]:
    """Return every colour that motifs are painted with, and the ground's."""
    found = {colour for placement in repeat.placements for colour in placement.motif.colours}
    if repeat.ground is not None:
        found.add(repeat.ground.colour)
    return sorted(found)


def collected(
    collection: Collection, one: Print, drawn: Source, colourway: str | None = None
) -> Source:
    """Return a print as a source that any command takes.

    Its recipe is the drawn one's with the collection's colours, colourways and goods in place
    of its own.

    Raises:
        InputError: a colourway or a role that is not known.
    """
    print_ = Collected(collection, one, drawn)
    own = print_.targets(AS_DRAWN)
    rows = []
    for way in collection.colourways:
        colours = {own[colour]: target for colour, target in print_.targets(way).items()}
        ground = print_.ground_in(way) or NO_GROUND
        rows.append({"name": way, "ground": ground, "colours": colours})
    file = collection.file / slug(one.name)
    base = drawn.recipe or Recipe(
        file=file,
        keys={},
        motifs={},
        placements=(),
        arranged={name: {} for name in ARRANGED},
        blender={},
        palette={},
        colourways=(),
        prints=(),
    )
    used = set(own.values())
    recipe = replace(
        base,
        file=file,
        keys={**base.keys, "name": one.name},
        palette={n: c for n, c in collection.palette.items() if c in used},
        colourways=tuple(rows),
        prints=collection.goods,
    )
    return replace(
        drawn,
        file=file,
        repeat=print_.in_colourway(AS_DRAWN if colourway is None else colourway),
        page=print_.page,
        recipe=recipe,
        collected=print_,
    )
