"""The one colour that an eye gives a motif: what most of what is seen of it is about."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image as Pictures

from vecrepeat.colour.painted import Colour, PaintLayer, Veil, painted_layers
from vecrepeat.core.colours import rgb_of
from vecrepeat.core.difference import lab_of
from vecrepeat.draw.unpacking import unpacked
from vecrepeat.repeat.model import Motif
from vecrepeat.scene.nodes import Gradient, Image
from vecrepeat.scene.visit import walk
from vecrepeat.util.imagefiles import bytes_in

Floats = NDArray[np.float64]

ALIKE = 25.0
"""Colours no further apart than this in L*a*b* count as one: a red and a pink do not, two reds
do (set by eye)."""

GREY = (50.0, 0.0, 0.0)
"""Stands for the main colour of what tells none."""

_ACROSS = 24
"""Points across and down by which a motif is looked at."""


@lru_cache(maxsize=1024)
def main_colour(motif: Motif) -> tuple[float, float, float] | None:
    """Return L*, a* and b* of what most of a motif is about, or None where nothing tells.

    Gradients count by the mean of their stops, pictures by their opaque pixels; masks, filters
    and live text are not looked into.
    """
    seen = np.concatenate([_of_shapes(motif), *(_of_picture(one) for one in _pictures(motif))])
    if not len(seen):
        return None
    lab = lab_of(seen)
    # Black line-work may be most of a motif, and yet it is called by what it is filled with.
    weight = 1 + np.sqrt((lab[:, 1:] ** 2).sum(axis=1)) / ALIKE
    near = ((lab[:, None] - lab[None]) ** 2).sum(axis=2) <= ALIKE**2
    most = np.round(near @ weight, 3)
    main = lab[near[int(np.argmax(most))]].mean(axis=0)
    light, a, b = np.round(main, 3).tolist()
    return light, a, b


def _of_shapes(motif: Motif) -> Floats:
    """Return red, green and blue at points all over a motif's shapes, those on top."""
    x0, y0, x1, y1 = motif.box
    steps = (np.arange(_ACROSS) + 0.5) / _ACROSS
    x, y = (g.ravel() for g in np.meshgrid(x0 + (x1 - x0) * steps, y0 + (y1 - y0) * steps))
    found = np.full((len(x), 3), -1.0)
    tolerance = max(x1 - x0, y1 - y0) / 200
    for layer in _opaque(painted_layers(motif, tolerance=tolerance)):
        left, top, right, bottom = layer.area.bounds
        near = np.flatnonzero((x >= left) & (x <= right) & (y >= top) & (y <= bottom))
        if len(near):
            found[near[shapely.contains_xy(layer.area, x[near], y[near])]] = _rgb(layer.paint)
    return found[found[:, 0] >= 0]


def _opaque(layers: Sequence[PaintLayer | Veil], seen: float = 1.0) -> Iterator[PaintLayer]:
    """Yield layers that hide more than they show of what lies below."""
    for one in layers:
        if isinstance(one, Veil):
            yield from _opaque(one.layers, seen * one.opacity)
        elif one.opacity * seen >= 0.5:
            yield one


def _rgb(paint: Colour) -> Floats:
    if isinstance(paint, Gradient):
        mean: Floats = rgb_of(stop.colour for stop in paint.stops).mean(axis=0)
        return mean
    return rgb_of(paint)


def _pictures(motif: Motif) -> list[Image]:
    return [node for node, _ in walk(motif.scene) if isinstance(node, Image)]


def _of_picture(image: Image) -> Floats:
    """Return red, green and blue of a picture's opaque pixels, made small."""
    picture = unpacked(bytes_in(image.link)).convert("RGBA")
    small = picture.resize((_ACROSS, _ACROSS), Pictures.Resampling.BOX)
    pixels = np.asarray(small, dtype=np.float64).reshape(-1, 4)
    opaque: Floats = pixels[pixels[:, 3] >= 128, :3]
    return opaque
