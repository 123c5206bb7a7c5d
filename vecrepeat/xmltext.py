"""Text and attribute values as XML writes them (XML 1.0 §2.4, §3.3.3)."""

from __future__ import annotations

_TEXT = {"&": "&amp;", "<": "&lt;", ">": "&gt;"}
_IN_TEXT = str.maketrans(_TEXT)
_IN_ATTRIBUTE = str.maketrans({**_TEXT, '"': "&quot;", "\n": "&#10;", "\t": "&#9;", "\r": "&#13;"})


def escaped(text: str) -> str:
    """Return text as it stands between tags."""
    return text.translate(_IN_TEXT)


def quoted(value: str) -> str:
    """Return an attribute's value with its quotes."""
    return f'"{value.translate(_IN_ATTRIBUTE)}"'
