"""What regular arrangements share: settings, motifs in turn, places in a row, a scale that fits."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely

from vecrepeat.arrange.crowd import Crowd, Member
from vecrepeat.arrange.dice import Dice
from vecrepeat.arrange.settings import Ranked, check_direction, check_length
from vecrepeat.arrange.settling import too_near
from vecrepeat.arrange.shapes import Shape, Shapes
from vecrepeat.arrange.torus import Torus
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.model import Repeat
from vecrepeat.repeat.pose import Pose
from vecrepeat.repeat.ranks import DIRECTIONS, RANKS, Rank

_STEPS = 1000
"""Scales are tried in so many steps of the largest."""

SPARE = 0.01
"""Kept beyond the clearance in mm where boxes decide: outlines are flattened."""


@dataclass(frozen=True)
class SpacedSettings:
    """What regular arrangements are all told.

    Attributes:
        clearance: the least distance in mm between the painted outlines of any two motifs,
            copies included.
        direction: ``one-way`` (all upright), ``two-way`` (up and down in turn), ``four-way``
            (by quarters in turn) or ``free`` (any, by the seed).
        flip: mirror every other motif.
        scale: the largest scale; all are made smaller alike where they would not fit.
        seed: shuffles the motifs' order; None keeps the order they are listed in.
    """

    clearance: float = 3.0
    direction: str = "one-way"
    flip: bool = False
    scale: float = 1.0
    seed: int | None = None

    def check(self) -> None:
        """Raise InputError where the settings make no sense."""
        check_length("the clearance", self.clearance)
        check_direction(self.direction)
        if not 0.01 <= self.scale <= 100:
            raise InputError(f"a scale of {self.scale:g} is out of range (0.01 to 100)")


class MotifBox(NamedTuple):
    """A motif's reach from its anchor, in mm at scale 1, as it is turned."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """Across."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Down."""
        return self.bottom - self.top


