"""Separations: one plate a colour, each the area its ink is printed on.

Plates are knocked out: what is seen of a colour and nothing more. A trap then spreads the
lighter of two inks under the darker along the line where they meet, so that a press that is a
little out of register shows no bare cloth (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.colour.booleans import difference, intersection, snapped, union, within
from vecrepeat.colour.contacts import contacts
from vecrepeat.colour.flatten import CLOTH, WHITE, Mix, seen_colour
from vecrepeat.colour.reduce import Reduction
from vecrepeat.colour.stamps import Stamp, around, laid, loose, stamp_of, together
from vecrepeat.colour.visible import Visible, ground_mix
from vecrepeat.core.colours import lightness
from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.model import Motif

APART = 2.0
"""How many traps apart motifs must lie for their traps not to meet."""

THINNEST = 0.1
"""The thinnest line in mm that a screen holds (common practice, no source)."""

_QUARTER = 12
"""Chords to a quarter circle at a trap's round corners: 0.2 % of the trap short at most."""


@dataclass(frozen=True, eq=False)
class Plate:
    """What one ink is printed on.

    Attributes:
        order: place in the printing order, from 1.
        name: the ink's name.
        colour: ``#rrggbb``.
        area: what is seen of it, in mm; polygons in the separation's region.
        trap: by how much it is spread under darker inks.
        printed: all that the plate prints: the two together.
        overprints: whether what lies below it is not knocked out.
    """

    order: int
    name: str
    colour: str
    area: BaseGeometry
    trap: BaseGeometry
    printed: BaseGeometry
    overprints: bool = False


@dataclass(frozen=True, eq=False)
class Separation:
    """Plates over a region of the cloth, in printing order.

    Attributes:
        region: in mm of the plane; a straight block unless asked otherwise.
        plates: light to dark.
        cloth: where no ink is printed.
    """

    region: Rect
    plates: tuple[Plate, ...]
    cloth: BaseGeometry

    def coverage(self, plate: Plate) -> float:
        """Return the share of the cloth that a plate prints on, its trap included."""
        return float(plate.printed.area) / (self.region.width * self.region.height)


def printing_order(colours: Collection[str]) -> list[str]:
    """Return inks from light to dark by CIE L*."""
    return sorted(colours, key=lambda colour: (-lightness(colour), colour))


def separate(
    seen: Visible,
    choice: Reduction,
    region: Rect,
    *,
    names: Mapping[str, str],
    trap: float = 0.0,
    thin: float = THINNEST,
    cloth: str | None = None,
) -> Separation:
    """Separate what is seen into plates.

    Args:
        seen: what is seen of the repeat; its ``through`` colours overprint.
        choice: the inks, and which of them stands for any colour.
        region: in mm of the plane.
        names: ink's colour → name.
        trap: by how many mm the lighter ink is spread under the darker; 0 for none. What is seen
            must have been looked at :data:`APART` times as far apart.
        thin: lines thinner than so many mm do not print and are not spread.
        cloth: the colour of the cloth, which is no ink though ``choice`` has it.
    """
    ink: dict[Mix, str] = {}

    def ink_of(mix: Mix) -> str:
        if mix not in ink:
            bare = all(colour == CLOTH for colour, _ in mix)
            ink[mix] = CLOTH if bare else choice.nearest(seen_colour(mix, cloth or WHITE))
        return CLOTH if ink[mix] == cloth else ink[mix]

    repeat = seen.repeat
    ground = ink_of(ground_mix(repeat.ground))
    over = frozenset(choice.nearest(colour) for colour in seen.through)
    plain = seen.stamps(ink_of)
    # Traps at the region's bounds come from what meets beyond them.
    wide = region.grown(2 * trap + 0.1) if trap > 0 else region
    rest = seen.crowded(wide, ink_of)
    present = {*rest, *(colour for own in plain.values() for colour in own.areas)} - {CLOTH}
    order = printing_order(present)
    rest_traps: dict[str, BaseGeometry] = {}
    if trap > 0:
        inks = {colour: area for colour, area in rest.items() if colour != CLOTH}
        rest_traps = _traps(inks, order, trap, over, thin)
        box = shapely.box(*region)
        rest = {colour: within(area, box) for colour, area in rest.items()}
        rest_traps = {colour: within(area, box) for colour, area in rest_traps.items()}
    areas = laid(repeat, region, seen.placed(lambda motif, _: plain[motif]), rest, ground)
    traps, printed = rest_traps, areas
    if trap > 0:
        printed = {colour: _both(area, rest_traps.get(colour)) for colour, area in rest.items()}
    if trap > 0 and plain:
        sized = _Trapped(plain, order, ground, trap, thin, over)
        spread = seen.placed(lambda motif, scale: sized(motif, scale).spread)
        full = seen.placed(lambda motif, scale: sized(motif, scale).printed)
        printed = laid(repeat, region, full, printed, ground, trap)
        traps = laid(repeat, region, spread, rest_traps, "", trap)
    nothing = shapely.Polygon()
    bare = areas.pop(CLOTH, nothing)
    plates = tuple(
        Plate(
            number,
            names.get(colour, colour),
            colour,
            areas.get(colour, nothing),
            traps.get(colour, nothing),
            printed.get(colour, nothing),
            colour in over,
        )
        for number, colour in enumerate((c for c in order if c in areas), 1)
    )
    return Separation(region, plates, bare)


