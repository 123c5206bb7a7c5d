"""The palette of a repeat: its colours by the area that is seen of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from PIL import ImageColor

from vecrepeat.colour.flatten import CLOTH, Mix
from vecrepeat.colour.visible import Visible
from vecrepeat.core.colours import differences, rgb_of
from vecrepeat.core.difference import ciede2000, lab_of
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import slug, unique

MERGE = 2.0
"""Colours closer than this ΔE2000 count as one: hard to tell apart side by side (common
practice, no source)."""


@dataclass(frozen=True)
class Entry:
    """One colour of a palette.

    Attributes:
        name: unique within its palette.
        colour: ``#rrggbb``; of the colours merged the one seen most.
        members: all colours of the art that it stands for, itself first.
        area: what is seen of it in one tile's worth of cloth, in mm².
        share: the same as a share of the tile, 0 to 1.
        is_ground: whether it is the ground's.
    """

    name: str
    colour: str
    members: tuple[str, ...]
    area: float
    share: float
    is_ground: bool = False

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data, the area in cm²."""
        return {
            "name": self.name,
            "colour": self.colour,
            "members": list(self.members),
            "area_cm2": self.area / 100,
            "share": self.share,
            "ground": self.is_ground,
        }


@dataclass(frozen=True)
class Palette:
    """The colours of a repeat, the most seen first.

    Attributes:
        entries: the colours.
        cloth: the share of the tile on which bare cloth is seen, 0 to 1.
        unmeasured: names of motifs whose text, pictures, masks or filters have no measured area.
    """

    entries: tuple[Entry, ...]
    cloth: float = 0.0
    unmeasured: tuple[str, ...] = ()

    @cached_property
    def _by_member(self) -> Mapping[str, Entry]:
        return {member: entry for entry in self.entries for member in entry.members}

    def entry(self, colour: str) -> Entry | None:
        """Return the entry that stands for a colour of the art."""
        return self._by_member.get(colour)

    def block(self) -> dict[str, str]:
        """Return name → ``#rrggbb``, the palette as plain data."""
        return {entry.name: entry.colour for entry in self.entries}

    def find(self, text: str) -> Entry:
        """Return the entry of a name or colour.

        Raises:
            InputError: there is none.
        """
        wanted = text.strip().lower()
        for entry in self.entries:
            if wanted in (entry.name.lower(), slug(entry.name)) or wanted in entry.members:
                return entry
        names = ", ".join(entry.name for entry in self.entries[:12])
        raise InputError(f"the palette has no colour “{text}”", hint=f"it has {names}")


def palette(
    seen: Visible, *, merge: float = MERGE, names: Mapping[str, str] | None = None
) -> Palette:
    """Return the palette of what is seen.

    Args:
        seen: what is seen of a repeat.
        merge: the greatest ΔE2000 of colours that count as one.
        names: colour → name; the rest are named after the nearest CSS colour keyword.
    """
    repeat = seen.repeat
    areas = colour_areas(seen.shares)
    cloth = areas.pop(CLOTH, 0.0)
    for placement in repeat.placements:
        for colour in placement.motif.colours:
            areas.setdefault(colour, 0.0)
    ground = None if repeat.ground is None else repeat.ground.colour
    total = float(repeat.lattice.area)
    order = sorted(areas, key=lambda colour: (-areas[colour], colour))
    sums = [
        (sum(areas[colour] for colour in group), group) for group in grouped_within(order, merge)
    ]
    sums.sort(key=lambda item: (-item[0], item[1][0]))
    called = names_for([group[0] for _, group in sums], names or {})
    entries = (
        Entry(name, group[0], tuple(group), area, area / total, ground in group)
        for name, (area, group) in zip(called, sums, strict=True)
    )
    return Palette(tuple(entries), cloth / total, seen.skipped)


def colour_areas(shares: Mapping[Mix, float]) -> dict[str, float]:
    """Return each colour's part of what is seen, in mm²; mixtures count by their shares."""
    found: dict[str, float] = defaultdict(float)
    for mix, area in shares.items():
        for colour, share in mix:
            assert isinstance(colour, str)
            found[colour] += share * area
    return dict(found)


def grouped_within(colours: Iterable[str], limit: float) -> list[list[str]]:
    """Return groups of colours, each within a ΔE2000 of the first of its group.

    Each colour joins the nearest group begun before it, so the order decides who leads.
    """
    groups: list[list[str]] = []
    for colour in colours:
        if groups:
            apart = differences([colour], [group[0] for group in groups])[0]
            nearest = int(apart.argmin())
            if apart[nearest] <= limit:
                groups[nearest].append(colour)
                continue
        groups.append([colour])
    return groups


def css_name(colour: str) -> str:
    """Return the CSS colour keyword nearest by ΔE2000 (CSS Color 4 §6.1)."""
    keywords = [name for name in ImageColor.colormap if "gray" not in name]
    labs = lab_of(np.array([ImageColor.getrgb(name)[:3] for name in keywords]))
    return keywords[int(ciede2000(lab_of(rgb_of(colour)), labs).argmin())]


def names_for(colours: Iterable[str], given: Mapping[str, str]) -> list[str]:
    """Return a name for each colour: the one given, or the nearest CSS keyword, once each."""
    taken = set(given.values())
    found = []
    for colour in colours:
        name = given.get(colour)
        if name is None:
            name = unique(css_name(colour), taken)
            taken.add(name)
        found.append(name)
    return found
