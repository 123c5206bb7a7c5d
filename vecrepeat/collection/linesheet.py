"""The line sheet: all prints of a collection at one scale, with their palette."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from vecrepeat.collection.line import Line
from vecrepeat.core.colours import rgb_of
from vecrepeat.core.difference import profile_lab_of
from vecrepeat.core.units import MM_PER_INCH, counted
from vecrepeat.proof.cloth import Cloth
from vecrepeat.proof.drawing import (
    HAIR,
    INK,
    SOFT,
    SheetBox,
    add_paragraph,
    line,
    rect,
    text,
)
from vecrepeat.proof.papers import PAPERS
from vecrepeat.proof.sheet import CAUTIONS, document
from vecrepeat.recipe.collection import Collection, Print
from vecrepeat.recipe.model import AS_DRAWN
from vecrepeat.repeat.model import Repeat

MARGIN, GAP = 14.0, 5.0
HEAD, FOOT, CAPTION = 19.0, 13.0, 10.0
CHIP = 11.0
"""A colour's height in the palette's row, in mm."""

NARROWEST = 31.0
"""The least width of a colour with its values, in mm."""

DPI = 200
"""Pixels per inch of paper of the cloths on a line sheet."""

SCALES = tuple(map(Fraction, ("1", "3/2", "2", "5/2", "3", "4", "5", "6", "8", "10", "15", "20")))
"""One to how much prints are shown: the first at which a whole tile of the hero is seen."""

_HERO = 0.4
"""The heroes' share of the sheet's width."""

_SECOND = 0.56
"""The secondaries' share of the height beside them, where there are blenders too."""


class Cell(NamedTuple):
    """A print's place on the sheet, its caption below not counted."""

    one: Print
    repeat: Repeat
    box: SheetBox


def sheet_svg(shown: Line, way: str, paper: str = "a3") -> str:
    """Return a line sheet in one of the collection's ways as an SVG document in mm.

    Raises:
        InputError: a print can't be drawn.
    """
    width, height = PAPERS[paper]
    collection = shown.collection
    palette = collection.palette_in(way)
    rows = math.ceil(len(palette) / int((width - 2 * MARGIN) / NARROWEST))
    high = rows * (CHIP + 16.0)
    inner = SheetBox(
        MARGIN, MARGIN + HEAD, width - 2 * MARGIN, height - 2 * MARGIN - HEAD - FOOT - high
    )
    cells = list(laid_out(list(zip(shown.prints, shown.repeats(way), strict=True)), inner))
    scale = scale_of(cells)
    name = "" if way == AS_DRAWN else way
    told = f"{counted(len(cells), 'print')}, all at one scale: 1 to {float(1 / scale):g}"
    body = [
        rect(SheetBox(0, 0, width, height), fill="#ffffff"),
        text(MARGIN, MARGIN + 8, collection.name, 10.0, weight="bold"),
        text(width - MARGIN, MARGIN + 4.4, name, 4.6, anchor="end"),
        text(width - MARGIN, MARGIN + 9, told, 2.9, fill=SOFT, anchor="end"),
        line(MARGIN, MARGIN + 13, width - MARGIN, MARGIN + 13, 0.2, HAIR),
        *(_cell(cell, scale) for cell in cells),
        palette_svg(
            collection, palette, SheetBox(MARGIN, inner.bottom + 2, inner.width, high), rows
        ),
    ]
    foot = height - MARGIN - FOOT + 6
    body.append(line(MARGIN, foot - 2, width - MARGIN, foot - 2, 0.2, HAIR))
    body.append(scale_bar(width - MARGIN, foot + 3.2, scale))
    add_paragraph(body, MARGIN, foot + 2.6, CAUTIONS, 2.3, fill=SOFT)
    return document(width, height, "", "".join(body))


def laid_out(prints: Sequence[tuple[Print, Repeat]], box: SheetBox) -> Iterator[Cell]:
    """Yield where prints stand: heroes on the left, secondaries beside them, blenders below."""
    groups = {
        role: [one for one in prints if one[0].role == role]
        for role in ("hero", "secondary", "blender")
    }
    beside = [group for role in ("secondary", "blender") if (group := groups[role])]
    heroes = groups["hero"]
    if heroes:
        wide = box.width if not beside else box.width * _HERO * min(2, len(heroes)) ** 0.4
        yield from _grid(heroes, box._replace(width=wide), 1 if beside else len(heroes))
        left = wide + GAP * 1.6
        box = box._replace(x=box.x + left, width=box.width - left)
    share = _SECOND if len(beside) == 2 else 1.0
    for group in beside:
        high = (box.height - GAP) * share if len(beside) == 2 else box.height
        yield from _grid(group, box._replace(height=high), _columns(len(group), box.width / high))
        box = box._replace(y=box.y + high + GAP)
        share = 1 - share


