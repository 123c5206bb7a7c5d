"""A first collection from one set of motifs: a hero, two secondaries and three blenders.

Its scales stand on a ladder of two: the hero's motifs are a third of its tile, the secondaries'
half and a quarter of that, and blenders' an eighth (common practice, no source).
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import tomlkit

from vecrepeat.arrange.arranging import laid
from vecrepeat.collection import schemes
from vecrepeat.collection.choosing import chosen, is_panel
from vecrepeat.collection.schemes import Scheme
from vecrepeat.colour.palette import Palette
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import listed, plain_name
from vecrepeat.core.units import KNOWN, MM_PER_INCH, Size, counted
from vecrepeat.recipe.collection import FILE
from vecrepeat.recipe.edit import inline_rows, with_placements, with_settings
from vecrepeat.recipe.model import Recipe, parse_recipe
from vecrepeat.repeat.model import Motif
from vecrepeat.repeat.ranks import Rank
from vecrepeat.scene.kinds import IMAGE
from vecrepeat.scene.visit import holds_lettering
from vecrepeat.sources.blending import blender_text
from vecrepeat.sources.first import default_tile, first_recipe
from vecrepeat.sources.looks import Look, looks
from vecrepeat.sources.source import Pool, Source, read_pool, source_of
from vecrepeat.util.files import final_place, write_together

COLOURS = 11
"""How many colours a proposed palette has at most."""

STEPS = 7
"""How often :func:`propose` tells that it has come on."""


@dataclass(frozen=True)
class Proposed:
    """A collection as written.

    Attributes:
        file: the collection's.
        prints: the prints' names, the hero first.
        palette: ``#rrggbb`` by name.
        notes: about the art, a sentence each.
    """

    file: Path
    prints: tuple[str, ...]
    palette: Mapping[str, str]
    notes: tuple[str, ...]

    def line(self) -> str:
        """Return the facts as one line."""
        colours = counted(len(self.palette), "colour")
        return f"{self.file}: {counted(len(self.prints), 'print')} in {colours}"

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data."""
        return {
            "file": str(self.file),
            "prints": list(self.prints),
            "palette": dict(self.palette),
        }


@dataclass
class _Draft:
    """One print that is being proposed: its recipe's text, and its row of the collection."""

    name: str
    role: str
    text: str
    tile: Fraction
    colours: Sequence[str] = ()
    roles: dict[str, str] = field(default_factory=dict)


def propose(
    art: Sequence[Path],
    folder: Path,
    *,
    name: str | None = None,
    colours: int = COLOURS,
    tile: Size | None = None,
    allowed: Sequence[Path] = (),
    step: Callable[[int], None] | None = None,
) -> Proposed:
    """Write a first collection from loose motifs, all of its files or none.

    Args:
        art: motif files, or folders of them.
        folder: where the collection's file and recipes go; it must hold no collection yet.
        name: the collection's; by default the folder's.
        colours: the most that its palette may have.
        tile: the hero's tile; by default 10 × 10 in.
        allowed: folders besides the art's own that linked pictures may be taken from.
        step: called with 1 as each of :data:`STEPS` is done.

    Raises:
        InputError: art can't be read, or a collection is there already.
    """
    file = folder / FILE
    if file.exists():
        raise InputError(
            "it is there already", file=file, hint="give another folder, or move it away"
        )
    final_place(file)
    told = step or (lambda _: None)
    pool = read_pool([], art, allowed=allowed)
    here = folder.resolve()
    loose = [Path(os.path.relpath(path.resolve(), here)).as_posix() for path in art]
    told(1)
    notes = list(pool.notes)
    letters = [name for name, one in pool.motifs.items() if holds_lettering(one.scene)]
    if letters and len(pool.motifs) - len(letters) > 2:
        notes.append(
            f"{listed(letters)} hold lettering, which would stand on its head, and are left out"
            if len(letters) > 1
            else f"{letters[0]} holds lettering, which would stand on its head, and is left out"
        )
        kept = {name: one for name, one in pool.motifs.items() if name not in letters}
        pool = replace(pool, motifs=kept)
    maker = _Maker(pool, loose, folder, tile or default_tile(pool))
    hero = maker.hero()
    told(1)
    scheme, palette = maker.scheme(hero, colours)
    told(1)
    drafts = [
        _Draft("hero", "hero", maker.text, hero.repeat.width, list(scheme.palette)),
        *maker.secondaries(scheme, told),
        *maker.blenders(scheme),
    ]
    told(1)
    ways = schemes.colourways(scheme, palette)
    files = {file: _collection_text(name or folder.resolve().name, scheme, ways, drafts)}
    for draft in drafts:
        files[folder / f"{draft.name}.toml"] = with_settings(draft.text, "palette", scheme.palette)
    write_together({path: text.encode() for path, text in files.items()})
    told(1)
    fixed = [m.name for m in pool.motifs.values() if any(f.kind == IMAGE for f in m.features)]
    if fixed:
        notes.append(
            f"{counted(len(fixed), 'motif')} made of pixels keep their colours in every "
            "colourway; vecrepeat trace makes them shapes"
        )
    return Proposed(file, tuple(d.name for d in drafts), scheme.palette, tuple(notes))


