"""Points strewn evenly on a cloth that goes round."""

from __future__ import annotations

from random import Random

import numpy as np
from numpy.typing import NDArray

from vecrepeat.repeat.layout import Lattice
from vecrepeat.repeat.wrap import onto_tile

_ROUNDS = 10
"""So often each point moves to the middle of what lies nearest to it (set by eye).

More would bring them near rows of hexagons.
"""

NEAR = 0.7
"""By how much of a grid's step two points are apart at least."""

_AROUND = [(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)]


def even_points(lattice: Lattice, count: int, rng: Random) -> NDArray[np.float64]:
    """Return points on the tile in mm, shape (count, 2), evenly apart over every join.

    Source: S. Lloyd, “Least squares quantization in PCM”, IEEE Transactions on Information
    Theory 28 (1982), 129–137.
    """
    from scipy.spatial import Voronoi, cKDTree

    basis = np.array(lattice.shortest)
    share = np.array([[rng.random(), rng.random()] for _ in range(count)])
    moves = np.array(_AROUND) @ basis
    middle = _AROUND.index((0, 0)) * count
    step = np.sqrt(float(lattice.area) / count)
    points = share @ basis
    for done in range(8 * _ROUNDS):
        all_of_them = (moves[:, None] + points[None]).reshape(-1, 2)
        if done >= _ROUNDS:
            apart, _ = cKDTree(all_of_them).query(points, k=2)
            if apart[:, 1].min() >= NEAR * step:
                break
        cells = Voronoi(all_of_them)
        found = [cells.regions[cells.point_region[middle + k]] for k in range(count)]
        points = np.array([_centroid(cells.vertices[region]) for region in found])
        share = (points @ np.linalg.inv(basis)) % 1.0
        points = share @ basis
    x, y = onto_tile(lattice, points[:, 0], points[:, 1])
    return np.stack([x, y], axis=1)


def _centroid(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a convex polygon's centroid."""
    after = np.roll(corners, -1, axis=0)
    cross = corners[:, 0] * after[:, 1] - after[:, 0] * corners[:, 1]
    total = cross.sum()
    centroid: NDArray[np.float64] = ((corners + after) * cross[:, None]).sum(axis=0) / (3 * total)
    return centroid


def dealt(lattice: Lattice, points: NDArray[np.float64], hands: int, rng: Random) -> list[int]:
    """Return which of some hands each point is dealt to, as many to each, like ones apart.

    Each point, in an order by chance, goes to the hand whose nearest point is farthest from it.
    """
    basis = np.array(lattice.shortest)
    around = np.array(_AROUND) @ basis
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
