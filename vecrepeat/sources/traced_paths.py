"""Areas of colour as paths, by vtracer, and how far those are from the pixels."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import vtracer
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from vecrepeat.core.colours import rgb_of
from vecrepeat.core.geometry import number
from vecrepeat.core.units import Size
from vecrepeat.sources.reduced_colours import Labels

UNDERLAP = 2
"""By how many of the picture's pixels a colour goes on under those above it."""

_NUMBER_RE = re.compile(r"-?\d+\.?\d*(?:e-?\d+)?")
_PATH_RE = re.compile(r'<path d="([^"]*)"[^>]*?transform="translate\(([^,]+),([^)]+)\)"')
_STEP_RE = re.compile(r"([MLCZ])([^MLCZ]*)")


class TracedLayer(NamedTuple):
    """One colour's area, traced.

    Attributes:
        colour: ``#rrggbb``, a colour of the picture.
        d: path data in mm.
        nodes: how many points it goes through.
    """

    colour: str
    d: str
    nodes: int


def layers_of(labels: Labels, palette: Sequence[str], size: Size, finer: int) -> list[TracedLayer]:
    """Return each colour's area as a path, the largest at the bottom."""
    areas = np.bincount((labels + 1).ravel(), minlength=len(palette) + 1)[1:]
    order = [int(k) for k in np.argsort(-areas, kind="stable") if areas[k]]
    rank = np.full(len(palette) + 1, -1)
    rank[[k + 1 for k in order]] = range(len(order))
    ranks = rank[labels + 1]
    rows, columns = labels.shape
    to_mm = (float(size.width) / columns, float(size.height) / rows)
    layers = []
    for place, colour in enumerate(order):
        area = ranks == place
        above = ranks > place
        # From the edge inwards, under its neighbours alone: their outer edges stay theirs.
        reach = ndimage.binary_dilation(area, iterations=UNDERLAP * finer, mask=area | above)
        d, nodes = _traced(reach, to_mm)
        if d:
            layers.append(TracedLayer(palette[colour], d, nodes))
    return layers


def _traced(area: NDArray[np.bool_], to_mm: tuple[float, float]) -> tuple[str, int]:
    """Return an area's outline as path data in mm, holes included, and its number of nodes."""
    rows, columns = (np.flatnonzero(area.any(axis=axis)) for axis in (1, 0))
    top, left = int(rows[0]), int(columns[0])
    inner = area[top : int(rows[-1]) + 1, left : int(columns[-1]) + 1]
    stream = io.BytesIO()
    Image.fromarray(np.where(np.pad(inner, 1), 0, 255).astype(np.uint8)).save(
        stream, "PNG", compress_level=1
    )
    drawn = vtracer.convert_raw_image_to_svg(
        stream.getvalue(),
        img_format="png",
        colormode="binary",
        mode="spline",
        filter_speckle=0,
        length_threshold=10.0,
        path_precision=3,
    )
    pieces = []
    nodes = 0
    for d, x, y in _PATH_RE.findall(drawn):
        offset = (float(x) + left - 1, float(y) + top - 1)
        for letter, numbers in _STEP_RE.findall(d):
            values = [
                (float(value) + offset[k % 2]) * to_mm[k % 2]
                for k, value in enumerate(_NUMBER_RE.findall(numbers))
            ]
            nodes += len(values) // (6 if letter == "C" else 2)
            pieces.append(letter + " ".join(number(round(value, 4)) for value in values))
    return "".join(pieces), nodes


def edge_error(
    layers: Sequence[TracedLayer], labels: Labels, palette: Sequence[str], size: Size
) -> tuple[float, float]:
    """Return the mean and the largest distance in mm between drawn edges and the pixels' edges.

    The paths are drawn by resvg on the grid they were traced from; from every edge of either
    picture the distance to the nearest edge of the other is taken.
    """
    from vecrepeat.draw.resvg import rasterise

    height, width = labels.shape
    body = "".join(f'<path fill="{layer.colour}" d="{layer.d}"/>' for layer in layers)
    w, h = (number(float(side)) for side in size)
    drawn = rasterise(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {w} {h}" preserveAspectRatio="none">'
        f'<g shape-rendering="crispEdges">{body}</g></svg>',
        width,
        height,
    )
    packed = drawn.view(np.uint32)[..., 0]
    known = np.zeros((1, len(palette), 4), np.uint8)
    known[0, :, :3], known[..., 3] = rgb_of(palette), 255
    shown = np.full(labels.shape, -1, np.int16)
    for colour, value in enumerate(known.view(np.uint32)[0, :, 0]):
        shown[packed == value] = colour
    edges = [_edges(labels), _edges(shown)]
    if not all(edge.any() for edge in edges):
        return 0.0, 0.0
    sampling = (float(size.height) / height, float(size.width) / width)
    distances = np.concatenate(
        [
            ndimage.distance_transform_edt(~there, sampling=sampling)[here]
            for here, there in (edges, edges[::-1])
        ]
    )
    return float(distances.mean()), float(distances.max())


def _edges(labels: Labels) -> NDArray[np.bool_]:
    """Return which pixels differ from the one to their right or below."""
    edges = np.zeros(labels.shape, bool)
    edges[:, :-1] |= labels[:, :-1] != labels[:, 1:]
    edges[:-1] |= labels[:-1] != labels[1:]
    return edges
