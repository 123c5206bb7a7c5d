"""What commands are made of: options that several share, their types, and what is printed."""

from __future__ import annotations

import functools
import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from vecrepeat.core.errors import InputError
from vecrepeat.core.names import fewer
from vecrepeat.core.units import parse_length, parse_size
from vecrepeat.repeat.layout import Layout

if TYPE_CHECKING:
    from vecrepeat.sources.source import Source

CLOTH_DPI = Fraction(150)
"""Of cloth and wallpaper where none is given (common practice, no source)."""

MOST_NOTES = 7
"""Lines of notes that a command prints; --json has all of them."""

_SAID = "vecrepeat.said"


class Parsed(click.ParamType):  # type: ignore[type-arg]
    """What a function makes of an option's text.

    Args:
        name: what stands for the value in the help.
        parse: takes the text and the option's name, for its errors.
    """

    def __init__(self, name: str, parse: Callable[[str, str], Any]) -> None:
        self.name = name
        self._parse = parse

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return what the text says. Raises InputError as the function does."""
        named = "value" if param is None else param.opts[0]
        return self._parse(value, named) if isinstance(value, str) else value


def _named_length(text: str, what: str) -> tuple[str, Fraction]:
    """Return a length's text without spaces, for names of files, and the length in mm."""
    length = parse_length(text, what)
    close = re.sub(r"\s+(?=[a-z])|(?<=/)\s+|\s+(?=/)", "", text.strip())
    return re.sub(r"\s+", "-", close), length


def _dpi(text: str, what: str) -> Fraction:
    try:
        dpi = Fraction(text) if len(text) <= 20 and "e" not in text.lower() else None
    except (ValueError, ZeroDivisionError):
        dpi = None
    if dpi is None or not 1 <= dpi <= 100_000:
        raise InputError(f"{what} “{text[:40]}” is not usable", hint="such as 150 or 300")
    return dpi


LENGTH = Parsed("length", parse_length)
LENGTH_OR_ZERO = Parsed("length", functools.partial(parse_length, zero=True))
NAMED_LENGTH = Parsed("length", _named_length)
SIZE = Parsed("size", parse_size)
DPI = Parsed("n", _dpi)


def named(name: str, kind: Any) -> Any:
    """Return a type of options under the name that stands for its values in the help."""
    kind.name = name
    return kind


PATH, FILE, FOLDER = (named(n, click.Path(path_type=Path)) for n in ("path", "file", "folder"))
COUNT = named("n", click.IntRange(min=1))


def option(*names: str, **more: Any) -> click.Option:
    """Return an option, of which the help tells the default; arguments as of click's own."""
    return click.Option(names, **{"show_default": bool(more.get("default")), **more})


def output(about: str, kind: Any = PATH, **more: Any) -> click.Option:
    """Return the option -o, which must be given unless ``required`` says otherwise."""
    return option("-o", "--output", type=kind, help=about, **{"required": True, **more})


LAYOUT = option(
    "--layout",
    type=Parsed("layout", lambda text, _: Layout.parse(text)),
    help="block (the default), half-drop, drop:k/n, brick or brick:k/n, with or without a "
    "turned form such as +turnover-across or +half-turn-both; or a plane group, p1 to p6mm.",
)
REPEAT_WIDTH = option("--repeat-width", "width", type=LENGTH, help="Print width of one tile.")
REPEAT_HEIGHT = option("--repeat-height", "height", type=LENGTH, help="Print height of one tile.")
LIMITS = option(
    "--profile",
    metavar="NAME|FILE",
    help="Limits to hold it to: cloth-digital (the default), cloth-rotary, wallpaper-digital, "
    "screen, or a TOML file.",
)
GOODS_DPI = option(
    "--dpi",
    type=DPI,
    help=f"Pixels per inch of what is written, {CLOTH_DPI} by default. A PDF's tiles lie on "
    "whole pixels too where it is given, and are exact where not.",
)
JSON = option(
    "--json", "as_json", is_flag=True, help="Print the result as JSON on standard output."
)
ALLOW_DIR = option(
    "--allow-dir",
    "allowed",
    type=FOLDER,
    multiple=True,
    help="Take linked pictures from this folder too; may be given several times.",
)
_READING = (
    option(
        "--motifs",
        metavar="SELECTOR",
        help="CSS selector of the elements to take as motifs, such as 'g.motif'.",
    ),
    ALLOW_DIR,
    option(
        "--live-text",
        is_flag=True,
        help="Keep text live. By default it becomes paths, which print the same anywhere.",
    ),
    option("--colourway", metavar="NAME", help="Take a recipe in this one of its colourways."),
    option(
        "--cut-to-region",
        "cut",
        is_flag=True,
        help="Cut the art to the layout's smallest region first, like a kaleidoscope.",
    ),
)


