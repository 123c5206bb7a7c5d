"""Layouts and their lattices: how one tile fills the plane.

A layout says how tiles tessellate, whatever their size: ``block``, ``drop k/n`` (each next
column shifted down by k/n of the tile's height) or ``brick k/n`` (each next row shifted
across by k/n of its width), each also with tiles turned over or by half a turn; or it is one
of the 17 plane groups. Given a tile's size, a layout that only moves tiles yields a
:class:`Lattice`: two vectors that carry the endless cloth onto itself. The others are brought
to such a layout of larger cells by :meth:`Layout.cell`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import Any, NamedTuple

from vecrepeat.core.errors import InputError
from vecrepeat.repeat.symmetry import FORMS, GROUPS, Cell, group_cell, turned_cell

_SHAPE_RE = re.compile(r"(drop|brick)\s*[: ]\s*(\d{1,4})\s*/\s*(\d{1,4})")
_NAMED = {
    "block": ("block", 0, 1),
    "half-drop": ("drop", 1, 2),
    "brick": ("brick", 1, 2),
    "half-brick": ("brick", 1, 2),
}
MAX_STEPS = 1000
"""The longest cycle of columns or rows, so that a straight block stays of a sane size."""


Pair = tuple[float, float]
"""A displacement in floating point."""


class Vector(NamedTuple):
    """A displacement, exact, in the unit of the tile size it was made from."""

    x: Fraction
    y: Fraction


@dataclass(frozen=True)
class Lattice:
    """Two translations that carry the plane onto itself.

    Attributes:
        a: the step to the next column.
        b: the step to the next row.
    """

    a: Vector
    b: Vector

    def at(self, i: int, j: int) -> Vector:
        """Return i·a + j·b."""
        return Vector(i * self.a.x + j * self.b.x, i * self.a.y + j * self.b.y)

    @property
    def area(self) -> Fraction:
        """The area of one period, |det(a, b)|."""
        return abs(self.a.x * self.b.y - self.a.y * self.b.x)

    @cached_property
    def vectors(self) -> tuple[Pair, Pair]:
        """A and b in floating point."""
        return ((float(self.a.x), float(self.a.y)), (float(self.b.x), float(self.b.y)))

    @cached_property
    def shortest(self) -> tuple[Pair, Pair]:
        """Two shortest vectors that make the same lattice, the shorter first (Gauss)."""
        a, b = self.vectors
        for _ in range(10_000):
            if a[0] ** 2 + a[1] ** 2 > b[0] ** 2 + b[1] ** 2:
                a, b = b, a
            steps = round((a[0] * b[0] + a[1] * b[1]) / (a[0] ** 2 + a[1] ** 2))
            if steps == 0:
                break
            b = (b[0] - steps * a[0], b[1] - steps * a[1])
        return a, b


@dataclass(frozen=True)
class Layout:
    """How tiles tessellate.

    Attributes:
        kind: ``"block"``, ``"drop"`` or ``"brick"``.
        shift: k/n, the fraction of the tile by which each next column (or row) moves,
            0 <= shift < 1, in lowest terms; 0 exactly when ``kind`` is ``"block"``.
        form: how tiles are turned, one of :data:`vecrepeat.repeat.symmetry.FORMS`, or a plane
            group's name; empty where tiles only move.
        label: the name of the layout that these cells stand for, where there is another.
    """

    kind: str = "block"
    shift: Fraction = Fraction(0)
    form: str = ""
    label: str = ""

    def __post_init__(self) -> None:
        """Normalise a shift of whole tiles to the block layout it is."""
        if self.kind not in ("block", "drop", "brick"):
            raise ValueError(f"unknown layout kind: {self.kind}")
        shift = self.shift % 1
        object.__setattr__(self, "shift", shift)
        if shift == 0:
            object.__setattr__(self, "kind", "block")
        elif self.kind == "block":
            raise ValueError("a block layout has no shift")

    @classmethod
    def parse(cls, text: str) -> Layout:
        """Read a layout's name.

        That is ``block``, ``half-drop``, ``drop:k/n``, ``brick`` or ``brick:k/n``; one of these
        with a turned form, such as ``half-drop+turnover-across``; a turned form alone, which
        turns a block; or a plane group such as ``p4mm``.

        Raises:
            InputError: anything else, a zero denominator, or more than 1,000 steps.
        """
        word = " ".join(text.strip().lower().split())
        if word in GROUPS:
            return cls(form=word)
        base, plus, form = (part.strip() for part in word.partition("+"))
        if not plus and base in FORMS:
            base, form = "block", base
        elif plus and form not in FORMS:
            raise InputError(
                f"“{form[:40]}” is no way to turn tiles", hint=f"use {', '.join(FORMS)}"
            )
        return replace(cls._plain(base, text), form=form)

    @classmethod
    def _plain(cls, word: str, text: str) -> Layout:
        """Read a layout that only moves tiles."""
        if word in _NAMED:
            kind, k, n = _NAMED[word]
            return cls(kind, Fraction(k, n))
        match = _SHAPE_RE.fullmatch(word)
        if match is None:
            raise InputError(
                f"layout “{text.strip()[:40]}” is not known",
                hint="use block, half-drop, drop:1/3, brick or brick:1/3, with or without "
                "+turnover-across and the like, or a plane group such as p4mm",
            )
        k, n = int(match.group(2)), int(match.group(3))
        if n == 0:
            raise InputError(f"layout “{word}” divides by zero", hint="such as drop:1/3")
        layout = cls(match.group(1), Fraction(k, n))
        if layout.steps > MAX_STEPS:
            raise InputError(
                f"layout “{word}” repeats only after {layout.steps} steps",
                hint=f"use a denominator of at most {MAX_STEPS}",
            )
        return layout

    def __str__(self) -> str:
        """Return the name that :meth:`parse` reads back."""
        if self.label:
            return self.label
        if self.form in GROUPS:
            return self.form
        name = f"{self.kind}:{self.shift}"
        if self.kind == "block":
            name = "block"
        elif self.shift == Fraction(1, 2):
            name = "half-drop" if self.kind == "drop" else "brick"
        return f"{name}+{self.form}" if self.form else name

    def cell(self, width: Fraction, height: Fraction) -> Cell | None:
        """Return what stands for a form or group on a page in mm; None where tiles only move.

        Raises:
            InputError: a page that the plane group can't have.
        """
        if not self.form:
            return None
        if self.form in GROUPS:
            return group_cell(self.form, width, height)
        return turned_cell(str(self), self.kind, self.shift, self.form, width, height)

    @property
    def steps(self) -> int:
        """n: after so many columns (drop) or rows (brick) the tiles line up again."""
        return self.shift.denominator

    @property
    def straight_block(self) -> tuple[int, int]:
        """How many tiles (across, down) make the smallest rectangle that repeats straight."""
        if self.kind == "drop":
            return (self.steps, 1)
        if self.kind == "brick":
            return (1, self.steps)
        return (1, 1)

    def lattice(self, width: Fraction, height: Fraction) -> Lattice:
        """Return the lattice for a tile of ``width`` × ``height``, in their unit.

        Raises:
            ValueError: tiles are turned too: see :meth:`cell`.
        """
        if self.form:
            raise ValueError(f"{self} is more than a lattice")
        drop = self.shift * height if self.kind == "drop" else Fraction(0)
        across = self.shift * width if self.kind == "brick" else Fraction(0)
        return Lattice(Vector(Fraction(width), drop), Vector(across, Fraction(height)))

    def as_dict(self, width: Fraction, height: Fraction) -> dict[str, Any]:
        """Return how tiles of a size in mm lie, as ``lattice.js`` takes it.

        Raises:
            ValueError: as :meth:`lattice`.
        """
        a, b = self.lattice(width, height).vectors
        return {"kind": self.kind, "cell": [float(width), float(height)], "a": a, "b": b}
