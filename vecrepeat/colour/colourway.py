"""Colourways: one drawing's palette mapped to others, and whether the drawing still reads."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass, field
from itertools import combinations
from typing import Any

import numpy as np

from vecrepeat.blenders.crossing import mixed
from vecrepeat.blenders.settings import INK
from vecrepeat.colour.contacts import Segments, contacts, lengths
from vecrepeat.colour.flatten import Mix
from vecrepeat.colour.palette import Entry, Palette
from vecrepeat.colour.recolour import recoloured
from vecrepeat.colour.rendered import Rendered
from vecrepeat.colour.stamps import around, together
from vecrepeat.colour.visible import Visible, ground_mix
from vecrepeat.core.colours import Floats, differences, hex_from_oklab, oklab_of, rgb_of
from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.model import Motif, Repeat

MERGED = 1.5
"""Two colours nearer than this ΔE2000 have merged (common practice, no source)."""

CONTRAST = 5.0
"""Touching colours nearer than this ΔE2000 no longer part clearly (common practice, no source)."""

_DOT = 2.0
"""Colours that touch along less than this many mm of a tile are no neighbours."""

_KIN = 0.1
"""Distance in OKLab beyond which a colour is no shade of those mapped, and stays as it is."""

_FAR = 0.15
"""Weight of a pair's distance when a shade is placed between two colours."""


BARE_CLOTH = "none"
"""The ground of a colourway that has none."""


@dataclass(frozen=True)
class Colourway:
    """A named map of colours.

    Attributes:
        name: for files and the line-up sheet.
        colours: ``#rrggbb`` of the art → ``#rrggbb``; shades that are not named follow.
        ground: the ground's colour where it does not follow ``colours``, or
            :data:`BARE_CLOTH`.
    """

    name: str
    colours: Mapping[str, str] = field(default_factory=dict)
    ground: str | None = None


@dataclass(frozen=True)
class Fault:
    """Two colours that a colourway brings too close.

    Attributes:
        kind: ``merged`` or ``low contrast``.
        names: what they are called in the palette.
        colours: what they have become.
        difference: ΔE2000 now.
        before: ΔE2000 in the drawing.
        contact: along how many mm of a tile they touch.
    """

    kind: str
    names: tuple[str, str]
    colours: tuple[str, str]
    difference: float
    before: float
    contact: float

    def line(self) -> str:
        """Return the fault as a sentence."""
        one, other = (f"{n} ({c})" for n, c in zip(self.names, self.colours, strict=True))
        if self.kind == "merged":
            return (
                f"{one} and {other} have merged: ΔE {self.difference:.1f}, {self.before:.1f} before"
            )
        return (
            f"{one} and {other} touch along {self.contact:.0f} mm and are hard to tell apart: "
            f"ΔE {self.difference:.1f}, {self.before:.1f} before"
        )

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data."""
        return {
            "kind": self.kind,
            "names": list(self.names),
            "colours": list(self.colours),
            "delta_e": self.difference,
            "delta_e_before": self.before,
            "contact_mm": self.contact,
        }


def completed(
    colours: Mapping[str, str], art: Iterable[str], bound: Container[str] = ()
) -> dict[str, str]:
    """Return where every colour of the art goes when some are mapped.

    A shade between two mapped colours goes to the same place between what they become, with
    what it is off their line kept in OKLab; a gradient from one colour to another so stays one.
    What is no shade of a mapped colour, nor between two, stays as it is.

    Args:
        colours: source → target.
        art: all colours of the art.
        bound: shades that follow however far they are from what is mapped.
    """
    known = {old.lower(): new.lower() for old, new in colours.items()}
    if not known:
        return {colour: colour for colour in art}
    sources, targets = (oklab_of(rgb_of(list(v))) for v in (known.keys(), known.values()))
    return {
        colour: known[colour]
        if colour in known
        else _between(colour, sources, targets, _KIN if colour not in bound else np.inf)
        for colour in art
    }


def remixed(
    told: Mapping[str, Any], ground: str | None, colours: Mapping[str, str], new_ground: str | None
) -> dict[str, str]:
    """Return where a gingham's mixed colours go when its yarns change; nothing for other cloth.

    Args:
        told: a recipe's blender.
        ground: its ground's colour.
        colours: source → target, of yarns too.
        new_ground: what its ground becomes.
    """
    yarns = told.get("colours", (INK,))
    if told.get("kind") != "gingham" or ground is None or new_ground is None or len(yarns) > 2:
        return {}
    turned = [colours.get(colour, colour) for colour in yarns]
    return dict(zip(mixed(yarns, ground), mixed(turned, new_ground), strict=True))


def _between(colour: str, sources: Floats, targets: Floats, kin: float) -> str:
    """Return where a shade goes, or the shade itself if it is ``kin`` from all in OKLab."""
    shade = oklab_of(rgb_of(colour))
    each = np.arange(len(sources))
    # Each by itself, and then every two.
    one, other = np.hstack([np.stack([each, each]), np.stack(np.triu_indices(len(each), 1))])
    step = sources[other] - sources[one]
    size = (step * step).sum(axis=1)
    along = ((shade - sources[one]) * step).sum(axis=1)
    share = np.clip(along / np.where(size == 0, 1, size), 0, 1)[:, None]
    off = shade - sources[one] - share * step
    cost = (off * off).sum(axis=1) + (_FAR * share * (1 - share))[:, 0] ** 2 * size
    best = int(np.flatnonzero(cost <= cost.min() + 1e-12)[0])
    if float(np.hypot.reduce(off[best])) > kin:
        return colour
    moved = targets[one[best]] + share[best] * (targets[other[best]] - targets[one[best]])
    return hex_from_oklab(moved + off[best])


def art_colours(repeat: Repeat, palette: Palette) -> list[str]:
    """Return every colour the art is painted with, the ground's included."""
    found = {colour for placement in repeat.placements for colour in placement.motif.colours}
    found.update(member for entry in palette.entries for member in entry.members)
    return sorted(found)


