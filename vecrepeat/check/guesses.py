"""Layouts that are tried where none is stated, or the one stated doesn't fit."""

from __future__ import annotations

from fractions import Fraction

from vecrepeat.repeat.layout import Layout

_SHIFTS = ((1, 2), (1, 3), (2, 3), (1, 4), (3, 4), (1, 5), (2, 5), (3, 5), (4, 5))

GUESSED = (
    Layout(),
    *(Layout(kind, Fraction(k, n)) for kind in ("drop", "brick") for k, n in _SHIFTS),
)
"""Commonest first."""
