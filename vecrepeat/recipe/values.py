"""Values of recipes: each function turns TOML's into ours, or says what was expected."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from vecrepeat.blenders.settings import MARKS, NONE
from vecrepeat.core.units import Size, parse_length, parse_size
from vecrepeat.repeat.layout import Layout

_COLOUR_RE = re.compile(r"#[0-9a-f]{6}", re.IGNORECASE)


class UnfitError(ValueError):
    """A value that a key can't have; the message says what was expected."""


def nearest(word: str, known: Sequence[str]) -> str | None:
    """Return the known word that one is most like, if any is like it."""
    # Most commands import this module, and few make an error.
    import difflib

    close = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.6)
    return close[0] if close else None


def read_words(value: Any) -> str:
    """Return a text; raise :class:`UnfitError` for anything else."""
    if not isinstance(value, str) or not value.strip():
        raise UnfitError("a text in quotes")
    return value.strip()


def read_file_words(value: Any) -> str:
    """Return a text of one line; raise :class:`UnfitError` for anything else."""
    text = read_words(value)
    if any(unicodedata.category(letter) == "Cc" for letter in text):
        raise UnfitError("a text without line ends or other control characters")
    return text


def read_word_list(value: Any) -> tuple[str, ...]:
    """Return one text or several; raise :class:`UnfitError` for anything else."""
    values = [value] if isinstance(value, str) else value
    if not isinstance(values, list) or not values:
        raise UnfitError('a text, or a list such as ["one", "two"]')
    return tuple(read_words(v) for v in values)


def read_flag(value: Any) -> bool:
    """Return whether it is true; raise :class:`UnfitError` for anything but true and false."""
    if not isinstance(value, bool):
        raise UnfitError("true or false")
    return value


def read_number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e9:
        raise UnfitError("a number")
    return float(value)


@dataclass(frozen=True)
class Between:
    """Reads a number within bounds."""

    low: float
    high: float

    def __call__(self, value: Any) -> float:
        """Return the number."""
        found = read_number(value)
        if not self.low <= found <= self.high:
            raise UnfitError(f"a number from {self.low:g} to {self.high:g}")
        return found


@dataclass(frozen=True)
class Whole:
    """Reads a whole number within bounds."""

    low: int
    high: int

    def __call__(self, value: Any) -> int:
        """Return the number."""
        if type(value) is not int or not self.low <= value <= self.high:
            raise UnfitError(f"a whole number from {self.low:,} to {self.high:,}")
        return value


@dataclass(frozen=True)
class OneOf:
    """Reads one of some words."""

    words: tuple[str, ...]

    def __call__(self, value: Any) -> str:
        """Return the word."""
        if value not in self.words:
            near = nearest(str(value), self.words)
            hint = f" ({near}?)" if near else ""
            raise UnfitError(f"one of {', '.join(self.words)}{hint}")
        return str(value)


def read_point(value: Any) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise UnfitError("two numbers in mm such as [120.5, 80]")
    return (read_number(value[0]), read_number(value[1]))


def read_length(value: Any) -> Fraction:
    """Return a length in mm; raise :class:`UnfitError` for anything else."""
    if isinstance(value, str):
        return parse_length(value, "length")
    found = read_number(value)
    if found <= 0:
        raise UnfitError("a length such as “3mm”")
    return Fraction(str(found))


def read_gap(value: Any) -> float:
    """Return a length in mm that may be zero; raise :class:`UnfitError` for anything else."""
    if isinstance(value, str):
        return float(parse_length(value, "length", zero=True))
    return 0.0 if read_number(value) == 0 else float(read_length(value))


def read_size(value: Any) -> Size:
    return parse_size(read_words(value), "size")


def read_layout(value: Any) -> Layout:
    return Layout.parse(read_words(value))


def read_dpi(value: Any) -> Fraction:
    return Fraction(str(Between(1, 100_000)(value)))


def read_colour(value: Any) -> str:
    """Return a colour in six digits; raise :class:`UnfitError` for anything else."""
    if not isinstance(value, str) or not _COLOUR_RE.fullmatch(value.strip()):
        raise UnfitError("a colour such as “#1b2a49”")
    return value.strip().lower()


def read_ground(value: Any) -> str:
    return "none" if value == "none" else read_colour(value)


def read_paints(value: Any) -> tuple[str, ...]:
    """Return colours in turn, in six digits or “none”; raise :class:`UnfitError` else."""
    values = [value] if isinstance(value, str) else value
    if not isinstance(values, list) or not values:
        raise UnfitError('colours such as ["#1b2a49", "#c0392b"]')
    for value in values:
        if value != NONE and not (isinstance(value, str) and _COLOUR_RE.fullmatch(value)):
            raise UnfitError(f"colours such as “#1b2a49”, or “none” (“{value}” is neither)")
    return tuple(value.lower() for value in values)


def read_widths(value: Any) -> tuple[float, ...]:
    """Return lengths in turn in mm; raise :class:`UnfitError` for anything else."""
    values = value if isinstance(value, list) else [value]
    if not values:
        raise UnfitError('lengths such as ["6mm", "2mm"]')
    return tuple(float(read_length(v)) for v in values)


def read_marks(value: Any) -> tuple[str, ...]:
    """Return marks in turn; raise :class:`UnfitError` for what is none."""
    return tuple(OneOf(MARKS)(mark) for mark in read_word_list(value))


def read_range(value: Any) -> tuple[float, float]:
    """Return the smallest and the largest scale; raise :class:`UnfitError` for anything else."""
    values = [value, value] if not isinstance(value, list) else value
    if len(values) != 2:
        raise UnfitError("a number, or two such as [0.8, 1.2]")
    low, high = (Between(0.01, 100)(v) for v in values)
    if low > high:
        raise UnfitError("the smaller number first, such as [0.8, 1.2]")
    return (low, high)


def read_colours(value: Any) -> dict[str, str]:
    if not isinstance(value, Mapping):
        raise UnfitError('colours such as { "#c0392b" = "#2980b9" }')
    return {read_words(k): read_colour(v) for k, v in value.items()}
