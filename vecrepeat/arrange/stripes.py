"""Stripe: motifs in rows that run down or across the cloth and close over the tile."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from vecrepeat.arrange.crowd import Member
from vecrepeat.arrange.finishing import finished
from vecrepeat.arrange.results import Arrangement
from vecrepeat.arrange.settings import checked
from vecrepeat.arrange.spaced import SPARE, Bench, SpacedSettings, plain, strung
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.repeat.ranks import Rank

WAYS = ("down", "across")
_MOST = 200


@dataclass(frozen=True)
class StripeSettings(SpacedSettings):
    """What a stripe is to be like.

    Attributes:
        way: ``down`` the cloth or ``across`` it.
        order: the ranks of one group of stripes in turn; empty for all there are, fillers
            between the others.
        times: how often the group comes on a tile; None for as often as has room.
        stagger: begin every other stripe of the same rank half a step on.
    """

    way: str = "down"
    order: tuple[str, ...] = ()
    times: int | None = None
    stagger: bool = False

    def check(self) -> None:
        """Raise InputError where the settings make no sense."""
        super().check()
        if self.way not in WAYS:
            raise InputError(f"stripes don't run “{self.way}”", hint="use down or across")
        for rank in self.order:
            if rank not in set(Rank):
                raise InputError(
                    f"the rank “{rank}” is not known", hint="use hero, secondary or filler"
                )
        if self.times is not None and not 1 <= self.times <= _MOST:
            raise InputError(f"{self.times} times are out of range (1 to {_MOST})")


class _Stripe:
    """One stripe of the group: its motifs in turn, as long and wide as they lie in it."""

    def __init__(self, bench: Bench, which: list[int], along: int) -> None:
        # A whole round of motifs, turns and flips.
        self.pieces = [(*one, bench.box(*one)) for one in bench.round(which)]
        boxes = [box for *_, box in self.pieces]
        self.lengths = [(box.width, box.height)[along] for box in boxes]
        self.starts = [(box.left, box.top)[along] for box in boxes]
        self.width = max((box.height, box.width)[along] for box in boxes)
        self.middles = [(box.top + box.bottom, box.left + box.right)[along] / 2 for box in boxes]


def lay_stripes(
    repeat: Repeat,
    ranked: Sequence[tuple[Motif, Rank | str]],
    settings: StripeSettings | None = None,
) -> Arrangement:
    """Lay motifs in stripes, each of one rank, evenly spaced along and across.

    Along a stripe motifs come in whole rounds over the tile, as many as have room. Where the
    layout moves the next tile across the stripes, the group of stripes comes so often that
    stripes run on into stripes.

    Args:
        repeat: its tile and layout are used, its placements are not.
        ranked: motifs and their ranks.
        settings: what the stripes are to be like.

    Raises:
        InputError: settings that make no sense, a layout that turns or that stripes can't
            run on over, or no room.
    """
    settings = settings or StripeSettings()
    settings.check()
    plain(repeat, "a stripe")
    chosen = checked(ranked)
    bench = Bench(repeat, chosen, settings)
    along = WAYS.index(settings.way) ^ 1
    order = [bench.of_rank(Rank(rank)) for rank in settings.order or _order(chosen)]
    if not all(order):
        missing = settings.order[[bool(o) for o in order].index(False)]
        raise InputError(f"no motif has the rank {missing}", hint="change the order of ranks")
    group = [_Stripe(bench, which, along) for which in order]
    sides = (float(repeat.width), float(repeat.height))
    length, breadth = sides[along], sides[1 - along]
    times = _times(repeat, settings, along)
    gap = settings.clearance + SPARE

    def with_times(count: int, scale: float) -> list[Member] | None:
        taken = sum(s.width for s in group) * scale
        alley = (breadth / count - taken) / len(group)
        if alley < gap:
            return None
        members: list[Member] = []
        seen: dict[int, int] = {}
        rows = []
        for stripe, which in zip(group, order, strict=True):
            begins = strung([v * scale for v in stripe.lengths], length, gap, len(stripe.pieces))
            if begins is None:
                return None
            key = which[0]
            seen[key] = seen.get(key, -1) + 1
            half = length / len(begins) / 2 if settings.stagger and seen[key] % 2 else 0.0
            rows.append((stripe, begins, half))
        for n in range(count):
            at = n * breadth / count
            for stripe, begins, half in rows:
                middle = at + (alley + stripe.width * scale) / 2
                at += alley + stripe.width * scale
                for k, begin in enumerate(begins):
                    piece = k % len(stripe.pieces)
                    shape, turn, flip, _ = stripe.pieces[piece]
                    lengthways = begin + half - stripe.starts[piece] * scale
                    sideways = middle - stripe.middles[piece] * scale
                    x, y = (sideways, lengthways) if along else (lengthways, sideways)
                    members.append(bench.member(shape, x, y, (turn, flip, scale)))
        return members

    room = breadth / sum(s.width * settings.scale + gap for s in group)
    count = settings.times or times * max(1, math.floor(min(room, _MOST) / times))
    members, scale = bench.largest(lambda scale: with_times(count, scale))
    notes = bench.scale_notes(scale)
    used = {member.shape for member in members}
    left = [s.motif.name for k, s in enumerate(bench.shapes.all) if k not in used]
    if left:
        notes.append(f"not in a stripe: {', '.join(left[:6])}{' …' if len(left) > 6 else ''}")
    return finished(bench.torus, bench.shapes, members, notes)


def _order(chosen: Sequence[tuple[Motif, Rank]]) -> list[Rank]:
    """Return the ranks there are, fillers between the others."""
    there = {rank for _, rank in chosen}
    large: list[Rank] = [rank for rank in (Rank.HERO, Rank.SECONDARY) if rank in there]
    if Rank.FILLER not in there:
        return large
    return [rank for one in large for rank in (one, Rank.FILLER)] or [Rank.FILLER]


def _times(repeat: Repeat, settings: StripeSettings, along: int) -> int:
    """Return what the number of groups on a tile must divide by.

    Raises:
        InputError: the number asked for does not.
    """
    layout = repeat.layout
    crossing = "brick" if along else "drop"
    steps = layout.steps if layout.kind == crossing else 1
    if settings.times is not None and settings.times % steps:
        raise InputError(
            f"{settings.times} groups of stripes don't run on over {layout}, which moves each "
            f"next tile across them",
            hint=f"use a multiple of {steps}, or stripes that run {'across' if along else 'down'}",
        )
    return steps
