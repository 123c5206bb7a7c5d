"""Path data split into steps, in time linear in its length.

Source: SVG 2 §9.3, *Path data*; §9.5.4: after an error, what came before it still counts.
"""

from __future__ import annotations

import re
from functools import lru_cache
from itertools import islice, repeat
from typing import NamedTuple

_COMMAND_RE = re.compile(r"([achlmqstvzACHLMQSTVZ])([^achlmqstvzACHLMQSTVZ]*)")
_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?"
_NUMBER_RE = re.compile(_NUMBER)
_SEPARATORS = " ,\t\r\n\f"
_WITHOUT_SEPARATORS = str.maketrans("", "", _SEPARATORS)
_GAP = r"[ ,\t\r\n\f]*"
# The flags of an arc are single digits, with nothing between them if need be.
_ARC_RE = re.compile(
    _GAP + _GAP.join(f"({part})" for part in (*[_NUMBER] * 3, "[01]", "[01]", *[_NUMBER] * 2))
)
_ARGUMENTS = {"m": 2, "l": 2, "h": 1, "v": 1, "c": 6, "s": 4, "q": 4, "t": 2, "z": 0}


class PathData(NamedTuple):
    """Path data as steps.

    Attributes:
        steps: (letter, numbers), the numbers of one segment each: ``M1 2 3 4`` is M and L.
        whole: whether it begins with a move and holds no errors.
    """

    steps: tuple[tuple[str, tuple[float, ...]], ...]
    whole: bool

    @property
    def has_arcs(self) -> bool:
        """Whether any of it is an arc of an ellipse."""
        return any(letter in "aA" for letter, _ in self.steps)


@lru_cache(maxsize=8192)
def parse_path(d: str) -> PathData:
    """Split path data into steps, up to its first error."""
    found: list[tuple[str, tuple[float, ...]]] = []
    end = 0
    for command in _COMMAND_RE.finditer(d):
        if command.start() != end and d[end : command.start()].strip(_SEPARATORS):
            return PathData(tuple(found), whole=False)
        end = command.end()
        letter, text = command.groups()
        if letter in "aA":
            rows, whole = _arcs(text)
            found.extend((letter, row) for row in rows)
            if not whole:
                return PathData(tuple(found), whole=False)
            continue
        count = _ARGUMENTS[letter.lower()]
        parts = _NUMBER_RE.findall(text)
        clean = "".join(parts) == text.translate(_WITHOUT_SEPARATORS)
        numbers = list(map(float, parts)) if clean else _leading_numbers(text)
        if count == 0:
            found.append((letter, ()))
            clean = clean and not numbers
        else:
            clean = clean and bool(numbers) and len(numbers) % count == 0
            runs = zip(*[iter(numbers)] * count, strict=False)
            if letter in "mM":
                # Further pairs after a move are lines (SVG 2 §9.3.3).
                found.extend((letter, run) for run in islice(runs, 1))
                letter = "l" if letter == "m" else "L"
            found.extend(zip(repeat(letter), runs, strict=False))
        if not clean:
            return PathData(tuple(found), whole=False)
    whole = bool(found) and found[0][0] in "mM" and not d[end:].strip(_SEPARATORS)
    return PathData(tuple(found), whole)


def _leading_numbers(text: str) -> list[float]:
    """Return the numbers before the first thing that is none."""
    numbers: list[float] = []
    at = 0
    for match in _NUMBER_RE.finditer(text):
        if text[at : match.start()].strip(_SEPARATORS):
            break
        numbers.append(float(match.group()))
        at = match.end()
    return numbers


def _arcs(text: str) -> tuple[list[tuple[float, ...]], bool]:
    """Return the arguments of arcs, and whether the text holds nothing else."""
    rows: list[tuple[float, ...]] = []
    at = 0
    while match := _ARC_RE.match(text, at):
        rows.append(tuple(float(n) for n in match.groups()))
        at = match.end()
    return rows, bool(rows) and not text[at:].strip(_SEPARATORS)
