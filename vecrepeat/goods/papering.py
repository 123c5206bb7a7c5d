"""The workflow of roll: a repeat on a roll, and what walls take of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from vecrepeat.errors import InputError
from vecrepeat.goods.wallpaper import FREE, Estimate, Match, Wall, estimate, match_of, whole_repeats
from vecrepeat.raster.plan import printed_size
from vecrepeat.repeat import Repeat
from vecrepeat.units import Size, counted, format_mm

CAUTIONS = (
    "measure on the site itself, and buy all rolls of one batch with one to spare",
    "how wallpaper must behave in fire is for local codes, its printer and its hanger to say",
)
"""What every estimate comes with."""


@dataclass(frozen=True)
class Papering:
    """A repeat on a roll.

    Attributes:
        roll: its width and length in mm.
        tile: one tile's print size in mm.
        match: how drops continue each other; None where they are panels, each of its own.
        estimate: what the walls take; None where there are none or they take panels.
        notes: what the receiver should know, a sentence each.
    """

    roll: Size
    tile: Size
    match: Match | None
    estimate: Estimate | None
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
        panelled: bool = False,
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
            panelled: every drop is printed for its own place on the wall, so that a roll need
                not be a whole number of repeats wide.

        Raises:
            InputError: a roll whose drops can't continue each other, or too short for a drop.
        """
        tile = printed_size(repeat, width, height)
        match: Match | None
        try:
            match = FREE if free else match_of(repeat.layout, tile, roll.width)
        except InputError:
            if not panelled:
                raise
            match = None
        found = None
        if walls and match is not None:
            rooms = [Wall(walls[0], tuple(openings)), *(Wall(wall) for wall in walls[1:])]
            found = estimate(rooms, match, roll=roll, trim=trim)
        return cls(roll, tile, match, found, CAUTIONS)

    def lines(self) -> list[str]:
        """Return the facts a line each, the working last."""
        mm = " × ".join(format_mm(v) for v in self.roll)
        if self.match is None:
            return [f"roll {mm}: panels, each printed for its own place on the wall"]
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
