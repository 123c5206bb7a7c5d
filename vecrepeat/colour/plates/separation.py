"""Separations: one plate a colour, each the area its ink is printed on.

Plates are knocked out: what is seen of a colour and nothing more. A trap then spreads the
lighter of two inks under the darker along the line where they meet, so that a press that is a
little out of register shows no bare cloth (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.colour.booleans import difference, intersection, snapped, union, within
from vecrepeat.colour.contacts import contacts
from vecrepeat.colour.flatten import CLOTH, WHITE, Mix, is_solid, seen_colour
from vecrepeat.colour.gradients import is_stepped
from vecrepeat.colour.painted import beyond_shapes
from vecrepeat.colour.reduce import Reduction
from vecrepeat.colour.stamps import Stamp, around, laid, stamp_of, together
from vecrepeat.colour.visible import Visible, ground_mix
from vecrepeat.core.colours import lightness
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.scene import kinds
from vecrepeat.scene.nodes import Gradient

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

    @cache
    def ink_of(mix: Mix) -> str:
        if all(colour == CLOTH for colour, _ in mix):
            return CLOTH
        ink = choice.nearest(seen_colour(mix, cloth or WHITE))
        return CLOTH if ink == cloth else ink

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

        @cache
        def trapped(motif: Motif, scale: float) -> tuple[Stamp[str], Stamp[str]]:
            """Return what a motif placed at a scale prints with its traps, and the traps alone."""
            own = plain[motif]
            if own.open.is_empty:
                return own, own
            width = trap / scale
            inks = dict(own.areas)
            if ground != CLOTH:
                outside, islands = around(own.open, 2 * width + 0.1)
                inks[ground] = together([outside, *islands])
            inks.pop(CLOTH, None)
            spread = _traps(inks, order, width, over, thin * width / trap)
            # The ground's own trap lies within the motif: there the ground is printed too.
            mine = spread.get(ground)
            opened = own.open if mine is None else difference(own.open, mine)
            printed = {
                colour: _both(area, spread.get(colour)) for colour, area in own.areas.items()
            }
            alone = Stamp(spread, union(list(spread.values())), (), ())
            return stamp_of(printed, opened), alone

        # Turns leave rounding in scales that are the same: the first stands for all of them.
        first: dict[tuple[Motif, float], float] = {}

        def both(motif: Motif, scale: float) -> tuple[Stamp[str], Stamp[str]]:
            return trapped(motif, first.setdefault((motif, round(scale, 9)), scale))

        full = seen.placed(lambda motif, scale: both(motif, scale)[0])
        spread = seen.placed(lambda motif, scale: both(motif, scale)[1])
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
        runs = shapely.line_merge(shapely.intersection(runs, firm[light]))
        near = shapely.buffer(shapely.get_parts(runs), width, quad_segs=_QUARTER)
        spread = intersection(union(list(near)), areas[dark])
        if not spread.is_empty:
            found.setdefault(light, []).append(spread)
    return {colour: union(parts) for colour, parts in found.items()}


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


def refuse_unshaped(repeat: Repeat) -> None:
    """Refuse art of which the geometry does not tell where its ink is.

    Raises:
        InputError: it holds text, pictures, masks, filters or the like.
    """
    for placement in repeat.placements:
        for feature in beyond_shapes(placement.motif):
            text = feature.kind == kinds.TEXT
            raise InputError(
                f"it uses a {feature.kind} (“{feature.element}”), which has no exact areas",
                element=placement.motif.name,
                hint="leave out --live-text" if text else "redraw it in shapes, or use --soft tint",
            )


def refuse_soft(seen: Visible) -> None:
    """Refuse gradients that are not steps, and opacity.

    Raises:
        InputError: some of it is seen.
    """
    for motif, faces in seen.motifs.items():
        for _, mix in faces:
            soft = None
            if not is_solid(mix) or len(mix) > 1:
                soft = "opacity"
            elif isinstance(mix[0][0], Gradient) and not is_stepped(mix[0][0].stops):
                soft = f"the gradient “{mix[0][0].name}”"
            if soft is not None:
                raise InputError(
                    f"{soft} has no flat colour to make a plate of",
                    element=motif.name,
                    hint="choose --soft flat, halftone or tint",
                )
