"""Options and parameter types that several commands share."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import Size, parse_length, parse_size
from vecrepeat.repeat.layout import Layout

if TYPE_CHECKING:
    from vecrepeat.sources.source import Source

CLOTH_DPI = Fraction(150)
"""Of cloth and wallpaper where none is given (common practice, no source)."""

_F = TypeVar("_F", bound=Callable[..., Any])


class LengthType(click.ParamType):  # type: ignore[type-arg]
    """A length with its unit; ``zero`` is whether it may be none at all."""

    name = "length"

    def __init__(self, *, zero: bool = False) -> None:
        self._zero = zero

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Fraction:
        """Return the length in mm."""
        if isinstance(value, Fraction):
            return value
        return parse_length(value, _named(param), zero=self._zero)


class NamedLengthType(click.ParamType):  # type: ignore[type-arg]
    """A length with its unit; keeps the text for file names."""

    name = "length"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, Fraction]:
        """Return the text without spaces and the length in mm."""
        if isinstance(value, tuple):
            return value
        length = parse_length(value, _named(param))
        return (
            re.sub(r"\s+", "-", re.sub(r"\s+(?=[a-z])|(?<=/)\s+|\s+(?=/)", "", value.strip())),
            length,
        )


class SizeType(click.ParamType):  # type: ignore[type-arg]
    """A width × height."""

    name = "size"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Size:
        """Return the size in mm."""
        return value if isinstance(value, Size) else parse_size(value, _named(param))


class LayoutType(click.ParamType):  # type: ignore[type-arg]
    """A layout by name."""

    name = "layout"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Layout:
        """Return the layout."""
        return value if isinstance(value, Layout) else Layout.parse(value)


class DpiType(click.ParamType):  # type: ignore[type-arg]
    """Pixels per inch, exact."""

    name = "dpi"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Fraction:
        """Return the resolution as an exact number."""
        if isinstance(value, Fraction):
            return value
        try:
            dpi = Fraction(value) if len(value) <= 20 and "e" not in value.lower() else None
        except (ValueError, ZeroDivisionError):
            dpi = None
        if dpi is None or not 1 <= dpi <= 100_000:
            raise InputError(
                f"{_named(param)} “{value[:40]}” is not usable", hint="such as 150 or 300"
            )
        return dpi


def _named(param: click.Parameter | None) -> str:
    return param.opts[0] if param is not None and param.opts else "value"


def source_options(function: _F) -> _F:
    """Add the SRC argument and its layout; :func:`reading_options` are to follow.

    See :func:`opened`.
    """
    return click.argument("src", type=click.Path(path_type=Path))(layout_option(function))


def reading_options(function: _F) -> _F:
    """Add the options that say how SRC is read, which few need: last in a command's help."""
    for add in (
        cut_option,
        colourway_option,
        live_text_option,
        allow_dir_option,
        motifs_option,
    ):
        function = add(function)
    return function


def opened(
    src: Path,
    layout: Layout | None,
    selector: str | None,
    allowed: tuple[Path, ...],
    live_text: bool,
    *,
    placed: bool = True,
) -> Source:
    """Read the source that :func:`source_options` named.

    Raises:
        InputError: it can't be read or used, or nothing is placed where something must be.
    """
    from vecrepeat.sources.source import open_source

    click.get_current_context().ensure_object(list).append(src)
    return open_source(
        src,
        layout=layout,
        motifs=selector,
        allowed=allowed,
        live_text=live_text,
        cut=bool(click.get_current_context().meta.get(_CUT)),
        colourway=click.get_current_context().meta.get(_COLOURWAY),
        placed=placed,
    )


def motifs_option(function: _F) -> _F:
    """Add --motifs SELECTOR."""
    return click.option(
        "--motifs",
        "selector",
        metavar="SELECTOR",
        help="CSS selector of the elements to take as motifs, such as 'g.motif'.",
    )(function)


def layout_option(function: _F) -> _F:
    """Add --layout."""
    return click.option(
        "--layout",
        type=LayoutType(),
        metavar="LAYOUT",
        help="block (the default), half-drop, drop:k/n, brick or brick:k/n, with or without a "
        "turned form such as +turnover-across or +half-turn-both; or a plane group, p1 to p6mm.",
    )(function)


_SAID = "vecrepeat.said"
_CUT = "vecrepeat.cut"
_COLOURWAY = "vecrepeat.colourway"


def colourway_option(function: _F) -> _F:
    """Add --colourway, which :func:`opened` heeds."""

    def keep(ctx: click.Context, param: click.Parameter, value: str | None) -> None:
        ctx.meta[_COLOURWAY] = value

    return click.option(
        "--colourway",
        metavar="NAME",
        expose_value=False,
        callback=keep,
        help="Take a recipe in this one of its colourways.",
    )(function)


def cut_option(function: _F) -> _F:
    """Add --cut-to-region, which :func:`opened` heeds."""

    def keep(ctx: click.Context, param: click.Parameter, value: bool) -> None:
        ctx.meta[_CUT] = value

    return click.option(
        "--cut-to-region",
        is_flag=True,
        expose_value=False,
        callback=keep,
        help="Cut the art to the layout's smallest region first, like a kaleidoscope.",
    )(function)


def repeat_width_option(function: _F) -> _F:
    """Add --repeat-width."""
    return click.option(
        "--repeat-width", type=LengthType(), metavar="LENGTH", help="Print width of one tile."
    )(function)


def repeat_height_option(function: _F) -> _F:
    """Add --repeat-height."""
    return click.option(
        "--repeat-height", type=LengthType(), metavar="LENGTH", help="Print height of one tile."
    )(function)


def profile_option(function: _F) -> _F:
    """Add --profile, the limits of a check."""
    return click.option(
        "--profile",
        metavar="NAME|FILE",
        help="Limits to hold it to: cloth-digital (the default), cloth-rotary, wallpaper-digital, "
        "screen, or a TOML file.",
    )(function)


def allow_dir_option(function: _F) -> _F:
    """Add --allow-dir."""
    return click.option(
        "--allow-dir",
        "allowed",
        type=click.Path(path_type=Path),
        multiple=True,
        metavar="FOLDER",
        help="Take linked pictures from this folder too; may be given several times.",
    )(function)


def live_text_option(function: _F) -> _F:
    """Add --live-text."""
    return click.option(
        "--live-text",
        is_flag=True,
        help="Keep text live. By default it becomes paths, which print the same anywhere.",
    )(function)


def dpi_option(function: _F) -> _F:
    """Add --dpi of goods; None where it is not given, which means :data:`CLOTH_DPI`."""
    return click.option(
        "--dpi",
        type=DpiType(),
        metavar="N",
        help=f"Pixels per inch of what is written, {CLOTH_DPI} by default. A PDF's tiles lie on "
        "whole pixels too where it is given, and are exact where not.",
    )(function)


def json_option(function: _F) -> _F:
    """Add --json."""
    return click.option(
        "--json", "as_json", is_flag=True, help="Print the result as JSON on standard output."
    )(function)


def show_json(facts: Any) -> None:
    """Print facts as JSON on standard output."""
    click.echo(json.dumps(facts, indent=2, ensure_ascii=False))


def show_notes(notes: tuple[str, ...] | list[str]) -> None:
    """Print notes on standard error, a line each, and each once in a command."""
    said = click.get_current_context().meta.setdefault(_SAID, set())
    for note in notes:
        if note not in said:
            click.echo(f"note: {note}", err=True)
            said.add(note)
