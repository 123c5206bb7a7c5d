"""Names for files and ids made of people's own."""

from __future__ import annotations

import re


def slug(text: str) -> str:
    """Return a text in lower-case ASCII letters, digits and single hyphens; it may be empty."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def id_start(plain: str) -> str:
    """Return a slug as the start of an id, which begins with a letter."""
    return plain if plain[:1].isalpha() else f"art-{plain}".rstrip("-")
