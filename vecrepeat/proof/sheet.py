"""The proof sheet: the design at true scale, its joins and rhythm, its facts and findings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from vecrepeat.check.findings import Finding
from vecrepeat.colour.palette import Entry, Palette
from vecrepeat.proof.cloth import Cloth
from vecrepeat.proof.drawing import (
    FONT,
    HAIR,
    MARK,
    SOFT,
    SheetBox,
    add_paragraph,
    line,
    n,
    rect,
    rulers,
    text,
    wrapped,
)
from vecrepeat.proof.papers import PAPERS
from vecrepeat.proof.scenes import SCENES, scene_svg
from vecrepeat.repeat.model import Repeat

MARGIN = 10.0
RULER = 9.0
GAP = 6.0

CAUTIONS = (
    "Screens and office printers show neither the colour nor the hand of the printed cloth or "
    "paper: order a strike-off and judge that.",
    "Fire and wash claims, and fitness for a nursery, are the printer's to state under your "
    "local code.",
)


@dataclass(frozen=True, eq=False)
class Proof:
    """What a proof sheet tells.

    Attributes:
        title: the design's name.
        repeat: the endless cloth at print size.
        facts: (label, value) lines.
        palette: colours, the most seen first.
        findings: of a check, the worst first.
        cautions: sentences that stand at the foot.
    """

    title: str
    repeat: Repeat
    facts: Sequence[tuple[str, str]]
    palette: Palette
    findings: Sequence[Finding]
    cautions: Sequence[str] = CAUTIONS


def sheet_svg(proof: Proof, paper: str = "a3") -> str:
    """Return the proof as an SVG document of one of :data:`PAPERS`, in mm."""
    width, height = PAPERS[paper]
    column = min(96.0, width * 0.27)
    cloth = Cloth(proof.repeat)
    foot = 12.0
    main = SheetBox(
        MARGIN + RULER,
        MARGIN + RULER + 12,
        width - 2 * MARGIN - 2 * RULER - GAP - column,
        height - 2 * MARGIN - 2 * RULER - 12 - foot,
    )
    right = SheetBox(width - MARGIN - column, MARGIN, column, height - 2 * MARGIN - foot)
    body = [
        rect(SheetBox(0, 0, width, height), fill="#ffffff"),
        text(main.x - RULER, MARGIN + 6, proof.title, 7.0, weight="bold"),
        text(
            main.right + RULER,
            MARGIN + 6,
            "true scale: print at 100 %, then hold a ruler to it",
            3.0,
            fill=SOFT,
            anchor="end",
        ),
        cloth.true_scale(main),
        rect(main, stroke=HAIR, width=0.15),
        _tile_marks(proof.repeat, main),
        rulers(main),
        _marks(proof.findings, main),
        _column(proof, cloth, right),
    ]
    y = height - MARGIN - foot + 5
    body.append(line(MARGIN, y - 3.6, width - MARGIN, y - 3.6, 0.15, HAIR))
    add_paragraph(body, MARGIN, y, proof.cautions, 2.4, fill=SOFT)
    return document(width, height, cloth.definitions, "".join(body))


def scenes_svg(proof: Proof, paper: str = "a3") -> str:
    """Return a second sheet: the design in use, in true proportion."""
    width, height = PAPERS[paper]
    cloth = Cloth(proof.repeat)
    inner = SheetBox(MARGIN, MARGIN + 12, width - 2 * MARGIN, height - 2 * MARGIN - 12)
    left = inner.width * 0.54
    upper = inner.height * 0.52
    right = inner.width - left - GAP
    boxes = (
        SheetBox(inner.x, inner.y, left, inner.height * 0.66),
        SheetBox(inner.x + left + GAP, inner.y, right, upper),
        SheetBox(inner.x, inner.y + inner.height * 0.66 + GAP, left, inner.height * 0.34 - GAP),
        SheetBox(inner.x + left + GAP, inner.y + upper + GAP, right, inner.height - upper - GAP),
    )
    body = [
        rect(SheetBox(0, 0, width, height), fill="#ffffff"),
        text(MARGIN, MARGIN + 6, f"{proof.title}: in use, in true proportion", 5.4, weight="bold"),
        *(
            scene_svg(scene, [cloth], box, f"scene-{number}")
            for number, (scene, box) in enumerate(zip(SCENES, boxes, strict=True))
        ),
    ]
    return document(width, height, "", "".join(body))


def document(width: float, height: float, definitions: str, body: str) -> str:
    """Return an SVG document in mm, of what its ``defs`` hold and what is drawn."""
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{n(width)}mm" height="{n(height)}mm" viewBox="0 0 {n(width)} {n(height)}" '
        f'font-family="{FONT}">\n<defs>{definitions}</defs>\n{body}</svg>\n'
    )


def _tile_marks(repeat: Repeat, main: SheetBox) -> str:
    """Return the tile's bounds, as far as they lie on the shown cloth."""
    w, h = float(repeat.width), float(repeat.height)
    parts = []
    for ink, width, dash in (("#ffffff", 0.7, "none"), (MARK, 0.3, "3 2")):
        x1, y1 = min(w, main.width), min(h, main.height)
        d = f"M{n(main.x)} {n(main.y + y1)}V{n(main.y)}H{n(main.x + x1)}"
        if w <= main.width:
            d += f"M{n(main.x + w)} {n(main.y)}V{n(main.y + y1)}"
        if h <= main.height:
            d += f"M{n(main.x)} {n(main.y + h)}H{n(main.x + x1)}"
        dashed = "" if dash == "none" else f' stroke-dasharray="{dash}"'
        parts.append(f'<path d="{d}" fill="none" stroke="{ink}" stroke-width="{width}"{dashed}/>')
    return "".join(parts)


