"""Trim and registration marks round a printed sheet.

Sizes are `common practice, no source`: hairlines of 0.25 pt, 5 mm long, that stop short of the
bleed; a cross in a circle in the middle of each side. Where a neighbour's edge will lie, a mark
half as long.
"""

from __future__ import annotations

import math
from fractions import Fraction

from pikepdf import Dictionary, Name, Pdf

from vecrepeat.write.formats import Settings
from vecrepeat.write.pdf_page import Frame
from vecrepeat.write.pdf_resources import Resources, decimal

SLUG = Fraction(9)
"""Room for marks beyond the bleed, in mm."""

GAP, LENGTH, RADIUS, LINE = 2.0, 5.0, 1.5, 0.25 * 25.4 / 72
"""In mm: from the bleed to a mark, a trim mark's length, a target's radius, a line's width."""

TEXT = 3.0
"""The size of a label's letters in mm."""

_ARC = 4 / 3 * math.tan(math.pi / 8)


_LETTER = 0.6
"""A letter's width in sizes of the type, amply reckoned."""


def marks(pdf: Pdf, resources: Resources, boxes: Frame, settings: Settings) -> list[str]:
    """Return operators that draw the marks, in the registration colour, which is on every plate.

    A label stands at the top left, in Helvetica, which every reader has (§9.6.2.2), and ends
    before the mark in the middle.
    """
    bleed, label = settings.bleed, settings.label
    name = resources.on_every_plate()
    mm = 72 / 25.4 / boxes.unit
    x0, y0, x1, y1 = (float(v) for v in boxes.trim)
    near, far = (float(bleed) + GAP) * mm, (float(bleed) + GAP + LENGTH) * mm
    lines: list[tuple[float, float, float, float]] = []
    for x in (x0, x1):
        lines += [(x, y0 - near, x, y0 - far), (x, y1 + near, x, y1 + far)]
    for y in (y0, y1):
        lines += [(x0 - near, y, x0 - far, y), (x1 + near, y, x1 + far, y)]
    for join in settings.joins:
        x, end = x0 + float(join) * mm, (near + far) / 2
        lines += [(x, y0 - near, x, y0 - end), (x, y1 + near, x, y1 + end)]
    out = ["q", f"/{name} CS 1 SCN {decimal(LINE * mm)} w 0 J []0 d"]
    middle = (near + far) / 2
    r, arm = RADIUS * mm, LENGTH / 2 * mm
    for x, y in (
        ((x0 + x1) / 2, y0 - middle),
        ((x0 + x1) / 2, y1 + middle),
        (x0 - middle, (y0 + y1) / 2),
        (x1 + middle, (y0 + y1) / 2),
    ):
        lines += [(x - arm, y, x + arm, y), (x, y - arm, x, y + arm)]
        out.append(_circle(x, y, r))
    out += [f"{decimal(a)} {decimal(b)} m {decimal(c)} {decimal(d)} l S" for a, b, c, d in lines]
    if label:
        font = Dictionary(
            Type=Name.Font,
            Subtype=Name.Type1,
            BaseFont=Name.Helvetica,
            Encoding=Name.WinAnsiEncoding,
        )
        name_of_font = resources.named("Font", pdf.make_indirect(font))
        at = f"{decimal(x0 + 2 * mm)} {decimal(y1 + near + 1 * mm)}"
        text = label.encode("cp1252", "replace").hex()
        room = (x1 - x0) / 2 - arm - 3 * mm
        size = decimal(min(TEXT * mm, max(room, mm) / (_LETTER * len(label))))
        out.append(f"/{name} cs 1 scn BT /{name_of_font} {size} Tf {at} Td <{text}> Tj ET")
    return [*out, "Q"]


def _circle(x: float, y: float, r: float) -> str:
    k = r * _ARC
    points = [
        (x + r, y + k, x + k, y + r, x, y + r),
        (x - k, y + r, x - r, y + k, x - r, y),
        (x - r, y - k, x - k, y - r, x, y - r),
        (x + k, y - r, x + r, y - k, x + r, y),
    ]
    curves = " ".join(" ".join(decimal(v) for v in row) + " c" for row in points)
    return f"{decimal(x + r)} {decimal(y)} m {curves} h S"
