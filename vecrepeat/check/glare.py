"""Pattern glare: a caution where stripes fall near the frequencies known to cause discomfort.

Stripes of high contrast at about 3 cycles a degree of the eye's field are the most
uncomfortable to many people, and can set off migraine or seizures in some; the effect falls
away below about 1 and above about 8 (A. Wilkins and others, “A neurological basis for visual
discomfort”, Brain 107 (1984), 989–1017; figures from memory). This is a measure of a
drawing, not of a risk to anybody.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from vecrepeat.check.findings import Answer, Finding
from vecrepeat.check.pixels import lay_tiles
from vecrepeat.check.profile import GlareLimits
from vecrepeat.core.srgb import linear_of
from vecrepeat.repeat.layout import Layout

SECTOR = 15.0
"""Stripes within so many degrees of each other run the same way."""


def check_glare(
    rgb: NDArray[np.uint8], pixel_mm: tuple[float, float], limits: GlareLimits
) -> Answer:
    """Judge a straight block's picture, whose ends meet, by its pixels' width and height in mm."""
    light = linear_of(rgb) @ np.array([0.2126, 0.7152, 0.0722])
    mean = float(light.mean())
    power = np.abs(np.fft.fft2(light - mean)) ** 2 / light.size**2
    total = float(power.sum())
    height, width = light.shape
    fy, fx = np.meshgrid(
        np.fft.fftfreq(height, pixel_mm[1]), np.fft.fftfreq(width, pixel_mm[0]), indexing="ij"
    )
    # One degree at a distance spans so many mm.
    degree = limits.viewing_mm * math.tan(math.radians(1))
    frequency = np.hypot(fx, fy) * degree
    band = (frequency >= limits.low_cpd) & (frequency <= limits.high_cpd)
    angle = np.degrees(np.arctan2(fy, fx)) % 180
    turned = np.bincount(np.minimum(angle[band].astype(int), 179), power[band], 180)
    wide = int(SECTOR)
    ring = np.concatenate([turned, turned[: wide - 1]])
    sums = np.convolve(ring, np.ones(wide), "valid")
    best = int(np.argmax(sums))
    share = float(sums[best] / total) if total > 0 else 0.0
    middle = (best + wide / 2) % 180
    same = band & (np.abs((angle - middle + 90) % 180 - 90) <= wide / 2)
    peak = float(frequency[same][np.argmax(power[same])]) if same.any() else 0.0
    # A sine of amplitude A about a mean M has the Michelson contrast A / M and variance A² / 2.
    contrast = min(1.0, math.sqrt(2 * float(sums[best])) / mean) if mean > 0 else 0.0
    facts = {
        "viewing_mm": limits.viewing_mm,
        "striped_share": share,
        "contrast": contrast,
        "cycles_per_degree": peak,
    }
    if share < limits.striped or contrast < limits.contrast:
        return Answer(facts=facts)
    said = (
        f"stripes of {peak:.1f} cycles a degree seen from {limits.viewing_mm / 1000:g} m may be "
        "uncomfortable to some people"
    )
    return Answer((Finding("pattern glare", said, contrast, limits.contrast),), facts)


def small_block(
    rgb: NDArray[np.uint8], layout: Layout, pixel_mm: float, longest: int
) -> tuple[NDArray[np.uint8], tuple[float, float]]:
    """Return a small picture of a tile's straight block, and its pixel's size in mm."""
    height, width = rgb.shape[:2]
    reduced = max(1, max(height, width) // longest)
    image = Image.fromarray(rgb).reduce(reduced) if reduced > 1 else Image.fromarray(rgb)
    tile = np.asarray(image)
    across, down = layout.straight_block
    if max(across, down) > 12:
        across = down = 1
    size = (pixel_mm * width / tile.shape[1], pixel_mm * height / tile.shape[0])
    return lay_tiles(tile, layout, across, down), size
