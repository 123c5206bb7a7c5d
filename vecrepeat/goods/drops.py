"""A wall's paper as printable drops: panels of one large sheet, in hanging order.

A panel is the endless cloth from another corner, so it is written as any sheet is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Affine
from vecrepeat.core.units import Size, format_mm
from vecrepeat.draw.plan import printed_size
from vecrepeat.repeat.model import Repeat
from vecrepeat.write.exporting import Exported, Exporter, file_name
from vecrepeat.write.formats import Progress, Settings, known

MAX_PANELS = 500
"""The most panels of one wall."""


@dataclass(frozen=True)
class Panel:
    """One drop of a wall.

    Attributes:
        number: from 1, from the left.
        of: how many there are.
        left: where on the wall it starts, in mm; the next one hangs over its right side.
        size: its width, overlap included, and its height, trim included, in mm.
    """

    number: int
    of: int
    left: Fraction
    size: Size


def panels(wall: Size, width: Fraction, *, overlap: Fraction, trim: Fraction) -> list[Panel]:
    """Split a wall into panels from left to right.

    Where two lie over each other, the right one is on top.

    Args:
        wall: its size in mm.
        width: of the printed web in mm, which is the widest a panel may be.
        overlap: by how much each panel lies over the one before, in mm.
        trim: what is cut off, top and bottom together, in mm.

    Raises:
        InputError: an overlap that leaves nothing, or more than :data:`MAX_PANELS`.
    """
    step = width - overlap
    if step <= 0:
        raise InputError(
            f"an overlap of {format_mm(overlap)} leaves nothing of a width of {format_mm(width)}"
        )
    count = max(1, math.ceil((wall.width - overlap) / step))
    if count > MAX_PANELS:
        raise InputError(f"the wall takes more than {MAX_PANELS} panels")
    height = wall.height + trim
    return [
        Panel(n + 1, count, n * step, Size(min(width, wall.width - n * step), height))
        for n in range(count)
    ]


def moved(repeat: Repeat, x: Fraction, y: Fraction) -> Repeat:
    """Return the endless cloth with another point of it, in mm of the drawing, at the corner."""
    # By whole straight blocks it would be the same cloth, and far from its tile nothing may lie.
    across, down = repeat.block_size
    shift = Affine.translation(float(-(x % across)), float(-(y % down)))
    placements = tuple(replace(p, transform=shift @ p.transform) for p in repeat.placements)
    # Its mirrors have moved too, so that nothing may be laid out of mirrored pixels.
    return replace(repeat, placements=placements, symmetry=None)


def _marked(name: str, panel: Panel, found: Sequence[Panel]) -> dict[str, Any]:
    """Return what stands on the margin of a panel: which it is, and where the next one begins."""
    label = f"{name}  drop {panel.number} of {panel.of}"
    if panel.number < panel.of:
        starts = found[panel.number].left - panel.left
        if overlap := panel.size.width - starts:
            return {"label": f"{label}  overlap {format_mm(overlap)}", "joins": (starts,)}
    return {"label": label}


def write_panels(
    repeat: Repeat,
    name: str,
    output: str,
    found: Sequence[Panel],
    *,
    dpi: Fraction,
    on_pixels: bool = False,
    width: Fraction | None,
    height: Fraction | None,
    trim: Fraction,
    settings: Settings,
    progress: Progress | None = None,
) -> list[Exported]:
    """Write panels as files, numbered in hanging order.

    Args:
        repeat: the endless cloth; half the trim lies above the wall's top.
        name: of the source, for file names.
        output: a template that holds {number}.
        found: from :func:`panels`.
        dpi: pixels per inch.
        on_pixels: lay vectors out on whole pixels too; see :meth:`Exporter.sheet`.
        width: one tile's print width in mm.
        height: one tile's print height in mm.
        trim: what :func:`panels` was given.
        settings: what the format is told; a PDF gets each panel's number on its margin.
        progress: called with rows finished.

    Raises:
        InputError: a template without {number}, or what an export raises.
    """
    known(Path(output))
    printed = printed_size(repeat, width, height)
    sx, sy = repeat.width / printed.width, repeat.height / printed.height
    names = [
        file_name(output, {"name": name, "number": f"{panel.number:02}", "of": str(panel.of)})
        for panel in found
    ]
    if len(set(names)) < len(names):
        raise InputError(
            f"all drops would be written to {names[0]}", hint="put {number} in the name"
        )
    done = []
    for panel, file in zip(found, names, strict=True):
        exporter = Exporter(moved(repeat, panel.left * sx, -trim / 2 * sy))
        plan = exporter.plan(dpi, width=width, height=height)
        told = settings
        if settings.marks:
            told = replace(settings, **_marked(name, panel, found))
        cut = exporter.sheet(plan, size=panel.size, on_pixels=on_pixels)
        done.append(exporter.write(file, cut, settings=told, progress=progress))
    return done