class _Maker:
    """Makes the prints from one pool of motifs.

    Args:
        pool: the motifs.
        loose: where they lie, as recipes are to say it.
        folder: where the recipes will be.
        tile: the hero's.
    """

    def __init__(self, pool: Pool, loose: Sequence[str], folder: Path, tile: Size) -> None:
        self._pool = pool
        self._loose = list(loose)
        self._folder = folder
        self.text = first_recipe(
            "hero",
            pool,
            art=[],
            loose=loose,
            tile=tile,
            layout="half-drop",
            density="packed",
        )
        recipe = parse_recipe(self.text, folder / "hero.toml")
        self._ranks = {name: Rank(row["rank"]) for name, row in recipe.motifs.items()}
        heroes = [name for name, rank in self._ranks.items() if rank == Rank.HERO]
        self._length = sum(
            float(recipe.motifs[name]["width"])
            / pool.motifs[name].box.width
            * _longer(pool.motifs[name])
            for name in heroes
        ) / len(heroes)
        self._looks: dict[str, Look] = {}

    def hero(self) -> Source:
        """Return the hero, a packed toss of all motifs, and keep its text."""
        self.text, source = self._arranged("hero", self.text, "toss")
        return source

    def scheme(self, hero: Source, colours: int) -> tuple[Scheme, Palette]:
        """Return the palette of the hero and of grounds for its motifs."""
        motifs = hero.pool.motifs
        sizes = [motif.box.width * motif.box.height for motif in motifs.values()]
        return schemes.scheme_of(hero.repeat, self._seen(motifs), sizes, colours)

    def secondaries(self, scheme: Scheme, told: Callable[[int], None]) -> Iterable[_Draft]:
        """Yield a set of a few motifs at half the hero's size, and a stripe at a quarter.

        Both go two ways, as the hero goes any: a buyer may turn all of them when cutting.
        """
        leading = self._of(Rank.SECONDARY, Rank.HERO, Rank.FILLER)
        small = self._of(Rank.FILLER, Rank.SECONDARY, Rank.HERO)
        half, quarter = self._length / 2, self._length / 4
        two = self._choose(leading, 2)
        between = self._choose([name for name in small if name not in two], 1, two)
        first = dict.fromkeys(two, (Rank.HERO, half))
        first |= dict.fromkeys(between, (Rank.FILLER, half / 3))
        step = half * 1.3
        grounds = [scheme.grounds[0]]
        yield self._draft(
            "set",
            first,
            scheme,
            grounds,
            tile=2 * step,
            table="set",
            keys={"columns": 2, "rows": 2, "stagger": "drop", "direction": "two-way"},
        )
        told(1)
        two = self._choose([name for name in leading if name not in first] or leading, 2)
        between = self._choose([name for name in small if name not in two], 2, two)
        second = dict.fromkeys(two, (Rank.SECONDARY, quarter))
        second |= dict.fromkeys(between, (Rank.FILLER, quarter / 2))
        yield self._draft(
            "stripe",
            second,
            scheme,
            grounds,
            tile=5.4 * quarter,
            table="stripe",
            keys={"stagger": True, "direction": "two-way"},
        )
        told(1)
        self._grounds = grounds

    def blenders(self, scheme: Scheme) -> Iterable[_Draft]:
        """Yield a ditsy of the smallest motifs, dots and stripes, at an eighth of the hero's."""
        grounds = self._grounds
        eighth = self._length / 8
        small = self._choose(self._of(Rank.FILLER, Rank.SECONDARY, Rank.HERO), 3)
        soft = schemes.soft_colours(scheme)
        ground = schemes.ground_for(scheme, grounds, self._seen(small), soft)
        grounds.append(ground)
        ditsy = self._draft(
            "ditsy",
            dict.fromkeys(small, (Rank.FILLER, eighth)),
            scheme,
            [],
            tile=5.5 * eighth,
            table="ditsy",
            keys={"size": f"{eighth:.4g}mm", "clearance": "1mm"},
            ground=ground,
        )
        ditsy.role, ditsy.colours = "blender", schemes.clear_marks(scheme, ground)
        yield ditsy
        ground, mark = schemes.calm_pair(scheme, grounds)
        yield self._blender("dots", scheme, ground, [mark], {"size": "1/8in", "spacing": "0.3in"})
        # Quiet, and in the hero's own ground.
        ground = scheme.grounds[0]
        calm = schemes.calm_marks(scheme, ground, 2)
        one, other = calm[0], calm[-1]
        keys = {"widths": ["5/8in", "1/8in", "3/8in", "1/8in"]}
        yield self._blender("stripes", scheme, ground, ["none", one, other, one], keys)

    def _of(self, *ranks: Rank) -> list[str]:
        """Return names of motifs, those of the first rank first, and what is a panel last."""
        names = [n for rank in ranks for n, own in self._ranks.items() if own == rank]
        return sorted(names, key=lambda name: is_panel(self._pool.motifs[name]))

    def _choose(self, names: Sequence[str], count: int, beside: Sequence[str] = ()) -> list[str]:
        """Return names of some motifs that go together, the first by preference."""
        self._seen([*names, *beside])
        return chosen(names, count, self._pool.motifs, self._looks, beside)

    def _seen(self, names: Iterable[str]) -> list[Look]:
        for name in names:
            if name not in self._looks:
                (self._looks[name],) = looks([self._pool.motifs[name]])
        return [self._looks[name] for name in names]

    def _draft(
        self,
        name: str,
        chosen: Mapping[str, tuple[Rank, float]],
        scheme: Scheme,
        grounds: list[str],
        *,
        tile: float,
        table: str,
        keys: Mapping[str, Any],
        ground: str | None = None,
    ) -> _Draft:
        """Return a print of some motifs, each of a rank and a longer side in mm."""
        if ground is None:
            seen = self._seen(chosen)
            ground = schemes.ground_for(scheme, grounds, seen, schemes.soft_colours(scheme))
            grounds.append(ground)
        inches = Fraction(max(1, round(tile / float(MM_PER_INCH) * 2))) / 2
        side = f"{float(inches):g}"
        document = tomlkit.document()
        document.add(tomlkit.comment(f"A vecrepeat recipe. Lengths: {KNOWN}."))
        document.add("name", tomlkit.item(name))
        document.add("loose", tomlkit.item(self._loose))
        document.add("tile", tomlkit.item(f"{side}x{side}in"))
        document.add("layout", tomlkit.item("block" if table != "ditsy" else "half-drop"))
        document.add("ground", tomlkit.item(scheme.palette[ground]))
        rows = []
        for motif_name, (rank, length) in chosen.items():
            motif = self._pool.motifs[motif_name]
            width = length * motif.box.width / _longer(motif)
            rows.append({"name": motif_name, "rank": str(rank), "width": f"{width:.4g}mm"})
        document.add(tomlkit.nl())
        document.add("motif", inline_rows(rows))
        settings = tomlkit.table()
        settings.update(keys)
        document.add(table, settings)
        text, source = self._arranged(name, tomlkit.dumps(document), table)
        roles = {"ground": ground}
        return _Draft(name, "secondary", text, source.repeat.width, list(scheme.palette), roles)

    def _arranged(self, name: str, text: str, way: str) -> tuple[str, Source]:
        """Return a recipe's text with its motifs laid, and it opened."""
        path = self._folder / f"{name}.toml"
        source = source_of(path, parse_recipe(text, path), self._pool, placed=False)
        placed, _, _ = laid(way, source, {})
        text = with_placements(text, placed)
        return text, source_of(path, parse_recipe(text, path), self._pool)

    def _blender(
        self,
        kind: str,
        scheme: Scheme,
        ground: str,
        marks: Sequence[str],
        keys: Mapping[str, Any],
    ) -> _Draft:
        colours = [scheme.palette.get(name, "none") for name in marks]
        tile = "3x3in" if kind == "dots" else "5x5in"
        text = blender_text(
            kind, kind, {"colours": colours, **keys}, tile=tile, ground=scheme.palette[ground]
        )
        recipe: Recipe = parse_recipe(text, self._folder / f"{kind}.toml")
        width = Fraction(recipe.keys["tile"].width)
        return _Draft(kind, "blender", text, width)


