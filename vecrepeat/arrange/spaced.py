"""What regular arrangements share: settings, motifs in turn, places in a row, a scale that fits."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from vecrepeat.arrange.crowd import Crowd, Member
from vecrepeat.arrange.dice import Dice
from vecrepeat.arrange.likeness import Likeness
from vecrepeat.arrange.settings import Ranked, check_direction, check_length
from vecrepeat.arrange.settling import too_near
from vecrepeat.arrange.shapes import Shape, Shapes
from vecrepeat.arrange.torus import Torus
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.model import Repeat
from vecrepeat.repeat.pose import Pose
from vecrepeat.repeat.ranks import DIRECTIONS, RANKS, Rank

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_SWEEPS = 4
"""How often each row is asked whether another beginning would be better."""

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
        seed: deals motifs out from another order; None from the one they are listed in.
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
        self.likeness = Likeness(self.torus, self.shapes, repeat.ground)
        order = list(range(len(chosen)))
        self.order = order if settings.seed is None else self.dice.shuffled(order)

    def of_rank(self, *ranks: Rank) -> list[int]:
        """Return the numbers of some ranks' motifs in turn.

        Each rank lies evenly among the others, and like apart from like, in colour too, where all
        come round again and again.
        """
        places = [
            ((k + 0.5) / len(which), number, one)
            for number, which in enumerate(
                [k for k in self.order if RANKS[self.ranks[k]] == rank] for rank in ranks
            )
            for k, one in enumerate(which)
        ]
        found = [one for *_, one in sorted(places)]
        return self.dealt(found, np.arange(len(found)), ring(len(found)))

    def dealt(
        self, which: Sequence[int], turn: Ints, near: Floats, pressed: Floats | None = None
    ) -> list[int]:
        """Return the motif of each of n places: those of a rank exchanged, so that like lie apart.

        That is a quadratic assignment: the exchange that takes most pressing away comes first,
        until none takes any.

        Args:
            which: motifs' numbers.
            turn: for each place, which of them in order comes there.
            near: how near places are to each other, shape (n, n).
            pressed: what else presses on each of all motifs in each place, shape (n, motifs).
        """
        dealt = (np.arange(len(which))[:, None] == turn).astype(np.float64)
        near = dealt @ near @ dealt.T
        pressed = np.zeros((len(turn), len(self.ranks))) if pressed is None else pressed
        pressed = 2 * dealt @ pressed
        found = np.array(which, dtype=np.int64)
        cost = self.likeness.costs(found)
        rank = np.array(self.ranks)[found]
        own = np.diagonal(near)
        field = near @ cost[found][:, found]
        for _ in range(len(found)):
            here = cost[found][:, found]
            total = float((near * here).sum() + pressed[np.arange(len(found)), found].sum())
            self_cost = np.diagonal(here)
            held = np.diagonal(field)
            # What all others press, and then the two themselves.
            change = 2 * (field + field.T - held[:, None] - held)
            change -= 2 * (own[:, None] - near) * (here - self_cost[:, None])
            change -= 2 * (near - own) * (self_cost - here)
            change += (own[:, None] - own) * (self_cost - self_cost[:, None])
            there = pressed[:, found]
            change += there + there.T - np.diagonal(there)[:, None] - np.diagonal(there)
            change[rank[:, None] != rank] = 0.0
            i, j = divmod(int(np.round(change / max(total, 1e-12), 9).argmin()), len(found))
            if change[i, j] >= -1e-9 * total:
                break
            found[[i, j]] = found[[j, i]]
            field += np.outer(near[:, j] - near[:, i], here[i] - here[j])
            field[:, [i, j]] = field[:, [j, i]]
        return [int(found[k]) for k in turn]

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

    def phased(self, rows: Sequence[Sequence[Member]], step: int = 1) -> list[list[Member]]:
        """Return rows of the same motifs, each begun where they are furthest from their like.

        Args:
            rows: motifs in their places, in turn; each row closes on itself.
            step: places by which a row may be moved on.
        """
        everyone = [member for row in rows for member in row]
        at = np.array([member.pose[:2] for member in everyone]).reshape(-1, 2)
        order = np.arange(len(everyone))
        shape = np.array([member.shape for member in everyone], dtype=np.int64)
        cost = self.likeness.costs(shape)
        ends = np.cumsum([len(row) for row in rows]).tolist()
        for sweep in range(_SWEEPS):
            before = order.copy()
            for end, row in zip(ends, rows, strict=True):
                own = np.arange(end - len(row), end)
                # At first those after it lie as they happen to.
                others = np.delete(np.arange(len(everyone) if sweep else end), own)
                far = np.maximum(self.torus.squared_distances(at[own], at[others]), 1e-3)
                pressed = (1.0 / far**2) @ cost[shape[order[others]]]
                starts = range(0, 1 if len(row) % step else len(row), step)
                sums = [
                    pressed[own - own[:1], shape[np.roll(order[own], -k)]].sum() for k in starts
                ]
                if sums:
                    best = int(np.argmin([float(f"{one:.6g}") for one in sums]))
                    order[own] = np.roll(order[own], -starts[best])
            if (order == before).all():
                break
        moved = [
            everyone[piece]._replace(pose=everyone[piece].pose._replace(x=x, y=y))
            for piece, (x, y) in zip(order.tolist(), at.tolist(), strict=True)
        ]
        return [moved[end - len(row) : end] for end, row in zip(ends, rows, strict=True)]

    def keeps(self, members: Sequence[Member]) -> bool:
        """Whether all copies keep the clearance, exactly."""
        crowd = Crowd.of(self.torus, self.shapes, list(members))
        return not len(too_near(crowd, self.settings.clearance, np.arange(len(crowd))).one)

    def largest(self, at: Callable[[float], list[Member] | None]) -> tuple[list[Member], float]:
        """Return what :meth:`fitted` does.

        Raises:
            InputError: they don't fit at any scale.
        """
        found = self.fitted(at)
        if found is None:
            raise no_room()
        return found

    def fitted(
        self, at: Callable[[float], list[Member] | None]
    ) -> tuple[list[Member], float] | None:
        """Return the members at the largest scale at which they keep the clearance, and that.

        Args:
            at: the members at a scale; None where there is no room for them.

        Returns:
            None where they don't fit at any scale.
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
        return None if best is None else (best, self._scale(low))

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


def ring(count: int) -> Floats:
    """Return how near so many places in a row are that closes on itself."""
    places = np.arange(count)
    apart = np.abs(places[:, None] - places)
    apart = np.maximum(1, np.minimum(apart, count - apart))
    near: Floats = 1.0 / apart**4 * ~np.eye(count, dtype=np.bool_)
    return near


def no_room() -> InputError:
    """Return the error where motifs don't fit at any scale."""
    return InputError(
        "the motifs do not fit, however small",
        hint="ask for fewer, a smaller clearance, or give the tile more room",
    )


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
    return in_row([lengths[k % len(lengths)] for k in range(count)], room)


def in_row(lengths: Sequence[float], room: float) -> list[float]:
    """Return where pieces begin that lie in a row which closes on itself, gaps alike."""
    step = (room - sum(lengths)) / len(lengths)
    before = accumulate(lengths[:-1], initial=0.0)
    return [length + k * step for k, length in enumerate(before)]


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
