"""What a file is, by how it begins."""

from __future__ import annotations

import re

HEAD = 1 << 16
"""Bytes at the start of a file that tell its kind."""

_SIGNATURES = {
    b"\x89PNG": "a PNG picture",
    b"\xff\xd8\xff": "a JPEG picture",
    b"%PDF": "a PDF",
    b"%!PS": "a PostScript file",
    b"GIF8": "a GIF picture",
    b"PK\x03\x04": "a zip archive",
    b"RIFF": "a RIFF file (WebP or sound)",
    b"II*\x00": "a TIFF picture",
    b"MM\x00*": "a TIFF picture",
    b"II+\x00": "a TIFF picture",
    b"MM\x00+": "a TIFF picture",
}
"""The formats people hand over, by their first bytes."""

_TEXTS = {
    r"<!doctype html|<html": "an HTML page",
    r"<(?s:.)*<svg\b|<svg\b": "an SVG drawing",
    r"<": "an XML file",
    r"(?ms:.*?^)(art|loose)\s*=": "a recipe",
    r"[{\[]": "JSON or TOML tables",
    r"": "a text",
}
"""The same for texts, by a regular expression each; the first that fits counts."""


def signature(head: bytes) -> str:
    """Return what a file of a kind that has a signature is, such as “a PNG picture”, else ""."""
    return next((kind for start, kind in _SIGNATURES.items() if head.startswith(start)), "")


def kind_of(head: bytes) -> str:
    """Return what a file is by its first 64 KiB, such as “a PNG picture”."""
    if kind := signature(head):
        return kind
    try:
        # A character that is cut in two at the end is none to judge by.
        text = head.decode("utf-8-sig", "strict" if len(head) < HEAD else "ignore").lstrip()
    except UnicodeDecodeError:
        return "a file of another kind"
    return next(kind for start, kind in _TEXTS.items() if re.match(start, text, re.IGNORECASE))
