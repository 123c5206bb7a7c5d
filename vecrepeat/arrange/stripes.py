"""Stripe: motifs in rows that run down or across the cloth and close over the tile."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from typing import NamedTuple

from vecrepeat.arrange.crowd import Member
from vecrepeat.arrange.finishing import finished
from vecrepeat.arrange.results import Arrangement, grouped
from vecrepeat.arrange.settings import checked
from vecrepeat.arrange.spaced import SPARE, Bench, SpacedSettings, in_row, plain, strung
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


class _Piece(NamedTuple):
    """A motif as it lies in a stripe, in mm at scale 1."""

    shape: int
    turn: float
    flip: bool
    length: float
    start: float
    """From its anchor to where it begins, along the stripe; ``middle`` likewise, across."""
    width: float
    middle: float


class _Stripe(NamedTuple):
    """One stripe: where its middle line lies, how far on it begins, and its motifs in turn."""

    line: float
    begin: float
    pieces: list[_Piece]


def lay_stripes(
    repeat: Repeat,
    ranked: Sequence[tuple[Motif, Rank | str]],
    settings: StripeSettings | None = None,
) -> Arrangement:
    """Lay motifs in stripes, each of one rank, evenly spaced along and across.

    Along a stripe motifs come in whole rounds over the tile, as many as have room, or as much of
    one as has, which the next stripe goes on with. Where the layout moves the next tile across
    the stripes, the group of stripes comes so often that stripes run on into stripes.

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
    rounds = [_pieces(bench, which, along) for which in order]
    widths = [max(piece.width for piece in pieces) for pieces in rounds]
    sides = (float(repeat.width), float(repeat.height))
    length, breadth = sides[along], sides[1 - along]
    times = _times(repeat, settings, along)
    gap = settings.clearance + SPARE

    def stripes(count: int, scale: float) -> list[_Stripe] | None:
        alley = (breadth / count - sum(widths) * scale) / len(order)
        if alley < gap:
            return None
        found: list[_Stripe] = []
        edge, begun, seen = 0.0, [0] * len(bench.ranks), list[int]()
        for group in range(count):
            if group % (count // times) == 0:
                # Where the layout moves tiles across, stripes run on into those from here on.
                seen = [0] * len(bench.ranks)
            for pieces, width in zip(rounds, widths, strict=True):
                key = pieces[0].shape
                # What had no room in one stripe comes first in the next.
                first = begun[key] % len(pieces)
                turned = [*pieces[first:], *pieces[:first]]
                begins = strung([p.length * scale for p in turned], length, gap, len(pieces))
                if begins is None:
                    return None
                begun[key] = first + len(begins)
                half = length / len(begins) / 2 if settings.stagger and seen[key] % 2 else 0.0
                seen[key] += 1
                line = edge + (alley + width * scale) / 2
                edge += alley + width * scale
                rows = [turned[k % len(turned)] for k in range(len(begins))]
                found.append(_Stripe(line, half, rows))
        return found

    def members_of(found: Sequence[_Stripe], scale: float) -> list[Member]:
        members = []
        for line, half, pieces in found:
            begins = in_row([piece.length * scale for piece in pieces], length)
            for piece, begin in zip(pieces, begins, strict=True):
                lengthways = begin + half - piece.start * scale
                sideways = line - piece.middle * scale
                x, y = (sideways, lengthways) if along else (lengthways, sideways)
                members.append(bench.member(piece.shape, x, y, (piece.turn, piece.flip, scale)))
        return members

    def at(scale: float) -> list[Member] | None:
        found = stripes(count, scale)
        return None if found is None else members_of(found, scale)

    room = breadth / sum(width * settings.scale + gap for width in widths)
    count = settings.times or times * max(1, math.floor(min(room, _MOST) / times))
    members, scale = bench.largest(at)
    notes = bench.scale_notes(scale)
    found = stripes(count, scale)
    assert found is not None
    members = members_of(_spread(bench, found, members), scale)
    used = {member.shape for member in members}
    unused = [k for k in range(len(bench.ranks)) if k not in used]
    asked = {k for which in order for k in which}
    for why, left in (
        ("no stripe has room for", [k for k in unused if k in asked]),
        ("no stripe is of the rank of", [k for k in unused if k not in asked]),
    ):
        if left:
            notes.append(f"{why} {grouped([bench.shapes.all[k].motif.name for k in left])}")
    return finished(bench.torus, bench.shapes, members, notes)


def _pieces(bench: Bench, which: list[int], along: int) -> list[_Piece]:
    """Return a whole round of motifs, turns and flips."""
    found = []
    for one in bench.round(which):
        box = bench.box(*one)
        sides, starts = (box.width, box.height), (box.left, box.top)
        middle = (box.top + box.bottom, box.left + box.right)[along] / 2
        found.append(_Piece(*one, sides[along], starts[along], sides[1 - along], middle))
    return found


def _spread(bench: Bench, stripes: Sequence[_Stripe], members: Sequence[Member]) -> list[_Stripe]:
    """Return stripes of the same motifs, each begun where like lie apart."""
    pieces = {(p.shape, p.turn, p.flip): p for stripe in stripes for p in stripe.pieces}
    there = iter(members)
    rows = [list(islice(there, len(stripe.pieces))) for stripe in stripes]
    return [
        stripe._replace(pieces=[pieces[m.shape, m.pose.turn, m.pose.flip] for m in row])
        for stripe, row in zip(stripes, bench.phased(rows), strict=True)
    ]


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
