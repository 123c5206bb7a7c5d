"""Wallpaper arithmetic: how a repeat matches, what a wall takes, how many rolls a room needs.

Everything is exact, in mm. Nothing here knows a file.

Sources: EN 233 gives a roll as 0.53 m × 10.05 m, EN 235 the words straight match, drop (offset)
match and free match; both from memory. That drops are cut one after the other from a roll, each
a whole number of repeats on from the last, is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import Size, counted, format_mm
from vecrepeat.repeat.layout import Layout

EN_233 = Size(Fraction(530), Fraction(10_050))
"""The roll of EN 233, width and length in mm (from memory)."""

TRIM = Fraction(100)
"""What is cut off a drop at ceiling and skirting together, in mm (common practice, no source)."""

MAX_DROPS = 10_000
"""The most drops that are worked out one by one."""


@dataclass(frozen=True)
class Match:
    """How each drop continues the one before it.

    Attributes:
        kind: ``straight``, ``drop`` or ``free``.
        repeat: after how many mm down the design comes back; 0 for a free match.
        offset: by how many mm each next drop's design lies lower, 0 <= offset < repeat.
    """

    kind: str
    repeat: Fraction
    offset: Fraction = Fraction(0)

    def __str__(self) -> str:
        """Return it as on a label: the repeat and, for a drop match, the offset."""
        if self.kind == "free":
            return "free match"
        if self.kind == "straight":
            return f"straight match, repeat {format_mm(self.repeat)}"
        return f"drop match, repeat {format_mm(self.repeat)} / offset {format_mm(self.offset)}"


FREE = Match("free", Fraction(0))
"""Of designs that join anywhere, such as plains and fine textures."""


def match_of(layout: Layout, tile: Size, width: Fraction) -> Match:
    """Return the match that a layout makes on a roll, from a tile's print size; all in mm.

    Raises:
        InputError: the roll is no whole number of tiles wide, so that no drop cut from one
            endless print continues the one before.
    """
    across = width / tile.width
    if across.denominator != 1:
        fitting = width / max(1, round(across))
        raise InputError(
            f"a roll of {format_mm(width)} is {float(across):.4g} repeats wide, not a whole number",
            hint=f"print the repeat {format_mm(fitting, 4)} wide, or split the wall in panels",
        )
    down = tile.height * layout.straight_block[1]
    if layout.kind == "drop" and (share := layout.shift * across % 1):
        return Match("drop", down, share * tile.height)
    return Match("straight", down)


@dataclass(frozen=True)
class Wall:
    """A wall to be papered.

    Attributes:
        size: its width and height in mm.
        openings: doors and windows in it, width and height in mm.
    """

    size: Size
    openings: tuple[Size, ...] = ()

    def __post_init__(self) -> None:
        """Hold openings to the wall."""
        for opening in self.openings:
            if opening.width > self.size.width or opening.height > self.size.height:
                raise InputError("an opening is larger than its wall")
        if sum(o.width for o in self.openings) > self.size.width:
            raise InputError("the openings together are wider than their wall")


@dataclass(frozen=True)
class Drop:
    """A length of paper as it hangs.

    Attributes:
        roll: the roll it is cut from, from 1.
        start: where on the roll it starts, in mm.
        length: in mm.
    """

    roll: int
    start: Fraction
    length: Fraction


@dataclass(frozen=True)
class Estimate:
    """What a room takes.

    Attributes:
        roll: a roll's width and length in mm.
        drops: all of them, in the order they are cut: that in which they hang, but for the short
            ones round openings, which come last.
        rolls: how many rolls they are cut from.
        papered: the area of walls without openings, in mm².
        working: how it was worked out, a sentence each.
    """

    roll: Size
    drops: tuple[Drop, ...]
    rolls: int
    papered: Fraction
    working: tuple[str, ...]

    @property
    def waste(self) -> Fraction:
        """The share of the paper bought that does not end on a wall."""
        return 1 - self.papered / (self.rolls * self.roll.width * self.roll.height)


def estimate(
    walls: Sequence[Wall], match: Match, *, roll: Size = EN_233, trim: Fraction = TRIM
) -> Estimate:
    """Return how many rolls a room takes.

    Walls are papered one after the other, each with drops of its own. Every roll is taken to
    start at the same place of the design, as rolls printed from one file do.

    Args:
        walls: at least one.
        match: see :func:`match_of`.
        roll: its width and length in mm.
        trim: what is cut off a drop, top and bottom together, in mm.

    Raises:
        InputError: a drop longer than a roll, or more than :data:`MAX_DROPS`.
    """
    if not walls:
        raise InputError("there is no wall to paper", hint="give one: --wall 4x2.5m")
    working: list[str] = []
    whole: list[Fraction] = []
    short: list[Fraction] = []
    for number, wall in enumerate(walls, 1):
        if wall.size.width > MAX_DROPS * roll.width:
            raise InputError(f"wall {number} takes more than {MAX_DROPS:,} drops")
        count = math.ceil(wall.size.width / roll.width)
        full = wall.size.height + trim
        working.append(
            f"wall {number}: {format_mm(wall.size.width)} ÷ {format_mm(roll.width)} = "
            f"{float(wall.size.width / roll.width):.3f}, so {counted(count, 'drop')} of "
            f"{format_mm(wall.size.height)} + {format_mm(trim)} = {format_mm(full)}"
        )
        pieces, told = _round_openings(wall, match, roll, trim)
        short += pieces
        working += [f"wall {number}: {words}" for words in told]
        whole += [full] * (count - len(pieces))
    drops = cut([*whole, *short], match, roll.height)
    rolls = drops[-1].roll
    first = sum(1 for drop in drops if drop.roll == 1)
    working.append(
        f"match: {match}; roll: {format_mm(roll.width)} × {format_mm(roll.height)}; "
        f"{counted(first, 'drop')} from the first roll"
    )
    working.append(f"{counted(len(drops), 'drop')} take {counted(rolls, 'roll')}")
    papered = sum(
        (w.size.width * w.size.height - sum(o.width * o.height for o in w.openings) for w in walls),
        Fraction(0),
    )
    return Estimate(roll, tuple(drops), rolls, papered, tuple(working))


def _round_openings(
    wall: Wall, match: Match, roll: Size, trim: Fraction
) -> tuple[list[Fraction], list[str]]:
    """Return the lengths of drops that hang in two pieces round openings, and the working."""
    found: list[Fraction] = []
    working = []
    for opening in wall.openings:
        if match.offset:
            # Which drops fall away decides where all others start on their rolls.
            return found, ["with a drop match openings are counted as wall"]
        # Wherever it lies, so many drops lie wholly within its width.
        inside = max(0, math.floor(opening.width / roll.width) - 1)
        # Above and below it two pieces, each with its trim; the second may have to start up to
        # a repeat further on.
        pieces = wall.size.height - opening.height + 2 * trim + match.repeat
        if not inside or pieces >= wall.size.height + trim:
            continue
        found += [pieces] * inside
        working.append(
            f"an opening of {format_mm(opening.width)} × {format_mm(opening.height)} holds "
            f"{counted(inside, 'drop')} whole, each then of {format_mm(pieces)} in two pieces"
        )
    return found, working


def cut(lengths: Sequence[Fraction], match: Match, roll: Fraction) -> list[Drop]:
    """Cut drops from rolls in order, each at the next place where it matches.

    Args:
        lengths: of the drops in mm.
        match: the n-th drop's design lies n offsets lower than the first's.
        roll: a roll's length in mm.

    Raises:
        InputError: a drop that no roll holds.
    """
    found: list[Drop] = []
    number, end = 1, Fraction(0)
    for n, length in enumerate(lengths):
        start = _next_match(end, n, match)
        if start + length > roll:
            number, start = number + 1, _next_match(Fraction(0), n, match)
        if start + length > roll:
            raise InputError(
                f"a drop of {format_mm(length)} that starts {format_mm(start)} into the roll "
                f"needs more than a roll of {format_mm(roll)}",
                hint="use longer rolls: --roll 530mmx15m",
            )
        found.append(Drop(number, start, length))
        end = start + length
    return found


def _next_match(end: Fraction, n: int, match: Match) -> Fraction:
    """Return the first place from ``end`` on where the n-th drop of a room may start.

    A next drop hangs where the design lies lower by an offset, so it starts that much higher
    in the design, wherever a repeat ends.
    """
    if match.repeat == 0:
        return end
    phase = -n * match.offset % match.repeat
    return phase + math.ceil((end - phase) / match.repeat) * match.repeat


def whole_repeats(match: Match, length: Fraction) -> int | None:
    """Return how many whole repeats a length holds; None for a free match."""
    return None if match.repeat == 0 else math.floor(length / match.repeat)
