"""Points strewn evenly on a cloth that goes round."""

from __future__ import annotations

from random import Random
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vecrepeat.repeat.layout import Lattice
from vecrepeat.repeat.wrap import onto_tile

_ROUNDS = 16
"""So often each point moves to the middle of what lies nearest to it (set by eye).

More would bring them near rows of hexagons.
"""

NEAR = 0.7
"""By how much of a grid's step two points are apart at least."""

_AROUND = np.array([(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)])
_BESIDE = _AROUND[_AROUND.any(axis=1)]


def even_points(lattice: Lattice, count: int, rng: Random) -> NDArray[np.float64]:
    """Return points on the tile in mm, shape (count, 2), evenly apart over every join.

    Source: S. Lloyd, “Least squares quantization in PCM”, IEEE Transactions on Information
    Theory 28 (1982), 129–137.
    """
    from scipy.spatial import Voronoi, cKDTree

    basis = np.array(lattice.shortest)
    share = np.array([[rng.random(), rng.random()] for _ in range(count)])
    step = float(np.sqrt(float(lattice.area) / count))
    # Copies farther off than this from the cell have no say in it.
    height = float(lattice.area) / np.hypot(*basis.T)[::-1]
    margin = 4 * step / height
    for done in range(4 * _ROUNDS):
        copies = (_BESIDE[:, None] + share).reshape(-1, 2)
        near = ((copies > -margin) & (copies < 1 + margin)).all(axis=1)
        seen = np.concatenate([share, copies[near]]) @ basis
        if done >= _ROUNDS and cKDTree(seen).query(seen[:count], k=2)[0][:, 1].min() >= NEAR * step:
            break
        share = (_middles(Voronoi(seen), count) @ np.linalg.inv(basis)) % 1.0
    points = share @ basis
    x, y = onto_tile(lattice, points[:, 0], points[:, 1])
    return np.stack([x, y], axis=1)


def _middles(cells: Any, count: int) -> NDArray[np.float64]:
    """Return the centroids of the first cells of a Voronoi diagram, which are closed."""
    regions = [cells.regions[k] for k in cells.point_region[:count]]
    sizes = np.array([len(region) for region in regions])
    start = np.cumsum(sizes) - sizes
    after = np.arange(sizes.sum()) + 1
    after[start + sizes - 1] = start
    corners = cells.vertices[np.concatenate(regions)]
    # About each cell's own point, so that nothing is lost to rounding.
    corners = corners - np.repeat(cells.points[:count], sizes, axis=0)
    following = corners[after]
    cross = corners[:, 0] * following[:, 1] - following[:, 0] * corners[:, 1]
    total = np.add.reduceat(cross, start)
    moment = np.add.reduceat((corners + following) * cross[:, None], start)
    middles: NDArray[np.float64] = cells.points[:count] + moment / (3 * total[:, None])
    return middles


def dealt(lattice: Lattice, points: NDArray[np.float64], hands: int, rng: Random) -> list[int]:
    """Return which of some hands each point is dealt to, as many to each, like ones apart.

    Each point, in an order by chance, goes to the hand whose nearest point is farthest from it.
    """
    basis = np.array(lattice.shortest)
    around = _AROUND @ basis
    order = sorted(range(len(points)), key=lambda _: rng.random())
    most = -(-len(points) // hands)
    held: list[list[int]] = [[] for _ in range(hands)]
    found = [0] * len(points)
    for at in order:
        best, far = 0, -1.0
        for hand, own in enumerate(held):
            if len(own) >= most:
                continue
            if not own:
                best, far = hand, np.inf
                break
            away = (points[at] - points[own])[:, None] + around
            near = float((away**2).sum(axis=2).min())
            if near > far:
                best, far = hand, near
        held[best].append(at)
        found[at] = best
    return found
