"""How prints look beside each other: how busy, of what scale, how alike."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from vecrepeat.check.checking import draw_look
from vecrepeat.core.colours import Floats, oklab_of, rgb_of
from vecrepeat.repeat.model import Repeat

PIXEL = 0.8
"""Side in mm of the cloth of a pixel that prints are looked at in, the same for all."""

_MOST = 1600
"""The longer side of such a picture in pixels; larger blocks are looked at coarser."""

_FINEST, _COARSEST = 2.0, 1024.0
"""Wavelengths in mm between which a spectrum is told apart, by octaves."""

_WAYS = 8
"""Directions that are told apart."""


@dataclass(frozen=True, eq=False)
class Seen:
    """How a print looks at its print size.

    Attributes:
        busy: mean difference in OKLab between points a pixel apart, in hundredths.
        scale: how large what is on it is, in mm: the longer side of its motifs, large ones
            counting by their area, or half the wavelength of a cloth that has none; 0 for plain.
        shares: how much shows each of the palette's colours, the nearest taken; shape (n,).
        texture: its power by octave of wavelength and by direction, summing to 1 (or 0).
    """

    busy: float
    scale: float
    shares: Floats
    texture: Floats

    def likeness(self, other: Seen) -> float:
        """Return how alike two prints look: common shares of colour times common texture."""
        colours = np.minimum(self.shares, other.shares).sum()
        return float(colours * np.minimum(self.texture, other.texture).sum())


def seen(repeat: Repeat, palette: list[str]) -> Seen:
    """Return how a print looks.

    Raises:
        InputError: it can't be drawn.
    """
    longest = min(_MOST, max(16, round(float(max(repeat.block_size)) / PIXEL)))
    pixels, (wide, high) = draw_look(repeat, longest)
    lab = oklab_of(pixels)
    steps = [np.linalg.norm(lab - np.roll(lab, 1, axis), axis=-1).mean() for axis in (0, 1)]
    power, frequency, angle = _spectrum(lab, wide, high)
    return Seen(
        busy=float(np.mean(steps)) * 100,
        scale=_motif_size(repeat) or _median_wavelength(power, frequency) / 2,
        shares=_shares(lab, palette),
        texture=_texture(power, frequency, angle),
    )


def _spectrum(lab: Floats, wide: float, high: float) -> tuple[Floats, Floats, Floats]:
    """Return power, cycles to the mm and direction in radians of a block that repeats."""
    flat = lab - lab.mean(axis=(0, 1))
    power = (np.abs(np.fft.fft2(flat, axes=(0, 1))) ** 2).sum(axis=-1) / flat[..., 0].size
    across = np.fft.fftfreq(lab.shape[1], wide)[None, :]
    down = np.fft.fftfreq(lab.shape[0], high)[:, None]
    power[0, 0] = 0.0
    return power, np.hypot(across, down), np.arctan2(down, across) % math.pi


def _motif_size(repeat: Repeat) -> float | None:
    """Return the mean longer side of the motifs in mm, weighed by area; None where it has none.

    What is as wide or high as the tile is a stripe or a net rather than a motif.
    """
    tile = np.array([float(repeat.width), float(repeat.height)])
    own = np.array([not placement.motif.is_ground for placement in repeat.placements], bool)
    sides = repeat.boxes[own, 2:] - repeat.boxes[own, :2]
    areas = sides.prod(axis=1)
    single = (sides < tile - 1e-6).all(axis=1)
    if areas[single].sum() <= areas[~single].sum():
        return None
    return float(np.average(sides[single].max(axis=1), weights=areas[single]))


def _median_wavelength(power: Floats, frequency: Floats) -> float:
    """Return the wavelength in mm that half of the power is longer than; 0 where there is none."""
    order = np.argsort(frequency, axis=None)
    sums = np.cumsum(power.ravel()[order])
    if sums[-1] <= 1e-9:
        return 0.0
    return 1 / float(frequency.ravel()[order[int(np.searchsorted(sums, sums[-1] / 2))]])


def _texture(power: Floats, frequency: Floats, angle: Floats) -> Floats:
    """Return a spectrum in bins, each bit of power shared by the two nearest of both kinds."""
    octaves = int(math.log2(_COARSEST / _FINEST)) + 1
    there = power > 0
    power = power[there]
    octave = np.log2(1 / np.maximum(frequency[there], 1e-9) / _FINEST)
    octave = np.clip(octave, 0, octaves - 1.001)
    way = angle[there] / math.pi * _WAYS
    found = np.zeros((octaves, _WAYS))
    low, first = np.floor(octave).astype(int), np.floor(way).astype(int)
    for up, share in ((0, 1 - (octave - low)), (1, octave - low)):
        for on, part in ((0, 1 - (way - first)), (1, way - first)):
            np.add.at(found, (low + up, (first + on) % _WAYS), power * share * part)
    total = found.sum()
    return found / total if total > 1e-9 else found


def _shares(lab: Floats, palette: list[str]) -> Floats:
    """Return how much shows each of some colours, the nearest in OKLab taken."""
    values, counts = np.unique(np.round(lab.reshape(-1, 3), 2), axis=0, return_counts=True)
    apart = np.linalg.norm(values[:, None] - oklab_of(rgb_of(palette))[None], axis=2)
    nearest = apart.argmin(axis=1)
    return np.array(np.bincount(nearest, counts / counts.sum(), len(palette)), np.float64)
