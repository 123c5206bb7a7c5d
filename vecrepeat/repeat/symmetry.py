"""Turnovers and plane groups: a layout as coset operations plus a lattice.

Whatever mirrors, turns or glides, the endless cloth is still carried onto itself by a lattice
of plain translations. So every such layout is brought to that form: a cell that repeats by
translation alone, and the operations that fill the cell from what was drawn. Wrapping, writing
and checking then know nothing of mirrors.

Source: International Tables for Crystallography vol. A, *The 17 plane groups*: general
positions and asymmetric units, from memory; the tests hold the positions against the
space-group tables of the library gemmi.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from vecrepeat.core.errors import InputError

if TYPE_CHECKING:
    from vecrepeat.core.geometry import Affine

F = Fraction
HALF = F(1, 2)


class Operation(NamedTuple):
    """One symmetry of the plane in the cell's own coordinates, along its two axes.

    x' = a·x + c·y + e, y' = b·x + d·y + f; the matrix is of whole numbers, e and f are exact
    fractions of the cell.
    """

    a: int
    b: int
    c: int
    d: int
    e: Fraction
    f: Fraction

    @property
    def keeps_axes(self) -> bool:
        """Whether it only mirrors, half-turns and moves: rows of pixels stay rows."""
        return self.b == self.c == 0


@dataclass(frozen=True)
class Symmetry:
    """How a cell is filled from what was drawn.

    Attributes:
        name: the layout's name.
        operations: one for each coset, the identity first.
        region: a smallest part of the cell that the operations make the whole plane of, as
            a polygon in the cell's coordinates.
        axes: the cell's two axes in mm: (ax, ay, bx, by).
    """

    name: str
    operations: tuple[Operation, ...]
    region: tuple[tuple[Fraction, Fraction], ...]
    axes: tuple[float, float, float, float]

    @property
    def transforms(self) -> tuple[Affine, ...]:
        """The operations as maps of the plane in mm."""
        # Layouts are parsed before anything is known to need numpy.
        from vecrepeat.core.geometry import Affine

        basis = Affine(*self.axes)
        back = basis.inverse()
        return tuple(
            basis @ Affine(o.a, o.b, o.c, o.d, float(o.e), float(o.f)) @ back
            if not o.keeps_axes or self.axes[1] or self.axes[2]
            # Along upright axes without a detour, so that mirrors have no rounding in them.
            else Affine(o.a, 0.0, 0.0, o.d, float(o.e) * self.axes[0], float(o.f) * self.axes[3])
            for o in self.operations
        )

    @property
    def region_mm(self) -> list[tuple[float, float]]:
        """The region's corners in mm."""
        ax, ay, bx, by = self.axes
        return [
            (float(u) * ax + float(v) * bx, float(u) * ay + float(v) * by) for u, v in self.region
        ]


def _positions(text: str) -> tuple[Operation, ...]:
    """Read general positions such as ``x,y; -x,y+1/2``."""
    return tuple(_position(part) for part in text.split(";"))


def _position(text: str) -> Operation:
    rows = []
    for part in text.split(","):
        terms = {name: sign for sign, name in re.findall(r"(-?)(x|y|\d+/\d+)", part)}
        x, y = (int(f"{terms.pop(name)}1") if name in terms else 0 for name in "xy")
        rows.append((x, y, sum(map(F, terms), F(0))))
    (a, c, e), (b, d, f) = rows
    return Operation(a, b, c, d, e, f)


def _centred(operations: tuple[Operation, ...]) -> tuple[Operation, ...]:
    return operations + tuple(
        o._replace(e=(o.e + HALF) % 1, f=(o.f + HALF) % 1) for o in operations
    )


def _corners(text: str) -> tuple[tuple[Fraction, Fraction], ...]:
    """Read a polygon such as ``0 0, 1/2 0, 0 1/2``."""
    return tuple((F(u), F(v)) for u, v in (point.split() for point in text.split(",")))


