"""Small pieces of SVG that proof sheets are drawn with; lengths in mm."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import NamedTuple

from vecrepeat.core.geometry import number
from vecrepeat.core.units import MM_PER_INCH
from vecrepeat.util.xmltext import escaped

INK = "#26282c"
SOFT = "#5f646d"
HAIR = "#b9bbbf"
MARK = "#b3261e"
"""Colours of the sheet's own lines and words; contrast on white is at least 4.5 to 1, but for
:data:`HAIR`, which no word is written in."""

FONT = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"


class Box(NamedTuple):
    """A rectangle in mm from the sheet's upper left corner."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """The right side's x."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """The lower side's y."""
        return self.y + self.height


def n(value: float) -> str:
    """Format a length to a micrometre."""
    return number(round(float(value), 3))


def text(
    x: float,
    y: float,
    words: str,
    size: float = 3.0,
    *,
    fill: str = INK,
    weight: str = "normal",
    anchor: str = "start",
    turn: float = 0.0,
) -> str:
    """Return a line of text with its baseline at (x, y), ``size`` mm high."""
    turned = f' transform="rotate({n(turn)} {n(x)} {n(y)})"' if turn else ""
    bold = "" if weight == "normal" else f' font-weight="{weight}"'
    return (
        f'<text x="{n(x)}" y="{n(y)}" font-size="{n(size)}" fill="{fill}" '
        f'text-anchor="{anchor}"{bold}{turned}>{escaped(words)}</text>'
    )


def line(x0: float, y0: float, x1: float, y1: float, width: float = 0.2, ink: str = INK) -> str:
    """Return a straight line."""
    return (
        f'<path d="M{n(x0)} {n(y0)}L{n(x1)} {n(y1)}" stroke="{ink}" '
        f'stroke-width="{n(width)}" fill="none"/>'
    )


def rect(box: Box, *, fill: str = "none", stroke: str = "none", width: float = 0.2) -> str:
    """Return a rectangle."""
    return (
        f'<rect x="{n(box.x)}" y="{n(box.y)}" width="{n(box.width)}" height="{n(box.height)}" '
        f'fill="{fill}" stroke="{stroke}" stroke-width="{n(width)}"/>'
    )


def wrapped(words: str, width: float, size: float) -> list[str]:
    """Break words into lines of about ``width`` mm at a text size in mm.

    Letters of plain faces are about half as wide as they are high.
    """
    most = max(8, int(width / (size * 0.5)))
    lines: list[str] = []
    for word in words.split():
        if lines and len(lines[-1]) + 1 + len(word) <= most:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def paragraph(
    x: float, y: float, lines: Iterable[str], size: float, *, fill: str = INK, lead: float = 1.35
) -> tuple[str, float]:
    """Return lines under one another, the first one's baseline at y, and the y below them."""
    parts = []
    for words in lines:
        parts.append(text(x, y, words, size, fill=fill))
        y += size * lead
    return "".join(parts), y


def ruler_cm(box: Box, *, below: bool) -> str:
    """Return a ruler in cm and mm along a box's lower side, or along its left one.

    Its zero is the box's corner: lower left, or upper left.
    """
    parts = []
    length = box.width if below else box.height
    for mm in range(int(length) + 1):
        tick = 4.0 if mm % 10 == 0 else 2.6 if mm % 5 == 0 else 1.5
        if below:
            parts.append(_tick(box.x + mm, box.bottom, 0, tick))
        else:
            parts.append(_tick(box.x, box.y + mm, -tick, 0))
    marks = f'<path d="{"".join(parts)}" stroke="{INK}" stroke-width="0.12" fill="none"/>'
    words = []
    for cm in range(int(length) // 10 + 1):
        label = f"{cm} cm" if cm == 0 else str(cm)
        if below:
            words.append(text(box.x + 10 * cm, box.bottom + 6.6, label, 2.3, anchor="middle"))
        elif cm:
            words.append(text(box.x - 4.6, box.y + 10 * cm + 0.8, label, 2.3, anchor="end"))
    return marks + "".join(words)


def ruler_in(box: Box, *, above: bool) -> str:
    """Return a ruler in inches and eighths along a box's upper side, or along its right one."""
    parts = []
    inch = float(MM_PER_INCH)
    length = box.width if above else box.height
    for eighth in range(int(length / inch * 8 + 1e-9) + 1):
        at = float(Fraction(eighth, 8) * MM_PER_INCH)
        tick = 4.0 if eighth % 8 == 0 else 2.6 if eighth % 4 == 0 else 1.5
        if above:
            parts.append(_tick(box.x + at, box.y, 0, -tick))
        else:
            parts.append(_tick(box.right, box.y + at, tick, 0))
    marks = f'<path d="{"".join(parts)}" stroke="{INK}" stroke-width="0.12" fill="none"/>'
    words = []
    for number_of in range(int(length / inch + 1e-9) + 1):
        label = "0 in" if number_of == 0 else str(number_of)
        if above:
            words.append(text(box.x + number_of * inch, box.y - 4.8, label, 2.3, anchor="middle"))
        elif number_of:
            words.append(text(box.right + 4.6, box.y + number_of * inch + 0.8, label, 2.3))
    return marks + "".join(words)


def _tick(x: float, y: float, dx: float, dy: float) -> str:
    return f"M{n(x)} {n(y)}l{n(dx)} {n(dy)}"
