"""Where areas of two colours touch: the lines they share, by geometry."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vecrepeat.colour.booleans import GRID

_Key = TypeVar("_Key", bound=Hashable)

Segments = NDArray[np.float64]
"""Straight lines in mm, shape (n, 2, 2)."""

_NEAR = 16 * GRID
"""Lines this near to each other are one line, in mm: rounding moves corners by that much."""


def contacts(areas: Mapping[_Key, BaseGeometry]) -> dict[tuple[_Key, _Key], Segments]:
    """Return the lines along which areas touch.

    Args:
        areas: without overlap, corners on the grid.

    Returns:
        Lines by pair of keys, in the order of ``areas``; pairs that don't touch are absent.
    """
    keys = list(areas)
    segments, owners = _boundaries(list(areas.values()))
    lines, pairs, left = _matched(segments, owners)
    parts, others = _overlapping(segments[left], owners[left])
    lines, pairs = np.concatenate([lines, parts]), np.concatenate([pairs, others])
    each, which = np.unique(pairs, axis=0, return_inverse=True)
    return {
        (keys[one], keys[other]): lines[which.ravel() == number]
        for number, (one, other) in enumerate(each.tolist())
    }


def lengths(lines: Segments) -> NDArray[np.float64]:
    """Return the length of each line in mm."""
    result: NDArray[np.float64] = np.hypot(*(lines[:, 1] - lines[:, 0]).T)
    return result


def _boundaries(areas: list[BaseGeometry]) -> tuple[Segments, NDArray[np.int64]]:
    """Return all edges of all areas, and the area each one is of."""
    array = np.array(areas, dtype=object)
    polygons, owner = shapely.get_parts(array, return_index=True)
    # What rounding leaves between two areas parts nothing.
    real = shapely.area(polygons) > _NEAR / 2 * shapely.length(polygons)
    polygons, owner = polygons[real], owner[real]
    rings, polygon = shapely.get_rings(polygons, return_index=True)
    coords, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    edges = np.stack([coords[:-1], coords[1:]], axis=1)[same]
    return edges, owner[polygon[ring[:-1][same]]]


def _matched(
    segments: Segments, owners: NDArray[np.int64]
) -> tuple[Segments, NDArray[np.int64], NDArray[np.int64]]:
    """Return edges that two areas have alike, whose they are, and the numbers of all others."""
    grid = np.round(segments / GRID).astype(np.int64).reshape(-1, 4)
    swap = (grid[:, 0] > grid[:, 2]) | ((grid[:, 0] == grid[:, 2]) & (grid[:, 1] > grid[:, 3]))
    grid[swap] = grid[swap][:, [2, 3, 0, 1]]
    order = np.lexsort(grid.T)
    ordered = grid[order]
    alike = np.all(ordered[1:] == ordered[:-1], axis=1)
    first, second = order[:-1][alike], order[1:][alike]
    pairs = np.sort(np.stack([owners[first], owners[second]], axis=1), axis=1)
    two = pairs[:, 0] != pairs[:, 1]
    alone = np.ones(len(segments), bool)
    alone[first] = alone[second] = False
    return segments[first[two]], pairs[two], np.flatnonzero(alone)


def _overlapping(
    segments: Segments, owners: NDArray[np.int64]
) -> tuple[Segments, NDArray[np.int64]]:
    """Return what edges cut at different places have in common, and whose it is."""
    lines = shapely.linestrings(segments)
    left, right = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=_NEAR)
    pair = owners[left] < owners[right]
    left, right = left[pair], right[pair]
    start, step = segments[left, 0], segments[left, 1] - segments[left, 0]
    length = np.hypot(*step.T)
    unit = step / np.maximum(length, 1e-12)[:, None]
    ends = segments[right] - start[:, None]
    along = np.einsum("nij,nj->ni", ends, unit)
    across = ends[..., 0] * unit[:, None, 1] - ends[..., 1] * unit[:, None, 0]
    low = np.maximum(0.0, along.min(axis=1))
    high = np.minimum(length, along.max(axis=1))
    # Of lines that meet at an angle only the meeting point is near.
    run = np.maximum(np.abs(along[:, 1] - along[:, 0]), 1e-12)
    slope = (across[:, 1] - across[:, 0]) / run
    forth = np.sign(along[:, 1] - along[:, 0])
    at_low = across[:, 0] + slope * (low - along[:, 0]) * forth
    at_high = across[:, 0] + slope * (high - along[:, 0]) * forth
    near = (np.abs(at_low) < _NEAR) & (np.abs(at_high) < _NEAR) & (high - low > _NEAR)
    shared = np.stack([start + unit * low[:, None], start + unit * high[:, None]], axis=1)[near]
    return shared, np.stack([owners[left], owners[right]], axis=1)[near]
