"""Toss: motifs strewn evenly over the repeated plane, never nearer than the clearance."""

from __future__ import annotations

import math
from collections.abc import Sequence

from vecrepeat.arrange.crowd import Crowd, Member
from vecrepeat.arrange.dice import Dice
from vecrepeat.arrange.evening import even_out
from vecrepeat.arrange.finishing import finished
from vecrepeat.arrange.placing import Manner, Placer, cell_for
from vecrepeat.arrange.results import Arrangement, grouped
from vecrepeat.arrange.settings import RankSettings, TossSettings, checked
from vecrepeat.arrange.settling import settle
from vecrepeat.arrange.shapes import Shape, Shapes
from vecrepeat.arrange.torus import Torus, check_turns
from vecrepeat.errors import InputError
from vecrepeat.ranks import RANKS, Rank
from vecrepeat.repeat import Motif, Repeat
from vecrepeat.units import counted

_PRESS = 0.3
"""How far into others a motif may be put, in its radii, when evening out follows."""

_FULL = 0.85
"""The share of the cloth that motifs and clearances may take before pressing in is no use:
discs fill 0.84 of the plane when shaken together (from memory), other motifs rather less."""

_TRIES = 4
"""How often what found no room is tried again after evening out."""

_PACKINGS = (3, 6)
"""How many snug packings are made, of which the best is taken: fewest and most."""

_FEW = 120
"""The fewer motifs, the more one packing differs from another: these by their number are made."""

