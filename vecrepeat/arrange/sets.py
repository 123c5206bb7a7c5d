"""Set: motifs at the points of a regular grid, fillers in the middles between them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vecrepeat.arrange.crowd import Member
from vecrepeat.arrange.finishing import finished
from vecrepeat.arrange.results import Arrangement, grouped
from vecrepeat.arrange.settings import checked
from vecrepeat.arrange.spaced import Bench, SpacedSettings, no_room, plain
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.repeat.ranks import Rank

_ALIKE = 0.75
"""How much of a difference in size is taken away; 1 would be all of it."""

_GIVES_WAY = (0.88, 0.76, 0.64, 0.52, 0.4)
"""How large the motifs on the points stay, of what fits, where others stand between them: the
first that leaves every place between bare."""

STAGGERS = ("none", "drop", "brick")
"""How the grid's own columns or rows are moved against each other."""

_MOST = 5_000
"""The most points of a grid on one tile."""

_LOOKED = 400
"""Up to so many points of a grid all ways to begin its rows are held against each other."""

_DEALT = 4
"""Up to so many of these, the best alike, motifs are dealt out on to keep like apart."""

_MIDDLES = ((1.0, 1.0), (0.5, 1.0), (1.0, 0.5))
"""Where the middles between points may be, in steps of the grid."""


@dataclass(frozen=True)
class SetSettings(SpacedSettings):
    """What a set is to be like.

    Attributes:
        columns: how many on a tile; None for as many as give each motif a place.
        rows: likewise.
        stagger: ``drop`` moves every other column by half a step, ``brick`` every other row.
        alike: bring motifs that share a place in the grid to much the same size.
    """

    columns: int | None = None
    rows: int | None = None
    stagger: str = "none"
    alike: bool = True

    def check(self) -> None:
        """Raise InputError where the settings make no sense."""
        super().check()
        for what, count in (("columns", self.columns), ("rows", self.rows)):
            if count is not None and not 1 <= count <= 200:
                raise InputError(f"{count} {what} are out of range (1 to 200)")
        if self.stagger not in STAGGERS:
            raise InputError(
                f"the stagger “{self.stagger}” is not known", hint=f"use {', '.join(STAGGERS)}"
            )


def lay_set(
    repeat: Repeat,
    ranked: Sequence[tuple[Motif, Rank | str]],
    settings: SetSettings | None = None,
) -> Arrangement:
    """Lay motifs on a grid that divides the lattice, so that it runs on over every join.

    Heroes and secondaries take the grid's points in turn; fillers, where there are any beside
    them, take the middles between four.

    Args:
        repeat: its tile and layout are used, its placements are not.
        ranked: motifs and their ranks.
        settings: what the set is to be like.

    Raises:
        InputError: settings that make no sense, a layout that turns, or no room.
    """
    settings = settings or SetSettings()
    settings.check()
    plain(repeat, "a set")
    chosen = checked(ranked)
    bench = Bench(repeat, chosen, settings)
    points = bench.of_rank(Rank.HERO, Rank.SECONDARY)
    middles = bench.of_rank(Rank.FILLER)
    if not points:
        points, middles = middles, []
    columns, rows = _counts(repeat, settings, len(points))
    if columns * rows > _MOST:
        raise InputError(
            f"{columns} × {rows} points are more than {_MOST:,}", hint="use a smaller tile"
        )
    (ax, ay), (bx, by) = repeat.lattice.vectors
    across, down = (ax / columns, ay / columns), (bx / rows, by / rows)

    def place(i: int, j: int, u: float, v: float) -> tuple[float, float]:
        """Return a place (u, v) of a step beyond a corner of the grid."""
        u, v = i + u, j + v
        if settings.stagger == "drop":
            v += i % 2 / 2
        elif settings.stagger == "brick":
            u += j % 2 / 2
        return u * across[0] + v * down[0], u * across[1] + v * down[1]

    corners = [(i, j) for j in range(rows) for i in range(columns)]
    grid = [place(i, j, 0.5, 0.5) for i, j in corners]
    # The middle of a grid's cells is where there is most room: not always across the corner.
    offset = max(_MIDDLES, key=lambda o: round(_room(bench, grid, place(0, 0, *o)), 6))
    sizes = _sizes(bench, settings, points) | _sizes(bench, settings, middles)

    def seats(
        which: Sequence[int], at: tuple[float, float], there: Sequence[Member]
    ) -> Callable[[float], list[Member]]:
        """Return what lays motifs at a scale, in turn on places of the grid."""
        places = [place(i, j, *at) for i, j in corners]
        numbers = _spread(bench, which[: len(places)], corners, places, there)
        turns = [bench.turn(turn) for turn in _turns(numbers, corners, bench.cycle)]
        spots = list(zip(numbers, places, turns, strict=True))
        return lambda scale: [_seated(bench, *spot, scale * sizes[spot[0]]) for spot in spots]

    on_points = seats(points, (0.5, 0.5), [])
    members, scale = bench.largest(on_points)
    if middles:
        members = on_points(scale * _GIVES_WAY[0])
        between = seats(middles, offset, members)

        def given_way(share: float) -> tuple[list[Member], float] | None:
            there = on_points(scale * share)
            found = bench.fitted(lambda small: [*there, *between(small)])
            return None if found is None else (found[0], scale * share)

        fitting = next(filter(None, map(given_way, _GIVES_WAY)), None)
        if fitting is None:
            raise no_room()
        members, scale = fitting
    notes = bench.scale_notes(scale)
    used = {member.shape for member in members}
    left = [s.motif.name for k, s in enumerate(bench.shapes.all) if k not in used]
    if left:
        notes.append(f"no place on {columns} × {rows} points for {grouped(left)}")
    return finished(bench.torus, bench.shapes, members, notes)


