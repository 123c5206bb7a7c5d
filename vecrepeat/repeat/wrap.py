"""Wrapping: which motif goes where in a region of the endless cloth.

:func:`copies` is the one answer every consumer uses. It knows nothing of edges or corners
and assumes nothing about the size of a motif: it asks, for every lattice vector under which
the art could reach the region, which outlines do.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from vecrepeat.core.allowance import COPIES
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.repeat.layout import Lattice
from vecrepeat.repeat.model import Drawn, Placement, Repeat

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Shapes = NDArray[np.object_]

CONTACT = 1e-6
"""Depth in mm that an outline must reach into a region to count: touching makes no copy.

One nanometre: far above rounding noise in coordinates, far below any print's resolution.
"""


class Copy(NamedTuple):
    """A placement moved by the lattice vector i·a + j·b.

    Attributes:
        placement: index into ``repeat.placements``.
        i: steps along the lattice's a.
        j: steps along the lattice's b.
    """

    placement: int
    i: int
    j: int

    @property
    def is_wrap(self) -> bool:
        """Whether this copy exists only because the original crosses the bounds."""
        return (self.i, self.j) != (0, 0)


def placed(repeat: Repeat, copy: Copy) -> Placement:
    """Return a copy as a placement: its motif where the copy lies, in mm of the tile's plane."""
    placement = repeat.placements[copy.placement]
    offset = repeat.lattice.at(copy.i, copy.j)
    move = Affine.translation(float(offset.x), float(offset.y))
    return Placement(placement.motif, move @ placement.transform)


def copy_arrays(found: Sequence[Copy]) -> tuple[Ints, Ints]:
    """Return the placements of copies, shape (n,), and their lattice indices, shape (n, 2)."""
    numbers = np.array(found, np.int64).reshape(-1, 3)
    return numbers[:, 0], numbers[:, 1:]


def offsets(lattice: Lattice, steps: Ints | Floats) -> Floats:
    """Return the lattice vectors in mm, shape (n, 2), of lattice indices (i, j)."""
    (ax, ay), (bx, by) = lattice.vectors
    i, j = steps[:, 0], steps[:, 1]
    return np.stack([i * ax + j * bx, i * ay + j * by], axis=1)


def moved(shapes: Shapes, by: Floats) -> Shapes:
    """Return shapes, each moved by its own (dx, dy)."""
    counts = shapely.get_num_coordinates(shapes)
    coords = shapely.get_coordinates(shapes) + np.repeat(by, counts, axis=0)
    # set_coordinates changes its argument: outlines are shared.
    result: Shapes = shapely.set_coordinates(shapes.copy(), coords)
    return result


def tile_steps(lattice: Lattice, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Return the lattice indices i and j, whole numbers, of the tiles in which points lie."""
    (ax, ay), (bx, by) = lattice.vectors
    if bx == 0:
        i = np.floor(x / ax)
        return i, np.floor((y - i * ay) / by)
    j = np.floor(y / by)
    return np.floor((x - j * bx) / ax), j


def onto_tile(lattice: Lattice, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Return the copies of points that lie on the tile."""
    (ax, ay), (bx, by) = lattice.vectors
    i, j = tile_steps(lattice, x, y)
    return x - j * bx - i * ax, y - i * ay - j * by


def index_range(lattice: Lattice, art: Rect, region: Rect) -> tuple[range, range]:
    """Return the lattice indices (i, j) under which a box of art can reach a region.

    A translation t brings the art's box onto the region only if t lies in the region's box
    minus the art's; its lattice coordinates are extreme at that box's corners.
    """
    (ax, ay), (bx, by) = lattice.vectors
    det = ax * by - ay * bx
    corners = [
        (tx, ty)
        for tx in (region.x0 - art.x1, region.x1 - art.x0)
        for ty in (region.y0 - art.y1, region.y1 - art.y0)
    ]
    i = [(tx * by - ty * bx) / det for tx, ty in corners]
    j = [(ty * ax - tx * ay) / det for tx, ty in corners]
    return (
        range(math.floor(min(i)), math.ceil(max(i)) + 1),
        range(math.floor(min(j)), math.ceil(max(j)) + 1),
    )


def copies(repeat: Repeat | Drawn, region: Rect) -> list[Copy]:
    """Return every copy whose painted outline meets ``region``, in stacking order.

    Args:
        repeat: the endless cloth, or art to be laid as a block.
        region: a rectangle in mm of the tile's plane.

    Returns:
        Copies ordered by placement first, then by lattice index (i, j): the same order
        wherever the region lies, so a motif that overlaps its own copies does so in the
        same way everywhere. Contact without area (see :data:`CONTACT`) makes no copy.

    Raises:
        InputError: there may be more than :data:`vecrepeat.core.allowance.COPIES`.
    """
    repeat = Repeat.of(repeat)
    inner = region.grown(-CONTACT)
    if np.isnan(repeat.boxes).all() or inner.x1 <= inner.x0 or inner.y1 <= inner.y0:
        return []
    upper, lower = np.nanmin(repeat.boxes[:, :2], axis=0), np.nanmax(repeat.boxes[:, 2:], axis=0)
    i_range, j_range = index_range(repeat.lattice, Rect.of((*upper, *lower)), region)
    # As many as there would be if each filled its box; and the tiles that may hold some.
    width, height = (repeat.boxes[:, 2:] - repeat.boxes[:, :2]).T
    meet = (region.width + width) * (region.height + height) / float(repeat.lattice.area)
    if max(np.nansum(meet), len(i_range) * len(j_range)) > COPIES:
        raise InputError(
            f"{region.width:.6g} × {region.height:.6g} mm of it may hold more than {COPIES:,} "
            "copies of its motifs",
            hint="use larger or fewer motifs, or a larger tile",
        )
    ii, jj = (grid.ravel() for grid in np.meshgrid(i_range, j_range, indexing="ij"))
    # Moving the region by −t instead of every outline by t leaves the index usable as it is.
    dx, dy = offsets(repeat.lattice, np.stack([ii, jj], axis=1)).T
    windows = shapely.box(inner.x0 - dx, inner.y0 - dy, inner.x1 - dx, inner.y1 - dy)
    index, owner = repeat.index
    window, part = index.query(windows, predicate="intersects")
    # A motif's parts meet a window together or singly: each pair counts once.
    count = len(repeat.placements)
    found = np.sort(window * count + owner[part])
    window, placement = divmod(found[np.diff(found, prepend=-1) > 0], count)
    order = np.lexsort((jj[window], ii[window], placement))
    return [
        Copy(int(p), int(i), int(j))
        for p, i, j in zip(placement[order], ii[window][order], jj[window][order], strict=True)
    ]
