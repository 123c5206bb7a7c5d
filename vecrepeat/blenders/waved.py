"""Lattice, trellis and scallops: lines that cross or meet in openings, and scales."""

from __future__ import annotations

import math
from itertools import pairwise

from vecrepeat.blenders.cloth import Cloth, Layer, Point, Shape, arc, band, box, curve, straight
from vecrepeat.blenders.settings import Blender
from vecrepeat.scene.nodes import Ellipse

_DIAMOND, _OGEE = 4 / 3, 6 / 5
"""A diamond's and an ogee's height by its width (set by eye)."""

_STOP = 0.09
"""The radius of a dot in the middle of an opening, by the opening's width (set by eye)."""


def lattice(cloth: Cloth, told: Blender) -> list[Layer]:
    """Return straight lines crossing in diamonds; a second colour dots their middles."""
    steps = (told.spacing, told.spacing * _DIAMOND)
    if cloth.slides:
        turned = _lattice(cloth.transposed(), told, steps[::-1])
        return [layer.transposed() for layer in turned]
    return _lattice(cloth, told, steps)


def _lattice(cloth: Cloth, told: Blender, steps: tuple[float, float]) -> list[Layer]:
    across, down = cloth.across(steps[0]), cloth.down(steps[1])
    w, h = cloth.width / across, cloth.height / down
    # A line's thickness, downwards.
    half = told.size / 2 * math.hypot(1, h / w)
    rise = across * h
    lines = [
        band([(0.0, y0), (cloth.width, y1)], j * h - half, j * h + half)
        for j in range(down)
        for y0, y1 in ((0.0, rise), (0.0, -rise))
    ]
    layers = [Layer(told.colours[0], tuple(lines))]
    if len(told.colours) == 2:
        r = _STOP * told.spacing
        dots = [
            Ellipse((i + x) * w, (j + y) * h, r, r)
            for i in range(across)
            for j in range(down)
            for x, y in ((0.5, 0.0), (0.0, 0.5))
        ]
        layers.append(Layer(told.colours[1], tuple(dots)))
    return layers


def trellis(cloth: Cloth, told: Blender) -> list[Layer]:
    """Return waved lines that meet their neighbours in ogees; a second colour dots these."""
    across, down = 2 * cloth.across(told.spacing), cloth.down(told.spacing * _OGEE)
    step, h = cloth.width / across, cloth.height / down
    lines, dots = [], []
    # Where two meet they overlap by half: with edges in one place, these would be painted twice.
    reach = step / 2 - told.size / 4
    for i in range(across):
        sign = 1 if i % 2 == 0 else -1
        lines.append(_ribbon((i + 0.5) * step, sign * reach, h, down, told.size))
        y = h / 2 if sign == 1 else 0.0
        r = _STOP * told.spacing
        dots += [Ellipse((i + 1) * step, y + j * h, r, r) for j in range(down)]
    layers = [Layer(told.colours[0], tuple(lines))]
    if len(told.colours) == 2:
        layers.append(Layer(told.colours[1], tuple(dots)))
    return layers


_PIECES = 12
"""Cubics to a wave's period."""


