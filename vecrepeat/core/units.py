"""Exact lengths and sizes.

Every length is a :class:`fractions.Fraction` of millimetres, so that a print size in
pixels is worked out without rounding until the one place where a whole number is needed.

Source of the ratios: CSS Values and Units Level 4 §6.2, *Absolute lengths*
(1in = 2.54cm = 96px = 72pt = 6pc), and the international yard of 0.9144 m, three feet
(from memory: the 1959 agreement).
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import NamedTuple

from vecrepeat.core.errors import InputError

MM_PER_INCH = Fraction(254, 10)

MM_PER_UNIT: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": MM_PER_INCH,
    "pt": MM_PER_INCH / 72,
    "pc": MM_PER_INCH / 6,
    "px": MM_PER_INCH / 96,
    "ft": MM_PER_INCH * 12,
    "yd": MM_PER_INCH * 36,
}

NOT_IN_SVG = frozenset(("m", "ft", "yd"))
"""Units that cloth and walls are measured in, which CSS does not have."""

_UNIT = "|".join(sorted(MM_PER_UNIT, key=len, reverse=True))
# A decimal (12.5, .5, 1e3), a vulgar fraction (1/2) or both (12 1/2).
_NUMBER = r"[+-]?(?:\d+\s+\d+\s*/\s*\d+|\d+\s*/\s*\d+|(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d{1,2})?)"
_LENGTH_RE = re.compile(rf"\s*({_NUMBER})\s*([a-zµ%\"″']*)\s*", re.IGNORECASE)
_SIZE_RE = re.compile(
    rf"\s*({_NUMBER})\s*({_UNIT})?\s*[x×]\s*({_NUMBER})\s*({_UNIT})?\s*", re.IGNORECASE
)
KNOWN = "mm, cm, m, in, ft, yd, pt, pc or px"
"""The units in words."""


class Size(NamedTuple):
    """A width and a height in millimetres."""

    width: Fraction
    height: Fraction


def _number(text: str) -> Fraction:
    """Parse the number part of a length; zero denominators are the only failure."""
    parts = re.sub(r"\s*/\s*", "/", text.strip()).split()
    size = sum((abs(Fraction(part)) for part in parts), Fraction(0))
    return -size if text.strip().startswith("-") else size


def _positive(number: str, unit: str, text: str, what: str, zero: bool = False) -> Fraction:
    try:
        value = _number(number)
    except ZeroDivisionError:
        raise InputError(f"{what} “{text}” divides by zero") from None
    if value < 0 or (value == 0 and not zero):
        raise InputError(
            f"{what} “{text}” is {'negative' if value else 'zero'}",
            hint="give zero or more" if zero else "give a size greater than zero",
        )
    return value * MM_PER_UNIT[unit]


def _shown(text: str) -> str:
    flat = " ".join(text.split())
    return flat if len(flat) <= 40 else flat[:39] + "…"


def parse_length(text: str, what: str = "length", *, zero: bool = False) -> Fraction:
    """Parse one positive length with its unit.

    Args:
        text: such as ``"12in"``, ``"53 cm"``, ``"1/2yd"`` or ``"25 1/4 in"``.
        what: the name of the quantity, for the error message.
        zero: whether it may be zero, as a bleed or a gap may.

    Returns:
        The length in millimetres, exactly.

    Raises:
        InputError: not a length, no unit or an unknown one, zero where it may not be, negative,
            NaN or infinite.

    >>> parse_length("1in")
    Fraction(127, 5)
    """
    shown = _shown(text)
    match = _LENGTH_RE.fullmatch(text)
    if match is None or len(text) > 64:
        raise InputError(
            f"{what} “{shown}” is not a length", hint="write a number and a unit: 12in"
        )
    number, unit = match.group(1), match.group(2).lower()
    if not unit:
        raise InputError(f"{what} “{shown}” has no unit", hint=f"add {KNOWN}")
    if unit not in MM_PER_UNIT:
        raise InputError(f"{what} “{shown}” has the unknown unit “{unit}”", hint=f"use {KNOWN}")
    return _positive(number, unit, shown, what, zero)


def parse_size(text: str, what: str = "size") -> Size:
    """Parse a width × height; a unit given once serves both.

    Args:
        text: such as ``"54x36in"``, ``"53cmx10.05m"`` or ``"54in x 1yd"``.
        what: the name of the quantity, for the error message.

    Returns:
        The size in millimetres, exactly.

    Raises:
        InputError: not two lengths, no unit or an unknown one, zero, negative, NaN or infinite.
    """
    shown = _shown(text)
    match = _SIZE_RE.fullmatch(text) if len(text) <= 128 else None
    if match is None:
        raise InputError(
            f"{what} “{shown}” is not width × height", hint=f"such as 54x36in; units: {KNOWN}"
        )
    w, wu, h, hu = match.groups()
    if wu is None and hu is None:
        raise InputError(f"{what} “{shown}” has no unit", hint=f"add {KNOWN}")
    wu, hu = (wu or hu).lower(), (hu or wu).lower()
    return Size(_positive(w, wu, shown, what), _positive(h, hu, shown, what))


def to_pixels(length: Fraction, dpi: Fraction) -> Fraction:
    """Return a length in mm as an exact number of pixels at ``dpi`` pixels per inch."""
    return length * dpi / MM_PER_INCH


def round_half_up(value: Fraction) -> int:
    """Round to the nearest whole number, halves upwards, exactly."""
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)


def format_mm(length: Fraction | float, digits: int = 2) -> str:
    """Format a length in mm for people, such as ``254 mm`` or ``1371.6 mm``."""
    text = f"{float(length):.{digits}f}"
    return f"{text.rstrip('0').rstrip('.') if digits else text} mm"


def counted(number: int, noun: str) -> str:
    """Return a number and its noun, such as ``1 motif`` or ``5,000 copies``."""
    if number != 1:
        noun = re.sub(r"(?<![aeiou])y$", "ie", noun) + "s"
    return f"{number:,} {noun}"


def format_bytes(size: int) -> str:
    """Return a file's size for people, such as ``12 kB`` or ``3.4 MB``."""
    return f"{size / 1e6:.1f} MB" if size >= 1e6 else f"{max(1, round(size / 1e3))} kB"