class Bench:
    """Motifs laid out to be arranged regularly, and the dice.

    Args:
        repeat: its tile and layout.
        chosen: motifs and ranks.
        settings: of any regular arrangement.
    """

    def __init__(self, repeat: Repeat, chosen: Sequence[Ranked], settings: SpacedSettings) -> None:
        self.repeat, self.settings = repeat, settings
        self.torus = Torus(repeat, settings.clearance)
        self.dice = Dice(settings.seed or 0)
        self.shapes = Shapes([Shape.of(m, settings.clearance, settings.scale) for m, _ in chosen])
        self.ranks = [RANKS.index(rank) for _, rank in chosen]
        order = list(range(len(chosen)))
        self.order = order if settings.seed is None else self.dice.shuffled(order)

    def of_rank(self, rank: Rank) -> list[int]:
        """Return the numbers of a rank's motifs, in the order they are to come."""
        return [k for k in self.order if RANKS[self.ranks[k]] == rank]

    def mixed(self, *ranks: Rank) -> list[int]:
        """Return motifs of several ranks, each rank spread evenly among the others."""
        places = [
            ((k + 0.5) / len(which), number, one)
            for number, which in enumerate(self.of_rank(rank) for rank in ranks)
            for k, one in enumerate(which)
        ]
        return [one for *_, one in sorted(places)]

    def turn(self, n: int) -> tuple[float, bool]:
        """Return the turn and flip of the n-th motif of a row."""
        turns = DIRECTIONS[self.settings.direction]
        turn = turns[n % len(turns)] if turns else round(self.dice.unit() * 360, 2) % 360
        return turn, self.settings.flip and n % 2 == 1

    @property
    def cycle(self) -> int:
        """After so many motifs turns and flips come round again."""
        turns = max(1, len(DIRECTIONS[self.settings.direction]))
        return math.lcm(turns, 2 if self.settings.flip else 1)

    def round(self, which: Sequence[int]) -> list[tuple[int, float, bool]]:
        """Return motifs in turn, each with its turn and flip, until all comes round again.

        Each round of motifs begins one turn on where else a motif would always stand alike.
        """
        count = math.lcm(len(which), self.cycle)
        shifted = count < len(which) * self.cycle
        if shifted:
            count = len(which) * self.cycle
        turns = [n + n // len(which) * shifted for n in range(count)]
        return [(which[n % len(which)], *self.turn(turn)) for n, turn in enumerate(turns)]

    def box(self, shape: int, turn: float, flip: bool) -> MotifBox:
        """Return how far a motif reaches from its anchor."""
        affine = Pose(0.0, 0.0, turn, 1.0, flip).affine((0.0, 0.0))
        hull = shapely.get_coordinates(shapely.convex_hull(self.shapes.all[shape].outline))
        points = affine.apply(hull)
        return MotifBox(*(float(v) for v in (*points.min(axis=0), *points.max(axis=0))))

    def member(self, shape: int, x: float, y: float, way: tuple[float, bool, float]) -> Member:
        """Return a motif that lies somewhere on the tile; ``way`` is its turn, flip and scale."""
        home = self.torus.home(np.array([x]), np.array([y]))
        turn, flip, scale = way
        pose = Pose(float(home[0][0]), float(home[1][0]), turn, scale, flip).rounded()
        return Member(shape, pose, self.ranks[shape])

    def keeps(self, members: Sequence[Member]) -> bool:
        """Whether all copies keep the clearance, exactly."""
        crowd = Crowd.of(self.torus, self.shapes, list(members))
        return not len(too_near(crowd, self.settings.clearance, np.arange(len(crowd))).one)

    def largest(self, at: Callable[[float], list[Member] | None]) -> tuple[list[Member], float]:
        """Return the members at the largest scale at which they keep the clearance, and that.

        Args:
            at: the members at a scale; None where there is no room for them.

        Raises:
            InputError: they don't fit at any scale.
        """

        def tried(step: int) -> list[Member] | None:
            members = at(self._scale(step))
            return members if members is not None and self.keeps(members) else None

        best = tried(_STEPS)
        if best is not None:
            return best, self._scale(_STEPS)
        low, high = 0, _STEPS
        while high - low > 1:
            step = (low + high) // 2
            found = tried(step)
            if found is None:
                high = step
            else:
                low, best = step, found
        if best is None:
            raise InputError(
                "the motifs do not fit, however small",
                hint="ask for fewer, a smaller clearance, or give the tile more room",
            )
        return best, self._scale(low)

    def _scale(self, step: int) -> float:
        return max(0.001, math.floor(self.settings.scale * step / _STEPS * 1000) / 1000)

    def scale_notes(self, scale: float) -> list[str]:
        """Return what to say of a scale that was found."""
        if scale >= math.floor(self.settings.scale * 1000) / 1000:
            return []
        return [
            f"motifs are laid at {scale:.2g} of their size: larger ones would not keep "
            f"{self.settings.clearance:g} mm"
        ]


def strung(lengths: Sequence[float], room: float, gap: float, cycle: int) -> list[float] | None:
    """Return where pieces begin that lie in a row which closes on itself.

    As many as have room, in whole rounds of the cycle where one has room; what is left over
    goes to the gaps, all alike.

    Args:
        lengths: of the pieces of one cycle or more; they come round again and again.
        room: the length of the row.
        gap: the least distance between two pieces.
        cycle: after so many pieces the row begins anew.

    Returns:
        The beginning of each; None where not even one has room.
    """
    whole = sum(lengths[k % len(lengths)] + gap for k in range(cycle))
    count = cycle * math.floor(room / whole + 1e-12)
    if not count:
        total = 0.0
        while count < cycle and total + lengths[count % len(lengths)] + gap <= room:
            total += lengths[count % len(lengths)] + gap
            count += 1
        if not count:
            return None
    used = sum(lengths[k % len(lengths)] for k in range(count))
    step = (room - used) / count
    begins, at = [], 0.0
    for k in range(count):
        begins.append(at)
        at += lengths[k % len(lengths)] + step
    return begins


def plain(repeat: Repeat, what: str) -> None:
    """Refuse layouts that turn tiles.

    Raises:
        InputError: the layout turns.
    """
    if repeat.symmetry is not None:
        raise InputError(
            f"{what} runs straight on, and {repeat.layout} turns its tiles",
            hint="use block, drop or brick, or toss the motifs instead",
        )