def _longer(motif: Motif) -> float:
    return max(motif.box.width, motif.box.height)


def _collection_text(
    name: str,
    scheme: Scheme,
    ways: Sequence[tuple[str, Mapping[str, str]]],
    drafts: Sequence[_Draft],
) -> str:
    document = tomlkit.document()
    for words in (
        f"A vecrepeat collection. Lengths: {KNOWN}.",
        "A colour that is changed here changes in every print.",
    ):
        document.add(tomlkit.comment(words))
    document.add("name", tomlkit.item(plain_name(name)))
    document.add("palette", tomlkit.item(scheme.palette))
    for way, colours in ways:
        row = tomlkit.table()
        row.add("name", way)
        inline = tomlkit.inline_table()
        inline.update(colours)
        row.add("colours", inline)
        document.append("colourway", tomlkit.aot()) if "colourway" not in document else None
        document["colourway"].append(row)
    prints = tomlkit.aot()
    for draft in drafts:
        row = tomlkit.table()
        row.add("name", draft.name)
        row.add("role", draft.role)
        row.add("from", f"{draft.name}.toml")
        row.add("width", f"{float(draft.tile / MM_PER_INCH):g}in")
        if draft.colours:
            row.add("colours", list(draft.colours))
        if draft.roles:
            inline = tomlkit.inline_table()
            inline.update(draft.roles)
            row.add("map", inline)
        prints.append(row)
    document.add("print", prints)
    return tomlkit.dumps(document)
