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
from vecrepeat.core.colours import Floats, differences, hex_from_oklab, oklab_of, oklch_of, rgb_of
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

_CALM = 28.0
"""ΔE2000 between a blender's ground and its marks that rests the eye and is still seen (set by
eye)."""

_CLEAR = 24.0
"""ΔE2000 from which small motifs are told from their ground."""

_SOFT, _DARK = 0.12, 0.3
"""OKLCh chroma below which and lightness from which a colour of the art may be a print's ground."""

_MUD, _DULL = 30.0, 0.05
"""What a muddy colour costs a blender, in ΔE2000: a grey below such a chroma in OKLCh that is
neither light nor dark, or a brown."""

_LEVEL, _QUIVER = 0.1, 20.0
"""What it costs where ground and marks are of one lightness, within so much, and only quiver."""

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
    # What has an outline of its own is still lost where what it fills is the ground's.
    printed = [_printed(paint, scheme) for look in seen for paint in (look.edge, look.paint)]

    def worth(name: str) -> float:
        k = names.index(name)
        far = float(apart[k, own].min()) if own else 0.0
        strong = max(0.0, float(lch[k, 1]) - _GARISH) * _STRONG
        hard = _HARD if lch[k, 0] < _BLACK else 0.0
        lab = oklab_of(rgb_of(scheme.palette[name]))
        sunk = max((lost(paint, lab) for paint in printed), default=0.0)
        return min(far, _FAR) - strong - hard - _SUNK * sunk

    return max(among or names, key=worth)


def _printed(paint: Floats, scheme: Scheme) -> Floats:
    """Return paint, in OKLab, as a print in the palette has it: the nearest colours."""
    palette = list(scheme.palette.values())
    shades, at = np.unique(np.round(paint, 2), axis=0, return_inverse=True)
    near = differences([hex_from_oklab(shade) for shade in shades], palette).argmin(axis=1)
    found: Floats = oklab_of(rgb_of(palette))[near[at.ravel()]]
    return found


def soft_colours(scheme: Scheme) -> list[str]:
    """Return the palette's names of colours that a whole print can stand on, the grounds first.

    Those are not strong, not muddy and not black.
    """
    lch = oklch_of(rgb_of(list(scheme.palette.values())))
    fit = (lch[:, 1] < _SOFT) & (_mud(lch) == 0) & (lch[:, 0] >= _DARK)
    soft = [name for name, one in zip(scheme.palette, fit, strict=True) if one]
    return list(dict.fromkeys([*scheme.grounds, *soft]))


def calm_marks(scheme: Scheme, ground: str, count: int) -> list[str]:
    """Return palette names of colours for a blender's marks, which are seen and do not call."""
    others = [name for name in scheme.palette if name != ground]
    cost = _calm_costs(scheme)
    names = list(scheme.palette)
    at = names.index(ground)
    return sorted(others, key=lambda name: float(cost[at, names.index(name)]))[:count]


def calm_pair(scheme: Scheme, taken: Sequence[str]) -> tuple[str, str]:
    """Return palette names of a blender's ground and marks: fresh, and calm on each other.

    Args:
        scheme: the palette.
        taken: names of grounds of other prints.
    """
    names = list(scheme.palette)
    apart = scheme.differences()
    far = np.minimum(apart[:, [names.index(name) for name in taken]].min(axis=1), _FAR)
    lch = oklch_of(rgb_of(list(scheme.palette.values())))
    strong = np.maximum(0.0, lch[:, 1] - _GARISH) * _STRONG / 2
    hard = np.where(lch[:, 0] < _BLACK, _HARD, 0.0)
    worth = (far - strong - hard - _mud(lch))[:, None] - _calm_costs(scheme)
    np.fill_diagonal(worth, -np.inf)
    one, other = np.unravel_index(int(worth.argmax()), worth.shape)
    return names[int(one)], names[int(other)]


def _calm_costs(scheme: Scheme) -> Floats:
    """Return what marks of each colour (second axis) cost on each ground, in ΔE2000."""
    lch = oklch_of(rgb_of(list(scheme.palette.values())))
    level = np.abs(lch[:, None, 0] - lch[None, :, 0]) < _LEVEL
    off = np.abs(scheme.differences() - _CALM)
    cost: Floats = off + np.where(level, _QUIVER, 0.0) + _mud(lch)[None]
    return cost


def _mud(lch: Floats) -> Floats:
    light, chroma, hue = lch.T
    grey = (chroma < _DULL) & (light > 0.35) & (light < 0.88)
    brown = (light < 0.62) & (chroma < 0.13) & (hue > 20) & (hue < 115) & (light > _BLACK)
    return np.where(grey | brown, _MUD, 0.0)


def clear_marks(scheme: Scheme, ground: str) -> list[str]:
    """Return palette names of the colours in which small motifs are told from a ground.

    They are all that are far from it, or the three farthest.
    """
    names = list(scheme.palette)
    apart = scheme.differences()[names.index(ground)]
    order = sorted(names, key=lambda name: -float(apart[names.index(name)]))
    clear = [name for name in order if apart[names.index(name)] >= _CLEAR]
    found = clear if len(clear) >= 3 else order[:3]
    return [name for name in names if name in found]


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
