"""Palettes as files of open formats: GIMP's, CSS custom properties, plain lists, SVG swatches."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from vecrepeat.colour.lineup import PAPER
from vecrepeat.colour.palette import names_for
from vecrepeat.core.colours import hex_of, rgb_of
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import id_start, slug, unique
from vecrepeat.util.xmltext import escaped

Named = tuple[str, str]
"""A name, "" for none, and a colour as ``#rrggbb``."""

_HEX_RE = re.compile(r"(?<![\w#])(#[0-9a-f]{6}|#[0-9a-f]{3}|[0-9a-f]{6})(?!\w)", re.IGNORECASE)
_PROPERTY_RE = re.compile(r"--([\w-]+)\s*:\s*([^;{}]+)")
_COMMENT_RE = re.compile(r"/\*.*?\*/", re.DOTALL)
_MOST = 1000
"""More colours than that are no palette to work with."""

_WIDE, _CHIP = 150, 96
_INK, _QUIET, _EDGE = "#2b2926", "#6c675f", "#d9d5cd"


def parse_palette(text: str, file: Path) -> dict[str, str]:
    """Return name → ``#rrggbb`` of a palette's text, by its file's ending.

    Colours without a name, and names that come again, are called after CSS colour keywords.

    Raises:
        InputError: another ending, a line that is no colour, or no colour at all.
    """
    kind = file.suffix.lower()
    if kind not in READ:
        raise InputError(
            "no kind of palette that is read", file=file, hint=f"known: {', '.join(READ)}"
        )
    rows = list(READ[kind](text.removeprefix("\ufeff"), file))
    if not rows:
        raise InputError("it holds no colours", file=file)
    if len(rows) > _MOST:
        raise InputError(f"it holds {len(rows):,} colours, more than {_MOST:,}", file=file)
    return named(rows)


def named(rows: Sequence[Named]) -> dict[str, str]:
    """Return colours by names of their own, each colour once."""
    given: dict[str, str] = {}
    for name, colour in rows:
        if name and colour not in given and name not in given.values():
            given[colour] = name
    colours = list(dict.fromkeys(colour for _, colour in rows))
    return dict(zip(names_for(colours, given), colours, strict=True))


def _gimp(text: str, file: Path) -> Iterator[Named]:
    """Yield colours of a GIMP palette: red, green, blue and a name a line (from memory)."""
    lines = text.splitlines()
    if not lines or lines[0].strip() != "GIMP Palette":
        raise InputError("it does not begin with “GIMP Palette”", file=file)
    for number, line in enumerate(lines[1:], 2):
        if not line.strip() or line.startswith("#") or re.match(r"(Name|Columns):", line):
            continue
        parts = line.split(None, 3)
        values = [int(v) for v in parts[:3] if v.isdigit() and int(v) <= 255]
        if len(values) < 3:
            raise _no_colour(file, number, line, "a line is such as 192 57 43 poppy")
        name = parts[3].strip() if len(parts) > 3 else ""
        yield "" if name == "Untitled" else name, hex_of(values)


def _css(text: str, file: Path) -> Iterator[Named]:
    """Yield custom properties that are colours (CSS Custom Properties 1 §2)."""
    from vecrepeat.colour.paletting import parse_colour

    for name, value in _PROPERTY_RE.findall(_COMMENT_RE.sub(" ", text)):
        try:
            colour = parse_colour(value)
        except InputError:
            # Lengths and fonts are custom properties too.
            continue
        yield name, colour


def _plain(text: str, file: Path) -> Iterator[Named]:
    """Yield colours of a list: ``#rrggbb``, with or without a name before or after it."""
    for number, line in enumerate(text.splitlines(), 1):
        words = line.strip()
        if not words or words.startswith((";", "//", "# ")):
            continue
        found = _HEX_RE.search(words)
        if found is None:
            raise _no_colour(file, number, line, "a line is such as #c0392b poppy")
        digits = found.group(1).lstrip("#").lower()
        colour = "#" + (digits if len(digits) == 6 else "".join(2 * digit for digit in digits))
        name = (words[: found.start()] + " " + words[found.end() :]).strip(" \t,;:=-")
        yield " ".join(name.split()), colour


def _no_colour(file: Path, number: int, line: str, hint: str) -> InputError:
    return InputError(f"line {number}: “{line.strip()[:40]}” is no colour", file=file, hint=hint)


READ = {".gpl": _gimp, ".css": _css, ".txt": _plain, ".hex": _plain}
"""What reads a palette of each ending."""


def css(colours: Mapping[str, str]) -> str:
    """Return a palette as CSS custom properties (CSS Custom Properties 1)."""
    taken: set[str] = set()
    lines = []
    for name, colour in colours.items():
        key = unique(id_start(slug(name)), taken)
        taken.add(key)
        lines.append(f"  --{key}: {colour};")
    return ":root {\n" + "\n".join(lines) + "\n}\n"


def plain(colours: Mapping[str, str]) -> str:
    """Return a palette as a list that :func:`parse_palette` reads again."""
    return "".join(f"{colour} {name}\n" for name, colour in colours.items())


def gimp(colours: Mapping[str, str], title: str) -> str:
    """Return a palette as GIMP's (from memory)."""
    rows = [
        f"{' '.join(f'{int(v):3}' for v in rgb_of(colour))}\t{name}\n"
        for name, colour in colours.items()
    ]
    return f"GIMP Palette\nName: {title}\nColumns: 0\n#\n" + "".join(rows)


def swatches_svg(colours: Mapping[str, str]) -> str:
    """Return a palette as SVG: a row of six swatches after another, each with name and value."""
    columns = min(6, len(colours))
    rows = -(-len(colours) // columns)
    width, height = columns * _WIDE + 20, rows * (_CHIP + 54) + 20
    body = []
    for number, (name, colour) in enumerate(colours.items()):
        x, y = 20 + number % columns * _WIDE, 20 + number // columns * (_CHIP + 54)
        body.append(
            f'<g id="{escaped(id_start(slug(name)))}-{number + 1}"><rect x="{x}" y="{y}" '
            f'width="{_WIDE - 20}" height="{_CHIP}" fill="{colour}" stroke="{_EDGE}" '
            f'stroke-width="0.5"/><text x="{x}" y="{y + _CHIP + 19}" font-size="15" '
            f'fill="{_INK}">{escaped(name)}</text><text x="{x}" y="{y + _CHIP + 37}" '
            f'font-size="13" fill="{_QUIET}">{colour}</text></g>\n'
        )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}" font-family="sans-serif">\n'
        f'<rect width="{width}" height="{height}" fill="{PAPER}"/>\n{"".join(body)}</svg>\n'
    )