def _ribbon(x: float, reach: float, period: float, times: int, width: float) -> Shape:
    """Return a line of even thickness along x + reach · cos(2πy / period), and a little beyond."""
    turn = 2 * math.pi / period
    step = period / _PIECES
    count = _PIECES * times

    def edge(y: float, side: float) -> tuple[Point, Point]:
        """Return a point of an edge, and by how far it moves on in a third of a piece."""
        slope = -reach * turn * math.sin(turn * y)
        bend = -reach * turn * turn * math.cos(turn * y)
        length = math.hypot(1, slope)
        at = (
            x + reach * math.cos(turn * y) + side * width / 2 / length,
            y - side * width / 2 * slope / length,
        )
        # An edge is shorter inside a bend.
        grows = (1 - side * width / 2 * bend / length**3) * step / 3
        return at, (slope * grows, grows)

    def along(side: float, places: range) -> list[tuple[Point, Point, Point]]:
        found = []
        way = places.step
        for k in places:
            (ax, ay), (adx, ady) = edge(k * step, side)
            (bx, by), (bdx, bdy) = edge((k + way) * step, side)
            first, second = (ax + way * adx, ay + way * ady), (bx - way * bdx, by - way * bdy)
            found.append((first, second, (bx, by)))
        return found

    # At its ends it runs straight down; a tongue goes on, in from its edges.
    over, end, half, inner = width / 8, times * period, width / 2, width / 4
    at = x + reach
    tongue = [(-half, 0.0), (-inner, 0.0), (-inner, over), (inner, over), (inner, 0.0), (half, 0.0)]
    tail = [(at + dx, end + dy) for dx, dy in tongue]
    head = [(at + dx, -dy) for dx, dy in reversed(tongue)]
    cubics = along(-1, range(0, count, 1))
    cubics += [straight(a, b) for a, b in pairwise(tail)]
    cubics += along(1, range(count, 0, -1))
    cubics += [straight(a, b) for a, b in pairwise(head)]
    return curve((at - half, 0.0), cubics)


def scallops(cloth: Cloth, told: Blender) -> list[Layer]:
    """Return rows of scales by their rims; further colours fill rows in turn."""
    rim, *fills = told.colours
    across = cloth.across(told.spacing)
    w = cloth.width / across
    down = cloth.down(w / 2, math.lcm(2, max(1, len(fills))))
    r, h = w / 2, cloth.height / down
    # Drawn as circles in rows r apart, then made as high as the rows are.
    squeeze = h / r
    rims: list[Shape] = []
    filled: list[list[Shape]] = [[] for _ in fills]
    scale, inside = _rim(r, told.size), _scale(r, told.size)
    for j in range(down):
        for i in range(across):
            x, y = (i + 0.25 + j % 2 / 2) * w, (j + 0.5) * r
            rims.append(_high(scale.moved(x, y), squeeze))
            if fills:
                filled[j % len(fills)].append(_high(inside.moved(x, y), squeeze))
    if fills:
        # Under the rest, so that no ground shows where scales meet.
        filled[0] = [box(-r, -h, cloth.width + r, cloth.height + h)]
    layers = [Layer(c, tuple(shapes)) for c, shapes in zip(fills, filled, strict=True)]
    return [*layers, Layer(rim, tuple(rims))]


def _high(shape: Shape, by: float) -> Shape:
    return shape._replace(points=tuple((x, y * by) for x, y in shape.points))


def _outer(r: float, width: float) -> float:
    """Return a rim's outer radius: neighbours overlap by half, so that no edges coincide."""
    return r + width / 4


def _rim(r: float, width: float) -> Shape:
    """Return the upper half of a ring, its feet a little down within the rims below."""
    outer, foot = _outer(r, width), width / 2
    inner = outer - width
    return curve(
        (-outer, 0.0),
        [
            *arc(0, 0, outer, math.pi, 2 * math.pi),
            straight((outer, 0.0), (outer, foot)),
            straight((outer, foot), (inner, foot)),
            straight((inner, foot), (inner, 0.0)),
            *arc(0, 0, inner, 2 * math.pi, math.pi),
            straight((-inner, 0.0), (-inner, foot)),
            straight((-inner, foot), (-outer, foot)),
            straight((-outer, foot), (-outer, 0.0)),
        ],
    )


def _scale(r: float, width: float) -> Shape:
    """Return the inside of a scale, to the middles of its own rim and of those below."""
    middle = _outer(r, width) - width / 2
    # Where the circles below, round (±r, r), come out beside it, and where they end.
    y = r - math.sqrt(middle**2 - (r - middle) ** 2)
    first = math.atan2(y - r, middle - r)
    return curve(
        (-middle, 0.0),
        [
            *arc(0, 0, middle, math.pi, 2 * math.pi),
            straight((middle, 0.0), (middle, y)),
            *arc(r, r, middle, first, -math.pi),
            straight((r - middle, r), (middle - r, r)),
            *arc(-r, r, middle, 0.0, -math.pi - first),
            straight((-middle, y), (-middle, 0.0)),
        ],
    )
