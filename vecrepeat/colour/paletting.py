"""The palette workflow: a repeat's colours, and files that say them."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import tomlkit
from PIL import Image, ImageDraw, ImageFont

from vecrepeat.colour.lineup import PAPER
from vecrepeat.colour.palette import MERGE, Entry, Palette, palette
from vecrepeat.colour.rendered import Rendered, look
from vecrepeat.colour.swatches import css
from vecrepeat.colour.visible import Visible
from vecrepeat.core.colours import lightness
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import counted
from vecrepeat.recipe.edit import recipe_text, with_settings, write_recipe
from vecrepeat.repeat.model import Repeat
from vecrepeat.util.columns import aligned
from vecrepeat.util.files import write_together
from vecrepeat.util.imagefiles import png_of
from vecrepeat.util.xmltext import escaped

if TYPE_CHECKING:
    from vecrepeat.sources.source import Source

_ROW, _CHIP, _WIDTH = 64, 132, 760
_INK, _QUIET, _EDGE = "#2b2926", "#8a857d", "#d9d5cd"


def palette_of(
    repeat: Repeat,
    *,
    merge: float = MERGE,
    most: int | None = None,
    names: Mapping[str, str] | None = None,
) -> tuple[Visible | Rendered, Palette]:
    """Return what is seen of a repeat and its :func:`palette`."""
    seen = look(repeat)
    return seen, palette(seen, merge=merge, most=most, names=names)


def notes_on(found: Palette) -> list[str]:
    """Return how a palette came about where that is not plain, a sentence each."""
    notes = [found.note] if found.note else []
    if found.gathered:
        notes.append(
            f"{counted(len(found.entries), 'main colour')} stand for {found.gathered:,}, each for "
            "what is nearest to it: --colours N lists more or fewer"
        )
    return notes


def table(found: Palette) -> list[str]:
    """Return a palette as lines of text."""
    rows = [("name", "colour", "seen", "of the tile", "with")]
    rows += [
        (
            entry.name + (" (ground)" if entry.is_ground else ""),
            entry.colour,
            f"{entry.area / 100:.2f} cm²",
            f"{entry.share * 100:.2f} %",
            _with(entry) if found.gathered else ", ".join(entry.members[1:]) or "–",
        )
        for entry in found.entries
    ]
    if found.cloth > 0:
        rows.append(("bare cloth", "–", "", f"{found.cloth * 100:.2f} %", "–"))
    return aligned(rows, right=(2, 3))


def _with(entry: Entry) -> str:
    """Return in short what a main colour stands for besides itself."""
    shades, ramps = len(entry.members) - 1, len(entry.ramps)
    words = [counted(shades, "shade")] if shades else []
    return ", ".join([*words, *([counted(ramps, "ramp")] if ramps else [])]) or "–"


def write_palette(found: Palette, folder: Path, design: str) -> list[Path]:
    """Write a palette as CSS custom properties, JSON, CSV, a TOML block, and chip cards.

    Raises:
        InputError: a file can't be written.
    """
    facts = {"design": design, "colours": [entry.as_dict() for entry in found.entries]}
    contents = {
        "palette.css": css(found.block()).encode(),
        "palette.json": (json.dumps(facts, indent=2, ensure_ascii=False) + "\n").encode(),
        "palette.csv": table_csv(found).encode(),
        "palette.toml": toml_block(found).encode(),
        "palette.svg": chip_card_svg(found, design).encode(),
        "palette.png": png_of(chip_card(found, design)),
    }
    files = {folder / name: data for name, data in contents.items()}
    write_together(files)
    return list(files)


def table_csv(found: Palette) -> str:
    """Return a palette as comma-separated values (RFC 4180)."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(["name", "colour", "area_cm2", "share", "ground", "members"])
    for entry in found.entries:
        area, share = f"{entry.area / 100:.4f}", f"{entry.share:.6f}"
        ground = "yes" if entry.is_ground else "no"
        writer.writerow([entry.name, entry.colour, area, share, ground, " ".join(entry.members)])
    return text.getvalue()


def toml_block(found: Palette) -> str:
    """Return a palette as a TOML table, name = colour."""
    return tomlkit.dumps({"palette": found.block()})


