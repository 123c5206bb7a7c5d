"""What looks drawn by hand: crosshatch, dashes and scattered marks, uneven by a seed."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from random import Random

from vecrepeat.blenders.cloth import Cloth, Layer, Point, Shape, rounded
from vecrepeat.blenders.dots import strewn
from vecrepeat.blenders.settings import Blender
from vecrepeat.core.errors import InputError


def stroke(a: Point, b: Point, width: float, uneven: float, rng: Random) -> Shape:
    """Return a pen stroke: bowed a little, swelling and thinning, its ends round.

    Args:
        a: where it begins.
        b: where it ends.
        width: its thickness in the middle, about.
        uneven: how much a hand shows, 0 to 1.
        rng: chance.
    """
    (ax, ay), (bx, by) = a, b
    length = math.hypot(bx - ax, by - ay)
    ux, uy = (bx - ax) / length, (by - ay) / length
    count = max(4, min(12, round(length / (2.5 * width))))
    bow = uneven * (rng.random() - 0.5) * 0.09 * length
    lean, press = rng.random(), rng.random()
    spine, half = [], []
    for k in range(count + 1):
        t = k / count
        off = bow * math.sin(math.pi * t) + uneven * (rng.random() - 0.5) * 0.3 * width
        spine.append((ax + t * (bx - ax) - off * uy, ay + t * (by - ay) + off * ux))
        # Pressure is most a third or so along; it lifts towards the end.
        swell = math.cos(math.pi * (t - 0.25 - 0.3 * lean)) * (0.25 + 0.35 * press) - 0.15
        share = 1 + uneven * (swell + 0.3 * (rng.random() - 0.5))
        half.append(width / 2 * max(0.35, share) * (0.8 if k in (0, count) else 1.0))
    upper = [(x + h * uy, y - h * ux) for (x, y), h in zip(spine, half, strict=True)]
    lower = [(x - h * uy, y + h * ux) for (x, y), h in zip(spine, half, strict=True)]
    first, last = 0.8 * half[0], 0.8 * half[-1]
    tip = (spine[-1][0] + last * ux, spine[-1][1] + last * uy)
    heel = (spine[0][0] - first * ux, spine[0][1] - first * uy)
    return rounded([*upper, tip, *reversed(lower), heel])


def crosshatch(cloth: Cloth, told: Blender) -> list[Layer]:
    """Return lines of pen strokes on both diagonals; a second colour takes one of them."""
    turned = cloth.slides
    page = cloth.transposed() if turned else cloth
    rng = Random(told.seed)
    # Spacing is square to the lines, which are at 45 degrees where the tile allows.
    count = page.down(told.spacing * math.sqrt(2))
    period = page.height / count
    steps = max(1, round(page.width / period))
    drop = round(page.layout.shift * count)
    strokes: list[tuple[Shape, ...]] = []
    for slope in (1, -1):
        starts = [rng.random() for _ in range(count)]
        rise = slope * steps * period / page.width
        reach = math.hypot(1, rise)
        each = max(1, round(page.width * reach / told.length))
        step = page.width / each
        found = []
        for j in range(count):
            # The next tile takes this line up further down or up, where its own begins.
            other = starts[(j + slope * steps - drop) % count]
            ends = [starts[j] * step]
            for k in range(1, each):
                ends.append((k + starts[j] + told.uneven * 0.6 * (rng.random() - 0.5)) * step)
            ends.append(page.width + other * step)
            for start, end in pairwise(ends):
                gap = min((0.12 + 0.1 * rng.random()) * step, 1.2 * told.spacing / reach)
                if end - start < 2.5 * gap:
                    continue
                shift = told.uneven * (rng.random() - 0.5) * 0.35 * period
                tilt = told.uneven * (rng.random() - 0.5) * 0.25 * period
                a = (start + gap / 2, (j + 0.5) * period + rise * (start + gap / 2) + shift + tilt)
                b = (end - gap / 2, (j + 0.5) * period + rise * (end - gap / 2) + shift - tilt)
                found.append(stroke(a, b, told.size, told.uneven, rng))
        strokes.append(tuple(s.transposed() for s in found) if turned else tuple(found))
    first, second = told.colours[0], told.colours[-1]
    if first == second:
        return [Layer(first, (*strokes[0], *strokes[1]))]
    return [Layer(second, strokes[1]), Layer(first, strokes[0])]


def dashes(cloth: Cloth, told: Blender) -> list[Layer]:
    """Return rows of short strokes, every other row half a step on, colours in turn by row."""
    if told.way == "diagonal":
        raise InputError("blender.way: dashes run down or across")
    turned = told.way == "down"
    page = cloth.transposed() if turned else cloth
    turns = len(told.colours)
    rng = Random(told.seed)
    down = page.down(told.spacing, math.lcm(2, turns))
    # A gap as long as six tenths of a dash.
    across = page.across(told.length * 1.6)
    w, h = page.width / across, page.height / down
    found: list[list[Shape]] = [[] for _ in range(turns)]
    for j in range(down):
        for i in range(across):
            x = (i + 0.25 + j % 2 / 2 + told.uneven * 0.16 * (rng.random() - 0.5)) * w
            y = (j + 0.5 + told.uneven * 0.22 * (rng.random() - 0.5)) * h
            half = w / 3.2 * (1 + told.uneven * 0.3 * (rng.random() - 0.5))
            turn = told.uneven * 0.22 * (rng.random() - 0.5)
            dx, dy = half * math.cos(turn), half * math.sin(turn)
            one = stroke((x - dx, y - dy), (x + dx, y + dy), told.size, told.uneven, rng)
            found[j % turns].append(one.transposed() if turned else one)
    return [Layer(c, tuple(shapes)) for c, shapes in zip(told.colours, found, strict=True)]


def scatter(cloth: Cloth, told: Blender) -> list[Layer]:
    """Return small drawn marks, strewn evenly and turned freely, colours in turn."""
    from vecrepeat.blenders.points import dealt

    rng = Random(told.seed)
    turns = len(told.colours)
    found: list[list[Shape]] = [[] for _ in range(turns)]
    points = strewn(cloth, told, rng)
    colours = dealt(cloth.lattice, points, turns, rng)
    marks = dealt(cloth.lattice, points, len(told.marks), rng)
    for k, (x, y) in enumerate(points.tolist()):
        mark = MARKS[told.marks[marks[k]]]
        size = told.size * (1 + 0.25 * told.uneven * (rng.random() - 0.5))
        turn = 2 * math.pi * rng.random()
        c, s = size * math.cos(turn), size * math.sin(turn)
        for shape in mark(told.uneven, rng):
            turned = tuple((x + c * px - s * py, y + s * px + c * py) for px, py in shape.points)
            found[colours[k]].append(shape._replace(points=turned))
    return [Layer(c, tuple(shapes)) for c, shapes in zip(told.colours, found, strict=True)]


Mark = Callable[[float, Random], list[Shape]]
"""Draws a mark about the origin, about 1 across, the unit being its size."""


def _blade(a: Point, b: Point, width: float, uneven: float, rng: Random) -> Shape:
    """Return a leaf's blade from its foot to its tip."""
    (ax, ay), (bx, by) = a, b
    length = math.hypot(bx - ax, by - ay)
    ux, uy = (bx - ax) / length, (by - ay) / length
    bow = (rng.random() - 0.5) * uneven * 0.25 * length
    left, right = (0.5 + uneven * 0.3 * (rng.random() - 0.5) for _ in range(2))

    def at(t: float, off: float) -> Point:
        off += bow * math.sin(math.pi * t)
        return (ax + t * (bx - ax) - off * uy, ay + t * (by - ay) + off * ux)

    profile = ((0.04, 0.10), (0.2, 0.66), (0.42, 1.0), (0.66, 0.8), (0.88, 0.28))
    upper = [at(t, -width * left * p) for t, p in profile]
    lower = [at(t, width * right * p) for t, p in reversed(profile)]
    return rounded([at(0, 0), *upper, at(1, 0), *lower])


