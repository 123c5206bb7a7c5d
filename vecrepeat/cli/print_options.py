"""Options of commands that write print files: what formats are told beyond what to draw."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import click

from vecrepeat.cli.options import FILE, LENGTH, LENGTH_OR_ZERO, Parsed, option
from vecrepeat.core.errors import InputError

if TYPE_CHECKING:
    from vecrepeat.write.formats import Settings

_BYTES_RE = re.compile(r"(\d+(?:\.\d+)?)\s*(b|kb|mb|gb|kib|mib|gib)?", re.IGNORECASE)
_BYTES = {"b": 1, "kb": 10**3, "mb": 10**6, "gb": 10**9, "kib": 1 << 10, "mib": 1 << 20}
_BYTES["gib"] = 1 << 30


def _bytes(text: str, _: str) -> int:
    match = _BYTES_RE.fullmatch(text.strip())
    if match is None:
        raise InputError(f"“{text[:40]}” is not a file's size", hint="such as 500kB or 2MB")
    return int(Fraction(match.group(1)) * _BYTES[(match.group(2) or "b").lower()])


PRINT_OPTIONS = (
    option(
        "--profile",
        type=FILE,
        help="Convert to this ICC profile's colours (a PDF stays sRGB and holds it, attached).",
    ),
    option(
        "--intent",
        type=click.Choice(["perceptual", "relative", "saturation", "absolute"]),
        default="relative",
        help="The rendering intent of --profile.",
    ),
    option("--no-black-point", is_flag=True, help="Convert without black point compensation."),
    option(
        "--compression",
        type=click.Choice(["deflate", "lzw"]),
        help="How a TIFF is compressed; deflate where not given.",
    ),
    option(
        "--quality", type=click.IntRange(1, 100), metavar="N", help="Of JPEG and WebP: 1 to 100."
    ),
    option(
        "--max-bytes",
        type=Parsed("size", _bytes),
        help="Find the best JPEG or WebP quality that fits: 500kB, 2MB.",
    ),
    option("--bleed", type=LENGTH_OR_ZERO, default="0mm", help="Let a PDF run on beyond its trim."),
    option(
        "--page-length",
        type=LENGTH,
        help="Cut a PDF's sheet into pages of this length at most, in order.",
    ),
    option("--marks", is_flag=True, help="Print trim and registration marks in a PDF."),
)


def print_settings(asked: dict[str, Any]) -> Settings:
    """Take :data:`PRINT_OPTIONS` out of what was asked and return what formats are told.

    Raises:
        InputError: the profile can't be used, or a number is out of its range.
    """
    from vecrepeat.write.formats import Settings

    profile, intent = asked.pop("profile"), asked.pop("intent")
    black_point = not asked.pop("no_black_point")
    colour = None
    if profile is not None:
        from vecrepeat.write.icc import open_conversion

        colour = open_conversion(profile, intent=intent, black_point=black_point)
    plain = ("quality", "max_bytes", "compression", "bleed", "page_length", "marks")
    told = {name: asked.pop(name) for name in plain}
    return Settings(colour=colour, **told)
