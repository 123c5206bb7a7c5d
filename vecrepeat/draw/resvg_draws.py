"""How large a draw resvg makes at once, and whether draws of one thing agree."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from vecrepeat.draw.paint import BLOCK_BYTES, Pixels, Window

MAX_CANVAS_SIDE = 8_000
"""The longest side of a canvas in pixels; resvg draws beyond 8,191 px in tiles of its own."""


def difference(one: Pixels, other: Pixels) -> NDArray[np.uint8]:
    """Return the largest channel difference of each pixel, shape (height, width)."""
    largest: NDArray[np.uint8] = (np.maximum(one, other) - np.minimum(one, other)).max(axis=2)
    return largest


def slices(box: Window) -> tuple[slice, slice]:
    return slice(box.y, box.bottom), slice(box.x, box.right)


def agreed(one: Pixels, other: Pixels, third: Pixels, doubtful: Collection[Window]) -> Pixels:
    """Return the first of three draws, with the second's parts where the third bears it out."""
    result = one.copy()
    for box in doubtful:
        part = slices(box)
        first, second = (difference(p[part], third[part]).sum(dtype=np.int64) for p in (one, other))
        if second * 2 < first:
            result[part] = other[part]
    return result


def fits(canvas: Window) -> bool:
    """Whether a canvas is of the size that is drawn at once."""
    largest = max(canvas.width, canvas.height)
    return largest <= MAX_CANVAS_SIDE and canvas.width * canvas.height * 4 <= BLOCK_BYTES


def grown(window: Window, by: int) -> Window:
    return Window.between(window.x - by, window.y - by, window.right + by, window.bottom + by)


def largest(window: Window, bounds: Window) -> Window:
    """Return the window with as much room around it, within bounds, as can be drawn at once."""
    low, high = 0, MAX_CANVAS_SIDE
    while high - low > 1:
        middle = (low + high) // 2
        if fits(grown(window, middle).within(bounds)):
            low = middle
        else:
            high = middle
    return grown(window, low).within(bounds)