@dataclass(frozen=True)
class Given:
    """The drawing or recipe that a command is given.

    Attributes:
        file: where it is.
        reading: how it is to be read: what :func:`vecrepeat.sources.source.open_source` takes.
    """

    file: Path
    reading: dict[str, Any]

    def opened(self, *, placed: bool = True) -> Source:
        """Read it.

        Raises:
            InputError: it can't be read or used, or nothing is placed where something must be.
        """
        from vecrepeat.sources.source import open_source

        click.get_current_context().ensure_object(list).append(self.file)
        return open_source(self.file, placed=placed, **self.reading)


class Reply(NamedTuple):
    """What a command prints in the end.

    Attributes:
        facts: for --json; a mapping gets the notes too.
        lines: for people.
        notes: for people too, on standard error.
        code: what the command exits with.
    """

    facts: Any
    lines: Iterable[str]
    notes: Iterable[str] = ()
    code: int = 0


def replying(*params: click.Parameter) -> Callable[[Callable[..., Reply]], click.Command]:
    """Make a command of a function that returns its reply; --json is one of the parameters."""

    def made(function: Callable[..., Reply]) -> click.Command:
        @functools.wraps(function)
        def run(as_json: bool, **asked: Any) -> int:
            reply = function(**asked)
            tell(reply.lines, reply.notes)
            if as_json:
                facts = reply.facts
                if isinstance(facts, Mapping):
                    facts = {**facts, "notes": [*reply.notes]}
                click.echo(json.dumps(facts, indent=2, ensure_ascii=False))
            return reply.code

        return click.command(params=[*params])(run)

    return made


def over_source(*params: click.Parameter) -> Callable[[Callable[..., Reply]], click.Command]:
    """Make a command over SRC, which the function gets as :class:`Given`, with --json."""

    def made(function: Callable[..., Reply]) -> click.Command:
        @functools.wraps(function)
        def run(src: Path, **asked: Any) -> Reply:
            names = ("layout", "motifs", "allowed", "live_text", "colourway", "cut")
            return function(Given(src, {name: asked.pop(name) for name in names}), **asked)

        argument = click.Argument(["src"], type=PATH)
        return replying(argument, LAYOUT, *params, JSON, *_READING)(run)

    return made


def tell(lines: Iterable[str], notes: Iterable[str] = ()) -> None:
    """Print notes, then lines, unless the command is to print JSON."""
    if click.get_current_context().params.get("as_json"):
        return
    show_notes(notes)
    for line in lines:
        click.echo(line)


def show_notes(notes: Iterable[str]) -> None:
    """Print notes on standard error, a line each, alike ones as one where they are many.

    Each is printed once in a command, and in all of it at most :data:`MOST_NOTES` lines are.
    """
    said: dict[str, None] = click.get_current_context().meta.setdefault(_SAID, {})
    new = [note for note in dict.fromkeys(notes) if note not in said]
    for line in fewer(new, max(2, MOST_NOTES - len(said))):
        click.echo(f"note: {line}", err=True)
    said.update(dict.fromkeys(new))
