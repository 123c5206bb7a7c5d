"""Options of commands that write print files: what formats are told beyond what to draw."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from vecrepeat.cli import options
from vecrepeat.core.errors import InputError

_BYTES_RE = re.compile(r"(\d+(?:\.\d+)?)\s*(b|kb|mb|gb|kib|mib|gib)?", re.IGNORECASE)
_BYTES = {"b": 1, "kb": 10**3, "mb": 10**6, "gb": 10**9, "kib": 1 << 10, "mib": 1 << 20}
_BYTES["gib"] = 1 << 30


class BytesType(click.ParamType):  # type: ignore[type-arg]
    """A file's size."""

    name = "bytes"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Return the size in bytes."""
        if isinstance(value, int):
            return value
        match = _BYTES_RE.fullmatch(value.strip())
        if match is None:
            raise InputError(f"“{value[:40]}” is not a file's size", hint="such as 500kB or 2MB")
        return int(Fraction(match.group(1)) * _BYTES[(match.group(2) or "b").lower()])


_OPTIONS = (
    click.option(
        "--profile",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="Convert to this ICC profile's colours (a PDF stays sRGB and holds it, attached).",
    ),
    click.option(
        "--intent",
        type=click.Choice(["perceptual", "relative", "saturation", "absolute"]),
        default="relative",
        show_default=True,
        help="The rendering intent of --profile.",
    ),
    click.option(
        "--no-black-point", is_flag=True, help="Convert without black point compensation."
    ),
    click.option(
        "--compression",
        type=click.Choice(["deflate", "lzw"]),
        help="How a TIFF is compressed; deflate where not given.",
    ),
    click.option(
        "--quality", type=click.IntRange(1, 100), metavar="N", help="Of JPEG and WebP: 1 to 100."
    ),
    click.option(
        "--max-bytes",
        type=BytesType(),
        metavar="SIZE",
        help="Find the best JPEG or WebP quality that fits: 500kB, 2MB.",
    ),
    click.option(
        "--bleed",
        type=options.LengthType(zero=True),
        metavar="LENGTH",
        help="Let a PDF run on beyond its trim.",
    ),
    click.option(
        "--page-length",
        type=options.LengthType(),
        metavar="LENGTH",
        help="Cut a PDF's sheet into pages of this length at most, in order.",
    ),
    click.option("--marks", is_flag=True, help="Print trim and registration marks in a PDF."),
)


def print_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of formats; the function gets them as ``settings``."""

    @functools.wraps(function)
    def told(
        *,
        profile: Path | None,
        intent: str,
        no_black_point: bool,
        compression: str | None,
        quality: int | None,
        max_bytes: int | None,
        bleed: Fraction | None,
        page_length: Fraction | None,
        marks: bool,
        **others: Any,
    ) -> Any:
        from vecrepeat.write.formats import Settings

        colour = None
        if profile is not None:
            from vecrepeat.write.icc import open_conversion

            colour = open_conversion(profile, intent=intent, black_point=not no_black_point)
        settings = Settings(
            quality=quality,
            max_bytes=max_bytes,
            compression=compression,
            colour=colour,
            bleed=bleed or Fraction(0),
            page_length=page_length,
            marks=marks,
        )
        return function(settings=settings, **others)

    result: Callable[..., Any] = told
    for add in reversed(_OPTIONS):
        result = add(result)
    return result
