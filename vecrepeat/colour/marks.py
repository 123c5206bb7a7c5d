"""Marks round a plate, outside the repeat: where plates come together, and which one it is."""

from __future__ import annotations

from typing import NamedTuple

import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.colour.separation import Plate, Separation
from vecrepeat.geometry import Rect

MARGIN = 14.0
"""Room for marks on each side, in mm."""

_RADIUS = 2.5
_ARM = 5.0
_LINE = 0.15
_PATCH = 5.0
"""Sizes of marks in mm (common practice, no source)."""


class Marks(NamedTuple):
    """Marks of one plate.

    Attributes:
        area: what is printed of them, in mm; outside the repeat.
        label: the plate in words.
        at: where the label's line begins, in mm.
        size: the label's height in mm.
    """

    area: BaseGeometry
    label: str
    at: tuple[float, float]
    size: float


def page_of(region: Rect, margin: float) -> Rect:
    """Return the plate's page: the repeat and its margin, in mm."""
    return region.grown(margin)


def marks(separation: Separation, plate: Plate, design: str) -> Marks:
    """Return a plate's marks.

    Registration marks lie outside the middle of each side, at the same place on every plate.
    Each plate prints one patch of a colour bar below the repeat, in printing order, so that
    plates printed together show all inks side by side.
    """
    region = separation.region
    middle_x, middle_y = (region.x0 + region.x1) / 2, (region.y0 + region.y1) / 2
    half = MARGIN / 2
    places = (
        (middle_x, region.y0 - half),
        (middle_x, region.y1 + half),
        (region.x0 - half, middle_y),
        (region.x1 + half, middle_y),
    )
    drawn = [_registration(x, y) for x, y in places]
    drawn.append(_corners(region))
    x = region.x0 + (plate.order - 1) * _PATCH
    y = region.y1 + half - _PATCH / 2
    drawn.append(shapely.box(x, y, x + _PATCH, y + _PATCH))
    count = len(separation.plates)
    label = f"{design}  plate {plate.order} of {count}  {plate.name}  {plate.colour}"
    if plate.overprints:
        label += "  overprints"
    at = (region.x0, region.y0 - half + 1.2)
    return Marks(shapely.union_all(drawn), label, at, 3.0)


def _registration(x: float, y: float) -> BaseGeometry:
    """Return a ring with a cross through it."""
    lines = shapely.multilinestrings(
        [[(x - _ARM, y), (x + _ARM, y)], [(x, y - _ARM), (x, y + _ARM)]]
    )
    ring = shapely.Point(x, y).buffer(_RADIUS, quad_segs=32).exterior
    return shapely.union_all(shapely.buffer([lines, ring], _LINE / 2, cap_style="flat"))


def _corners(region: Rect) -> BaseGeometry:
    """Return lines that point at the repeat's corners and stop short of them."""
    gap, length = 2.0, 5.0
    ends = []
    for x, out_x in ((region.x0, -1), (region.x1, 1)):
        for y, out_y in ((region.y0, -1), (region.y1, 1)):
            ends.append([(x + out_x * gap, y), (x + out_x * (gap + length), y)])
            ends.append([(x, y + out_y * gap), (x, y + out_y * (gap + length))])
    lines = shapely.multilinestrings(ends)
    return shapely.buffer(lines, _LINE / 2, cap_style="flat")
