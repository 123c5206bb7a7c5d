"""Fill: fillers put into the largest voids, while all that is there stays as it is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from vecrepeat.arrange.crowd import Crowd
from vecrepeat.arrange.dice import Dice
from vecrepeat.arrange.evening import even_out
from vecrepeat.arrange.manner import Manner
from vecrepeat.arrange.measures import coverage
from vecrepeat.arrange.placing import Placer, cell_for
from vecrepeat.arrange.results import Filled, grouped, placements_of, row_of
from vecrepeat.arrange.settings import FillSettings, checked
from vecrepeat.arrange.settling import fit_in, settle
from vecrepeat.arrange.shapes import Shape, Shapes
from vecrepeat.arrange.staying import as_they_are
from vecrepeat.arrange.torus import Torus, check_turns
from vecrepeat.arrange.voids import EmptyCircle, largest_empty_circle
from vecrepeat.repeat.model import Motif, Placement, Repeat
from vecrepeat.repeat.pose import Pose, cos_sin
from vecrepeat.repeat.ranks import RANKS, Rank

_FILLER = RANKS.index(Rank.FILLER)

_SCALES = 4
"""Scales that are tried from the largest down, where there is a range."""

_LAST = 200
"""The most fillers that are placed by exact circles, after the raster found no more room."""


def fill(
    repeat: Repeat,
    fillers: Sequence[tuple[Motif, Rank | str]],
    settings: FillSettings | None = None,
) -> Filled:
    """Place fillers into a repeat's largest voids.

    Each goes where it has most room, at the largest scale that fits there, until none fits
    any more. Last, the largest empty circle is found exactly, and filled while the smallest
    filler has room in it whatever its turn.

    Args:
        repeat: its placements are kept as they are, and its layout.
        fillers: motifs to fill with, and their ranks, which are of no account here.
        settings: what filling is to be like.

    Raises:
        InputError: settings that make no sense, or motifs that paint nothing.
    """
    settings = settings or FillSettings()
    settings.check()
    chosen = [motif for motif, _ in checked(fillers)]
    work = _Filling(repeat, chosen, settings)
    work.by_room()
    work.even()
    circle = work.by_circles()
    return work.result(circle)


class _Filling:
    def __init__(self, repeat: Repeat, fillers: Sequence[Motif], settings: FillSettings) -> None:
        self.torus = Torus(repeat, settings.clearance)
        check_turns(self.torus, str(repeat.layout), settings.direction)
        apart = self.torus.within_depth(settings.same_apart)
        self.repeat, self.settings = repeat, replace(settings, same_apart=apart)
        settings = self.settings
        own = [Shape.of(m, settings.clearance, settings.scale[1]) for m in fillers]
        # Where the layout turns, each is followed by its images, which are known from it.
        originals = repeat.placements[:: len(self.torus.turns)]
        there, shapes = as_they_are(originals, settings.clearance, len(own))
        self.shapes = Shapes([*own, *shapes])
        self.count = len(own)
        self.dice = Dice(settings.seed)
        self.manner = Manner.of(settings)
        low, high = settings.scale
        steps = _SCALES if high > low else 1
        self.scales = [round(high - (high - low) * k / max(1, steps - 1), 3) for k in range(steps)]
        self.members = there
        self.existing = len(there)
        self.circles = [_around(s) for s in own]
        # A disc in which a filler has room whichever way it is turned.
        # Circles are found and poses kept to a few thousandths of a millimetre.
        self.rooms = [r * low + settings.clearance + 0.01 for _, _, r in self.circles]

    @property
    def full(self) -> bool:
        most = self.settings.count
        return most is not None and len(self.members) - self.existing >= most

    def by_room(self) -> None:
        """Place fillers in turn, each where it has most room."""
        smallest = float(self.shapes.radius[: self.count].min()) * self.scales[-1]
        cell = cell_for(self.torus, smallest)
        placer = Placer(self.torus, self.shapes, cell, self.manner, self.dice, self.members)
        alive = list(range(self.count))
        first = dict.fromkeys(alive, 0)
        deck: list[int] = []
        while alive and not self.full:
            if 2 * float(placer.clearances.map.max()) < self.settings.smallest:
                break
            deck = [k for k in deck if k in alive] or self.dice.shuffled(alive)
            shape = deck.pop(0)
            found = None
            while found is None and first[shape] < len(self.scales):
                scale = self.scales[first[shape]]
                found = placer.find(shape, scale, least=self.settings.clearance)
                if found is None or found.gap < self.settings.clearance:
                    # Room only shrinks: what is too large now stays so.
                    first[shape] += 1
                    found = None
            if found is None:
                alive.remove(shape)
                continue
            placer.put(placer.member(shape, _FILLER, found.pose))
            self.members = placer.members

    def even(self) -> None:
        """Even out the gaps about the fillers, and take out what breaks the clearance."""
        settings = self.settings
        crowd = Crowd.of(self.torus, self.shapes, self.members)
        if settings.even and crowd.moves.any():
            smallest = float(crowd.radius[crowd.moves].min())
            even_out(
                crowd,
                clearance=1.02 * settings.clearance + 0.02,
                rounds=settings.rounds,
                reach=3 * max(smallest, settings.clearance),
                same_apart=settings.same_apart,
            )
        crowd, _ = settle(crowd, clearance=settings.clearance, same_apart=settings.same_apart)
        self.members = crowd.members()

    def by_circles(self) -> EmptyCircle:
        """Fill the largest empty circle while a filler has room in it; return what is left."""
        for _ in range(_LAST):
            circle = self.largest_circle()
            fitting = [k for k in range(self.count) if self.rooms[k] <= circle.radius]
            if not fitting or self.full or 2 * circle.radius < self.settings.smallest:
                return circle
            before = len(self.members)
            for shape in sorted(fitting, key=lambda k: -self.rooms[k]):
                self._into(circle, shape)
                if len(self.members) > before:
                    break
            else:
                return circle
        return self.largest_circle()

    def _into(self, circle: EmptyCircle, shape: int) -> None:
        """Place a filler in an empty circle, if nothing but room is asked of it."""
        cx, cy, radius = self.circles[shape]
        middle = self.torus.in_region(circle.x, circle.y)
        placer = Placer(
            self.torus, self.shapes, math.sqrt(self.torus.area) / 8, self.manner, self.dice, []
        )
        for way in placer.ways(shape, 1.0):
            fits = (circle.radius - self.settings.clearance - 0.001) / radius
            scale = math.floor(min(self.settings.scale[1], fits) * 1000) / 1000
            cos, sin = cos_sin(way.turn)
            u, v = (-cx if way.flip else cx) * scale, cy * scale
            x, y = middle[0] - (cos * u - sin * v), middle[1] - (sin * u + cos * v)
            pose = Pose(x, y, way.turn, scale, way.flip).rounded()
            if scale < self.settings.scale[0]:
                continue
            member = fit_in(
                self.torus,
                self.shapes,
                self.members,
                placer.member(shape, _FILLER, pose),
                clearance=self.settings.clearance,
                same_apart=self.settings.same_apart,
                rounds=0,
            )
            if member is not None:
                self.members = [*self.members, member]
                return

    def largest_circle(self) -> EmptyCircle:
        """Return the largest empty circle as it is now."""
        return largest_empty_circle(replace(self.repeat, placements=self.placements()))

    def placements(self) -> tuple[Placement, ...]:
        """Return what was there, untouched, and the fillers."""
        new = [
            placed
            for m in self.members[self.existing :]
            for placed in placements_of(self.torus, self.shapes.all[m.shape].motif, m.pose)
        ]
        return (*self.repeat.placements, *new)

    def result(self, circle: EmptyCircle) -> Filled:
        """Return what filling came to."""
        crowd = Crowd.of(self.torus, self.shapes, self.members)
        new = self.members[self.existing :]
        room = min(self.rooms)
        return Filled(
            self.placements(),
            tuple(row_of(crowd, m) for m in new),
            coverage(crowd.kept(crowd.moves)),
            circle,
            room,
            tuple(self._notes(circle, room, {m.shape for m in new})),
        )

    def _notes(self, circle: EmptyCircle, room: float, used: set[int]) -> list[str]:
        settings = self.settings
        notes: list[str] = []
        unused = [self.shapes.all[k].motif.name for k in range(self.count) if k not in used]
        if unused and not self.full:
            notes.append(
                f"no void has room for {grouped(unused)} at a clearance of "
                f"{settings.clearance:g} mm"
            )
        if circle.radius >= room:
            where = (
                f"a circle {2 * circle.radius:.1f} mm wide stays empty at "
                f"{circle.x:.1f}, {circle.y:.1f} mm, though the smallest filler and its "
                f"clearance need {2 * room:.1f} mm"
            )
            if self.full:
                why = f"all {settings.count} fillers are placed"
            elif 2 * circle.radius < settings.smallest:
                why = f"voids under {settings.smallest:g} mm are to stay"
            elif settings.same_apart:
                why = f"the same motif is to be {settings.same_apart:g} mm apart"
            else:
                why = "its own copies are too near"
            notes.append(f"{where}: {why}")
        return notes


def _around(shape: Shape) -> tuple[float, float, float]:
    """Return the smallest circle about a shape's outline: centre from its anchor, and radius."""
    circle = shapely.minimum_bounding_circle(shape.outline)
    centre = circle.centroid
    points = shapely.get_coordinates(shapely.convex_hull(shape.outline))
    far = np.sqrt((points[:, 0] - centre.x) ** 2 + (points[:, 1] - centre.y) ** 2).max()
    return centre.x, centre.y, float(far)
