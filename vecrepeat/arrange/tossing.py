"""Toss: motifs strewn evenly over the repeated plane, never nearer than the clearance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from vecrepeat.arrange.crowd import Crowd, Member
from vecrepeat.arrange.finishing import finished
from vecrepeat.arrange.flow import Flow
from vecrepeat.arrange.likeness import Likeness
from vecrepeat.arrange.packing import TRIES, Packing
from vecrepeat.arrange.placing import Placer, cell_for
from vecrepeat.arrange.results import Arrangement, grouped
from vecrepeat.arrange.scores import score
from vecrepeat.arrange.settings import TossSettings, checked, mean_square
from vecrepeat.arrange.shapes import Shape, Shapes
from vecrepeat.arrange.staying import as_they_are
from vecrepeat.arrange.torus import Torus, check_turns
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import counted
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.repeat.ranks import DIRECTIONS, RANKS, Rank

_PRESS = 0.3
"""How far into others a motif may be put, in its radii, when evening out follows."""

_FULL = 0.85
"""The share of the cloth that motifs and clearances may take before pressing in is no use:
discs fill 0.84 of the plane when shaken together (from memory), other motifs rather less."""

_FINEST = 1.0
"""Radius in mm of the smallest motif that evening out minds, once motifs wait for room."""

_JAMMED = 0.25
"""Where a greater share of motifs had to go than that, there is too little room."""

_HOLDS = 0.9
"""The share of the cloth that is ever filled, clearances included: what is asked for beyond that
is not tried."""

MOST = 5_000
"""The most motifs that are tossed: as many take minutes."""

MANY = 1_000
"""From so many on a toss takes long enough for its count to be told beforehand."""


class Foreseen(NamedTuple):
    """What a toss will come to.

    Attributes:
        asked: about how many motifs it is asked to place.
        held: how many of them the cloth may hold, at most.
    """

    asked: int
    held: int


def foreseen(
    repeat: Repeat, ranked: Sequence[tuple[Motif, Rank | str]], settings: TossSettings
) -> Foreseen:
    """Return about how many motifs a toss will have to place; see :func:`toss`."""
    asked = held = 0
    taken = 0.0
    works, members = _works(repeat, ranked, settings)
    if members:
        taken = works[0].room([(m.shape, m.pose.scale) for m in members])
    for work in works:
        wanted = work.wanted()
        tried = work.holdable(wanted, taken)
        taken += work.room(tried)
        asked, held = asked + len(wanted), held + len(tried)
    return Foreseen(asked, held)


def toss(
    repeat: Repeat,
    ranked: Sequence[tuple[Motif, Rank | str]],
    settings: TossSettings | None = None,
) -> Arrangement:
    """Arrange motifs over the repeated plane.

    Heroes are placed first, each where there is most room; then secondaries between them and
    fillers into what is left. After each rank the gaps are evened out.

    Args:
        repeat: its tile and layout are used, its placements are not. Where the layout turns,
            each motif is placed once in the part that is turned, and keeps the clearance from
            its own images too.
        ranked: motifs and their ranks.
        settings: what the toss is to be like. Rows of the arrangement are without what is pinned.

    Raises:
        InputError: settings that make no sense, a direction that the layout's turns rule out,
            or motifs that paint nothing.
    """
    works, members = _works(repeat, ranked, settings or TossSettings())
    there = len(members)
    count = sum(work.number_wanted() for work in works)
    if count > MOST:
        raise InputError(
            f"the toss would take {count:,} motifs, and up to {MOST:,} are tossed",
            hint="use larger motifs, a smaller tile, a lower count or a lower coverage",
        )
    torus, shapes, settings = works[0].torus, works[0].shapes, works[0].settings
    notes: list[str] = []
    for work in works:
        members = work.place(members)
        notes += work.notes
    members = works[-1].nestled(members)
    if settings.same_apart > torus.shortest:
        notes.append(
            f"every motif meets its own copies {torus.shortest:g} mm away: the layout repeats "
            "sooner than the same motif was to be apart"
        )
    done = finished(torus, shapes, members, notes)
    crowd = Crowd.of(torus, shapes, members)
    rated = score(crowd, done.evenness, repeat.ground)
    return replace(done, rows=done.rows[there:], score=rated)


def _works(
    repeat: Repeat, ranked: Sequence[tuple[Motif, Rank | str]], settings: TossSettings
) -> tuple[list[_Rank], list[Member]]:
    """Return the work on each rank, heroes first, and what is pinned."""
    settings.check()
    chosen = checked(ranked)
    torus = Torus(repeat, settings.clearance)
    flow = None
    if len(settings.along):
        flow = Flow(torus, settings.along, DIRECTIONS[settings.direction] or (0.0,))
    else:
        check_turns(torus, str(repeat.layout), settings.direction)
    settings = replace(settings, same_apart=torus.within_depth(settings.same_apart))
    own = [
        Shape.of(m, settings.clearance, settings.of(r).largest * settings.sizes.get(m.name, 1))
        for m, r in chosen
    ]
    members, staying = as_they_are(settings.pinned, settings.clearance, len(own))
    shapes = Shapes([*own, *staying])
    likeness = Likeness(torus, shapes, repeat.ground)
    ranks = [RANKS.index(one.rank) for one in chosen]
    # Of no rank that is placed, whatever their motifs' is.
    every = [*ranks, *(-1 for _ in staying)]
    works = [
        _Rank(torus, shapes, every, settings, number, likeness, flow)
        for number in sorted(set(ranks))
    ]
    for work in works:
        work.count_in(members)
    return works, members


class _Rank(Packing):
    """The placing of one rank's motifs."""

    there: tuple[int, ...] = ()

    def count_in(self, pinned: Sequence[Member]) -> None:
        """Take what is pinned of this rank as placed: so much less is asked for."""
        kind = self.shapes.kind
        own = {int(kind[k]): k for k in self.which}
        found = [m for m in pinned if int(kind[m.shape]) in own]
        self.there = tuple(own[int(kind[m.shape])] for m in found)
        if not found:
            return
        ask = self.ask
        if ask.coverage is not None:
            area = sum(float(self.shapes.area[m.shape]) * m.pose.scale**2 for m in found)
            ask = replace(ask, coverage=max(0.0, ask.coverage - area / self.torus.region_area))
        elif ask.count is not None:
            ask = replace(ask, count=max(0, ask.count - len(found)))
        else:
            ask = replace(ask, count=len(set(self.which) - set(self.there)))
        self.ask = ask

    def place(self, members: list[Member]) -> list[Member]:
        """Return the members and this rank's among them."""
        wanted = self.wanted()
        asked = len(wanted)
        taken = self.room([(m.shape, m.pose.scale) for m in members])
        waiting = self.holdable(wanted, taken)
        beyond = wanted[len(waiting) :]
        crowded = taken + self.room(wanted) > _FULL * self.torus.region_area
        if self.ask.coverage is not None and crowded:
            members = self.packed(members)
        else:
            before = members
            members, waiting = self._spread(members, waiting, 1 if crowded else TRIES)
            waiting += beyond
            if self.ask.coverage is not None:
                members = self._filled_up(members, before)
        if self.ask.coverage is not None and self.painted(members) >= self.ask.coverage:
            waiting = []
        self._report(members, waiting, asked)
        return members

    def _spread(
        self, members: list[Member], waiting: list[tuple[int, float]], tries: int
    ) -> tuple[list[Member], list[tuple[int, float]]]:
        """Return the members and those that wait among them, evened out; and who found no room."""
        waiting = sorted(waiting, key=self._size, reverse=True)
        attempt = 0
        while True:
            # The last time nothing is pressed in: what has room stays as it lies.
            last = attempt >= tries or not self.settings.even
            press = 0.0 if last else _PRESS * (1 - attempt / tries)
            placer, left = self._insert(members, waiting, press)
            if last:
                members, out = self.settled(placer.members)
                waiting = self._topped_up(members, left + out)
                if self.ask.coverage is None and self.settings.even:
                    members, waiting = self._let_in(members, waiting)
                break
            tried, out = self.relaxed(placer)
            # What is pressed in too hard may cost more than it brings.
            kept = all(self.ranks[k] == self.number for k, _ in out)
            if kept and self.painted(tried) > self.painted(members):
                members, waiting = tried, self._topped_up(tried, left + out)
            if not waiting:
                break
            # Where many had to go, pressing in rather less is no use either.
            jammed = len(out) > _JAMMED * len(placer.members)
            attempt = max(attempt + 1, tries - 1 if jammed else 0)
        return members, waiting

    def _let_in(
        self, members: list[Member], waiting: list[tuple[int, float]]
    ) -> tuple[list[Member], list[tuple[int, float]]]:
        """Return the members with those that wait, as room that is evened out lets them in."""
        for _ in range(TRIES):
            # Where more wait than lie there, far too many are asked for.
            if not 0 < len(waiting) <= len(members):
                break
            placer = self.placer(members, cell_for(self.torus, _FINEST))
            evened, out = self.relaxed(placer)
            if out:
                break
            placer, left = self._insert(evened, waiting, 0.0)
            more, out = self.settled(placer.members)
            if len(more) <= len(members):
                break
            members, waiting = more, left + out
        return members, waiting

    def _filled_up(self, members: list[Member], before: list[Member]) -> list[Member]:
        """Return the members and whatever of this rank still finds room, up to the coverage.

        Where that falls short, room has been wasted by spreading: the rank is packed snugly
        instead, if that paints more.

        Args:
            members: all that are placed.
            before: all that were placed before this rank.
        """
        members = self.stuffed_and_evened(members)
        if self.painted(members) >= (self.ask.coverage or 0.0):
            return members
        return max(members, self.packed(before), key=self.painted)

    def wanted(self) -> list[tuple[int, float]]:
        """Return shapes and scales to place, every motif in its turn."""
        number = self.number_wanted()
        # What is pinned comes last, so that each is there.
        deck = self.dice.shuffled([k for k in self.which if k not in self.there])
        while len(deck) < number:
            deck += self.dice.shuffled(self.which)
        sizes = [self.settings.sizes.get(shape.motif.name, 1.0) for shape in self.shapes.all]
        return [(k, self._scale(n, number) * sizes[k]) for n, k in enumerate(deck[:number])]

    def holdable(
        self, wanted: Sequence[tuple[int, float]], taken: float
    ) -> list[tuple[int, float]]:
        """Return as many of the shapes and scales as the cloth may hold.

        Args:
            wanted: every motif in its turn.
            taken: room in mm² that others take.
        """
        each = [float(self.shapes.room[k]) * scale**2 for k, scale in wanted]
        fits = taken + np.cumsum(each) <= _HOLDS * self.torus.region_area
        return list(wanted[: max(1, int(fits.sum()))])

    def _size(self, one: tuple[int, float]) -> float:
        return round(float(self.shapes.radius[one[0]]) * one[1], 6)

    def number_wanted(self) -> int:
        """Return how many motifs of the rank to place, as far as can be told beforehand."""
        ask = self.ask
        if ask.count is not None:
            return ask.count
        if ask.coverage is None:
            return len(self.which)
        square = mean_square(ask.scale)
        each = float(self.shapes.area[self.which].mean()) * square
        room = float(self.shapes.room[self.which].mean()) * square
        # More than the cloth holds need not be tried.
        return math.ceil(self.torus.region_area * min(ask.coverage / each, 0.95 / room))

    def _scale(self, n: int, number: int) -> float:
        """Return the n-th scale: spread evenly over the range, in no order."""
        low, high = self.ask.scale
        # Multiples of the golden ratio fill a range evenly however far they are taken.
        share = (n * 0.6180339887498949 + self.dice.unit() / max(1, number)) % 1.0
        return round(low + (high - low) * share, 3)

    def _insert(
        self, members: list[Member], waiting: Sequence[tuple[int, float]], press: float
    ) -> tuple[Placer, list[tuple[int, float]]]:
        radius = min((float(self.shapes.radius[k]) * s for k, s in waiting), default=1.0)
        cell = cell_for(self.torus, radius)
        placer = self.placer(members, cell)
        left: list[tuple[int, float]] = []
        hopeless: dict[int, float] = {}
        taken = self.room([(m.shape, m.pose.scale) for m in members])
        for shape, scale in waiting:
            # A little smaller is no better.
            if scale >= 0.96 * hopeless.get(shape, math.inf):
                left.append((shape, scale))
                continue
            taken += float(self.shapes.room[shape]) * scale * scale
            pressed = press if taken < _FULL * self.torus.region_area else 0.0
            least = self.settings.clearance - pressed * float(self.shapes.radius[shape]) * scale
            found = placer.find(shape, scale, least=least)
            if found is None or found.gap < least:
                # Room only shrinks while motifs are placed.
                hopeless[shape] = scale
                taken -= float(self.shapes.room[shape]) * scale * scale
                left.append((shape, scale))
            else:
                placer.put(placer.member(shape, self.ranks[shape], found.pose))
        return placer, left

    def _topped_up(
        self, members: Sequence[Member], waiting: list[tuple[int, float]]
    ) -> list[tuple[int, float]]:
        """Return what is still to be placed to reach a coverage."""
        if self.ask.coverage is None:
            return waiting
        painted = self.painted(members)
        kept: list[tuple[int, float]] = []
        for shape, scale in waiting:
            if painted >= self.ask.coverage:
                break
            painted += float(self.shapes.area[shape]) * scale * scale / self.torus.region_area
            kept.append((shape, scale))
        return kept

    def _report(
        self, members: Sequence[Member], waiting: Sequence[tuple[int, float]], asked: int
    ) -> None:
        short = self.ask.coverage is not None and self.painted(members) < self.ask.coverage
        if not waiting and not short:
            return
        rank = RANKS[self.number]
        names = grouped([self.shapes.all[k].motif.name for k, _ in waiting])
        if self.ask.coverage is not None:
            self.notes.append(
                f"{rank}: {self.painted(members):.1%} of the cloth painted, not "
                f"{self.ask.coverage:.1%}: no room is left at a clearance of "
                f"{self.settings.clearance:g} mm"
            )
        else:
            self.notes.append(
                f"{rank}: {len(waiting)} of {counted(asked, 'motif')} not placed for want of room "
                f"at a clearance of {self.settings.clearance:g} mm: {names}"
            )
