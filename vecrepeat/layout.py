"""Layouts and their lattices: how one tile fills the plane.

A layout says how tiles tessellate, whatever their size: ``block``, ``drop k/n`` (each next
column shifted down by k/n of the tile's height) or ``brick k/n`` (each next row shifted
across by k/n of its width). Given a tile's size, it yields a :class:`Lattice`: two vectors
that carry the endless cloth onto itself.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from vecrepeat.errors import InputError

_SHAPE_RE = re.compile(r"(drop|brick)\s*[: ]\s*(\d{1,4})\s*/\s*(\d{1,4})")
_NAMED = {
    "block": ("block", 0, 1),
    "half-drop": ("drop", 1, 2),
    "brick": ("brick", 1, 2),
    "half-brick": ("brick", 1, 2),
}
MAX_STEPS = 1000
"""The longest cycle of columns or rows, so that a straight block stays of a sane size."""


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


@dataclass(frozen=True)
class Layout:
    """How tiles tessellate.

    Attributes:
        kind: ``"block"``, ``"drop"`` or ``"brick"``.
        shift: k/n, the fraction of the tile by which each next column (or row) moves,
            0 <= shift < 1, in lowest terms; 0 exactly when ``kind`` is ``"block"``.
    """

    kind: str = "block"
    shift: Fraction = Fraction(0)

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
        """Read ``block``, ``half-drop``, ``drop:k/n``, ``brick`` or ``brick:k/n``.

        Raises:
            InputError: anything else, a zero denominator, or more than 1,000 steps.
        """
        word = " ".join(text.strip().lower().split())
        if word in _NAMED:
            kind, k, n = _NAMED[word]
            return cls(kind, Fraction(k, n))
        match = _SHAPE_RE.fullmatch(word)
        if match is None:
            raise InputError(
                f"layout “{text.strip()[:40]}” is not known",
                hint="use block, half-drop, drop:1/3, brick or brick:1/3",
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
        if self.kind == "block":
            return "block"
        if self.shift == Fraction(1, 2):
            return "half-drop" if self.kind == "drop" else "brick"
        return f"{self.kind}:{self.shift}"

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
        """Return the lattice for a tile of ``width`` × ``height``, in their unit."""
        drop = self.shift * height if self.kind == "drop" else Fraction(0)
        across = self.shift * width if self.kind == "brick" else Fraction(0)
        return Lattice(Vector(Fraction(width), drop), Vector(across, Fraction(height)))
