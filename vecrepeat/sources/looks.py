"""How motifs look, measured on small pictures of them: detail, colours, edge, painted mass.

A picture has gradients, clips, masks, filters and letters as they are seen, and it is drawn sooner
than shapes are worked out of a motif of many.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from vecrepeat.core.colours import oklab_of
from vecrepeat.core.difference import lab_of
from vecrepeat.repeat.model import Motif
from vecrepeat.write.lone import MARGIN, lone_picture

Floats = NDArray[np.float64]
Picture = NDArray[np.uint8]

SIDE = 96
"""Pixels along a motif's longer side: about what is seen of it at arm's length."""

_BIN = 0.08
"""OKLab distance from which two colours count as different ones."""

ALIKE = 25.0
"""Main colours no further apart than this in L*a*b* count as one: a red and a pink do not, two
reds do (set by eye)."""

GREY = (50.0, 0.0, 0.0)
"""Stands for the main colour of what tells none."""

_SMALL, _PIXELS = 48, 400
"""A main colour is told by so many pixels, from all over a picture of this side: drawn in half
the time, as every toss asks for it."""


@dataclass(frozen=True, eq=False)
class Look:
    """How one motif looks, whatever its size.

    Attributes:
        bulk: area of its silhouette, holes and narrow gaps filled, over its longer side squared.
        solid: how much of its silhouette is painted, 0 to 1.
        detail: how much goes on inside it: mean step of OKLab from pixel to pixel.
        colours: how many colours it seems to have, by their shares.
        paint: OKLab of its painted pixels, shape (n, 3).
        edge: OKLab of its outermost pixels, shape (n, 3).
    """

    bulk: float
    solid: float
    detail: float
    colours: float
    paint: Floats
    edge: Floats

    @property
    def girth(self) -> float:
        """Its visual size over its longer side: 1 for a disc, less if it is thin or all lines."""
        return math.sqrt(math.sqrt(self.bulk * self.solid * 4 / math.pi))

    @property
    def weight(self) -> float:
        """How much it draws the eye at a given longer side; a logarithm."""
        return math.log(self.detail) + 0.5 * math.log(self.colours) + 0.5 * math.log(self.bulk)


def looks(motifs: Sequence[Motif]) -> list[Look]:
    """Return each motif's look.

    Raises:
        InputError: one can't be drawn.
    """
    return [look_of(_picture(motif, SIDE)) for motif in motifs]


@lru_cache(maxsize=1024)
def main_colour(motif: Motif) -> tuple[float, float, float] | None:
    """Return L*, a* and b* of what most of a motif is about; None where nothing of it is seen.

    Raises:
        InputError: it can't be drawn.
    """
    picture = _picture(motif, _SMALL)
    if not picture[..., 3].any():
        return None
    painted = picture[_seen(picture), :3]
    lab = lab_of(painted[:: math.ceil(len(painted) / _PIXELS)])
    # Black line-work may be most of a motif, and yet it is called by what it is filled with.
    weight = 1 + np.sqrt((lab[:, 1:] ** 2).sum(axis=1)) / ALIKE
    square = (lab**2).sum(axis=1)
    near = square[:, None] + square[None] - 2 * lab @ lab.T <= ALIKE**2
    main = lab[near[int(np.argmax(np.round(near @ weight, 3)))]].mean(axis=0)
    light, a, b = np.round(main, 3).tolist()
    return light, a, b


def _picture(motif: Motif, side: int) -> Picture:
    # The second engine draws whatever the first does, and at this size the sooner.
    return lone_picture(motif, side, engine="resvg")


def _seen(picture: Picture) -> NDArray[np.bool_]:
    """Return which pixels show more of a motif than of what is behind it, or the most."""
    alpha = picture[..., 3] / 255.0
    seen: NDArray[np.bool_] = alpha >= min(0.5, float(alpha.max()))
    return seen


def look_of(picture: Picture) -> Look:
    """Return the look of a motif from its picture in RGBA, straight alpha."""
    from scipy import ndimage

    alpha = picture[..., 3] / 255.0
    seen = _seen(picture)
    lab = oklab_of(picture[..., :3])
    ball = ndimage.generate_binary_structure(2, 1)
    padded = np.pad(seen, 6)
    closed = ndimage.binary_closing(padded, ball, iterations=3)
    bulk = ndimage.binary_fill_holes(closed)[6:-6, 6:-6]
    # On middle grey, so that what is white or black against nothing counts alike.
    flat = alpha[..., None] * lab + (1 - alpha[..., None]) * np.array([0.6, 0.0, 0.0])
    steps = np.zeros(seen.shape)
    for axis in (0, 1):
        steps += np.linalg.norm(np.diff(flat, axis=axis, prepend=0.6), axis=-1)
    inside = ndimage.binary_erosion(bulk, ball)
    paint = lab[seen]
    _, counts = np.unique(np.floor(paint / _BIN), axis=0, return_counts=True)
    share = counts / counts.sum()
    outer = ndimage.binary_fill_holes(seen)
    edge = seen & ~ndimage.binary_erosion(outer, ball, iterations=2)
    return Look(
        bulk=float(bulk.mean()) * MARGIN**2,
        solid=float(seen.sum() / bulk.sum()),
        detail=float(steps[inside].mean()) + 0.01 if inside.any() else 0.01,
        colours=float(np.exp(-(share * np.log(share)).sum())),
        paint=paint,
        edge=lab[edge] if edge.any() else paint,
    )
