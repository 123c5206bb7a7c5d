"""What plates are judged by: put together again, scanned whole, valid."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry
from support import Pixels

from vecrepeat.colour.plates.scan import strips
from vecrepeat.colour.plates.separation import Separation
from vecrepeat.core.colours import rgb_of

WHITE = "#ffffff"


def recombined(plates: Mapping[str, NDArray[np.generic]], scale: float = 255.0) -> Pixels:
    """What plates printed together look like: ink by ink, on white cloth.

    Args:
        plates: by ink; 0 for none of it.
        scale: the value that stands for all of it.
    """
    shape = next(iter(plates.values())).shape
    total, covered = np.zeros((*shape, 3)), np.zeros(shape)
    for ink, plate in plates.items():
        share = np.asarray(plate, np.float64) / scale
        total += share[..., None] * rgb_of(ink)
        covered += share
    total += (1 - np.minimum(covered, 1))[..., None] * rgb_of(WHITE)
    result: Pixels = np.clip(np.floor(total + 0.5), 0, 255).astype(np.uint8)
    return result


def scanned(
    area: BaseGeometry,
    width: int,
    height: int,
    *,
    scale: tuple[float, float],
    origin: tuple[float, float] = (0.0, 0.0),
) -> NDArray[np.bool_]:
    """Which pixels have their centre in an area, shape (height, width), from its strips."""
    return np.concatenate(list(strips(area, width, height, scale=scale, origin=origin)))


def are_valid(separation: Separation) -> bool:
    """Whether every plate is made of valid polygons."""
    areas = [geometry for p in separation.plates for geometry in (p.area, p.trap, p.printed)]
    return all(shapely.is_valid(areas))
