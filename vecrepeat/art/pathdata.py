"""Path data split into steps, for the plain kind of path that most drawings consist of."""

from __future__ import annotations

import re
from functools import lru_cache

_COMMAND_RE = re.compile(r"([achlmqstvzACHLMQSTVZ])([^achlmqstvzACHLMQSTVZ]*)")
_NUMBER_RE = re.compile(r"-?(?:\d+\.?\d*|\.\d+)(?:[eE]-?\d+)?")
_ARGUMENTS = {"m": 2, "l": 2, "h": 1, "v": 1, "c": 6, "s": 4, "q": 4, "t": 2, "z": 0}

Steps = tuple[tuple[str, tuple[float, ...]], ...]


@lru_cache(maxsize=8192)
def steps(d: str) -> Steps | None:
    """Return path data as (letter, numbers) steps, or None where it is not plain.

    Plain paths hold no arcs, no signs before positive numbers and no errors. Each step has the
    numbers of one segment: ``M1 2 3 4`` is two steps, M and L.

    Source: SVG 2 §9.3.
    """
    found: list[tuple[str, tuple[float, ...]]] = []
    commands = list(_COMMAND_RE.finditer(d))
    if not commands or d[: commands[0].start()].strip(" ,\t\r\n"):
        return None
    for command in commands:
        letter, text = command.groups()
        count = _ARGUMENTS.get(letter.lower())
        if count is None or _NUMBER_RE.sub("", text).strip(" ,\t\r\n"):
            return None
        numbers = [float(n) for n in _NUMBER_RE.findall(text)]
        if count == 0:
            if numbers:
                return None
            found.append((letter, ()))
            continue
        if not numbers or len(numbers) % count:
            return None
        for start in range(0, len(numbers), count):
            found.append((letter, tuple(numbers[start : start + count])))
            # Further pairs after a move are lines (SVG 2 §9.3.3).
            letter = {"m": "l", "M": "L"}.get(letter, letter)
    return tuple(found)