def full_map(repeat: Repeat, palette: Palette, colourway: Colourway) -> dict[str, str]:
    """Return where a colourway takes every colour of the art; main colours take theirs along."""
    bound: set[str] = set()
    if palette.gathered:
        moved = [palette.entry(colour) for colour in colourway.colours]
        bound = {member for entry in moved if entry is not None for member in entry.members}
    return completed(colourway.colours, art_colours(repeat, palette), bound)


def in_colourway(repeat: Repeat, palette: Palette, colourway: Colourway) -> Repeat:
    """Return the repeat in a colourway; its outlines are the same."""
    return recolour_by(repeat, full_map(repeat, palette, colourway), colourway)


def recolour_by(repeat: Repeat, targets: Mapping[str, str], colourway: Colourway) -> Repeat:
    """Return the repeat in a colourway whose map is worked out already; see :func:`full_map`."""
    ground = colourway.ground or ""
    return recoloured(repeat, targets, None if ground == BARE_CLOTH else ground)


def neighbours(seen: Visible | Rendered, palette: Palette) -> dict[tuple[str, str], float]:
    """Return how many mm of a tile colours of a palette touch along, by pairs of them."""
    if isinstance(seen, Rendered):
        touching = seen.touching(lambda colour: _main(((colour, 1.0),), palette))
        return {pair: length for pair, length in touching.items() if length >= _DOT}
    repeat = seen.repeat
    width, height = float(repeat.width), float(repeat.height)
    # Cut where nothing in particular is likely to lie, so that lines along the tile's bounds
    # count too.
    x, y = width * 0.3183, height * 0.2718
    region = Rect(x, y, x + width, y + height)
    found = [*contacts(seen.crowded(region, lambda mix: _main(mix, palette))).items()]
    alone = _contacts_alone(seen, palette)
    for number in seen.alone:
        placement = repeat.placements[number]
        for pair, lines in alone[placement.motif]:
            ends = placement.transform.apply(lines.reshape(-1, 2))
            found.append((pair, ends.reshape(-1, 2, 2)))
    sums: dict[tuple[str, str], float] = defaultdict(float)
    for (one, other), lines in found:
        sums[min(one, other), max(one, other)] += float(lengths(lines).sum())
    return {pair: length for pair, length in sums.items() if length >= _DOT}


