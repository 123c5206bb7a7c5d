"""The workflow of roll: a repeat on a roll, what walls take of it, and a wall's printed drops.

A printed drop is a panel of the endless cloth from another corner, so it is written as any sheet
is.
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
from vecrepeat.core.units import Size, counted, format_mm
from vecrepeat.draw.plan import printed_size
from vecrepeat.goods.wallpaper import FREE, Estimate, Match, Wall, estimate, match_of, whole_repeats
from vecrepeat.repeat.model import Repeat
from vecrepeat.write.exporting import Exported, Exporter, file_name
from vecrepeat.write.formats import Progress, Settings, known

CAUTIONS = (
    "measure on the site itself, and buy all rolls of one batch with one to spare",
    "how wallpaper must behave in fire is for local codes, its printer and its hanger to say",
)
"""What every estimate comes with."""

SLIVER = Fraction(1, 3)
"""A last drop of less than this share of the roll's width is a sliver, which hangers dislike
(common practice, no source).
"""

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


@dataclass(frozen=True)
class Papering:
    """A repeat on a roll.

    Attributes:
        roll: its width and length in mm.
        tile: one tile's print size in mm.
        match: how drops continue each other; None where none does.
        estimate: what the walls take of ready-made rolls; None where there are no walls, or drops
            are printed.
        drops: those to be printed, each for its own place on the wall.
        notes: what the receiver should know, a sentence each.
    """

    roll: Size
    tile: Size
    match: Match | None
    estimate: Estimate | None
    drops: tuple[Panel, ...]
    notes: tuple[str, ...]

    @classmethod
    def of(
        cls,
        repeat: Repeat,
        *,
        width: Fraction | None = None,
        height: Fraction | None = None,
        roll: Size,
        walls: Sequence[Size] = (),
        openings: Sequence[Size] = (),
        trim: Fraction,
        free: bool = False,
        overlap: Fraction | None = None,
    ) -> Papering:
        """Work out a papering.

        Args:
            repeat: the endless cloth.
            width: one tile's print width in mm.
            height: one tile's print height in mm.
            roll: a roll's width and length in mm.
            walls: their sizes in mm.
            openings: doors and windows in the first of them, in mm.
            trim: what is cut off a drop, top and bottom together, in mm.
            free: take the design to join anywhere.
            overlap: by how much printed drops lie over each other, in mm; None where none are
                printed. Each is printed for its own place on the first wall, so that a roll need
                not be a whole number of repeats wide.

        Raises:
            InputError: a roll whose drops can't continue each other, or too short for a drop.
        """
        tile = printed_size(repeat, width, height)
        match: Match | None
        try:
            match = FREE if free else match_of(repeat.layout, tile, roll.width)
        except InputError:
            if overlap is None:
                raise
            match = None
        if overlap is not None:
            drops = tuple(panels(walls[0], roll.width, overlap=overlap, trim=trim))
            if drops[0].size.height > roll.height:
                raise InputError(
                    f"a drop of {format_mm(drops[0].size.height)} is longer than a roll of "
                    f"{format_mm(roll.height)}",
                    hint="give what the printer has: --roll 53cmx50m",
                )
            told = ["openings are printed like the wall around them"] if openings else []
            if drops[-1].size.width < SLIVER * roll.width and len(drops) > 1:
                alike = (walls[0].width + (len(drops) - 1) * overlap) / len(drops)
                told.append(
                    f"the last drop is only {format_mm(drops[-1].size.width)} wide; "
                    f"{counted(len(drops), 'drop')} of {format_mm(alike)} would be alike "
                    f"(--roll {float(alike):g}mmx{float(roll.height):g}mm)"
                )
            return cls(roll, tile, match, None, drops, (*told, *CAUTIONS))
        found = None
        if walls:
            assert match is not None
            rooms = [Wall(walls[0], tuple(openings)), *(Wall(wall) for wall in walls[1:])]
            found = estimate(rooms, match, roll=roll, trim=trim)
        return cls(roll, tile, match, found, (), CAUTIONS)

    @property
    def printed_rolls(self) -> int:
        """How many rolls printed drops take; they are cut one after the other."""
        return math.ceil(len(self.drops) / self._drops_a_roll)

    @property
    def _drops_a_roll(self) -> int:
        return math.floor(self.roll.height / self.drops[0].size.height)

    def lines(self) -> list[str]:
        """Return the facts a line each, the working last."""
        mm = " × ".join(format_mm(v) for v in self.roll)
        if self.drops:
            first, *others = self.drops
            overlap = first.left + first.size.width - others[0].left if others else 0
            over = f" and {format_mm(overlap)} over the one before" if overlap else ""
            return [
                f"roll {mm}: {counted(len(self.drops), 'drop')} of "
                f"{format_mm(first.size.height)}, each printed for its own place on the wall"
                f"{over}",
                f"{counted(self._drops_a_roll, 'drop')} a roll: "
                f"{counted(self.printed_rolls, 'roll')}",
            ]
        assert self.match is not None
        lines = [f"roll {mm}: {self.match}"]
        if (whole := whole_repeats(self.match, self.roll.height)) is not None:
            lines[0] += f", {counted(whole, 'whole repeat')} a roll"
        if self.estimate is not None:
            lines += self.estimate.working
            lines.append(f"waste {float(self.estimate.waste) * 100:.1f} %")
        return lines

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data, lengths in mm."""
        facts: dict[str, Any] = {
            "roll_mm": [float(v) for v in self.roll],
            "tile_mm": [float(v) for v in self.tile],
        }
        if self.match is not None:
            facts["match"] = {
                "kind": self.match.kind,
                "repeat_mm": float(self.match.repeat),
                "offset_mm": float(self.match.offset),
                "whole_repeats_a_roll": whole_repeats(self.match, self.roll.height),
            }
        if self.drops:
            facts |= {
                "rolls": self.printed_rolls,
                "printed_drops": [
                    {"left_mm": float(d.left), "size_mm": [float(v) for v in d.size]}
                    for d in self.drops
                ],
            }
        if self.estimate is not None:
            facts |= {
                "rolls": self.estimate.rolls,
                "drops": [
                    {"roll": d.roll, "start_mm": float(d.start), "length_mm": float(d.length)}
                    for d in self.estimate.drops
                ],
                "waste_percent": float(self.estimate.waste) * 100,
                "working": list(self.estimate.working),
            }
        return facts


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
