"""Filters restated for resvg, so that a hair's breadth of scale does not move what they draw.

resvg cuts offsets down to whole pixels: 1.9999 px are 1. What is drawn a little smaller (see
:data:`vecrepeat.resvg.SHRINKS`) would have shadows a whole pixel off wherever an offset is a
whole number of pixels.
"""

from __future__ import annotations

import re

from vecrepeat.geometry import number

SPARE = 2**-12
"""By how much offsets are made larger: more than any shrinking, and a pixel only on thousands."""

_OFFSETTING_RE = re.compile(r"<fe(?:Offset|DropShadow)\b[^>]*>")
_OFFSET_RE = re.compile(r'(?<=\sd[xy]=")([^"]+)(?=")')


def with_offsets_kept(markup: str) -> str:
    """Return a definition's markup with its filters' offsets a hair's breadth larger."""
    if "<filter" not in markup:
        return markup
    return _OFFSETTING_RE.sub(lambda found: _OFFSET_RE.sub(_larger, found[0]), markup)


def _larger(found: re.Match[str]) -> str:
    try:
        return number(float(found[0]) * (1 + SPARE))
    except (ValueError, OverflowError):
        return found[0]