class _TrappedStamp(NamedTuple):
    """What traps add to a motif that lies alone, and what they make of it."""

    spread: Stamp[str]
    printed: Stamp[str]


class _Trapped:
    """Motifs that lie alone with their traps, once for each size they are placed at."""

    def __init__(
        self,
        plain: Mapping[Motif, Stamp[str]],
        order: Sequence[str],
        ground: str,
        trap: float,
        thin: float,
        over: frozenset[str],
    ) -> None:
        self._plain, self._order, self._ground = plain, order, ground
        self._trap, self._thin, self._over = trap, thin, over
        self._known: dict[tuple[Motif, float], _TrappedStamp] = {}

    def __call__(self, motif: Motif, scale: float) -> _TrappedStamp:
        key = (motif, round(scale, 9))
        if key not in self._known:
            self._known[key] = self._made(self._plain[motif], self._trap / scale)
        return self._known[key]

    def _made(self, own: Stamp[str], width: float) -> _TrappedStamp:
        if own.open.is_empty:
            return _TrappedStamp(own, own)
        inks = dict(own.areas)
        if self._ground != CLOTH:
            outside, islands = around(own.open, 2 * width + 0.1)
            inks[self._ground] = together([outside, *islands])
        inks.pop(CLOTH, None)
        traps = _traps(inks, self._order, width, self._over, self._thin * width / self._trap)
        # The ground's own trap lies within the motif: there the ground is printed too.
        mine = traps.get(self._ground)
        opened = own.open if mine is None else difference(own.open, mine)
        printed = {colour: _both(area, traps.get(colour)) for colour, area in own.areas.items()}
        return _TrappedStamp(loose(traps), stamp_of(printed, opened))


def _both(area: BaseGeometry, trap: BaseGeometry | None) -> BaseGeometry:
    return area if trap is None or trap.is_empty else union([area, trap])


def _traps(
    areas: Mapping[str, BaseGeometry],
    order: Sequence[str],
    width: float,
    over: frozenset[str],
    thin: float,
) -> dict[str, BaseGeometry]:
    """Return what each ink is spread by under the inks printed after it.

    What is too thin to print is not spread: it would print as specks with no ink beside them.
    """
    rank = {colour: number for number, colour in enumerate(order)}
    firm: dict[str, BaseGeometry] = {}
    found: dict[str, list[BaseGeometry]] = {}
    for (one, other), lines in contacts(areas).items():
        light, dark = sorted((one, other), key=rank.__getitem__)
        if dark in over:
            continue
        if light not in firm:
            # What is left of its border if all that is thinner is taken away.
            inner = shapely.buffer(areas[light], -thin / 2, join_style="mitre")
            firm[light] = shapely.buffer(inner, 0.6 * thin, quad_segs=3)
        runs = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(lines)))
        runs = shapely.multilinestrings(runs[shapely.length(runs) >= thin])
        spread = spread_along(shapely.intersection(runs, firm[light]), areas[dark], width)
        if not spread.is_empty:
            found.setdefault(light, []).append(spread)
    return {colour: union(parts) for colour, parts in found.items()}


def spread_along(lines: BaseGeometry, under: BaseGeometry, width: float) -> BaseGeometry:
    """Return the part of an area within a distance of the lines along which another meets it.

    Args:
        lines: where they meet.
        under: the area to spread under, never past its outline.
        width: in mm.
    """
    runs = shapely.get_parts(shapely.line_merge(lines))
    near = union(list(shapely.buffer(runs, width, quad_segs=_QUARTER)))
    return intersection(near, under)


def scaled(separation: Separation, factor: float) -> Separation:
    """Return a separation at another size."""
    if factor == 1:
        return separation

    def larger(area: BaseGeometry) -> BaseGeometry:
        return snapped(shapely.transform(area, lambda xy: xy * factor))

    return Separation(
        Rect(*(side * factor for side in separation.region)),
        tuple(
            replace(p, area=larger(p.area), trap=larger(p.trap), printed=larger(p.printed))
            for p in separation.plates
        ),
        larger(separation.cloth),
    )


def plate_facts(separation: Separation, plate: Plate, laydown: float | None) -> dict[str, Any]:
    """Return a plate's facts as plain data.

    Args:
        separation: the plates.
        plate: one of them.
        laydown: grams of ink on a square metre printed solid, where it is known.
    """
    coverage = separation.coverage(plate)
    facts: dict[str, Any] = {
        "order": plate.order,
        "name": plate.name,
        "colour": plate.colour,
        "overprints": plate.overprints,
        "area_cm2": plate.area.area / 100,
        "trap_cm2": plate.trap.area / 100,
        "coverage": coverage,
        "ink_cm2_per_m2": coverage * 10_000,
    }
    if laydown is not None:
        facts["ink_g_per_m2"] = coverage * laydown
    return facts
