"""The repeated plane as checks see it: outlines of all copies near a region, and neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Placement, Repeat
from vecrepeat.repeat.wrap import Floats, Ints, Shapes, copies, copy_arrays, moved, offsets
from vecrepeat.util.once import each, once

THREADS = 2
"""How many things are worked on at once: most of the work is GEOS's, which lets go of Python."""

GRID = 1e-6
"""Outlines' corners lie on a grid of so many mm."""


class PlaneCopies(NamedTuple):
    """Painted outlines of a region, one for each copy that meets it.

    Attributes:
        shapes: outlines in mm, shape (n,).
        placement: whose copy each is, shape (n,).
        steps: its lattice index (i, j), shape (n, 2).
    """

    shapes: Shapes
    placement: Ints
    steps: Ints


@dataclass(frozen=True, eq=False)
class Plane:
    """The endless cloth, with what several questions need worked out once."""

    repeat: Repeat

    @once
    def area(self) -> float:
        """The area of one period in mm²."""
        return float(self.repeat.lattice.area)

    @once
    def outlines(self) -> Shapes:
        """Each placement's painted area as one shape, in mm of the tile."""
        placements = self.repeat.placements
        with ThreadPoolExecutor(THREADS) as threads:
            # Every motif once, before its placements ask for it.
            for _ in threads.map(lambda m: m.outline, {p.motif: None for p in placements}):
                pass
            some = [placements[k::THREADS] for k in range(THREADS)]
            found = np.empty(len(placements), object)
            for k, shapes in enumerate(threads.map(_outline, some)):
                found[k::THREADS] = shapes
        return found

    def under(self, layout: Layout) -> Plane:
        """Return the same page under another layout; what its placements tell is shared."""
        repeat = replace(self.repeat, layout=layout)
        vars(repeat).update(boxes=self.repeat.boxes, index=self.repeat.index)
        other = Plane(repeat)
        vars(other)["outlines"] = self.outlines
        return other

    def of(self, which: Sequence[int]) -> Plane:
        """Return the plane with some of its placements alone; their outlines are shared."""
        some = tuple(self.repeat.placements[k] for k in which)
        other = Plane(replace(self.repeat, placements=some))
        vars(other)["outlines"] = self.outlines[list(which)]
        return other

    @each
    def names(self) -> list[str]:
        """The placements' names."""
        return [p.motif.name for p in self.repeat.placements]

    @once
    def reduced(self) -> Floats:
        """Two shortest vectors that span the lattice, in mm, as rows."""
        return np.array(self.repeat.lattice.shortest)

    @property
    def reach(self) -> float:
        """No point of the plane is farther than this from the nearest translate of any other."""
        return float(np.hypot(*self.reduced.T).sum()) / 2

    def copies(self, region: Rect) -> PlaneCopies:
        """Return the outlines of the copies that meet a region."""
        placement, steps = copy_arrays(copies(self.repeat, region))
        by = offsets(self.repeat.lattice, steps)
        return PlaneCopies(moved(self.outlines[placement], by), placement, steps)

    @once
    def ink(self) -> BaseGeometry:
        """The painted area of one tile, wraps included, cut at the tile's bounds."""
        tile = shapely.box(*self.repeat.tile_rect)
        shapes = self.copies(self.repeat.tile_rect).shapes
        cut = ~shapely.contains_properly(tile, shapes)
        shapes[cut] = shapely.intersection(shapes[cut], tile)
        return unite(shapes)


def _outline(placements: Sequence[Placement]) -> Shapes:
    """Return the painted areas of placements in mm of the tile."""
    found = np.empty(len(placements), object)
    for k, placement in enumerate(placements):
        found[k] = shapely.transform(placement.motif.outline, placement.transform.apply)
    # A turn's rounding crosses what barely touches, and snap rounding asks for valid areas.
    crossed = ~shapely.is_valid(found)
    found[crossed] = shapely.make_valid(found[crossed], method="structure", keep_collapsed=False)
    # On a grid of a nanometre, so that no rounding, of a copy's move say, can make rings cross.
    snapped: Shapes
    try:
        snapped = shapely.set_precision(found, GRID)
    except shapely.errors.GEOSException:
        # Where a motif is made so small that the grid folds its rings, they are unfolded again.
        folded = shapely.set_precision(found, GRID, mode="pointwise")
        snapped = shapely.make_valid(folded, method="structure")
    return snapped


def unite(shapes: Shapes) -> BaseGeometry:
    """Return the union of shapes; what meets no other is taken as it is, which costs nothing."""
    one, other = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    meets = np.zeros(len(shapes), bool)
    meets[one[one != other]] = True
    alone = shapely.get_parts(shapes[~meets])
    joined = shapely.get_parts(shapely.union_all(shapes[meets]))
    parts = np.concatenate([alone, joined])
    return shapely.multipolygons(parts[shapely.area(parts) > 0])


def edges_of(lines: Shapes) -> tuple[Floats, Floats, Ints]:
    """Return where edges of lines start and end, shape (n, 2), and which line each is of."""
    coords, owner = shapely.get_coordinates(lines, return_index=True)
    same = owner[1:] == owner[:-1]
    return coords[:-1][same], coords[1:][same], owner[1:][same]
