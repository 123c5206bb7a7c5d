"""Motifs that no other copy comes near: worked out once each, then laid wherever they stand.

What lies alone on the ground looks the same at each of its placements. So its areas by key are
united once in the motif's own space, and a region is put together of moved areas, without any
set operation: the ground is the region with the motif's outer lines as holes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.colour.booleans import difference, intersection, snapped
from vecrepeat.core.colours import Floats
from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.model import Repeat
from vecrepeat.repeat.wrap import copies
from vecrepeat.scene.areas import as_parts
from vecrepeat.scene.outline import DEFAULT_TOLERANCE

Key = TypeVar("Key", bound=Hashable)

SLACK = 2 * DEFAULT_TOLERANCE
"""By how much areas may reach beyond the outlines that copies are found by, in mm."""

_ROOM = 1.0
"""How much of the ground round a motif is looked at, in mm."""


@dataclass(frozen=True, eq=False)
class Stamp(Generic[Key]):
    """One motif alone on the ground.

    Attributes:
        areas: what is seen of each key but the ground's.
        open: where the ground's key is not seen; the areas together.
        rings: the outer lines of ``open``, as polygons.
        islands: where the ground's key is seen within them.
    """

    areas: Mapping[Key, BaseGeometry]
    open: BaseGeometry
    rings: tuple[BaseGeometry, ...]
    islands: tuple[BaseGeometry, ...]

    def transformed(self, change: Callable[[Floats], Floats]) -> Stamp[Key]:
        """Return the stamp with its corners mapped.

        They are not rounded: on the grid corners lie a thousand times farther apart than a
        turn in floating point is off, and rounding them again would cross many.
        """
        whole = as_parts([self.open, *self.areas.values(), *self.rings, *self.islands])
        new = shapely.transform(whole, change)
        for number in np.flatnonzero(~shapely.is_valid(new)):
            new[number] = snapped(new[number])
        count = 1 + len(self.areas)
        split = count + len(self.rings)
        return Stamp(
            dict(zip(self.areas, new[1:count], strict=True)),
            new[0],
            tuple(shapely.get_parts(new[count:split])),
            tuple(shapely.get_parts(new[split:])),
        )

    def moved(self, dx: float, dy: float) -> Stamp[Key]:
        """Return the stamp moved."""
        return self.transformed(lambda xy: xy + np.array([dx, dy]))


def stamp_of(own: Mapping[Key, BaseGeometry], opened: BaseGeometry) -> Stamp[Key]:
    """Return a stamp of areas, and of where the ground is not seen."""
    if opened.is_empty:
        return Stamp(own, opened, (), ())
    outside, islands = around(opened, _ROOM)
    rings = shapely.get_rings(outside)[1:]
    return Stamp(own, opened, tuple(shapely.polygons(rings)), tuple(islands))


def around(opened: BaseGeometry, room: float) -> tuple[BaseGeometry, list[BaseGeometry]]:
    """Return the ground round an area, as far as a box, and the ground within its holes."""
    x0, y0, x1, y1 = opened.bounds
    box = Rect(x0, y0, x1, y1).grown(room)
    parts = list(shapely.get_parts(difference(shapely.box(*box), opened)))
    outer = min(range(len(parts)), key=lambda n: parts[n].bounds[0])
    return parts[outer], parts[:outer] + parts[outer + 1 :]


def laid(
    repeat: Repeat,
    region: Rect,
    stamps: Mapping[int, Stamp[Key]],
    rest: Mapping[Key, BaseGeometry],
    ground: Key,
    reach: float = 0.0,
) -> dict[Key, BaseGeometry]:
    """Return areas by key in a region: the rest, and stamps laid on its ground.

    Args:
        repeat: the endless cloth.
        region: in mm of the plane.
        stamps: by the number of the placement, in mm of the tile.
        rest: what is seen in the region if those placements are left out.
        ground: the ground's key.
        reach: how far in mm stamps spread beyond their motifs' outlines.
    """
    box = shapely.box(*region)
    found: dict[Key, list[BaseGeometry]] = defaultdict(list)
    rings: list[Sequence[BaseGeometry]] = []
    cut: list[BaseGeometry] = []
    for copy in copies(repeat, region.grown(SLACK + reach)):
        if copy.placement not in stamps:
            continue
        whole = stamps[copy.placement]
        if whole.open.is_empty:
            continue
        if copy.is_wrap:
            offset = repeat.lattice.at(copy.i, copy.j)
            whole = whole.moved(float(offset.x), float(offset.y))
        x0, y0, x1, y1 = shapely.total_bounds([whole.open, *whole.areas.values()])
        if x0 > region.x1 or y0 > region.y1 or x1 < region.x0 or y1 < region.y0:
            continue
        if x0 > region.x0 and y0 > region.y0 and x1 < region.x1 and y1 < region.y1:
            for key, area in whole.areas.items():
                found[key].append(area)
            found[ground] += whole.islands
            if whole.rings:
                rings.append(whole.rings)
            continue
        for key, area in whole.areas.items():
            found[key].append(intersection(area, box))
        cut.append(whole.open)
    base = rest.get(ground, shapely.Polygon())
    if cut:
        base = difference(base, together(cut))
    found[ground].append(_opened(base, rings))
    for key, area in rest.items():
        if key != ground:
            found[key].append(area)
    gathered = {key: together(areas) for key, areas in found.items()}
    return {key: area for key, area in gathered.items() if not area.is_empty}


def together(areas: Iterable[BaseGeometry]) -> BaseGeometry:
    """Return areas that do not meet as one."""
    parts = shapely.get_parts(as_parts(list(areas)))
    parts = parts[~shapely.is_empty(parts)]
    return parts[0] if len(parts) == 1 else shapely.multipolygons(parts)


def _opened(base: BaseGeometry, rings: Sequence[Sequence[BaseGeometry]]) -> BaseGeometry:
    """Return the ground with holes in it, each set of them within one of its parts."""
    parts = shapely.get_parts(base)
    if not rings or not len(parts):
        return base
    shapely.prepare(parts)
    first = np.array([shapely.get_coordinates(own[0])[0] for own in rings])
    holes: list[list[BaseGeometry]] = [[] for _ in parts]
    inside = np.zeros(len(rings), np.int64)
    if len(parts) > 1:
        within = np.stack([shapely.contains_xy(part, first) for part in parts])
        inside = within.argmax(axis=0)
    for own, number in zip(rings, inside.tolist(), strict=True):
        holes[number] += [ring.exterior for ring in own]
    opened = []
    for part, own in zip(parts, holes, strict=True):
        outer, *old = shapely.get_rings(part)
        opened.append(shapely.polygons(outer, holes=[*old, *own]) if own else part)
    return together(opened)
