"""Cuts and bolts of cloth by name, and a user's own.

All names and sizes here are common practice, no source: shops differ, so measure the bolt.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import MM_PER_INCH, parse_length, parse_size
from vecrepeat.util.files import read_toml


@dataclass(frozen=True)
class Cut:
    """A piece of cloth as shops sell it.

    Attributes:
        length: along the bolt in mm.
        width: across in mm; None for the bolt's whole width.
    """

    length: Fraction
    width: Fraction | None = None


def _inches(value: Fraction | int) -> Fraction:
    return value * MM_PER_INCH


CUTS: Mapping[str, Cut] = {
    "yard": Cut(_inches(36)),
    "half-yard": Cut(_inches(18)),
    "quarter-yard": Cut(_inches(9)),
    "fat-quarter": Cut(_inches(18), _inches(21)),
    "fat-eighth": Cut(_inches(9), _inches(21)),
    "metre": Cut(Fraction(1000)),
    "half-metre": Cut(Fraction(500)),
}

BOLTS: Mapping[str, Fraction] = {
    "quilting": _inches(44),
    "apparel": _inches(58),
    "upholstery": _inches(54),
    "wide-back": _inches(108),
    "110cm": Fraction(1100),
    "140cm": Fraction(1400),
    "150cm": Fraction(1500),
}
"""Widths from selvedge to selvedge in mm."""


@dataclass(frozen=True)
class Tables:
    """Cuts and bolts by name."""

    cuts: Mapping[str, Cut]
    bolts: Mapping[str, Fraction]

    def cut(self, name: str) -> Cut:
        """Return a cut by name, or of a length or ``width x length`` given as text.

        Raises:
            InputError: neither.
        """
        if name in self.cuts:
            return self.cuts[name]
        return _cut(name, f"cut “{name}”", f"known are {', '.join(self.cuts)}, or give a length")

    def bolt(self, name: str) -> Fraction:
        """Return a bolt's width by name, or of a length given as text.

        Raises:
            InputError: neither.
        """
        if name in self.bolts:
            return self.bolts[name]
        return _length(
            name, f"bolt “{name}”", f"known are {', '.join(self.bolts)}, or give a width"
        )


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
        own_cuts = {k: _cut(_text(k, v), k, "") for k, v in data.get("cuts", {}).items()}
        own_bolts = {k: _length(_text(k, v), k, "") for k, v in data.get("bolts", {}).items()}
    except InputError as error:
        raise InputError(error.what, file=path, hint=error.hint) from None
    return Tables({**CUTS, **own_cuts}, {**BOLTS, **own_bolts})


def _text(name: str, value: Any) -> str:
    if not isinstance(value, str):
        raise InputError(f"“{name}” is not a size", hint='such as "140cm"')
    return value


def _length(text: str, what: str, hint: str) -> Fraction:
    try:
        return parse_length(text, what)
    except InputError as error:
        raise InputError(error.what, hint=hint or error.hint) from None


def _cut(text: str, what: str, hint: str) -> Cut:
    if "x" in text or "×" in text:
        try:
            width, length = parse_size(text, what)
        except InputError as error:
            raise InputError(error.what, hint=hint or error.hint) from None
        return Cut(length, width)
    return Cut(_length(text, what, hint))