def _turns(numbers: Sequence[int], corners: Sequence[tuple[int, int]], cycle: int) -> list[int]:
    """Return which turn each motif has: by turns along rows and columns.

    A motif that would so always stand alike is turned from copy to copy instead.
    """
    chequered = [i + j for i, j in corners]
    found = list(chequered)
    for number in set(numbers):
        own = [k for k, one in enumerate(numbers) if one == number]
        if len(own) > 1 and len({chequered[k] % cycle for k in own}) == 1:
            for copy, k in enumerate(own):
                found[k] = copy
    return found


def _seated(
    bench: Bench,
    which: int,
    place: tuple[float, float],
    way: tuple[float, bool],
    scale: float,
) -> Member:
    return bench.member(which, *place, (*way, max(0.001, math.floor(scale * 1000) / 1000)))


def _sizes(bench: Bench, settings: SetSettings, which: Sequence[int]) -> dict[int, float]:
    """Return the scale of each motif beside the others'."""
    if not settings.alike:
        return dict.fromkeys(which, 1.0)
    radii = [float(bench.shapes.radius[k]) for k in which]
    middle = sorted(radii)[len(radii) // 2] if radii else 1.0
    # A little of the difference stays: a moth is larger than a bud.
    return {k: (middle / r) ** _ALIKE for k, r in zip(which, radii, strict=True)}


def _room(bench: Bench, grid: Sequence[tuple[float, float]], at: tuple[float, float]) -> float:
    """Return how far in mm a place is from the nearest point of a grid, copies included."""
    vectors = bench.torus.vectors(2 * bench.torus.depth)
    points = np.array(grid)[:, None] + vectors[None]
    return float(np.sqrt(((points - np.array(at)) ** 2).sum(axis=2)).min())


def _counts(repeat: Repeat, settings: SetSettings, motifs: int) -> tuple[int, int]:
    """Return columns and rows: as asked, or about square cells with a place for each motif.

    Raises:
        InputError: a stagger that would not close over the tile.
    """
    columns, rows = settings.columns, settings.rows
    ratio = float(repeat.width / repeat.height)
    if columns is None:
        columns = max(1, round(rows * ratio if rows else math.sqrt(motifs * ratio)))
        columns += columns % 2 if settings.stagger == "drop" else 0
    if rows is None:
        rows = max(1, math.ceil(motifs / columns), round(columns / ratio / 2))
        rows += rows % 2 if settings.stagger == "brick" else 0
    for word, what, count in (("drop", "columns", columns), ("brick", "rows", rows)):
        if settings.stagger == word and count % 2:
            raise InputError(
                f"every other of {count} {what} can't be moved: the tile would not close",
                hint=f"use an even number of {what}",
            )
    return columns, rows


def _spread(
    bench: Bench,
    which: Sequence[int],
    corners: Sequence[tuple[int, int]],
    places: Sequence[tuple[float, float]],
    there: Sequence[Member],
) -> list[int]:
    """Return the motif of each corner, in turn along each row.

    Of all the ways to begin each row so many motifs after the one above, it is that which shares
    the places out evenly and keeps each motif furthest from itself, over the joins too; and of all
    turns then that in which like are furthest apart, those that are there already included.
    """
    columns = 1 + max(i for i, _ in corners)
    at = np.array(places)
    x, y = at.T
    far = bench.torus.squared_distances(at, at)
    np.fill_diagonal(far, np.inf)
    # A row that goes on where the last one ended comes first, and stays if no other is better.
    steps = [columns, *(range(len(which)) if len(places) <= _LOOKED else ())]
    turns = [np.array([(i + j * step) % len(which) for i, j in corners]) for step in steps]

    def regular(turn: NDArray[np.int64]) -> tuple[int, float]:
        """Return how evenly places are shared out, and how far like is from like."""
        counts = np.bincount(turn, minlength=len(which))
        nearest = np.where(turn[:, None] == turn, far, np.inf).min()
        return -int(counts.max() - counts.min()), round(float(nearest), 3)

    others = np.array([bench.likeness.at(k, x, y, there) for k in range(len(bench.ranks))]).T
    worth = [regular(turn) for turn in turns]
    best = [turn for turn, one in zip(turns, worth, strict=True) if one == max(worth)]
    near = 1 / far**2
    found: list[tuple[float, list[int]]] = []
    for turn in best[:_DEALT]:
        numbers = bench.dealt(which, turn, near, others)
        cost = bench.likeness.costs(np.array(numbers))[numbers]
        pressed = (near * cost[:, numbers]).sum() + 2 * others[range(len(at)), numbers].sum()
        found.append((float(f"{pressed:.6g}"), numbers))
    return min(found, key=lambda one: one[0])[1]