_P2MM = _positions("x,y; -x,-y; -x,y; x,-y")
_P4 = _positions("x,y; -x,-y; -y,x; y,-x")
_P3 = _positions("x,y; -y,x-y; -x+y,-x")
_M1 = _positions("-y,-x; -x+y,y; x,x-y")
_1M = _positions("y,x; x-y,-y; -x,-x+y")
_TURNED = _positions("-x,-y; y,-x+y; x-y,x")
_WHOLE = "0 0, 1 0, 1 1, 0 1"
_QUARTER = "0 0, 1/2 0, 1/2 1/2, 0 1/2"
_KITE = "0 0, 1/2 0, 2/3 1/3, 1/2 1/2"

GROUPS: dict[str, tuple[tuple[Operation, ...], str]] = {
    "p1": (_positions("x,y"), _WHOLE),
    "p2": (_positions("x,y; -x,-y"), "0 0, 1 0, 1 1/2, 0 1/2"),
    "pm": (_positions("x,y; -x,y"), "0 0, 1/2 0, 1/2 1, 0 1"),
    "pg": (_positions("x,y; -x,y+1/2"), "0 0, 1 0, 1 1/2, 0 1/2"),
    "cm": (_centred(_positions("x,y; -x,y")), _QUARTER),
    "p2mm": (_P2MM, _QUARTER),
    "p2mg": (_positions("x,y; -x,-y; -x+1/2,y; x+1/2,-y"), "0 0, 1/4 0, 1/4 1, 0 1"),
    "p2gg": (_positions("x,y; -x,-y; -x+1/2,y+1/2; x+1/2,-y+1/2"), _QUARTER),
    "c2mm": (_centred(_P2MM), "0 0, 1/4 0, 1/4 1/2, 0 1/2"),
    "p4": (_P4, _QUARTER),
    "p4mm": (_P4 + _positions("-x,y; x,-y; y,x; -y,-x"), "0 0, 1/2 1/2, 0 1/2"),
    "p4gm": (
        _P4 + _positions("-x+1/2,y+1/2; x+1/2,-y+1/2; y+1/2,x+1/2; -y+1/2,-x+1/2"),
        "0 0, 1/2 0, 0 1/2",
    ),
    "p3": (_P3, "0 0, 1/2 0, 2/3 1/3, 1/3 2/3, 0 1/2"),
    "p3m1": (_P3 + _M1, "0 0, 2/3 1/3, 1/3 2/3"),
    "p31m": (_P3 + _1M, _KITE),
    "p6": (_P3 + _TURNED, _KITE),
    "p6mm": (_P3 + _TURNED + _M1 + _1M, "0 0, 1/2 0, 2/3 1/3"),
}
"""General positions and asymmetric unit of each plane group, by its name."""

SQUARE = frozenset(("p4", "p4mm", "p4gm"))
HEXAGONAL = frozenset(("p3", "p3m1", "p31m", "p6", "p6mm"))

FORMS = tuple(
    f"{what}-{way}" for what in ("turnover", "half-turn") for way in ("across", "down", "both")
)
"""How neighbouring tiles may be turned: over like the page of a book, or by half a turn."""

ROOT_3 = F(math.isqrt(3 * 10**30), 10**15)
"""√3 to 15 decimals, as an exact number."""


class Cell(NamedTuple):
    """A layout brought to cells that repeat by translation alone.

    Attributes:
        width: of the cell in mm.
        height: of the cell in mm.
        kind: ``block``, ``drop`` or ``brick``.
        shift: k/n, see :class:`vecrepeat.repeat.layout.Layout`.
        symmetry: what fills the cell.
    """

    width: Fraction
    height: Fraction
    kind: str
    shift: Fraction
    symmetry: Symmetry


