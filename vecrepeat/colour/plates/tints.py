"""Tints: how much of each ink is printed at each pixel, where gradients and opacity stay.

Compositing in sRGB is linear, and so is interpolation between stops. If every colour of the art
is a weighted sum of inks, the art drawn with an ink's weight in place of each colour is that
ink's plate; plates times inks add up to the design again. Of art with filters or pictures that
is not so: there each pixel of a rendering is made a sum of inks.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterator, Sequence
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

_LEVEL_BITS = 7
"""Bits of red, green and blue by which the pixels of a rendering are brought to inks."""

_AT_ONCE = 1 << 16
"""Colours brought to inks at a time."""

_EXTRA = 2.0
"""By how much nearer, in sRGB, a mixture must come to be worth a second ink."""


def weights(colour: str, inks: Sequence[str], cloth: str = WHITE) -> dict[str, float]:
    """Return how much of which inks prints a colour: one, two that add up to all, or none.

    The mixture on the line between two inks, or an ink and bare cloth, that lies nearest.
    """
    shares = mixtures(rgb_of([colour]), inks, cloth)[0]
    return {ink: float(share) for ink, share in zip(inks, shares, strict=True) if share > 0}


def mixtures(rgb: Floats, inks: Sequence[str], cloth: str = WHITE) -> Floats:
    """Return the :func:`weights` of many colours at once, a row each and a column an ink.

    Args:
        rgb: red, green and blue from 0 to 255, shape (n, 3).
        inks: their colours.
        cloth: what shows where nothing is printed.
    """
    ends = rgb_of([*inks, cloth])
    away = np.hypot.reduce(ends[None, :-1] - rgb[:, None], axis=2)
    rows, nearest = np.arange(len(rgb)), away.argmin(axis=1)
    best = np.zeros((len(rgb), len(ends)))
    best[rows, nearest] = 1.0
    far = away[rows, nearest]
    open_ = far > SNAP
    far = far - _EXTRA
    for one, other in combinations(range(len(ends)), 2):
        step = ends[other] - ends[one]
        size = float(step @ step)
        if size == 0:
            continue
        share = np.clip((rgb - ends[one]) @ step / size, 0, 1)
        off = np.hypot.reduce(ends[one] + share[:, None] * step - rgb, axis=1)
        nearer = open_ & (off < far - 1e-9)
        best[nearer] = 0.0
        best[nearer, one], best[nearer, other] = 1 - share[nearer], share[nearer]
        far[nearer] = off[nearer]
    if cloth not in inks:
        best[(rgb == ends[-1]).all(axis=1)] = 0.0
    return best[:, :-1]


def tint_plates(
    repeat: Repeat,
    plan_of: PixelPlan,
    inks: Sequence[str],
    art: Sequence[str],
    cloth: str = WHITE,
) -> Iterator[Pixels]:
    """Yield each ink's plate over a straight block: 255 where it is printed in full.

    Args:
        repeat: the endless cloth.
        plan_of: the tile in whole pixels; of this repeat.
        inks: the inks' colours.
        art: all colours the art is painted with.
        cloth: what a tint lightens to where no other ink is printed.
    """
    shares = {colour: weights(colour, inks, cloth) for colour in art}
    for ink in inks:
        greys = {colour: _grey(shares[colour].get(ink, 0.0)) for colour in art}
        drawn = recoloured(repeat, greys)
        exporter = Exporter(drawn)
        plan = PixelPlan(drawn, plan_of.dpi, plan_of.printed, plan_of.width, plan_of.height)
        sheet = Sheet(plan, *plan.block)
        rows = [opaque(strip)[..., 0] for strip in sheet.strips(exporter.painter(plan))]
        yield 255 - np.concatenate(rows)


def rendered_plates(
    repeat: Repeat, plan: PixelPlan, inks: Sequence[str], cloth: str = WHITE
) -> Iterator[Pixels]:
    """Yield each ink's plate as :func:`tint_plates` does, all of them out of one rendering.

    What is drawn is brought to inks a strip at a time, and plates wait packed: memory stays near
    that of one plate.
    """
    side = 1 << _LEVEL_BITS
    shares = np.zeros((side**3, len(inks)), np.uint8)
    known = np.zeros(side**3, np.bool_)
    packed: list[list[bytes]] = [[] for _ in inks]
    white = np.array(rgb_of(cloth), np.uint32)
    for strip in Sheet(plan, *plan.block).strips(Exporter(repeat).painter(plan)):
        rest = 255 - strip[..., 3].astype(np.uint32)
        index = np.zeros(rest.shape, np.uint32)
        for k in range(3):
            seen = strip[..., k] + (rest * white[k] + 127) // 255
            index = index * side + (seen * (side - 1) + 127) // 255
        new = np.flatnonzero((np.bincount(index.ravel(), minlength=len(known)) > 0) & ~known)
        for some in np.array_split(new, len(new) // _AT_ONCE + 1):
            levels = np.stack([some // side**2, some // side % side, some % side], axis=1)
            printed = mixtures(levels.astype(np.float64) * (255 / (side - 1)), inks, cloth)
            shares[some] = np.round(255 * printed)
        known[new] = True
        for n, own in enumerate(packed):
            own.append(zlib.compress(shares[:, n][index].tobytes(), 1))
    across = plan.block[0]
    for own in packed:
        whole = b"".join(zlib.decompress(own.pop(0)) for _ in range(len(own)))
        yield np.frombuffer(whole, np.uint8).reshape(-1, across)


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
