"""Text and attribute values as XML writes them (XML 1.0 §2.4, §3.3.3)."""

from __future__ import annotations

_TEXT = {"&": "&amp;", "<": "&lt;", ">": "&gt;"}
_ATTRIBUTE = {**_TEXT, '"': "&quot;", "\n": "&#10;", "\t": "&#9;", "\r": "&#13;"}
# XML has no place for control characters, halves of pairs and two more (XML 1.0 §2.2).
_NO_CHARACTERS = {*map(chr, range(32)), *map(chr, range(0xD800, 0xE000)), "\ufffe", "\uffff"} - {
    *"\t\n\r"
}
_IN_XML = dict.fromkeys(map(ord, _NO_CHARACTERS), "\ufffd")
_IN_TEXT = _IN_XML | str.maketrans(_TEXT)
_IN_ATTRIBUTE = _IN_XML | str.maketrans(_ATTRIBUTE)


def in_xml(text: str) -> str:
    """Return text with U+FFFD in the place of each character that XML has none of."""
    return text.translate(_IN_XML)


def escaped(text: str) -> str:
    """Return text as it stands between tags."""
    return text.translate(_IN_TEXT)


def quoted(value: str) -> str:
    """Return an attribute's value with its quotes."""
    return f'"{value.translate(_IN_ATTRIBUTE)}"'