def _contacts_alone(
    seen: Visible, palette: Palette
) -> dict[Motif, list[tuple[tuple[str, str], Segments]]]:
    """Return the lines along which colours touch in motifs that lie alone, in their own mm."""
    ground = _main(ground_mix(seen.repeat.ground), palette)
    found = {}
    for motif, stamp in seen.stamps(lambda mix: _main(mix, palette)).items():
        areas = dict(stamp.areas)
        if not stamp.open.is_empty:
            outside, islands = around(stamp.open, 1.0)
            areas[ground] = together([outside, *islands])
        found[motif] = list(contacts(areas).items())
    return found


def _main(mix: Mix, palette: Palette) -> str:
    """Return the palette colour that a mixture shows most of."""
    colour = max(mix, key=lambda item: item[1])[0]
    assert isinstance(colour, str)
    entry = palette.entry(colour)
    return colour if entry is None else entry.colour


def faults(
    palette: Palette,
    targets: Mapping[str, str],
    touching: Mapping[tuple[str, str], float],
    *,
    ground: str | None = None,
    contrast: float = CONTRAST,
) -> list[Fault]:
    """Return the colours that a colourway brings too close to tell apart.

    What was as close in the drawing is the drawing's own affair and no fault.

    Args:
        palette: of the drawing.
        targets: where each colour goes, from :func:`completed`.
        touching: from :func:`neighbours`.
        ground: the ground's new colour where it does not follow ``targets``.
        contrast: ΔE2000 that touching colours must keep.
    """
    entries = [entry for entry in palette.entries if entry.area > 0]
    if not entries:
        return []
    old = [entry.colour for entry in entries]
    # Where the ground leaves its colour's other uses behind, it is what the eye sees most.
    own = None if ground == BARE_CLOTH else ground
    new = [
        own if own and entry.is_ground else targets.get(entry.colour, entry.colour)
        for entry in entries
    ]
    before, after = differences(old, old), differences(new, new)
    found: list[Fault] = []
    for one, other in combinations(range(len(entries)), 2):
        pair = (old[one], old[other])
        contact = touching.get(pair, touching.get((pair[1], pair[0]), 0.0))
        was, now = float(before[one, other]), float(after[one, other])
        kind = None
        if now < MERGED <= was:
            kind = "merged"
        elif contact > 0 and now < contrast <= was:
            kind = "low contrast"
        if kind is not None:
            names = (entries[one].name, entries[other].name)
            found.append(Fault(kind, names, (new[one], new[other]), now, was, contact))
    return sorted(found, key=lambda fault: (fault.kind != "merged", fault.difference))


def known_names(palette: Palette, colours: Mapping[str, str]) -> dict[str, str]:
    """Return a map given by palette names or colours as a map from colours alone.

    A colour of the palette brings those merged into it along, a main colour when it is used; one
    that is named beside it goes where it is told.

    Raises:
        InputError: a name that the palette does not have.
    """
    entries = {name: palette.find(name) for name in colours}
    led = {entry.colour for name, entry in entries.items() if not _joins(name, entry)}
    found: dict[str, str] = {}
    exact: dict[str, str] = {}
    for name, entry in entries.items():
        if _joins(name, entry) and entry.colour in led:
            exact[name.strip().lower()] = colours[name]
            continue
        own = [entry.colour] if palette.gathered else entry.members
        found |= completed({entry.colour: colours[name]}, own)
    return found | exact


def _joins(name: str, entry: Entry) -> bool:
    """Whether a name is that of a colour merged into another."""
    return name.strip().lower() in entry.members[1:]
