"""The repeated plane as checks see it: outlines of all copies near a region, and neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Placement, Repeat
from vecrepeat.repeat.wrap import copies
from vecrepeat.util.once import each, once

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Shapes = NDArray[np.object_]


THREADS = 2
"""How many things are worked on at once: most of the work is GEOS's, which lets go of Python."""

GRID = 1e-6
"""Outlines' corners lie on a grid of so many mm."""


class Scene(NamedTuple):
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
    """The endless cloth, with what several questions need worked out once.

    Args:
        repeat: the endless cloth.
    """

    repeat: Repeat

    @once
    def vectors(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """The lattice's a and b in mm."""
        a, b = self.repeat.lattice.a, self.repeat.lattice.b
        return ((float(a.x), float(a.y)), (float(b.x), float(b.y)))

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
            for k, shapes in enumerate(threads.map(_outlined, some)):
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
        """Two shortest vectors that span the lattice, in mm, as rows (Lagrange's reduction)."""
        a, b = (np.array(v) for v in self.vectors)
        while True:
            if a @ a > b @ b:
                a, b = b, a
            turns = round(float(a @ b / (a @ a)))
            if turns == 0:
                return np.stack([a, b])
            b = b - turns * a

    @property
    def reach(self) -> float:
        """No point of the plane is farther than this from the nearest translate of any other."""
        return float(np.hypot(*self.reduced.T).sum()) / 2

    def offset(self, steps: Ints) -> Floats:
        """Return lattice vectors in mm, shape (n, 2), of lattice indices."""
        (ax, ay), (bx, by) = self.vectors
        i, j = steps[:, 0], steps[:, 1]
        return np.stack([i * ax + j * bx, i * ay + j * by], axis=1)

    def onto_tile(self, x: float, y: float) -> tuple[float, float]:
        """Return the lattice vector in mm that brings a point of the plane onto the tile."""
        rect = self.repeat.tile_rect
        (ax, ay), (bx, by) = self.vectors
        if self.repeat.layout.kind == "brick":
            j = y // rect.height
            i = (x - j * bx) // rect.width
        else:
            i = x // rect.width
            j = (y - i * ay) // rect.height
        return (-i * ax - j * bx, -i * ay - j * by)

    def scene(self, region: Rect) -> Scene:
        """Return the outlines of the copies that meet a region."""
        found = copies(self.repeat, region)
        placement = np.array([c.placement for c in found], np.int64)
        steps = np.array([(c.i, c.j) for c in found], np.int64).reshape(-1, 2)
        return Scene(moved(self.outlines[placement], self.offset(steps)), placement, steps)

    @once
    def tile_scene(self) -> Scene:
        """The copies that meet the tile."""
        return self.scene(self.repeat.tile_rect)

    @once
    def ink(self) -> BaseGeometry:
        """The painted area of one tile, wraps included, cut at the tile's bounds."""
        tile = shapely.box(*self.repeat.tile_rect)
        shapes = self.tile_scene.shapes
        cut = ~shapely.contains_properly(tile, shapes)
        shapes = shapes.copy()
        shapes[cut] = shapely.intersection(shapes[cut], tile)
        return united(shapes)


def _outlined(placements: Sequence[Placement]) -> Shapes:
    """Return the painted areas of placements in mm of the tile."""
    found = np.empty(len(placements), object)
    for k, placement in enumerate(placements):
        found[k] = shapely.transform(placement.motif.outline, placement.transform.apply)
    # On a grid of a nanometre, so that no rounding, of a copy's move say, can make rings cross.
    snapped: Shapes = shapely.set_precision(found, GRID)
    return snapped


def united(shapes: Shapes) -> BaseGeometry:
    """Return the union of shapes; what meets no other is taken as it is, which costs nothing."""
    one, other = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    meets = np.zeros(len(shapes), bool)
    meets[one[one != other]] = True
    alone = shapely.get_parts(shapes[~meets])
    joined = shapely.get_parts(shapely.union_all(shapes[meets]))
    parts = np.concatenate([alone, joined])
    return shapely.multipolygons(parts[shapely.area(parts) > 0])


def moved(shapes: Shapes, by: Floats) -> Shapes:
    """Return shapes, each moved by its own (dx, dy)."""
    if not len(shapes):
        return shapes
    counts = shapely.get_num_coordinates(shapes)
    coords = shapely.get_coordinates(shapes) + np.repeat(by, counts, axis=0)
    # set_coordinates changes its argument: outlines are shared.
    result: Shapes = shapely.set_coordinates(shapes.copy(), coords)
    return result
