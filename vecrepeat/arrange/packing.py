"""Packing: as many motifs of a rank as find room, or as paint a share of the cloth."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from vecrepeat.arrange.clearances import SAMPLES
from vecrepeat.arrange.crowd import Crowd, Member
from vecrepeat.arrange.dice import Dice
from vecrepeat.arrange.evening import even_out
from vecrepeat.arrange.flow import Flow
from vecrepeat.arrange.likeness import Likeness
from vecrepeat.arrange.manner import Manner
from vecrepeat.arrange.measures import nearest_gaps
from vecrepeat.arrange.placing import Placer, cell_for
from vecrepeat.arrange.settings import RankSettings, TossSettings
from vecrepeat.arrange.settling import fit_in, settle
from vecrepeat.arrange.shapes import Shapes
from vecrepeat.arrange.torus import Torus
from vecrepeat.core.allowance import PLACEMENTS
from vecrepeat.repeat.pose import TURN_DECIMALS
from vecrepeat.repeat.ranks import RANKS

TRIES = 4
"""How often what found no room is tried again after evening out."""

_PACKINGS = 3
"""How many snug packings are made at most, of which the best is taken."""

_FEW = 60
"""The fewer motifs, the more one packing differs from another: so many are packed in all."""

_NESTLES, _GROW, _SHRINK = 5, 0.6, 0.92
"""How often motifs grow into the gaps about them; by what share of a gap each time; and to what
share those shrink that find no room then."""

_WORTH = 1.005
"""Growing goes on while so many times as much is painted."""

_FINE = 192
"""Points of the raster along the cloth, at least, where room must not be wasted."""

_PROBES = 100
"""Points of a motif's edge by which it is tried there."""

_LOOKS = 2
"""How often room is looked for, each time at other turns, before a motif counts as too large."""


