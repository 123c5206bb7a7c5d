"""The colours of a proposed collection: its palette, a ground for each print, colourways."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np

from vecrepeat.colour.colourway import MERGED
from vecrepeat.colour.palette import Entry, Palette, names_for
from vecrepeat.colour.reduce import flat_areas, reduction
from vecrepeat.colour.rendered import look
from vecrepeat.colour.suggest import suggestions
from vecrepeat.core.colours import Floats, differences, oklab_of, oklch_of, rgb_of
from vecrepeat.repeat.model import Repeat
from vecrepeat.sources.grounds import KINDS, lost, propose_ground
from vecrepeat.sources.looks import Look

_GARISH = 0.1
"""OKLCh chroma above which a colour is strong for the ground of a whole print."""

_STRONG, _HARD = 200.0, 15.0
"""What strength costs for each bit of chroma beyond, and black, in ΔE2000."""

_FAR = 40.0
"""ΔE2000 beyond which grounds differ enough."""

_SUNK = 100.0
"""What it costs, in ΔE2000, where all of a print's motifs sink into the ground."""

_CALM = 22.0
"""ΔE2000 between a blender's ground and its marks that rests the eye and is still seen (set by
eye)."""

_WAYS = ("light ground", "dark ground", "dusk", "ember", "muted", "tonal")
"""Rules of colourways by preference."""


_CALLED = {"light": "paper", "mid": "tint", "dark": "deep"}
"""What the grounds of each kind are called in a palette."""

_BLACK = 0.22
"""OKLab lightness below which a ground is hard."""


class Scheme(NamedTuple):
    """A palette by name.

    Attributes:
        palette: ``#rrggbb`` by name, the hero's ground first.
        grounds: names of the colours that are made to be grounds, the hero's first.
    """

    palette: dict[str, str]
    grounds: tuple[str, ...]

    def differences(self) -> Floats:
        """Return ΔE2000 between all colours, in the palette's order."""
        return differences(self.palette.values(), self.palette.values())


def scheme_of(
    hero: Repeat, seen: Sequence[Look], sizes: Sequence[float], count: int
) -> tuple[Scheme, Palette]:
    """Return colours for all that a hero shows, and grounds of the other kinds for its motifs.

    Args:
        hero: with a ground.
        seen: its motifs' looks.
        sizes: their sizes in it.
        count: how many colours there may be at most, from 4.
    """
    assert hero.ground is not None
    own = hero.ground.colour
    made = {propose_ground(seen, sizes, (kind,)).colour: kind for kind in KINDS}
    # The hero's own is one of them.
    nearest = list(made)[int(differences([own], made)[0].argmin())]
    called = {own: _CALLED[made.pop(nearest)], **{c: _CALLED[kind] for c, kind in made.items()}}
    grounds = list(called)
    areas = flat_areas(look(hero))
    choice = reduction(areas, count, grounds)
    moved = {colour: areas.get(colour, 0.0) for colour in choice.colours}
    for move in choice.moves:
        moved[move.into] += move.area
    rest = sorted(set(choice.colours) - set(grounds), key=lambda colour: -moved[colour])
    colours = [*grounds, *rest]
    total = float(hero.lattice.area)
    entries = tuple(
        Entry(name, colour, (colour,), moved[colour], moved[colour] / total, colour == own)
        for name, colour in zip(names_for(colours, called), colours, strict=True)
    )
    found = Palette(entries)
    return Scheme(found.block(), tuple(entry.name for entry in entries[: len(grounds)])), found


def ground_for(
    scheme: Scheme,
    taken: Sequence[str],
    seen: Sequence[Look] = (),
    among: Sequence[str] | None = None,
) -> str:
    """Return the palette's name of a ground that differs most from those that are taken.

    Args:
        scheme: the palette.
        taken: names of grounds of other prints.
        seen: the looks of what stands on it, which must not sink into it.
        among: names to choose from; by default all.
    """
    names = list(scheme.palette)
    apart = scheme.differences()
    own = [names.index(name) for name in taken]
    lch = oklch_of(rgb_of(list(scheme.palette.values())))

    def worth(name: str) -> float:
        k = names.index(name)
        far = float(apart[k, own].min()) if own else 0.0
        strong = max(0.0, float(lch[k, 1]) - _GARISH) * _STRONG
        hard = _HARD if lch[k, 0] < _BLACK else 0.0
        lab = oklab_of(rgb_of(scheme.palette[name]))
        sunk = max((lost(look.edge, lab) for look in seen), default=0.0)
        return min(far, _FAR) - strong - hard - _SUNK * sunk

    return max(among or names, key=worth)


def calm_marks(scheme: Scheme, ground: str, count: int) -> list[str]:
    """Return palette names of colours for a blender's marks, which are seen and do not call."""
    names = list(scheme.palette)
    apart = scheme.differences()[names.index(ground)]
    others = [name for name in names if name != ground]
    return sorted(others, key=lambda name: abs(float(apart[names.index(name)]) - _CALM))[:count]


def clear_marks(scheme: Scheme, ground: str) -> list[str]:
    """Return palette names of two colours for small motifs that are to be told from a ground.

    The hero's ground is one of them where it can be, and black is none.
    """
    names = list(scheme.palette)
    apart = scheme.differences()
    light = oklch_of(rgb_of(list(scheme.palette.values())))[:, 0]
    found: list[int] = []
    for _ in range(2):
        against = [names.index(ground), *found]
        worth = np.minimum(apart[:, against].min(axis=1), _FAR)
        worth -= np.where(light < _BLACK, _FAR, 0.0)
        if not found:
            worth[names.index(scheme.grounds[0])] += _CALM
        worth[against] = -np.inf
        found.append(int(worth.argmax()))
    return [names[k] for k in found]


def colourways(
    scheme: Scheme, palette: Palette, count: int = 2
) -> list[tuple[str, Mapping[str, str]]]:
    """Return colourways by rule that keep all colours of a palette apart: name → colour by name."""
    colours = list(scheme.palette.values())
    found = {way.name: way for way in suggestions(palette, colours)}
    ways: list[tuple[str, Mapping[str, str]]] = []
    before = scheme.differences()
    for rule in _WAYS:
        way = found.get(rule)
        if way is None or len(ways) == count:
            continue
        new = {name: way.colours[colour] for name, colour in scheme.palette.items()}
        if way.ground is not None:
            new[scheme.grounds[0]] = way.ground
        after = differences(new.values(), new.values())
        pairs = combinations(range(len(colours)), 2)
        if all(after[pair] >= min(2 * MERGED, float(before[pair])) for pair in pairs):
            ways.append((rule, new))
    return ways