def _words(found: Palette, design: str) -> list[tuple[int, int, str, int, str, str]]:
    """Return the words of the chip card: where each begins or ends on its baseline, in pixels."""
    words = [(40, 60, "start", 28, _INK, design)]
    right = _WIDTH - 40
    for n, entry in enumerate(found.entries):
        y = 90 + n * _ROW
        told = entry.colour + ("  ground" if entry.is_ground else "")
        words += [
            (200, y + 24, "start", 20, _INK, entry.name),
            (200, y + 46, "start", 16, _QUIET, told),
            (right, y + 24, "end", 20, _INK, f"{entry.share * 100:.2f} %"),
            (right, y + 46, "end", 16, _QUIET, f"{entry.area / 100:.1f} cm²"),
        ]
    return words


def chip_card(found: Palette, design: str) -> Image.Image:
    """Return a palette as a picture: a chip a colour, with its name and share."""
    card = Image.new("RGB", (_WIDTH, 110 + _ROW * len(found.entries)), PAPER)
    pen = ImageDraw.Draw(card)
    for n, entry in enumerate(found.entries):
        y = 90 + n * _ROW
        edge = _EDGE if lightness(entry.colour) > 90 else entry.colour
        pen.rectangle((40, y, 40 + _CHIP, y + _ROW - 10), fill=entry.colour, outline=edge)
    for x, y, anchor, size, colour, words in _words(found, design):
        # The built-in face has no superscript two.
        plain, font = words.replace("cm²", "sq cm"), ImageFont.load_default(size)
        pen.text((x, y), plain, fill=colour, font=font, anchor="ls" if anchor == "start" else "rs")
    return card


def chip_card_svg(found: Palette, design: str) -> str:
    """Return the chip card as SVG."""
    height = 110 + _ROW * len(found.entries)
    body = [
        f'<rect x="40" y="{90 + n * _ROW}" width="{_CHIP}" height="{_ROW - 10}" '
        f'fill="{entry.colour}" stroke="{_EDGE}" stroke-width="0.5"/>'
        for n, entry in enumerate(found.entries)
    ]
    body += [
        f'<text x="{x}" y="{y}" font-size="{size}" text-anchor="{anchor}" fill="{colour}">'
        f"{escaped(words)}</text>"
        for x, y, anchor, size, colour, words in _words(found, design)
    ]
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_WIDTH}" height="{height}" '
        f'viewBox="0 0 {_WIDTH} {height}" font-family="sans-serif">\n'
        f'<rect width="{_WIDTH}" height="{height}" fill="{PAPER}"/>\n'
        + "\n".join(body)
        + "\n</svg>\n"
    )


def parse_colour(text: str) -> str:
    """Return the ``#rrggbb`` of any opaque CSS colour.

    Raises:
        InputError: anything else.
    """
    from vecrepeat.art.css_values import expand

    value = expand("stop-color", text.strip())
    colour = value[0][1] if value else None
    if not isinstance(colour, str) or not colour.startswith("#"):
        raise InputError(f"“{text[:40]}” is not a colour", hint="such as '#aa3355' or navy")
    return colour


def parse_pairs(pairs: tuple[str, ...], what: str) -> dict[str, str]:
    """Return ``left=right`` texts as a dict.

    Raises:
        InputError: one without a sign of equality.
    """
    found = {}
    for pair in pairs:
        left, sign, right = pair.partition("=")
        if not sign or not left.strip() or not right.strip():
            raise InputError(f"{what} “{pair[:60]}” has no two sides", hint=f"write {what} 'a=b'")
        found[left.strip()] = right.strip()
    return found


def parse_names(named: tuple[str, ...]) -> dict[str, str]:
    """Read ``--name COLOUR=NAME`` options as colour → name.

    Raises:
        InputError: one has no two sides, or what it names is no colour.
    """
    return {parse_colour(colour): name for colour, name in parse_pairs(named, "--name").items()}


def save_palette(source: Source, found: Palette) -> None:
    """Write a palette's names and colours into a recipe's ``[palette]``.

    Raises:
        InputError: the source is no recipe, or it can't be written.
    """
    _, text = recipe_text(source, "only a recipe keeps a palette")
    write_recipe(source.file, with_settings(text, "palette", found.block()), edits=source.file)


def recipe_names(source: Source) -> dict[str, str]:
    """Return colour → name of a recipe's palette, nothing for a drawing."""
    palette = source.recipe.palette if source.recipe else {}
    return {colour: name for name, colour in palette.items()}