class Packing:
    """One rank's motifs, and how they are packed among what lies there already.

    Args:
        torus: the repeated plane.
        shapes: of all motifs, whatever their rank.
        ranks: the number of each shape's rank.
        settings: what the toss is to be like.
        number: this rank's.
        likeness: keeps motifs away from their like.
        flow: which way motifs lie where, if that is not the same all over.
    """

    def __init__(
        self,
        torus: Torus,
        shapes: Shapes,
        ranks: Sequence[int],
        settings: TossSettings,
        number: int,
        likeness: Likeness,
        flow: Flow | None = None,
    ) -> None:
        self.torus, self.shapes, self.settings, self.number = torus, shapes, settings, number
        self.likeness = likeness
        self.ask: RankSettings = settings.of(RANKS[number])
        self.ranks = ranks
        self.which = [k for k, rank in enumerate(ranks) if rank == number]
        self.dice = Dice(settings.seed, number)
        self.flow = flow
        self.manner = Manner.of(settings, flow)
        self.notes: list[str] = []

    def packed(self, before: list[Member]) -> list[Member]:
        """Return members and as many of this rank as fit, or as paint the coverage.

        Room is evened out after packing: slivers of it add up.
        """
        best = before
        for made in range(1, _PACKINGS + 1):
            packed, _ = self.settled(self._stuffed(before, snug=True, coverage=1.0).members)
            packed = self._thinned(self.stuffed_and_evened(packed))
            best = max(best, packed, key=self.painted)
            enough = self.painted(best) >= (self.ask.coverage or 0.0)
            if enough or made * len(best) >= _FEW:
                break
        return best

    def _thinned(self, members: list[Member]) -> list[Member]:
        """Return the members, those of this rank thinned out evenly down to its coverage.

        Packed snugly up to the coverage and no further, motifs would leave all the bare cloth
        in one place; so the cloth is packed full, and thinned here and there.
        """
        gone = self._surplus(members)
        kept = [member for k, member in enumerate(members) if k not in gone]
        if not gone or not self.settings.even:
            return kept
        # Packed motifs give way to one another slowly.
        for _ in range(TRIES):
            evened, out = self.relaxed(self._placer(kept))
            if any(self.ranks[k] != self.number for k, _ in out):
                break
            if out:
                evened = self._stuffed(evened).members
            if self.painted(evened) < (self.ask.coverage or 0.0):
                break
            kept = evened
        return kept

    def _surplus(self, members: list[Member]) -> set[int]:
        """Return which members to take out: each far from the others, and from the barest place.

        Any that is taken out paints no more than what is too much.
        """
        torus, shapes = self.torus, self.shapes
        own = self.dice.shuffled([k for k, one in enumerate(members) if one.rank == self.number])
        surplus = self.painted(members) - (self.ask.coverage or 0.0)
        if surplus <= 0:
            return set()
        poses = [members[k].pose for k in own]
        area = np.array([shapes.area[members[k].shape] for k in own])
        paints = area * np.array([p.scale**2 for p in poses]) / torus.region_area
        at = np.array([p[:2] for p in poses]).reshape(-1, 2)
        raster = self._placer(members).clearances
        i, j = np.unravel_index(int(np.argmax(np.round(raster.map, 3))), raster.size)
        bare = raster.position(np.full(1, float(i)), np.full(1, float(j)))
        far = torus.squares(at - np.concatenate(bare))
        gone: set[int] = set()
        while True:
            fits = (paints <= surplus) & (far > 0)
            if not fits.any():
                return gone
            n = int(np.argmax(np.where(fits, np.round(far, 3), -1.0)))
            gone.add(own[n])
            surplus -= float(paints[n])
            far = np.minimum(far, torus.squares(at - at[n]))

    def _placer(self, members: list[Member]) -> Placer:
        """Return a placer that is fine enough to tell how bare the cloth is."""
        cell = cell_for(self.torus, float(self.shapes.radius[self.which].min()))
        return self.placer(members, cell)

    def placer(self, members: list[Member], cell: float, samples: int = SAMPLES) -> Placer:
        """Return a placer for this rank; see its arguments."""
        torus, shapes, manner, dice = self.torus, self.shapes, self.manner, self.dice
        return Placer(torus, shapes, cell, manner, dice, members, samples, self.likeness)

    def stuffed_and_evened(self, members: list[Member]) -> list[Member]:
        """Return the members and more of this rank, as room that is evened out lets more in."""
        for _ in range(TRIES if self.settings.even else 1):
            placer = self._stuffed(members)
            added = len(placer.members) - len(members)
            members, _ = self.settled(placer.members)
            if not added or not self.settings.even:
                break
            evened, out = self.relaxed(placer)
            members = members if out else evened
        return members

    def _stuffed(
        self, members: list[Member], *, snug: bool = False, coverage: float | None = None
    ) -> Placer:
        """Return members and more, placed in turn until none has room or enough is painted."""
        low, high = self.ask.scale
        smallest = float(self.shapes.radius[self.which].min()) * low
        cell = min(cell_for(self.torus, smallest), math.sqrt(self.torus.area) / _FINE)
        placer = self.placer(members, cell, samples=_PROBES)
        if coverage is None:
            coverage = self.ask.coverage or 0.0
        alive, deck = list(self.which), list[int]()
        painted = self.painted(members)
        while alive and painted < coverage and len(placer.members) < PLACEMENTS:
            # Every motif in its turn, the largest first.
            deck = [k for k in deck if k in alive] or sorted(
                self.dice.shuffled(alive), key=lambda k: -float(self.shapes.room[k])
            )
            shape = deck.pop(0)
            for scale in sorted({round(self.dice.between(low, high), 3), low}, reverse=True):
                member = self._fitted(placer, shape, scale, snug=snug)
                if member is not None:
                    placer.put(member)
                    painted += (
                        float(self.shapes.area[shape]) * scale * scale / self.torus.region_area
                    )
                    break
            else:
                alive.remove(shape)
        return placer

    def _fitted(self, placer: Placer, shape: int, scale: float, *, snug: bool) -> Member | None:
        """Return a motif where it fits among those placed, exactly, or None for no such place.

        The raster knows clearances to about a cell. Were motifs put where it says and pushed
        apart all together at the end, a third of them would have to go again.
        """
        clearance, same_apart = self.settings.clearance, self.settings.same_apart
        for _ in range(_LOOKS):
            found = placer.find(shape, scale, snug=snug, least=clearance)
            if found is None or found.gap < clearance:
                continue
            member = fit_in(
                self.torus,
                self.shapes,
                placer.members,
                placer.member(shape, self.number, found.pose),
                clearance=clearance,
                same_apart=same_apart,
            )
            if member is not None:
                return member
        return None

    def relaxed(self, placer: Placer) -> tuple[list[Member], list[tuple[int, float]]]:
        """Return what lies there with kinds spread and gaps evened out; and what had to go."""
        exchanged = self.likeness.exchanged(placer.members)
        exchanged = [self._turned_along(member) for member in exchanged]
        first, gone = self.settled(self.evened(placer, exchanged), sparing=True)
        if not gone or exchanged == placer.members:
            return first, gone
        # Some do not fit in those places: more of them may where they were.
        other, out = self.settled(self.evened(placer, placer.members), sparing=True)
        better = self._painted_by_all(first) >= self._painted_by_all(other)
        return (first, gone) if better else (other, out)

    def nestled(self, members: list[Member]) -> list[Member]:
        """Return the members, those that may give way grown into the gaps about them.

        Where that leaves no room for some, they shrink instead.
        """
        ranks = [m.rank for m in members]
        give = np.array([self.settings.of(RANKS[k]).give if k >= 0 else 0.0 for k in ranks])
        if not give.any():
            return members
        first = np.array([m.pose.scale for m in members])
        most, least = first * (1 + give), first * (1 - give)
        best, painted = members, self._painted_by_all(members)
        scale, fits = first.copy(), True
        for _ in range(_NESTLES):
            if fits:
                crowd = Crowd.of(self.torus, self.shapes, best)
                spare = nearest_gaps(crowd)[: len(best)] - self.settings.clearance
                by = _GROW * np.where(np.isfinite(spare), spare, 0.0) / crowd.radius[: len(best)]
                scale = np.minimum(most, scale * (1 + np.maximum(0.0, by)))
            sized = [
                m._replace(pose=m.pose._replace(scale=round(float(to), 3)))
                for m, to in zip(best, scale, strict=True)
            ]
            crowd, out = self._settled(self.evened(self._placer(sized), sized))
            more = self._painted_by_all(crowd.members())
            fits = not out
            if not fits:
                scale[out] = np.maximum(least[out], _SHRINK * scale[out])
            elif more > _WORTH * painted:
                best, painted = crowd.members(), more
            else:
                break
        return best

    def _painted_by_all(self, members: Sequence[Member]) -> float:
        return sum(float(self.shapes.area[m.shape]) * m.pose.scale**2 for m in members)

    def _turned_along(self, member: Member) -> Member:
        """Return a motif turned as it has to lie where it is now."""
        if self.flow is None or member.rank < 0:
            return member
        at = (np.full(1, value) for value in (*member.pose[:2], member.rest))
        rest = float(self.flow.rest(*at)[0])
        turn = round(member.pose.turn + rest - member.rest, TURN_DECIMALS) % 360.0
        return member._replace(pose=member.pose._replace(turn=turn), rest=rest)

    def evened(self, placer: Placer, members: list[Member]) -> list[Member]:
        """Return members evened out; some may break the clearance afterwards.

        Args:
            placer: knows how bare the cloth is.
            members: what lies there.
        """
        settings = self.settings
        crowd = Crowd.of(self.torus, self.shapes, members)
        # Far enough to feel what lies on the other side of the largest void.
        widest = 2.2 * float(placer.clearances.map.max())
        even_out(
            crowd,
            clearance=1.02 * settings.clearance + 0.02,
            rounds=settings.rounds,
            reach=max(widest, 3 * settings.clearance),
            same_apart=settings.same_apart,
            likeness=self.likeness,
            flow=self.flow,
        )
        return crowd.members()

    def settled(
        self, members: Sequence[Member], *, sparing: bool = False
    ) -> tuple[list[Member], list[tuple[int, float]]]:
        """Return the members that keep the clearance, and those taken out."""
        crowd, out = self._settled(members, sparing=sparing)
        return crowd.members(), [(members[k].shape, members[k].pose.scale) for k in out]

    def _settled(
        self, members: Sequence[Member], *, sparing: bool = False
    ) -> tuple[Crowd, list[int]]:
        """Return those that keep the clearance, and the numbers of those taken out."""
        return settle(
            Crowd.of(self.torus, self.shapes, list(members)),
            clearance=self.settings.clearance,
            same_apart=self.settings.same_apart,
            sparing=sparing,
        )

    def room(self, which: Sequence[tuple[int, float]]) -> float:
        """Return what motifs in their scales take of the cloth, clearances included, in mm²."""
        return sum(float(self.shapes.room[k]) * scale**2 for k, scale in which)

    def painted(self, members: Sequence[Member]) -> float:
        """Return the share of the cloth, 0 to 1, that this rank paints."""
        return (
            sum(
                float(self.shapes.area[m.shape]) * m.pose.scale**2
                for m in members
                if m.rank == self.number
            )
            / self.torus.region_area
        )
