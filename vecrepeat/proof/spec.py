"""The spec sheet: what a printer and a buyer must know of a design, on one page."""

from __future__ import annotations

from collections import Counter

from vecrepeat.core.colours import rgb_of
from vecrepeat.core.difference import profile_lab_of
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
    wrapped,
)
from vecrepeat.proof.sheet import Proof, document

WIDTH, HEIGHT = 210.0, 297.0
MARGIN = 16.0
FOOT = HEIGHT - 36.0
"""Where the cautions begin."""

ROW, TIGHT = 5.8, 4.3
"""A colour's row, and the least it may have where there are many, in mm."""


def spec_svg(proof: Proof) -> str:
    """Return the sheet as an SVG document of A4, standing (ISO 216, from memory), in mm."""
    cloth = Cloth(proof.repeat)
    repeat = proof.repeat
    inner = WIDTH - 2 * MARGIN
    side = 74.0
    shown = SheetBox(WIDTH - MARGIN - side, MARGIN + 14, side, side)
    tiles = 2 * float(max(repeat.width, repeat.height))
    parts = [
        rect(SheetBox(0, 0, WIDTH, HEIGHT), fill="#ffffff"),
        text(MARGIN, MARGIN + 6, proof.title, 7.0, weight="bold"),
        text(MARGIN, MARGIN + 11, "specification", 3.2, fill=SOFT),
        cloth.picture(shown, side / tiles),
        rect(shown, stroke=HAIR, width=0.15),
        text(
            shown.right, shown.bottom + 4, "2 × 2 tiles, not to scale", 2.5, fill=SOFT, anchor="end"
        ),
    ]
    y = shown.y + 3
    for label, value in proof.facts:
        parts.append(text(MARGIN, y, label, 2.9, fill=SOFT))
        lines = wrapped(value, inner - side - 34, 3.2)
        y = add_paragraph(parts, MARGIN + 26, y, lines, 3.2) + 1.8
    y = max(y, shown.bottom + 8) + 6
    kinds = Counter(finding.kind for finding in proof.findings)
    told = "; ".join(f"{kind}: {count}" for kind, count in kinds.items()) or "nothing found"
    answer = wrapped(told, inner - 26, 3.0)
    below = add_paragraph([], MARGIN + 26, 8.0, answer, 3.0)
    drawn, y = _colours(proof, y, FOOT - below)
    parts.append(drawn)
    y += 8
    parts.append(text(MARGIN, y, "check", 2.9, fill=SOFT))
    add_paragraph(parts, MARGIN + 26, y, answer, 3.0)
    parts.append(line(MARGIN, FOOT, WIDTH - MARGIN, FOOT, 0.15, HAIR))
    foot = FOOT + 5
    for caution in proof.cautions:
        lines = wrapped(caution, inner, 2.7)
        foot = add_paragraph(parts, MARGIN, foot, lines, 2.7, fill=SOFT)
    return document(WIDTH, HEIGHT, cloth.definitions, "".join(parts))


def _colours(proof: Proof, y: float, end: float) -> tuple[str, float]:
    """Return the table of colours from y to ``end`` at most, and the y below it."""
    columns = (MARGIN, MARGIN + 10, MARGIN + 58, MARGIN + 82, MARGIN + 124, WIDTH - MARGIN)
    heads = ("", "colour", "sRGB", "CIE Lab (D50, as in ICC)", "", "seen")
    parts = []
    for x, head in zip(columns, heads, strict=True):
        anchor = "end" if head == "seen" else "start"
        parts.append(text(x, y, head, 2.6, fill=SOFT, anchor=anchor))
    y += 2
    entries = proof.palette.entries
    room = end - y
    pitch = min(ROW, max(TIGHT, room / max(1, len(entries))))
    # The last row says how many more there are.
    shown = len(entries) if len(entries) * pitch <= room else int(room / pitch) - 1
    for entry in entries[:shown]:
        lightness, a, b = (float(v) for v in profile_lab_of(rgb_of(entry.colour)))
        parts.append(
            rect(
                SheetBox(columns[0], y, 7, pitch - 1.2), fill=entry.colour, stroke=HAIR, width=0.15
            )
        )
        row = y + pitch / 2 + 0.5
        name = entry.name + (" (ground)" if entry.is_ground else "")
        parts.append(text(columns[1], row, name, 2.9))
        parts.append(text(columns[2], row, entry.colour, 2.9))
        parts.append(text(columns[3], row, f"{lightness:.1f}  {a:+.1f}  {b:+.1f}", 2.9, fill=INK))
        parts.append(text(columns[5], row, f"{entry.share:.1%}", 2.9, anchor="end"))
        y += pitch
    left = len(entries) - shown
    if left > 0:
        parts.append(text(columns[1], y + 3, f"and {left} more", 2.6, fill=SOFT))
        y += pitch
    return "".join(parts), y