def group_cell(name: str, width: Fraction, height: Fraction) -> Cell:
    """Return a plane group's conventional cell; the page is the cell.

    Hexagonal cells take the page's width as their side, and repeat as bricks of √3/2 times
    that height.

    Raises:
        InputError: a group with quarter turns on a page that is not square.
    """
    operations, region = GROUPS[name]
    kind, shift = "block", F(0)
    w, h = float(width), float(height)
    axes = (w, 0.0, 0.0, h)
    if name in SQUARE and width != height:
        raise InputError(
            f"layout “{name}” turns by quarters, and the page is {w:g} × {h:g} mm",
            hint="make the page square",
        )
    if name in HEXAGONAL:
        height = width * ROOT_3 / 2
        kind, shift = "brick", HALF
        axes = (w, 0.0, -w / 2, float(height))
    return Cell(width, height, kind, shift, Symmetry(name, operations, _corners(region), axes))


def turned_cell(
    name: str, kind: str, shift: Fraction, form: str, width: Fraction, height: Fraction
) -> Cell:
    """Return the cell of tiles that are turned over or by half a turn; the page is one tile.

    Args:
        name: the layout's name.
        kind: ``block``, ``drop`` or ``brick``: how the tiles lie.
        shift: by what fraction of a tile each next column drops, or row moves across.
        form: one of :data:`FORMS`. ``across`` turns every other column, ``down`` every other
            row, ``both`` columns and rows (half turns: like a chessboard).
        width: of the tile in mm.
        height: of the tile in mm.
    """
    if kind == "brick":
        # The same with rows for columns.
        swapped = {"across": "down", "down": "across", "both": "both"}
        what, _, way = form.rpartition("-")
        cell = turned_cell(name, "drop", shift, f"{what}-{swapped[way]}", height, width)
        operations = tuple(Operation(o.d, 0, 0, o.a, o.f, o.e) for o in cell.symmetry.operations)
        w, h = cell.height, cell.width
        region = tuple((v, u) for u, v in cell.symmetry.region)
        symmetry = Symmetry(name, operations, region, (float(w), 0.0, 0.0, float(h)))
        return Cell(w, h, "brick" if cell.shift else "block", cell.shift, symmetry)
    what, _, way = form.rpartition("-")
    across, down = F(1), F(1)  # the cell in tiles
    identity = Operation(1, 0, 0, 1, F(0), F(0))
    # A tile mirrored within itself is x → 1 tile − x. The next column is a tile on, and lower.
    if what == "turnover":
        over = Operation(-1, 0, 0, 1, F(2), shift)
        under = Operation(1, 0, 0, -1, F(0), F(2))
        if way == "across":
            across, operations, shift = F(2), (identity, over), 2 * shift
        elif way == "down":
            down, operations, shift = F(2), (identity, under), shift / 2
        else:
            across = down = F(2)
            both = Operation(-1, 0, 0, -1, F(2), shift + 2)
            operations = (identity, over, under, both)
    elif way == "across":
        across, operations = F(2), (identity, Operation(-1, 0, 0, -1, F(2), shift + 1))
        shift = 2 * shift
    else:
        down, operations = F(2), (identity, Operation(-1, 0, 0, -1, F(1), F(2)))
        # Like a chessboard, the next column is lower by one tile more.
        shift = shift / 2 if way == "down" else (shift + 1) / 2
    width, height, shift = width * across, height * down, shift % 1
    operations = tuple(_within(o._replace(e=o.e / across, f=o.f / down), shift) for o in operations)
    u, v = 1 / across, 1 / down
    region = ((F(0), F(0)), (u, F(0)), (u, v), (F(0), v))
    symmetry = Symmetry(name, operations, region, (float(width), 0.0, 0.0, float(height)))
    return Cell(width, height, "drop" if shift else "block", shift, symmetry)


def _within(operation: Operation, shift: Fraction) -> Operation:
    """Return the operation of the same coset whose move lies within the cell of a drop layout."""
    columns = operation.e // 1
    return operation._replace(e=operation.e % 1, f=(operation.f - columns * shift) % 1)
