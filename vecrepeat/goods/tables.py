"""Cuts and bolts of cloth by name, and a user's own.

All names and sizes here are common practice, no source: shops differ, so measure the bolt.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, TypeVar

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import MM_PER_INCH, parse_length, parse_size
from vecrepeat.util.files import read_toml

_T = TypeVar("_T")


@dataclass(frozen=True)
class ClothCut:
    """A piece of cloth as shops sell it.

    Attributes:
        length: along the bolt in mm.
        width: across in mm; None for the bolt's whole width.
    """

    length: Fraction
    width: Fraction | None = None


CUTS: Mapping[str, ClothCut] = {
    "yard": ClothCut(36 * MM_PER_INCH),
    "half-yard": ClothCut(18 * MM_PER_INCH),
    "quarter-yard": ClothCut(9 * MM_PER_INCH),
    "fat-quarter": ClothCut(18 * MM_PER_INCH, 21 * MM_PER_INCH),
    "fat-eighth": ClothCut(9 * MM_PER_INCH, 21 * MM_PER_INCH),
    "metre": ClothCut(Fraction(1000)),
    "half-metre": ClothCut(Fraction(500)),
}

BOLTS: Mapping[str, Fraction] = {
    "quilting": 44 * MM_PER_INCH,
    "apparel": 58 * MM_PER_INCH,
    "upholstery": 54 * MM_PER_INCH,
    "wide-back": 108 * MM_PER_INCH,
    "110cm": Fraction(1100),
    "140cm": Fraction(1400),
    "150cm": Fraction(1500),
}
"""Widths from selvedge to selvedge in mm."""


@dataclass(frozen=True)
class Tables:
    """Cuts and bolts by name."""

    cuts: Mapping[str, ClothCut]
    bolts: Mapping[str, Fraction]

    def cut(self, name: str) -> ClothCut:
        """Return a cut by name, or of a length or ``width x length`` given as text.

        Raises:
            InputError: neither.
        """
        return self.cuts.get(name) or _parsed(parse_cut, "cut", name, self.cuts, "length")

    def bolt(self, name: str) -> Fraction:
        """Return a bolt's width by name, or of a length given as text.

        Raises:
            InputError: neither.
        """
        return self.bolts.get(name) or _parsed(parse_length, "bolt", name, self.bolts, "width")


def _parsed(
    parse: Callable[[str, str], _T], what: str, text: str, known: Iterable[str], size: str
) -> _T:
    try:
        return parse(text, f"{what} “{text}”")
    except InputError as error:
        hint = f"known are {', '.join(known)}, or give a {size}"
        raise InputError(error.what, hint=hint) from None


def read_tables(path: Path | None) -> Tables:
    """Return the built-in tables with a user's own on top.

    Args:
        path: a TOML file with a table ``cuts`` (name = "length" or "width x length") and a table
            ``bolts`` (name = "width"); None for none.

    Raises:
        InputError: it can't be read, or holds something else.
    """
    if path is None:
        return Tables(CUTS, BOLTS)
    data = read_toml(path, "table")
    for key, value in data.items():
        if key not in ("cuts", "bolts") or not isinstance(value, dict):
            raise InputError(
                f"“{key}” means nothing here", file=path, hint="write [cuts] and [bolts]"
            )
    try:
        own_cuts = {k: parse_cut(_text(k, v), k) for k, v in data.get("cuts", {}).items()}
        own_bolts = {k: parse_length(_text(k, v), k) for k, v in data.get("bolts", {}).items()}
    except InputError as error:
        raise InputError(error.what, file=path, hint=error.hint) from None
    return Tables({**CUTS, **own_cuts}, {**BOLTS, **own_bolts})


def _text(name: str, value: Any) -> str:
    if not isinstance(value, str):
        raise InputError(f"“{name}” is not a size", hint='such as "140cm"')
    return value


def parse_cut(text: str, what: str) -> ClothCut:
    """Parse a cut: a length, or ``width x length``.

    Raises:
        InputError: neither; ``what`` names the quantity in it.
    """
    if "x" in text or "×" in text:
        width, length = parse_size(text, what)
        return ClothCut(length, width)
    return ClothCut(parse_length(text, what))
