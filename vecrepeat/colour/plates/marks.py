"""Marks round a plate, outside the repeat: where plates come together, and which one it is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.colour.plates.separation import Plate, Separation
from vecrepeat.core.geometry import Rect

MARGIN = 14.0
"""Room for marks on each side, in mm."""

_RADIUS = 2.5
_ARM = 5.0
_LINE = 0.15
_PATCH = 5.0
_LETTER = 3.0
_CLEAR = 2.0
"""Sizes of marks in mm (common practice, no source)."""

_ADVANCE = 0.6
"""Room for a letter as a share of its size: no less than the mean of any plain sans-serif."""


class Words(NamedTuple):
    """A line of words.

    Attributes:
        text: the words.
        at: where it begins, in mm.
        size: its letters' height in mm.
    """

    text: str
    at: tuple[float, float]
    size: float


class Marks(NamedTuple):
    """Marks of one plate.

    Attributes:
        area: all that is printed of them but the label, in mm.
        label: the plate in words.
    """

    area: BaseGeometry
    label: Words


def marks(separation: Separation, plate: Plate, design: str) -> Marks:
    """Return a plate's marks.

    Registration marks lie outside the middle of each side, at the same place on every plate.
    Each plate prints one patch of a colour bar below the repeat, in printing order, so that
    plates printed together show all inks side by side.
    """
    region, count = separation.region, len(separation.plates)
    text = f"{design}  plate {plate.order} of {count}  {plate.name}  {plate.colour}"
    if plate.overprints:
        text += "  overprints"
    line = _in_a_row([text], region, region.x0 + _CLEAR)[0]
    return Marks(shapely.union_all([registration(region), patch(separation, plate)]), line)


def patch(separation: Separation, plate: Plate) -> BaseGeometry:
    """Return a plate's patch of the colour bar, in mm."""
    region = separation.region
    side = min(_PATCH, _half(region) / len(separation.plates))
    x = region.x0 + (plate.order - 1) * side
    y = region.y1 + MARGIN / 2 - side / 2
    return shapely.box(x, y, x + side, y + side)


def registration(region: Rect) -> BaseGeometry:
    """Return the marks that every plate prints alike, in mm."""
    middle_x, middle_y = (region.x0 + region.x1) / 2, (region.y0 + region.y1) / 2
    half = MARGIN / 2
    places = (
        (middle_x, region.y0 - half),
        (middle_x, region.y1 + half),
        (region.x0 - half, middle_y),
        (region.x1 + half, middle_y),
    )
    return shapely.union_all([*(_cross(x, y) for x, y in places), _corners(region)])


def together(separation: Separation, design: str) -> tuple[Words, list[Words]]:
    """Return the words round all plates in one: the design's, and each plate's in order.

    The design stands left of the mark in the middle, the plates' names right of it.
    """
    region, count = separation.region, len(separation.plates)
    head = _in_a_row([f"{design}  {count} plates"], region, region.x0 + _CLEAR)[0]
    middle = (region.x0 + region.x1) / 2 + _ARM + _CLEAR
    names = [f"{plate.order} {plate.name}  " for plate in separation.plates]
    return head, _in_a_row(names, region, middle)


def _half(region: Rect) -> float:
    """Return the room in mm beside the mark in the middle of a side."""
    return max(region.width / 2 - _ARM - 2 * _CLEAR, 1.0)


def _in_a_row(texts: Sequence[str], region: Rect, x: float) -> list[Words]:
    """Return words in a row above the repeat, made small enough not to run into a mark."""
    letters = sum(len(text) for text in texts)
    size = min(_LETTER, _half(region) / max(1, letters) / _ADVANCE)
    y = region.y0 - MARGIN / 2 + size * 0.4
    found = []
    for text in texts:
        found.append(Words(text, (x, y), size))
        x += len(text) * size * _ADVANCE
    return found


def _cross(x: float, y: float) -> BaseGeometry:
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
    return shapely.buffer(shapely.multilinestrings(ends), _LINE / 2, cap_style="flat")