def _leaf(uneven: float, rng: Random) -> list[Shape]:
    return [_blade((-0.5, 0.0), (0.5, 0.0), 0.42, uneven, rng)]


def _sprig(uneven: float, rng: Random) -> list[Shape]:
    shapes = [stroke((-0.5, 0.0), (0.22, 0.0), 0.06, 0.5 * uneven, rng)]
    shapes.append(_blade((0.16, 0.0), (0.54, 0.0), 0.21, uneven, rng))
    for foot, side in ((-0.24, 1), (-0.08, -1), (0.08, 1)):
        turn = side * (0.85 + 0.25 * uneven * (rng.random() - 0.5))
        long = 0.4 * (1 + 0.3 * uneven * (rng.random() - 0.5))
        tip = (foot + long * math.cos(turn), long * math.sin(turn))
        shapes.append(_blade((foot, 0.0), tip, 0.2, uneven, rng))
    return shapes


def _flower(uneven: float, rng: Random) -> list[Shape]:
    shapes = []
    for k in range(5):
        turn = 2 * math.pi * (k / 5 + uneven * 0.03 * (rng.random() - 0.5))
        long = 0.5 * (1 + 0.2 * uneven * (rng.random() - 0.5))
        c, s = math.cos(turn), math.sin(turn)
        foot, tip = 0.11, long
        profile = ((0.0, 0.045), (0.35, 0.13), (0.7, 0.175), (0.94, 0.11))
        along = [(foot + t * (tip - foot), p) for t, p in profile]
        ring = [*((x, -p) for x, p in along), (tip, 0.0), *((x, p) for x, p in reversed(along))]
        shapes.append(rounded([(c * x - s * y, s * x + c * y) for x, y in ring]))
    return shapes


