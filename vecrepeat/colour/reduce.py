"""Art brought to a few flat colours, for processes with a limit on them.

Colours are merged one by one, each time the two whose merging moves the least: visible area
times ΔE2000. Gradients become steps of the colours that are left.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

import numpy as np

from vecrepeat.colour.flatten import CLOTH, WHITE, seen_colour
from vecrepeat.colour.gradients import Band, Banding, by_stops, colour_at, is_stepped
from vecrepeat.colour.recolour import recoloured
from vecrepeat.colour.visible import Visible
from vecrepeat.core.colours import differences
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.scene.nodes import Gradient, Group, Paint, Stop
from vecrepeat.scene.visit import repainted

SAMPLES = 48
"""Places along a gradient at which the nearest flat colour is looked up."""


@dataclass(frozen=True)
class Move:
    """A colour that has been merged into another.

    Attributes:
        colour: what it was.
        into: what it is now.
        area: what is seen of it in one tile's worth of cloth, in mm².
        difference: ΔE2000 between the two.
    """

    colour: str
    into: str
    area: float
    difference: float

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data, the area in cm²."""
        return {
            "colour": self.colour,
            "into": self.into,
            "area_cm2": self.area / 100,
            "delta_e": self.difference,
        }


@dataclass(frozen=True)
class Reduction:
    """A choice of flat colours and where all others go.

    Attributes:
        colours: those that are left, the most seen first.
        moves: the others, those that matter most first.
    """

    colours: tuple[str, ...]
    moves: tuple[Move, ...]
    _nearest: dict[str, str] = field(default_factory=dict, repr=False, compare=False)

    def nearest(self, colour: str) -> str:
        """Return the flat colour that stands for any colour."""
        if colour not in self._nearest:
            known = differences([colour], self.colours)[0]
            self._nearest[colour] = self.colours[int(known.argmin())]
        return self._nearest[colour]


def reduction(areas: Mapping[str, float], count: int, keep: Sequence[str] = ()) -> Reduction:
    """Choose flat colours for what is seen.

    Args:
        areas: mm² by ``#rrggbb``.
        count: how many colours may be left.
        keep: colours that must be among them.

    Raises:
        InputError: fewer than one colour, or fewer than are to be kept.
    """
    kept = list(dict.fromkeys(colour.lower() for colour in keep))
    if count < max(1, len(kept)):
        raise InputError(
            f"{count} colours are too few" + (f": {len(kept)} are to be kept" if kept else ""),
            hint="allow more",
        )
    names = list(dict.fromkeys([*areas, *kept]))
    if not names:
        return Reduction((), ())
    own = np.array([areas.get(name, 0.0) for name in names])
    weight = own.copy()
    apart = differences(names, names)
    alive = np.ones(len(names), bool)
    fixed = np.array([name in kept for name in names])
    while int(alive.sum()) > count:
        # The lesser of two goes into the greater; its area is what moves, by the distance.
        cost = weight[:, None] * apart
        cost[~alive] = cost[:, ~alive] = np.inf
        np.fill_diagonal(cost, np.inf)
        cost[fixed] = np.inf
        heavier = (weight[None, :] > weight[:, None]) | fixed[None, :]
        order = np.arange(len(names))
        tie = (weight[None, :] == weight[:, None]) & (order[None, :] < order[:, None])
        cost = np.where(heavier | tie, cost, np.inf)
        one, other = np.unravel_index(int(cost.argmin()), cost.shape)
        weight[other] += weight[one]
        alive[one] = False
    left = [n for n in np.argsort(-weight, kind="stable") if alive[n]]
    colours = [names[n] for n in left]
    moves = []
    for n in np.flatnonzero(~alive):
        far = differences([names[n]], colours)[0]
        into = int(far.argmin())
        moves.append(Move(names[n], colours[into], float(own[n]), float(far[into])))
    moves.sort(key=lambda move: -move.area * move.difference)
    return Reduction(tuple(colours), tuple(moves))


def flat_areas(seen: Visible, cloth: str = WHITE) -> dict[str, float]:
    """Return the area of each flat colour that is seen, in mm²; bare cloth is left out.

    Args:
        seen: what is seen of a repeat.
        cloth: the colour that shows through what is translucent.
    """
    found: dict[str, float] = {}
    for mix, area in seen.shares.items():
        if any(colour != CLOTH for colour, _ in mix):
            colour = seen_colour(mix, cloth)
            found[colour] = found.get(colour, 0.0) + area
    return found


def into_flats(reduction: Reduction, steps: int | None = None) -> Banding:
    """Return a banding of gradients into the flat colours of a reduction.

    Args:
        reduction: the flat colours.
        steps: at most how many bands a gradient has; by default as many as colours it passes.
    """

    @lru_cache
    def bands_of(stops: tuple[Stop, ...]) -> list[Band]:
        if is_stepped(stops):
            return [b._replace(colour=reduction.nearest(b.colour)) for b in by_stops(stops)]
        count = steps or SAMPLES
        first, last = stops[0].offset, stops[-1].offset
        bands: list[Band] = []
        for k in range(count):
            colour, opacity = colour_at(stops, first + (last - first) * (k + 0.5) / count)
            flat = reduction.nearest(colour)
            start = 0.0 if k == 0 else first + (last - first) * k / count
            end = 1.0 if k == count - 1 else first + (last - first) * (k + 1) / count
            if bands and (bands[-1].colour, bands[-1].opacity) == (flat, opacity):
                bands[-1] = bands[-1]._replace(end=end)
            else:
                bands.append(Band(start, end, flat, opacity))
        return bands

    return lambda stops: bands_of(tuple(stops))


def reduced(repeat: Repeat, choice: Reduction, *, steps: int | None = None) -> Repeat:
    """Return the art in flat colours: gradients in steps, every other colour moved.

    Opacities stay: where something shows through, more colours are seen.

    Args:
        repeat: the endless cloth.
        choice: the flat colours.
        steps: at most how many bands a gradient has.
    """
    banding = into_flats(choice, steps)

    def flattened(paint: Paint) -> Paint:
        return stepped(paint, banding) if isinstance(paint, Gradient) else paint

    motifs = {p.motif: _in_steps(p.motif, flattened) for p in repeat.placements}
    placements = tuple(replace(p, motif=motifs[p.motif]) for p in repeat.placements)
    colours = {c for p in repeat.placements for c in p.motif.colours}
    if repeat.ground is not None:
        colours.add(repeat.ground.colour)
    moved = {colour: choice.nearest(colour) for colour in sorted(colours)}
    return recoloured(replace(repeat, placements=placements), moved)


def _in_steps(motif: Motif, flattened: Callable[[Paint], Paint]) -> Motif:
    scene = repainted(motif.scene, flattened)
    assert isinstance(scene, Group)
    return replace(motif, scene=scene)


def stepped(gradient: Gradient, banding: Banding) -> Gradient:
    """Return a gradient with its bands as hard steps."""
    stops = (
        Stop(at, band.colour, band.opacity)
        for band in banding(gradient.stops)
        for at in (band.start, band.end)
    )
    return replace(gradient, stops=tuple(stops))