def _columns(count: int, ratio: float) -> int:
    """Return in how many columns cells of a box so many times as wide as high are nearest square.

    Full rows go before square cells.
    """

    def cost(columns: int) -> float:
        rows = math.ceil(count / columns)
        return abs(math.log(ratio * rows / columns)) + 0.6 * (columns * rows - count)

    return min(range(1, count + 1), key=cost)


def _grid(group: Sequence[tuple[Print, Repeat]], box: SheetBox, columns: int) -> Iterator[Cell]:
    rows = math.ceil(len(group) / columns)
    wide = (box.width - (columns - 1) * GAP) / columns
    high = (box.height - (rows - 1) * GAP) / rows
    for number, (one, repeat) in enumerate(group):
        x = box.x + number % columns * (wide + GAP)
        y = box.y + number // columns * (high + GAP)
        yield Cell(one, repeat, SheetBox(x, y, wide, high - CAPTION))


def scale_of(cells: Sequence[Cell]) -> Fraction:
    """Return the scale at which the first print's cell shows a whole tile of it."""
    _, repeat, box = cells[0]
    for scale in SCALES:
        if repeat.width <= box.width * scale and repeat.height <= box.height * scale:
            return 1 / scale
    return 1 / SCALES[-1]


def size_of(repeat: Repeat) -> str:
    """Return a repeat's size and layout in a caption."""
    inches = " × ".join(
        f"{float(side / MM_PER_INCH):.3g}" for side in (repeat.width, repeat.height)
    )
    mm = " × ".join(f"{float(side):.0f}" for side in (repeat.width, repeat.height))
    return f"{mm} mm ({inches} in), {repeat.layout}"


def _cell(cell: Cell, scale: Fraction) -> str:
    one, repeat, box = cell
    most = int(box.width / 1.65)
    name = one.name if len(one.name) <= most else f"{one.name[: most - 1]}…"
    told = f"{one.role}, {size_of(repeat)}"
    if len(told) > box.width / 1.22:
        told = size_of(repeat).partition(" (")[0]
    return (
        Cloth(repeat, DPI).picture(box, float(scale))
        + rect(box, stroke=HAIR, width=0.12)
        + text(box.x, box.bottom + 4.2, name, 3.3, weight="bold")
        + text(box.x, box.bottom + 7.8, told, 2.4, fill=SOFT)
    )


def values_of(colour: str) -> tuple[str, str]:
    """Return a colour's sRGB and CIE Lab (D50, as in ICC profiles) in words."""
    red, green, blue = (int(v) for v in rgb_of(colour))
    light, a, b = (float(v) for v in profile_lab_of(rgb_of(colour)))
    return f"{colour}  {red} {green} {blue}", f"Lab {light:.1f} {a:+.1f} {b:+.1f}"


def palette_svg(collection: Collection, palette: dict[str, str], box: SheetBox, rows: int) -> str:
    """Return the palette's colours side by side, each with its values below."""
    columns = math.ceil(len(palette) / rows)
    wide = min(box.width / columns, 52.0)
    parts = []
    for number, (name, colour) in enumerate(palette.items()):
        x = box.x + number % columns * wide
        y = box.y + number // columns * box.height / rows
        parts.append(rect(SheetBox(x, y, wide - 1.2, CHIP), fill=colour, stroke=HAIR, width=0.12))
        lines = [*values_of(colour), collection.printer.get(name, "")]
        parts.append(text(x, y + CHIP + 3.4, name, 2.7, weight="bold"))
        add_paragraph(parts, x, y + CHIP + 6.6, [one for one in lines if one], 2.15, fill=SOFT)
    return "".join(parts)


def scale_bar(right: float, y: float, scale: Fraction) -> str:
    """Return bars of cloth's cm and inches that end at a place, at the prints' scale."""
    inches = 4 if scale >= Fraction(1, 5) else 12
    bars = ((Fraction(10), inches * 5 // 2, "cm"), (MM_PER_INCH, inches, "in"))
    longest = max(float(unit * count * scale) for unit, count, _ in bars)
    parts = [text(right - longest - 17, y + 1.6, "on the cloth", 2.3, fill=SOFT, anchor="end")]
    for number, (unit, count, label) in enumerate(bars):
        step = float(unit * scale)
        x, at = right - 14 - step * count, y - 1.2 + number * 3.6
        for k in range(count):
            box = SheetBox(x + step * k, at, step, 1.1)
            parts.append(rect(box, fill="#ffffff" if k % 2 else INK, stroke=INK, width=0.12))
        parts.append(text(right, at + 1.4, f"{count} {label}", 2.3, fill=SOFT, anchor="end"))
    return "".join(parts)
