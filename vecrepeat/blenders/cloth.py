"""What blenders are drawn on and of: a cloth that goes round, and flat shapes in one colour."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import NamedTuple

from vecrepeat.core.allowance import PLACEMENTS
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import number
from vecrepeat.repeat.layout import Lattice, Layout
from vecrepeat.scene.nodes import Ellipse

Point = tuple[float, float]


class Shape(NamedTuple):
    """A closed outline in mm.

    Attributes:
        points: its corners; of a curved one the start, then two control points and an end for
            each cubic.
        curved: whether it is of cubics.
    """

    points: tuple[Point, ...]
    curved: bool = False

    def data(self) -> str:
        """Return it as path data."""
        # A hundredth of a micrometre will do for curves; straight edges are exact.
        points = (
            [(round(x, 5), round(y, 5)) for x, y in self.points] if self.curved else self.points
        )
        said = [f"{number(x)} {number(y)}" for x, y in points]
        return f"M{said[0]}{'C' if self.curved else 'L'}{' '.join(said[1:])}Z"

    def moved(self, dx: float, dy: float) -> Shape:
        """Return it moved."""
        return self._replace(points=tuple((x + dx, y + dy) for x, y in self.points))

    def transposed(self) -> Shape:
        """Return it with rows for columns."""
        return self._replace(points=tuple((y, x) for x, y in self.points))


class Layer(NamedTuple):
    """Shapes of one colour; layers are painted in order, all copies of one before the next."""

    colour: str
    shapes: tuple[Shape | Ellipse, ...]

    def transposed(self) -> Layer:
        """Return it with rows for columns."""
        return self._replace(
            shapes=tuple(
                shape.transposed()
                if isinstance(shape, Shape)
                else Ellipse(shape.cy, shape.cx, shape.ry, shape.rx)
                for shape in self.shapes
            )
        )


@dataclass
class Cloth:
    """A tile and how the next ones lie.

    Attributes:
        width: in mm.
        height: in mm.
        layout: block, drop or brick.
        marks: how many go along each side, of those that were asked for.
        strays: by how much each step that was asked for had to change, as a share of it.
    """

    width: float
    height: float
    layout: Layout
    strays: list[float] = field(default_factory=list)
    marks: list[int] = field(default_factory=list)

    @property
    def lattice(self) -> Lattice:
        """Its lattice in mm."""
        return self.layout.lattice(Fraction(self.width), Fraction(self.height))

    def transposed(self) -> Cloth:
        """Return it with rows for columns."""
        kind = {"drop": "brick", "brick": "drop", "block": "block"}[self.layout.kind]
        return replace(
            self, width=self.height, height=self.width, layout=Layout(kind, self.layout.shift)
        )

    @property
    def slides(self) -> bool:
        """Whether the next row moves across, so that a slanting line meets itself further on.

        Slanting lines are then drawn on the cloth with rows for columns.
        """
        return self.layout.kind == "brick"

    def across(self, step: float, group: int = 1) -> int:
        """Return how many steps go across: whole groups, which a brick's shift divides."""
        return self._fitted(self.width, step, group, "brick")

    def down(self, step: float, group: int = 1) -> int:
        """Return how many steps go down: whole groups, which a drop's shift divides."""
        return self._fitted(self.height, step, group, "drop")

    def _fitted(self, side: float, step: float, group: int, kind: str) -> int:
        grain = group * (self.layout.steps if self.layout.kind == kind else 1)
        count = grain * max(1, math.floor(side / step / grain + 0.5))
        self.marks.append(count)
        if math.prod(self.marks) > PLACEMENTS:
            raise InputError(
                f"the tile would hold more than {PLACEMENTS:,} marks",
                hint="make them larger or the tile smaller",
            )
        self.strays.append(side / count / step - 1)
        return count


def curve(start: Point, cubics: Iterable[tuple[Point, Point, Point]]) -> Shape:
    """Return a closed shape of cubics."""
    return Shape((start, *(point for cubic in cubics for point in cubic)), True)


def straight(a: Point, b: Point) -> tuple[Point, Point, Point]:
    """Return a straight line as a cubic."""
    (ax, ay), (bx, by) = a, b
    third = ((bx - ax) / 3, (by - ay) / 3)
    return ((ax + third[0], ay + third[1]), (bx - third[0], by - third[1]), b)


def arc(x: float, y: float, r: float, start: float, end: float) -> list[tuple[Point, Point, Point]]:
    """Return an arc of a circle, angles in radians, as cubics of at most an eighth turn each.

    They are within 5 millionths of the radius (arithmetic, held to by a test).
    """
    count = max(1, math.ceil(abs(end - start) / (math.pi / 4) - 1e-9))
    step = (end - start) / count
    reach = 4 / 3 * math.tan(step / 4)
    found = []
    for k in range(count):
        a, b = start + k * step, start + (k + 1) * step
        ca, sa, cb, sb = math.cos(a), math.sin(a), math.cos(b), math.sin(b)
        found.append(
            (
                (x + r * (ca - reach * sa), y + r * (sa + reach * ca)),
                (x + r * (cb + reach * sb), y + r * (sb - reach * cb)),
                (x + r * cb, y + r * sb),
            )
        )
    return found


def rounded(points: Sequence[Point]) -> Shape:
    """Return a smooth closed shape through points (Catmull-Rom as cubics)."""
    n = len(points)
    cubics = []
    for k in range(n):
        (ax, ay), (bx, by), (cx, cy), (dx, dy) = (points[(k + j) % n] for j in (-1, 0, 1, 2))
        cubics.append(
            (
                (bx + (cx - ax) / 6, by + (cy - ay) / 6),
                (cx - (dx - bx) / 6, cy - (dy - by) / 6),
                (cx, cy),
            )
        )
    return curve(points[0], cubics)


def box(x0: float, y0: float, x1: float, y1: float) -> Shape:
    """Return a rectangle."""
    return Shape(((x0, y0), (x1, y0), (x1, y1), (x0, y1)))


_TONGUE = 0.1
"""By how many mm a band goes on under the next tile's.

A viewer that puts the tile's bound between pixels would else show a line there. It does so a
quarter in from the band's own edges, so that no edge is painted twice.
"""


def band(spine: Sequence[Point], top: float, bottom: float) -> Shape:
    """Return a band that runs on from the left of the tile to its right, without end.

    Args:
        spine: the line it follows, from x = 0 to the tile's width.
        top: how far above the line it begins, downwards.
        bottom: how far below the line it ends, downwards.
    """
    (x0, y0), (x1, y1) = spine[0], spine[-1]
    (xa, ya), (xb, yb) = spine[1], spine[-2]
    by = min(_TONGUE, (xa - x0) / 4, (x1 - xb) / 4)
    after = by * (ya - y0) / (xa - x0)
    before = -by * (y1 - yb) / (x1 - xb)
    inset = (bottom - top) / 4
    over, under = top + inset, bottom - inset
    upper = [(x, y + top) for x, y in spine]
    lower = [(x, y + bottom) for x, y in reversed(spine)]
    right, left = [(x1, y1), (x1 + by, y1 + after)], [(x0, y0), (x0 - by, y0 + before)]
    tongue = [(x, y + over) for x, y in right] + [(x, y + under) for x, y in reversed(right)]
    tail = [(x, y + under) for x, y in left] + [(x, y + over) for x, y in reversed(left)]
    return Shape((*upper, *tongue, *lower, *tail))
