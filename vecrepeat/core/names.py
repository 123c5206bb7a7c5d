"""Names as people's own for files and ids, and as they are listed in a sentence."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Container, Sequence


def slug(text: str) -> str:
    """Return a text in lower-case ASCII letters, digits and single hyphens; it may be empty."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def plain_name(text: str) -> str:
    """Return a text as a part of a file's name on any system: no folders, nothing hidden."""
    return re.sub(r'[\x00-\x1f\x7f<>:"/\\|?*]+', "-", text).strip(" .-") or "design"


def shown(name: str) -> str:
    """Return a file's name as any text can hold it: a “?” for each sign that can't be shown."""
    return "".join(sign if sign.isprintable() else "?" for sign in name)


def listed(names: Sequence[str], most: int = 3) -> str:
    """Return names as a list in a sentence: at most so many, and how many more there are."""
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def fewer(notes: Sequence[str], most: int) -> list[str]:
    """Return notes in at most so many lines, 2 or more.

    Where there are more, those alike but for names and numbers become one, which tells the
    first and how many follow; what is beyond that still is counted in the last line.
    """
    if len(notes) <= most:
        return list(notes)
    kinds: dict[str, list[str]] = {}
    for note in notes:
        kinds.setdefault(kind_of(note), []).append(note)
    lines = [
        alike[0] + (f" (and {len(alike) - 1:,} more like it)" if len(alike) > 1 else "")
        for alike in kinds.values()
    ]
    if len(lines) > most:
        left = sum(len(alike) for alike in list(kinds.values())[most - 1 :])
        lines[most - 1 :] = [f"there are {left:,} more notes"]
    return lines


def kind_of(note: str) -> str:
    """Return what a note has in common with those alike."""
    return _PARTICULAR_RE.sub("", note)


_PARTICULAR_RE = re.compile(r"“[^”]*”|#[0-9a-f]{6}\b|\S*\d\S*|^[^:]*: ")
"""What a note tells of one case: what is in quotes, colours, numbers, the name it begins with."""


def id_start(plain: str) -> str:
    """Return a slug as the start of an id, which begins with a letter."""
    return plain if plain[:1].isalpha() else f"art-{plain}".rstrip("-")


def unique(name: str, taken: Container[str], numbered: str = "{}-{}") -> str:
    """Return a name that is not taken: itself, or with the first number from 2 that is free."""
    tries = itertools.chain([name], (numbered.format(name, n) for n in itertools.count(2)))
    return next(one for one in tries if one not in taken)


def told_apart(found: Sequence[tuple[str, str]]) -> list[str]:
    """Return names that are each one's alone, of names and what each is from: ``from/name``."""
    count = Counter(name for _, name in found)
    taken: dict[str, None] = {}
    for source, name in found:
        taken[unique(name if count[name] == 1 else f"{source}/{name}", taken, "{} {}")] = None
    return list(taken)
