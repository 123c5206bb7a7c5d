"""Separations: one plate a colour, each the area its ink is printed on.

Plates are knocked out: what is seen of a colour and nothing more. A trap then spreads the
lighter of two inks under the darker along the line where they meet, so that a press that is a
little out of register shows no bare cloth (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.areas import as_parts
from vecrepeat.colour.booleans import intersection, snapped, union
from vecrepeat.colour.contacts import Segments, contacts
from vecrepeat.colour.flatten import CLOTH, Mix, seen_colour
from vecrepeat.colour.reduce import Reduction
from vecrepeat.colour.spaces import lightness
from vecrepeat.colour.visible import Visible
from vecrepeat.geometry import Rect

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
        overprints: whether what lies below it is not knocked out.
    """

    order: int
    name: str
    colour: str
    area: BaseGeometry
    trap: BaseGeometry
    overprints: bool = False

    @property
    def printed(self) -> BaseGeometry:
        """All that the plate prints: what is seen and its trap."""
        return self.area if self.trap.is_empty else union([self.area, self.trap])


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
) -> Separation:
    """Separate what is seen into plates.

    Args:
        seen: what is seen of the repeat; its ``through`` colours overprint.
        choice: the inks, and which of them stands for any colour.
        region: in mm of the plane.
        names: ink's colour → name.
        trap: by how many mm the lighter ink is spread under the darker; 0 for none.
    """
    # Traps at the region's bounds come from what meets beyond them.
    wide = region.grown(2 * trap + 0.1) if trap > 0 else region
    ink: dict[Mix, str] = {}

    def ink_of(mix: Mix) -> str:
        if mix not in ink:
            bare = all(colour == CLOTH for colour, _ in mix)
            ink[mix] = CLOTH if bare else choice.nearest(seen_colour(mix))
        return ink[mix]

    areas = seen.grouped(wide, ink_of)
    cloth = areas.pop(CLOTH, shapely.Polygon())
    order = printing_order(areas)
    over = frozenset(choice.nearest(colour) for colour in seen.through)
    traps = _traps(areas, order, trap, over) if trap > 0 else {}
    if wide != region:
        box = shapely.box(*region)
        areas = {colour: intersection(area, box) for colour, area in areas.items()}
        traps = {colour: intersection(area, box) for colour, area in traps.items()}
        cloth = intersection(cloth, box)
    plates = tuple(
        Plate(
            number,
            names.get(colour, colour),
            colour,
            areas[colour],
            traps.get(colour, shapely.Polygon()),
            colour in over,
        )
        for number, colour in enumerate(order, 1)
    )
    return Separation(region, plates, cloth)


def _traps(
    areas: Mapping[str, BaseGeometry], order: Sequence[str], width: float, over: frozenset[str]
) -> dict[str, BaseGeometry]:
    """Return what each ink is spread by under the inks printed after it."""
    rank = {colour: number for number, colour in enumerate(order)}
    found: dict[str, list[BaseGeometry]] = {}
    for (one, other), lines in contacts(areas).items():
        light, dark = sorted((one, other), key=rank.__getitem__)
        if dark in over:
            continue
        spread = spread_along(lines, areas[dark], width)
        if not spread.is_empty:
            found.setdefault(light, []).append(spread)
    return {colour: union(parts) for colour, parts in found.items()}


def spread_along(lines: Segments, under: BaseGeometry, width: float) -> BaseGeometry:
    """Return the part of an area within a distance of the lines along which another meets it.

    Args:
        lines: from :func:`vecrepeat.colour.contacts.contacts`.
        under: the area to spread under, never past its outline.
        width: in mm.
    """
    runs = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(lines)))
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
        tuple(replace(p, area=larger(p.area), trap=larger(p.trap)) for p in separation.plates),
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


def are_valid(separation: Separation) -> bool:
    """Whether every plate is made of valid polygons."""
    areas = [geometry for p in separation.plates for geometry in (p.area, p.trap)]
    return bool(shapely.is_valid(as_parts(areas)).all())