def _star(uneven: float, rng: Random) -> list[Shape]:
    shapes = []
    for k in range(3):
        turn = math.pi * (k / 3 + uneven * 0.05 * (rng.random() - 0.5))
        c, s = 0.45 * math.cos(turn), 0.45 * math.sin(turn)
        shapes.append(stroke((-c, -s), (c, s), 0.1, uneven, rng))
    return shapes


def _cross(uneven: float, rng: Random) -> list[Shape]:
    lean = uneven * 0.1 * (rng.random() - 0.5)
    return [
        stroke((-0.42, -lean), (0.42, lean), 0.14, uneven, rng),
        stroke((lean, -0.42), (-lean, 0.42), 0.14, uneven, rng),
    ]


def _ring(uneven: float, rng: Random) -> list[Shape]:
    outer, inner = [], []
    for k in range(10):
        turn = 2 * math.pi * k / 10
        c, s = math.cos(turn), math.sin(turn)
        r = 0.42 * (1 + 0.08 * uneven * (rng.random() - 0.5))
        thick = 0.12 * (1 + 0.6 * uneven * (rng.random() - 0.5))
        outer.append((r * c, r * s))
        inner.append(((r - thick) * c, (r - thick) * s))
    # The other way round, it is a hole.
    return [rounded(outer), rounded(inner[::-1])]


def _drop(uneven: float, rng: Random) -> list[Shape]:
    profile = ((-0.44, 0.02), (-0.2, 0.1), (0.05, 0.22), (0.28, 0.25), (0.44, 0.14))
    lean = uneven * 0.06 * (rng.random() - 0.5)
    upper = [(x, -p + lean) for x, p in profile]
    lower = [(x, p + lean) for x, p in reversed(profile)]
    return [rounded([*upper, (0.48, lean), *lower])]


MARKS: dict[str, Mark] = {
    "leaf": _leaf,
    "sprig": _sprig,
    "flower": _flower,
    "star": _star,
    "cross": _cross,
    "ring": _ring,
    "drop": _drop,
}
"""What a scatter may be of, by the names of :data:`vecrepeat.blenders.settings.MARKS`."""
