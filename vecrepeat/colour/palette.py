"""The palette of a repeat: its colours by the area that is seen of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from PIL import ImageColor

from vecrepeat.colour.flatten import CLOTH, Mix
from vecrepeat.colour.gradients import is_stepped
from vecrepeat.colour.reduce import reduction
from vecrepeat.colour.rendered import Rendered
from vecrepeat.colour.visible import Visible
from vecrepeat.core.colours import differences, rgb_of
from vecrepeat.core.difference import ciede2000, lab_of
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import slug, unique
from vecrepeat.repeat.model import Repeat
from vecrepeat.scene.nodes import Gradient, Path
from vecrepeat.scene.visit import walk

MERGE = 2.0
"""Colours closer than this ΔE2000 count as one: hard to tell apart side by side (common
practice, no source)."""

MOST = 12
"""How many main colours art with gradients has at most, unless asked otherwise."""

Ramp = tuple[str, ...]
"""The colours of a gradient's stops."""


@dataclass(frozen=True)
class Entry:
    """One colour of a palette.

    Attributes:
        name: unique within its palette.
        colour: ``#rrggbb``; of the colours merged the one seen most.
        members: all colours of the art that it stands for, itself first.
        ramps: gradients that are about it more than about any other colour.
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
    ramps: tuple[Ramp, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data, the area in cm²."""
        return {
            "name": self.name,
            "colour": self.colour,
            "members": list(self.members),
            "area_cm2": self.area / 100,
            "share": self.share,
            "ground": self.is_ground,
            **({"ramps": [list(ramp) for ramp in self.ramps]} if self.ramps else {}),
        }


@dataclass(frozen=True)
class Palette:
    """The colours of a repeat, the most seen first.

    Attributes:
        entries: the colours.
        cloth: the share of the tile on which bare cloth is seen, 0 to 1.
        gathered: how many colours were brought to so few main ones; 0 where each counts as it is.
        note: what was measured on a rendering, a sentence; nothing where areas are exact.
    """

    entries: tuple[Entry, ...]
    cloth: float = 0.0
    gathered: int = 0
    note: str = ""

    @cached_property
    def _by_member(self) -> Mapping[str, Entry]:
        return {member: entry for entry in self.entries for member in entry.members}

    def entry(self, colour: str) -> Entry | None:
        """Return the entry that stands for a colour of the art, or for any that is seen."""
        if self.gathered and colour not in self._by_member:
            leads = [entry.colour for entry in self.entries]
            return self.entries[int(differences([colour], leads)[0].argmin())]
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
    seen: Visible | Rendered,
    *,
    merge: float = MERGE,
    most: int | None = None,
    names: Mapping[str, str] | None = None,
) -> Palette:
    """Return the palette of what is seen.

    Args:
        seen: what is seen of a repeat.
        merge: the greatest ΔE2000 of colours that count as one.
        most: how many main colours at most; by default :data:`MOST` where there are gradients
            or what is seen was measured on a rendering, and else as many as there are.
        names: colour → name; the rest are named after the nearest CSS colour keyword.
    """
    repeat = seen.repeat
    rendering = seen if isinstance(seen, Rendered) else None
    areas = seen.areas if isinstance(seen, Rendered) else colour_areas(seen.shares)
    cloth = areas.pop(CLOTH, 0.0)
    own = {colour for placement in repeat.placements for colour in placement.motif.colours}
    ground = None if repeat.ground is None else repeat.ground.colour
    own |= set() if ground is None else {ground}
    ramps = ramps_of(repeat)
    for colour in own - {ground}:
        areas.setdefault(colour, 0.0)
    total = float(repeat.lattice.area)
    order = sorted(areas, key=lambda colour: (-areas[colour], colour))
    sums = _summed(grouped_within(order, merge), areas)
    if most is None and (ramps or rendering):
        most = MOST
    gathered = len(own) if most is not None and (rendering or len(sums) > most) else 0
    if gathered:
        # Of all that are as one the first is seen most.
        assert most is not None
        leads = reduction({group[0]: area for area, group in sums}, most).colours
        sums = _summed(_nearest(order, leads), areas)
    called = names_for([group[0] for _, group in sums], names or {})
    under = _by_most(ramps, {colour: group[0] for _, group in sums for colour in group})
    entries = (
        Entry(
            name,
            group[0],
            (group[0], *(c for c in group[1:] if not gathered or c in own)),
            area,
            area / total,
            ground in group,
            tuple(under[group[0]]),
        )
        for name, (area, group) in zip(called, sums, strict=True)
    )
    return Palette(tuple(entries), cloth / total, gathered, rendering.note if rendering else "")


def _summed(
    groups: Iterable[list[str]], areas: Mapping[str, float]
) -> list[tuple[float, list[str]]]:
    """Return groups of colours with what is seen of each, most first."""
    sums = [(sum(areas[colour] for colour in group), group) for group in groups]
    return sorted(sums, key=lambda item: (-item[0], item[1][0]))


def _nearest(colours: Sequence[str], leads: Sequence[str]) -> list[list[str]]:
    """Return a group for each of some colours, which leads it: all that it is nearest to."""
    groups = [[lead] for lead in leads]
    rest = [colour for colour in colours if colour not in set(leads)]
    if rest:
        for colour, n in zip(rest, differences(rest, leads).argmin(axis=1), strict=True):
            groups[n].append(colour)
    return groups


def ramps_of(repeat: Repeat) -> list[Ramp]:
    """Return the gradients of a repeat by the colours they run through, each once."""
    found: dict[Ramp, None] = {}
    for motif in dict.fromkeys(placement.motif for placement in repeat.placements):
        for node, _ in walk(motif.scene):
            for part in node.paints if isinstance(node, Path) else ():
                paint = part.paint
                if isinstance(paint, Gradient) and not is_stepped(paint.stops):
                    colours = [stop.colour for stop in paint.stops]
                    runs = [c for n, c in enumerate(colours) if n == 0 or c != colours[n - 1]]
                    if len(runs) > 1:
                        found[tuple(runs)] = None
    return list(found)


def _by_most(ramps: Iterable[Ramp], leads: Mapping[str, str]) -> dict[str, list[Ramp]]:
    """Return ramps by the main colour that most of their stops belong to, the first of them."""
    found: dict[str, list[Ramp]] = defaultdict(list)
    for ramp in ramps:
        mains = [leads[colour] for colour in ramp]
        found[max(mains, key=mains.count)].append(ramp)
    return found


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
    names = list(colours)
    lab = lab_of(rgb_of(names))
    far, nearest = np.full(len(names), np.inf), np.zeros(len(names), np.int64)
    groups: list[list[str]] = []
    for n, colour in enumerate(names):
        if far[n] <= limit:
            groups[nearest[n]].append(colour)
            continue
        # All that are still to come are held against each that leads.
        apart = ciede2000(lab[n + 1 :], lab[n])
        nearer = np.flatnonzero(apart < far[n + 1 :]) + n + 1
        far[nearer], nearest[nearer] = apart[nearer - n - 1], len(groups)
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