def _marks(findings: Sequence[Finding], main: SheetBox) -> str:
    """Return the findings' numbers where they lie on the shown cloth."""
    parts = []
    for number, finding in enumerate(findings, 1):
        if finding.at is None:
            continue
        x, y = finding.at
        if x < main.width and y < main.height:
            parts.append(_number(main.x + x, main.y + y, number))
    return "".join(parts)


def _number(x: float, y: float, number: int) -> str:
    return (
        f'<circle cx="{n(x)}" cy="{n(y)}" r="2.4" fill="#ffffff" stroke="{MARK}" '
        f'stroke-width="0.4"/>'
        f"{text(x, y + 0.95, str(number), 2.7, fill=MARK, weight='bold', anchor='middle')}"
    )


def _column(proof: Proof, cloth: Cloth, box: SheetBox) -> str:
    """Return the right-hand column: facts, palette, joins and rhythm, findings."""
    parts = []
    y = box.y + 4
    for label, value in proof.facts:
        parts.append(text(box.x, y, label, 2.6, fill=SOFT))
        lines = wrapped(value, box.width - 24, 2.9)
        y = add_paragraph(parts, box.x + 24, y, lines, 2.9) + 0.8
    y += 3
    drawn, y = _palette(proof.palette.entries, box._replace(y=y))
    parts.append(drawn)
    y += 5
    side = (box.width - GAP) / 2
    repeat = proof.repeat
    for number, (tiles, label) in enumerate(((2, "2 × 2: joins"), (6, "6 × 6: rhythm"))):
        shown = SheetBox(box.x + number * (side + GAP), y + 1.5, side, side)
        scale = side / (tiles * float(max(repeat.width, repeat.height)))
        parts.append(text(shown.x, y, label, 2.6, fill=SOFT))
        parts.append(cloth.picture(shown, scale))
        parts.append(rect(shown, stroke=HAIR, width=0.15))
    y += side + 8
    parts.append(_findings(proof.findings, box._replace(y=y, height=box.bottom - y)))
    return "".join(parts)


def _palette(entries: Sequence[Entry], box: SheetBox) -> tuple[str, float]:
    """Return chips with names and values in two columns, and the y below them."""
    parts = [text(box.x, box.y, "palette", 2.6, fill=SOFT)]
    chip, step = 6.0, 7.4
    shown = entries[:16]
    half = math.ceil(len(shown) / 2)
    for number, entry in enumerate(shown):
        x = box.x + (number // half) * box.width / 2
        y = box.y + 2 + (number % half) * step
        parts.append(rect(SheetBox(x, y, chip, chip), fill=entry.colour, stroke=HAIR, width=0.15))
        name = entry.name if len(entry.name) <= 18 else entry.name[:17] + "…"
        parts.append(text(x + chip + 2, y + 2.5, name, 2.5))
        value = f"{entry.colour}  {entry.share:.1%}"
        parts.append(text(x + chip + 2, y + 5.6, value, 2.3, fill=SOFT))
    y = box.y + 2 + half * step
    if len(entries) > len(shown):
        parts.append(text(box.x, y + 2, f"and {len(entries) - len(shown)} more", 2.4, fill=SOFT))
        y += 4
    return "".join(parts), y


def _findings(findings: Sequence[Finding], box: SheetBox) -> str:
    """Return as many findings as there is room for, numbered."""
    parts = [text(box.x, box.y, "check", 2.6, fill=SOFT)]
    y = box.y + 4.5
    if not findings:
        parts.append(text(box.x, y, "nothing found", 2.8))
    for number, finding in enumerate(findings, 1):
        lines = wrapped(f"{finding.what}: {finding.advice}", box.width - 7, 2.4)
        if y + len(lines) * 3.3 > box.bottom:
            left = len(findings) - number + 1
            parts.append(text(box.x, y, f"and {left} more: vecrepeat check lists them", 2.4))
            break
        parts.append(_number(box.x + 2.4, y - 0.8, number))
        y = add_paragraph(parts, box.x + 7, y, lines, 2.4) + 1.2
    return "".join(parts)
