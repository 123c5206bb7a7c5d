"""Small pieces of SVG that proof sheets are drawn with; lengths in mm."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
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


class SheetBox(NamedTuple):
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
) -> str:
    """Return a line of text with its baseline at (x, y), ``size`` mm high."""
    bold = "" if weight == "normal" else f' font-weight="{weight}"'
    return (
        f'<text x="{n(x)}" y="{n(y)}" font-size="{n(size)}" fill="{fill}" '
        f'text-anchor="{anchor}"{bold}>{escaped(words)}</text>'
    )


def line(x0: float, y0: float, x1: float, y1: float, width: float = 0.2, ink: str = INK) -> str:
    """Return a straight line."""
    return (
        f'<path d="M{n(x0)} {n(y0)}L{n(x1)} {n(y1)}" stroke="{ink}" '
        f'stroke-width="{n(width)}" fill="none"/>'
    )


def rect(box: SheetBox, *, fill: str = "none", stroke: str = "none", width: float = 0.2) -> str:
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


def add_paragraph(
    parts: list[str], x: float, y: float, lines: Iterable[str], size: float, *, fill: str = INK
) -> float:
    """Add lines under one another, the first one's baseline at y; return the y below them."""
    for words in lines:
        parts.append(text(x, y, words, size, fill=fill))
        y += size * 1.35
    return y


def rulers(box: SheetBox) -> str:
    """Return rulers round a box: cm and mm below and on the left, inches and eighths beyond.

    Zero is at the corner where a ruler begins, from the left or from above.
    """
    inch = float(MM_PER_INCH)
    # Length and unit in mm, parts of a unit, a place so far along and so far away, how far away
    # numbers stand, and what is said at zero; beside the box zero has no room.
    sides: list[tuple[float, float, int, Callable[[float, float], Sequence[float]], float, str]] = [
        (box.width, 10.0, 10, lambda at, far: (box.x + at, box.bottom + far), 6.6, "0 cm"),
        (box.height, 10.0, 10, lambda at, far: (box.x - far, box.y + at), 4.6, ""),
        (box.width, inch, 8, lambda at, far: (box.x + at, box.y - far), 4.8, "0 in"),
        (box.height, inch, 8, lambda at, far: (box.right + far, box.y + at), 4.6, ""),
    ]
    drawn = []
    for length, unit, parts, place, room, zero in sides:
        ticks = ""
        for part in range(int(length / unit * parts + 1e-9) + 1):
            tick = 4.0 if part % parts == 0 else 2.6 if part % (parts // 2) == 0 else 1.5
            (x, y), (x1, y1) = (place(part * unit / parts, far) for far in (0.0, tick))
            ticks += f"M{n(x)} {n(y)}l{n(x1 - x)} {n(y1 - y)}"
        drawn.append(f'<path d="{ticks}" stroke="{INK}" stroke-width="0.12" fill="none"/>')
        for count in range(int(length / unit + 1e-9) + 1):
            x, y = place(count * unit, room)
            if zero:
                drawn.append(text(x, y, str(count) if count else zero, 2.3, anchor="middle"))
            elif count:
                anchor = "end" if x < box.x else "start"
                drawn.append(text(x, y + 0.8, str(count), 2.3, anchor=anchor))
    return "".join(drawn)
