"""Stripes and chevrons: bands that run over the cloth without end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import accumulate

from vecrepeat.blenders.cloth import Cloth, Layer, Point, Shape, band
from vecrepeat.blenders.settings import NONE, Blender
from vecrepeat.core.errors import InputError

_MOST = 400
"""Stripes in turn, at most."""

_UNDER = 0.75
"""How much of the upper of two stripes the lower goes on under: past its middle, where it would
meet the one from the other side, and not to its end.
"""


def stripes(cloth: Cloth, told: Blender) -> list[Layer]:
    """Return stripes down or across the cloth, or on the diagonal."""
    sequence = sequence_of(told)
    if told.way == "down":
        return [layer.transposed() for layer in _running(cloth.transposed(), sequence)]
    if told.way == "across":
        return _running(cloth, sequence)
    if cloth.slides:
        return [layer.transposed() for layer in _slanting(cloth.transposed(), sequence)]
    return _slanting(cloth, sequence)


def _slanting(cloth: Cloth, sequence: Sequence[tuple[float, str]]) -> list[Layer]:
    # At 45 degrees each is √2 times as high as it is wide.
    count = cloth.down(_total(sequence) * math.sqrt(2))
    period = cloth.height / count
    rise = cloth.across(period) * period
    return _bands([(0.0, 0.0), (cloth.width, -rise)], sequence, count, period)


def chevron(cloth: Cloth, told: Blender) -> list[Layer]:
    """Return zigzag stripes, their legs at 45 degrees."""
    sequence = sequence_of(told)
    if told.way == "diagonal":
        raise InputError("blender.way: a chevron runs down or across")
    if told.way == "down":
        return [layer.transposed() for layer in _zigzag(cloth.transposed(), told, sequence)]
    return _zigzag(cloth, told, sequence)


def _zigzag(cloth: Cloth, told: Blender, sequence: Sequence[tuple[float, str]]) -> list[Layer]:
    zigs = cloth.across(told.spacing)
    leg = cloth.width / zigs / 2
    count = cloth.down(_total(sequence) * math.sqrt(2))
    spine = [(k * leg, leg * (k % 2)) for k in range(2 * zigs)]
    return _bands([*spine, (cloth.width, 0.0)], sequence, count, cloth.height / count)


def _running(cloth: Cloth, sequence: Sequence[tuple[float, str]]) -> list[Layer]:
    count = cloth.down(_total(sequence))
    return _bands([(0.0, 0.0), (cloth.width, 0.0)], sequence, count, cloth.height / count)


def sequence_of(told: Blender) -> list[tuple[float, str]]:
    """Return stripes in turn, width and colour; neighbours differ.

    Raises:
        InputError: all are of one colour.
    """
    colours = (*told.colours, NONE) if len(told.colours) == 1 else told.colours
    count = math.lcm(len(told.widths), len(colours))
    if count > _MOST:
        raise InputError(
            f"blender.widths: widths and colours come together again after {count} stripes only",
            hint="give as many of one as of the other",
        )
    found: list[tuple[float, str]] = []
    for k in range(count):
        width, colour = told.widths[k % len(told.widths)], colours[k % len(colours)]
        if found and found[-1][1] == colour:
            width += found.pop()[0]
        found.append((width, colour))
    if len(found) > 1 and found[0][1] == found[-1][1]:
        # The sequence goes round: its end is its beginning.
        found[0] = (found[0][0] + found.pop()[0], found[0][1])
    if len(found) == 1:
        raise InputError("blender.colours: stripes of one colour are a ground, not stripes")
    return found


def _total(sequence: Sequence[tuple[float, str]]) -> float:
    return sum(width for width, _ in sequence)


def _bands(
    spine: Sequence[Point], sequence: Sequence[tuple[float, str]], count: int, period: float
) -> list[Layer]:
    """Return all bands along a line, one layer for each colour.

    Where two meet, the lower goes on under the upper, so that no ground shows between.
    """
    rank = {NONE: -1}
    for _, colour in sequence:
        rank.setdefault(colour, len(rank))
    total = _total(sequence)
    ends = [end / total for end in accumulate(width for width, _ in sequence)]
    shapes: dict[str, list[Shape]] = {colour: [] for colour in rank if colour != NONE}
    for j in range(count):
        for k, (_, colour) in enumerate(sequence):
            if colour == NONE:
                continue
            start, end = ends[k - 1] if k else 0.0, ends[k]
            above, below = sequence[k - 1], sequence[(k + 1) % len(sequence)]
            if rank[above[1]] > rank[colour]:
                start -= _UNDER * above[0] / total
            if rank[below[1]] > rank[colour]:
                end += _UNDER * below[0] / total
            shapes[colour].append(band(spine, (j + start) * period, (j + end) * period))
    return [Layer(colour, tuple(found)) for colour, found in shapes.items()]
