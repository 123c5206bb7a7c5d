"""Names as people's own for files and ids, and as they are listed in a sentence."""

from __future__ import annotations

import itertools
import re
from collections.abc import Container, Sequence


def slug(text: str) -> str:
    """Return a text in lower-case ASCII letters, digits and single hyphens; it may be empty."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def plain_name(text: str) -> str:
    """Return a text as a part of a file's name on any system: no folders, nothing hidden."""
    return re.sub(r'[\x00-\x1f\x7f<>:"/\\|?*]+', "-", text).strip(" .-") or "design"


def listed(names: Sequence[str], most: int = 3) -> str:
    """Return names as a list in a sentence: at most so many, and how many more there are."""
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more


def id_start(plain: str) -> str:
    """Return a slug as the start of an id, which begins with a letter."""
    return plain if plain[:1].isalpha() else f"art-{plain}".rstrip("-")


def unique(name: str, taken: Container[str], numbered: str = "{}-{}") -> str:
    """Return a name that is not taken: itself, or with the first number from 2 that is free."""
    tries = itertools.chain([name], (numbered.format(name, n) for n in itertools.count(2)))
    return next(one for one in tries if one not in taken)
