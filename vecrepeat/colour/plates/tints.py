"""Tints: how much of each ink is printed at each pixel, where gradients and opacity stay.

Compositing in sRGB is linear, and so is interpolation between stops. If every colour of the art
is a weighted sum of inks, the art drawn with an ink's weight in place of each colour is that
ink's plate; plates times inks add up to the design again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from vecrepeat.colour.flatten import WHITE
from vecrepeat.colour.recolour import recoloured
from vecrepeat.core.colours import Floats, hex_of, rgb_of
from vecrepeat.draw.plan import PixelPlan
from vecrepeat.draw.sheet import Sheet, opaque
from vecrepeat.repeat.model import Repeat
from vecrepeat.write.exporting import Exporter

Pixels = NDArray[np.uint8]

SNAP = 4.0
"""A colour within this distance of an ink in sRGB (of 255) is that ink, not a tint of two."""

_EXTRA = 2.0
"""By how much nearer, in sRGB, a mixture must come to be worth a second ink."""


def weights(colour: str, inks: Sequence[str], cloth: str = WHITE) -> dict[str, float]:
    """Return how much of which inks prints a colour: one, two that add up to all, or none.

    The mixture on the line between two inks, or an ink and bare cloth, that lies nearest.
    """
    if colour == cloth and cloth not in inks:
        return {}
    target = rgb_of(colour)
    points = {ink: rgb_of(ink) for ink in inks}
    nearest = min(inks, key=lambda ink: float(np.hypot.reduce(points[ink] - target)))
    best, far = {nearest: 1.0}, float(np.hypot.reduce(points[nearest] - target))
    if far <= SNAP:
        return best
    far -= _EXTRA
    ends: dict[str, Floats] = {**points, "": rgb_of(cloth)}
    for one, other in combinations(ends, 2):
        step = ends[other] - ends[one]
        size = float(step @ step)
        if size == 0:
            continue
        share = float(np.clip((target - ends[one]) @ step / size, 0, 1))
        off = float(np.hypot.reduce(ends[one] + share * step - target))
        if off < far - 1e-9:
            best = {one: 1 - share, other: share}
            far = off
    return {ink: share for ink, share in best.items() if ink and share > 0}


def tint_plates(
    repeat: Repeat,
    plan_of: PixelPlan,
    inks: Sequence[str],
    art: Sequence[str],
    cloth: str = WHITE,
) -> dict[str, Pixels]:
    """Return each ink's plate over a straight block: 255 where it is printed in full.

    Args:
        repeat: the endless cloth.
        plan_of: the tile in whole pixels; of this repeat.
        inks: the inks' colours.
        art: all colours the art is painted with.
        cloth: what a tint lightens to where no other ink is printed.
    """
    shares = {colour: weights(colour, inks, cloth) for colour in art}
    plates = {}
    for ink in inks:
        greys = {colour: _grey(shares[colour].get(ink, 0.0)) for colour in art}
        drawn = recoloured(repeat, greys)
        exporter = Exporter(drawn)
        plan = PixelPlan(drawn, plan_of.dpi, plan_of.printed, plan_of.width, plan_of.height)
        sheet = Sheet(plan, *plan.block)
        rows = [opaque(strip)[..., 0] for strip in sheet.strips(exporter.painter(plan))]
        plates[ink] = 255 - np.concatenate(rows)
    return plates


def _grey(share: float) -> str:
    level = 255 * (1 - share)
    return hex_of([level, level, level])


def halftone(plate: Pixels, lines: float, angle: float) -> NDArray[np.bool_]:
    """Return a tint as dots, each the larger the fuller the tint.

    The screen is bent to the nearest one that goes into the block a whole number of times both
    ways, so that dots join at its bounds.

    Args:
        plate: 255 where printed in full; a straight block.
        lines: rows of dots to 1,000 pixels.
        angle: of the rows in degrees.
    """
    height, width = plate.shape
    per_pixel, turn = lines / 1000, math.radians(angle)
    cos, sin = per_pixel * math.cos(turn), per_pixel * math.sin(turn)
    across = (round(cos * width), round(sin * height))
    down = (round(-sin * width), round(cos * height))
    x = (np.arange(width) + 0.5) / width
    y = ((np.arange(height) + 0.5) / height)[:, None]
    result = np.empty(plate.shape, bool)
    levels = _threshold_levels()
    for top in range(0, height, 512):
        rows = y[top : top + 512]
        spot = np.cos(2 * np.pi * (across[0] * x + across[1] * rows))
        spot = spot + np.cos(2 * np.pi * (down[0] * x + down[1] * rows))
        # From a dot's shape to the share of the cell it has grown over by then.
        threshold = np.interp(spot, levels[0], levels[1])
        result[top : top + 512] = plate[top : top + 512] / 255 > threshold
    return result


def _threshold_levels() -> tuple[Floats, Floats]:
    """Return values of the spot function and what share of a cell lies above each."""
    side = (np.arange(512) + 0.5) / 512 * 2 * np.pi
    values = np.sort((np.cos(side)[:, None] + np.cos(side)).ravel())
    share = 1 - (np.arange(len(values)) + 0.5) / len(values)
    return values[::64], share[::64]