_MOST = 20_000
"""The most motifs on one tile."""


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
        settings: what the toss is to be like.

    Raises:
        InputError: settings that make no sense, a direction that the layout's turns rule out,
            or motifs that paint nothing.
    """
    settings = settings or TossSettings()
    settings.check()
    chosen = checked(ranked)
    torus = Torus(repeat)
    check_turns(torus, str(repeat.layout), settings.direction)
    shapes = Shapes([Shape.of(m, settings.clearance, settings.of(r).scale[1]) for m, r in chosen])
    members: list[Member] = []
    notes: list[str] = []
    ranks = [RANKS.index(one.rank) for one in chosen]
    for number in sorted(set(ranks)):
        work = _Rank(torus, shapes, ranks, settings, number)
        members = work.place(members)
        notes += work.notes
    if settings.same_apart > torus.shortest:
        notes.append(
            f"every motif meets its own copies {torus.shortest:g} mm away: the layout repeats "
            "sooner than the same motif was to be apart"
        )
    return finished(torus, shapes, members, notes)


class _Rank:
    """The placing of one rank's motifs."""

    def __init__(
        self,
        torus: Torus,
        shapes: Shapes,
        ranks: Sequence[int],
        settings: TossSettings,
        number: int,
    ) -> None:
        self.torus, self.shapes, self.settings, self.number = torus, shapes, settings, number
        self.ask: RankSettings = settings.of(RANKS[number])
        self.ranks = ranks
        self.which = [k for k, rank in enumerate(ranks) if rank == number]
        self.dice = Dice(settings.seed, number)
        self.manner = Manner(
            settings.clearance,
            settings.direction,
            settings.sway,
            settings.flip,
            settings.same_apart,
        )
        self.notes: list[str] = []

    def place(self, members: list[Member]) -> list[Member]:
        """Return the members and this rank's among them."""
        before = members
        waiting = self._wanted()
        asked = len(waiting)
        for attempt in range(_TRIES + 1):
            # The last time nothing is pressed in: what has room stays as it lies.
            last = attempt == _TRIES or not self.settings.even
            press = 0.0 if last else _PRESS * (1 - attempt / _TRIES)
            placer, left = self._insert(members, waiting, press)
            if last:
                members, out = self._settled(placer.members)
                waiting = self._topped_up(members, left + out)
                break
            tried, out = self._settled(self._evened(placer))
            # What is pressed in too hard may cost more than it brings.
            kept = all(self.ranks[k] == self.number for k, _ in out)
            if kept and self._painted(tried) > self._painted(members):
                members, waiting = tried, self._topped_up(tried, left + out)
            if not waiting:
                break
        if self.ask.coverage is not None:
            members = self._filled_up(members, before)
            waiting = [] if self._painted(members) >= self.ask.coverage else waiting
        self._report(members, waiting, asked)
        return members

    def _filled_up(self, members: list[Member], before: list[Member]) -> list[Member]:
        """Return the members and whatever of this rank still finds room, up to the coverage.

        Where that falls short, room has been wasted by spreading: the rank is packed snugly
        instead, if that paints more. Room is evened out in between: slivers of it add up.

        Args:
            members: all that are placed.
            before: all that were placed before this rank.
        """
        members = self._stuffed_and_evened(members)
        fewest, most = _PACKINGS
        for _ in range(min(most, max(fewest, _FEW // max(1, len(members))))):
            if self._painted(members) >= (self.ask.coverage or 0.0):
                break
            packed, _ = self._settled(self._stuffed(before, snug=True, coverage=1.0).members)
            packed = self._thinned(self._stuffed_and_evened(packed))
            if self._painted(packed) > self._painted(members):
                members = packed
        return members

    def _thinned(self, members: list[Member]) -> list[Member]:
        """Return the members without what this rank paints beyond its coverage, evened out.

        Packed snugly up to the coverage and no further, motifs would leave all the bare cloth
        in one place; so the cloth is packed full, and thinned here and there.
        """
        surplus = self._painted(members) - (self.ask.coverage or 0.0)
        own = [k for k, member in enumerate(members) if member.rank == self.number]
        gone: set[int] = set()
        for k in self.dice.shuffled(own):
            one = members[k]
            paints = float(self.shapes.area[one.shape]) * one.pose.scale**2
            paints /= self.torus.region_area
            if paints <= surplus:
                surplus -= paints
                gone.add(k)
        kept = [member for k, member in enumerate(members) if k not in gone]
        if not gone or not self.settings.even:
            return kept
        cell = cell_for(self.torus, float(self.shapes.radius[self.which].min()))
        placer = Placer(self.torus, self.shapes, cell, self.manner, self.dice, kept)
        evened, out = self._settled(self._evened(placer))
        return kept if out else evened

    def _stuffed_and_evened(self, members: list[Member]) -> list[Member]:
        for _ in range(_TRIES if self.settings.even else 1):
            placer = self._stuffed(members)
            added = len(placer.members) - len(members)
            members, _ = self._settled(placer.members)
            if not added or not self.settings.even:
                break
            evened, out = self._settled(self._evened(placer))
            members = members if out else evened
        return members

    def _stuffed(
        self, members: list[Member], *, snug: bool = False, coverage: float | None = None
    ) -> Placer:
        """Return members and more, placed in turn until none has room or enough is painted."""
        low, high = self.ask.scale
        smallest = float(self.shapes.radius[self.which].min()) * low
        cell = cell_for(self.torus, smallest)
        placer = Placer(self.torus, self.shapes, cell, self.manner, self.dice, members)
        if coverage is None:
            coverage = self.ask.coverage or 0.0
        alive, deck = list(self.which), list[int]()
        painted = self._painted(members)
        while alive and painted < coverage and len(placer.members) < _MOST:
            # Every motif in its turn, the largest first.
            deck = [k for k in deck if k in alive] or sorted(
                self.dice.shuffled(alive), key=lambda k: -float(self.shapes.room[k])
            )
            shape = deck.pop(0)
            for scale in sorted({round(self.dice.between(low, high), 3), low}, reverse=True):
                found = placer.find(shape, scale, snug=snug)
                if found is not None and found.gap >= self.settings.clearance:
                    placer.put(placer.member(shape, self.number, found.pose))
                    painted += (
                        float(self.shapes.area[shape]) * scale * scale / self.torus.region_area
                    )
                    break
            else:
                alive.remove(shape)
        return placer

    def _wanted(self) -> list[tuple[int, float]]:
        """Return shapes and scales to place, the largest first."""
        ask = self.ask
        if ask.count is not None:
            number = ask.count
        elif ask.coverage is not None:
            low, high = ask.scale
            square = (low * low + low * high + high * high) / 3
            each = float(self.shapes.area[self.which].mean()) * square
            room = float(self.shapes.room[self.which].mean()) * square
            # More than the cloth holds need not be tried.
            number = math.ceil(self.torus.region_area * min(ask.coverage / each, 0.95 / room))
            if number > _MOST:
                raise InputError(
                    f"{RANKS[self.number]}: a coverage of {ask.coverage:g} would take "
                    f"{number:,} motifs",
                    hint="use larger motifs or a smaller tile",
                )
        else:
            number = len(self.which)
        deck: list[int] = []
        while len(deck) < number:
            deck += self.dice.shuffled(self.which)
        found = [(k, self._scale(n, number)) for n, k in enumerate(deck[:number])]
        size = self.shapes.radius
        return sorted(found, key=lambda one: -round(float(size[one[0]]) * one[1], 6))

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
        placer = Placer(self.torus, self.shapes, cell, self.manner, self.dice, members)
        left: list[tuple[int, float]] = []
        hopeless: dict[int, float] = {}
        taken = sum(float(self.shapes.room[m.shape]) * m.pose.scale**2 for m in members)
        for shape, scale in waiting:
            # A little smaller is no better.
            if scale >= 0.96 * hopeless.get(shape, math.inf):
                left.append((shape, scale))
                continue
            taken += float(self.shapes.room[shape]) * scale * scale
            pressed = press if taken < _FULL * self.torus.region_area else 0.0
            found = placer.find(shape, scale)
            least = self.settings.clearance - pressed * float(self.shapes.radius[shape]) * scale
            if found is None or found.gap < least:
                # Room only shrinks while motifs are placed.
                hopeless[shape] = scale
                taken -= float(self.shapes.room[shape]) * scale * scale
                left.append((shape, scale))
            else:
                placer.put(placer.member(shape, self.ranks[shape], found.pose))
        return placer, left

    def _evened(self, placer: Placer) -> list[Member]:
        settings = self.settings
        crowd = Crowd.of(self.torus, self.shapes, placer.members)
        # Far enough to feel what lies on the other side of the largest void.
        widest = 2.2 * float(placer.clearances.map.max())
        even_out(
            crowd,
            clearance=1.02 * settings.clearance + 0.02,
            rounds=settings.rounds,
            reach=max(widest, 3 * settings.clearance),
            same_apart=settings.same_apart,
        )
        return crowd.members()

    def _settled(self, members: Sequence[Member]) -> tuple[list[Member], list[tuple[int, float]]]:
        """Return the members that keep the clearance, and those taken out."""
        settings = self.settings
        crowd, out = settle(
            Crowd.of(self.torus, self.shapes, list(members)),
            clearance=settings.clearance,
            same_apart=settings.same_apart,
        )
        return crowd.members(), [(members[k].shape, members[k].pose.scale) for k in out]

    def _topped_up(
        self, members: Sequence[Member], waiting: list[tuple[int, float]]
    ) -> list[tuple[int, float]]:
        """Return what is still to be placed to reach a coverage."""
        if self.ask.coverage is None:
            return waiting
        painted = self._painted(members)
        kept: list[tuple[int, float]] = []
        for shape, scale in waiting:
            if painted >= self.ask.coverage:
                break
            painted += float(self.shapes.area[shape]) * scale * scale / self.torus.region_area
            kept.append((shape, scale))
        return kept

    def _painted(self, members: Sequence[Member]) -> float:
        return (
            sum(
                float(self.shapes.area[m.shape]) * m.pose.scale**2
                for m in members
                if m.rank == self.number
            )
            / self.torus.region_area
        )

    def _report(
        self, members: Sequence[Member], waiting: Sequence[tuple[int, float]], asked: int
    ) -> None:
        short = self.ask.coverage is not None and self._painted(members) < self.ask.coverage
        if not waiting and not short:
            return
        rank = RANKS[self.number]
        names = grouped([self.shapes.all[k].motif.name for k, _ in waiting])
        if self.ask.coverage is not None:
            self.notes.append(
                f"{rank}: {self._painted(members):.1%} of the cloth painted, not "
                f"{self.ask.coverage:.1%}: no room is left at a clearance of "
                f"{self.settings.clearance:g} mm"
            )
        else:
            self.notes.append(
                f"{rank}: {len(waiting)} of {counted(asked, 'motif')} not placed for want of room "
                f"at a clearance of {self.settings.clearance:g} mm: {names}"
            )
