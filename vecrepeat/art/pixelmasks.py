"""Masks of pixels, and the polygons that hold them."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

GROWTH = 1
"""Pixels by which the outline is larger than the painted pixels."""

SMOOTHING = 0.75
"""Greatest distance in pixels by which the traced outline is smoothed; less than the growth."""

_MAX_RUNS = 20_000

Mask = NDArray[np.bool_]


def trace(ink: Mask, growth: int = GROWTH, smoothing: float = SMOOTHING) -> list[BaseGeometry]:
    """Return polygons, holes kept, that hold all pixels of a mask.

    Args:
        ink: the mask, shape (rows, columns).
        growth: pixels by which the outline is larger than the mask on all sides.
        smoothing: the greatest distance by which its steps are smoothed; less than the growth.

    Returns:
        Polygons in pixels, the mask's corner at the origin; none where the mask is empty.
    """
    grown = grown_by(np.pad(ink, growth), growth)
    rows, columns = np.flatnonzero(grown.any(axis=1)), np.flatnonzero(grown.any(axis=0))
    if not len(rows):
        return []
    bounds = (columns[0], rows[0], columns[-1] + 1, rows[-1] + 1)
    # Speckles by the ten thousand are taken together.
    factor = 1
    boxes = _runs(grown)
    while len(boxes) > _MAX_RUNS:
        factor *= 2
        boxes = _runs(_halved(grown, factor))
    boxes = np.clip(boxes * factor, np.tile(bounds[:2], 2), np.tile(bounds[2:], 2))
    stairs = shapely.union_all(shapely.box(*boxes.T))
    smooth = shapely.simplify(stairs, smoothing)
    inner = shapely.box(*_runs(np.pad(ink, growth)).T) if factor == 1 else shapely.box(*boxes.T)
    shapely.prepare(smooth)
    whole = smooth.is_valid and bool(shapely.covers(smooth, inner).all())
    area = shapely.transform(smooth if whole else stairs, lambda xy: xy - growth)
    return list(shapely.get_parts(area))


def grown_by(mask: Mask, by: int) -> Mask:
    """Return a mask grown by so many pixels on all sides, corners included."""
    grown = mask.copy()
    for axis in (0, 1):
        before = grown.copy()
        for step in range(1, by + 1):
            np.logical_or(grown, np.roll(before, step, axis), out=grown)
            np.logical_or(grown, np.roll(before, -step, axis), out=grown)
    return grown


def _halved(mask: Mask, factor: int) -> Mask:
    """Return a mask of larger pixels, each set if any within it was."""
    rows, columns = (-(-side // factor) * factor for side in mask.shape)
    padded = np.zeros((rows, columns), bool)
    padded[: mask.shape[0], : mask.shape[1]] = mask
    blocks = padded.reshape(rows // factor, factor, columns // factor, factor)
    return np.asarray(blocks.any(axis=(1, 3)), bool)


def _runs(mask: Mask) -> NDArray[np.float64]:
    """Return rectangles that make up a mask, shape (n, 4): runs of rows, alike ones joined."""
    edges = np.diff(np.pad(mask, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    row, start = np.nonzero(edges == 1)
    _, end = np.nonzero(edges == -1)
    order = np.lexsort((row, end, start))
    row, start, end = row[order], start[order], end[order]
    first = np.ones(len(row), bool)
    first[1:] = (np.diff(start) != 0) | (np.diff(end) != 0) | (np.diff(row) != 1)
    heads = np.flatnonzero(first)
    tails = np.append(heads[1:], len(row)) - 1
    boxes = np.stack([start[heads], row[heads], end[heads], row[tails] + 1], axis=1)
    return boxes.astype(np.float64)
