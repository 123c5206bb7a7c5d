"""Real drawings with a few things changed: bytes, numbers, words, pieces of another file."""

from __future__ import annotations

import random
import re
from collections.abc import Sequence
from pathlib import Path

from real_art import emoji_files
from support import DEMO

from fuzz.grammar import HOSTILE, IDS, LINKS

FIXTURES = Path("/usr/libexec/installed-tests/RSVG/fixtures")
"""Debian's package librsvg2-tests; its icon set is left out."""

MOST_BYTES = 60_000

_KINDS = (*(0, 1, 2, 3, 4, 5) * 3, 6, 6, 7, 8, 8, 9)
"""Which change is made how often; most changes of bytes only break the XML."""

_NUMBER_RE = re.compile(rb"-?\d+\.?\d*")
_VALUE_RE = re.compile(rb'"[^"<>]*"')
_REFERENCE_RE = re.compile(rb"#[A-Za-z][\w-]*")
_WORDS = (
    *(word.encode() for word in (*HOSTILE, *LINKS)),
    *(f"url(#{key})".encode() for key in IDS),
    *(b"inherit", b"currentColor", b"50%", b"1e5", b"scale(0)", b"none", b"userSpaceOnUse"),
    *(b"objectBoundingBox", b"matrix(1 1 1 1 0 0)", b"<g>", b"</g>", b"<!--", b"]]>", b"&#0;"),
)


def seeds(*, fixtures: bool = True) -> list[Path]:
    """Files to mutate, small ones only."""
    files = [*sorted(DEMO.glob("*.svg")), *emoji_files()[::40]]
    if fixtures and FIXTURES.is_dir():
        files += [f for f in sorted(FIXTURES.rglob("*.svg")) if "adwaita" not in f.parts]
    return [file for file in files if file.stat().st_size <= MOST_BYTES]


def mutated(files: Sequence[Path], seed: int) -> bytes:
    """One file of a set with one to eight changes; the same for the same seed."""
    rng = random.Random(seed)
    data = bytearray(rng.choice(files).read_bytes())
    for _ in range(rng.choice((1, 1, 2, 3, 8))):
        kind = rng.choice(_KINDS)
        if kind < 4:
            _replace(data, _NUMBER_RE, rng, rng.choice(HOSTILE).encode())
        elif kind < 6:
            _replace(data, _VALUE_RE, rng, b'"' + rng.choice(_WORDS).replace(b'"', b"") + b'"')
        elif kind == 6:
            found = _REFERENCE_RE.findall(data)
            if found:
                _replace(data, _REFERENCE_RE, rng, rng.choice(found))
        elif kind == 7:
            start = rng.randrange(len(data) + 1)
            data[start : start + rng.randrange(1, 40)] = rng.choice(_WORDS)
        elif kind == 8:
            # An element, or what looks like one, put somewhere else.
            other = rng.choice(files).read_bytes()
            pieces = re.findall(rb"<\w[^<>]*/>", other)
            at = data.find(b"<", rng.randrange(len(data) + 1))
            if pieces and at > 0:
                data[at:at] = rng.choice(pieces)
        elif data:
            data[rng.randrange(len(data))] = rng.randrange(256)
    return bytes(data)


def _replace(data: bytearray, pattern: re.Pattern[bytes], rng: random.Random, new: bytes) -> None:
    found = list(pattern.finditer(data))
    if found:
        match = rng.choice(found)
        data[match.start() : match.end()] = new
