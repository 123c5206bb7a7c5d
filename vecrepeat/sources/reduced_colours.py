"""The flat colours of a picture, and which of them each of its points has.

Colours are compared in OKLab (CSS Color 4 §9.3); those of antialiased edges in sRGB, in which
drawing programs mix them.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageFilter

from vecrepeat.core.colours import hex_of, oklab_of, rgb_of
from vecrepeat.core.errors import InputError

MOST_COLOURS = 32
"""A picture of more flat colours than this is not taken for flat-coloured."""

ALIKE = 0.03
"""OKLab distance within which colours of a picture count as one: what JPEG adds is less."""

SHARE = 0.0005
"""The least share of the painted area that makes a colour one of the picture's own."""

LINE_SHARE = 0.002
"""The least share of it that does so for a colour that lies flat nowhere, as in lines."""

MIXED_LEVELS = 30
"""By how many levels of 255 a mixture of two colours may be off."""

_ROUNDS = 40
_FLAT_LEVELS = 4
_STRONG = 5

Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Floats = NDArray[np.float64]
Labels = NDArray[np.int16]
"""The number of a colour in a palette for each pixel, -1 for none; shape (height, width)."""


def reduced(
    rgb: Pixels,
    ink: Mask,
    colours: int | None,
    *,
    ground: str | None = None,
    file: Path | None = None,
) -> list[str]:
    """Return the colours of a picture as ``#rrggbb``, each one that it really has.

    Args:
        rgb: the picture, shape (height, width, 3).
        ink: which of its pixels count, at least one.
        colours: how many; None for those of its flat areas and lines.
        ground: the colour around the ink, if any, which edges are mixed with.
        file: its name, for the error.

    Raises:
        InputError: no number is given, and there are more than :data:`MOST_COLOURS`.
    """
    every, often = values, counts = _counted(rgb[ink])
    if len(values) <= (MOST_COLOURS if colours is None else colours):
        return [hex_of(value) for value in values[np.argsort(-counts, kind="stable")]]
    flat = ink & _flat(rgb)
    if flat.sum() >= 0.05 * ink.sum():
        values, counts = _counted(rgb[flat])
    if colours is not None:
        return _clustered(values, counts, oklab_of(values), colours)
    found = _peaks(values, counts, SHARE * counts.sum())
    # Lines may be too thin to lie flat, but they are no mixture of what lies beside them.
    while len(found) <= MOST_COLOURS:
        left = ~_explained(every, found if ground is None else [*found, ground])
        lines = _peaks(every[left], often[left], LINE_SHARE * often.sum())
        if not lines:
            break
        found.append(lines[0])
    if len(found) > MOST_COLOURS:
        raise InputError(
            f"the picture is not flat-coloured: it has more than {MOST_COLOURS} colours",
            file=file,
            hint="say to how many to reduce it with --colours",
        )
    return found


def _packed(rgb: Pixels) -> NDArray[np.uint32]:
    packed: NDArray[np.uint32] = rgb.astype(np.uint32) @ np.array([65536, 256, 1], np.uint32)
    return packed


def _apart(packed: NDArray[np.uint32]) -> Pixels:
    return np.stack([packed >> 16, packed >> 8 & 255, packed & 255], axis=1).astype(np.uint8)


def _counted(rgb: Pixels) -> tuple[Pixels, NDArray[np.int64]]:
    """Return the colours of shape (n, 3) once each, and how often they occur."""
    values, counts = np.unique(_packed(rgb), return_counts=True)
    return _apart(values), counts


def _flat(rgb: Pixels) -> Mask:
    """Return which pixels hardly differ from any of the eight around them."""
    image = Image.fromarray(rgb)
    spread = np.asarray(image.filter(ImageFilter.MaxFilter(3))).astype(np.int16)
    spread -= np.asarray(image.filter(ImageFilter.MinFilter(3)))
    return np.asarray((spread <= _FLAT_LEVELS).all(axis=2))


def _peaks(values: Pixels, counts: NDArray[np.int64], least: float) -> list[str]:
    """Return the most frequent colours that are not alike, ``least`` pixels or more of each."""
    lab = oklab_of(values)
    rest = np.argsort(-counts, kind="stable")
    found: list[str] = []
    while len(rest) and len(found) <= MOST_COLOURS:
        near = np.linalg.norm(lab[rest] - lab[rest[0]], axis=1) <= ALIKE
        if counts[rest[near]].sum() >= least:
            found.append(hex_of(values[rest[0]]))
        rest = rest[~near]
    return found


def _explained(values: Pixels, palette: Sequence[str]) -> Mask:
    """Return which colours are alike to one of a palette, or a mixture of two."""
    lab, rgb = oklab_of(values), values.astype(np.float64)
    known = np.zeros(len(values), bool)
    for centre in oklab_of(rgb_of(palette)):
        known |= np.linalg.norm(lab - centre, axis=1) <= ALIKE
    for one, other in combinations(rgb_of(palette), 2):
        line = other - one
        along = np.clip((rgb - one) @ line / max(line @ line, 1e-9), 0, 1)
        known |= np.linalg.norm(rgb - one - along[:, None] * line, axis=1) <= MIXED_LEVELS
    return known


def _clustered(values: Pixels, counts: NDArray[np.int64], lab: Floats, wanted: int) -> list[str]:
    """Return so many colours by k-means in OKLab, each the most frequent of its cluster.

    The centres begin with the most frequent colour and go on with the one that is farthest
    from all before, weighed by how often it occurs: no chance is in it.
    """
    weights = counts.astype(np.float64)
    centres = lab[[int(counts.argmax())]]
    away = np.linalg.norm(lab - centres[0], axis=1)
    while len(centres) < wanted:
        centres = np.concatenate([centres, lab[[int((away**2 * weights).argmax())]]])
        away = np.minimum(away, np.linalg.norm(lab - centres[-1], axis=1))
    owner = np.zeros(len(lab), np.int64)
    for _ in range(_ROUNDS):
        distances = [np.linalg.norm(lab - centre, axis=1) for centre in centres]
        before, owner = owner, np.argmin(distances, axis=0)
        sums = np.bincount(owner, weights, wanted)
        for axis in range(3):
            moved = np.bincount(owner, weights * lab[:, axis], wanted)
            centres[:, axis] = np.where(sums > 0, moved / np.maximum(sums, 1), centres[:, axis])
        if np.array_equal(before, owner):
            break
    members = [np.flatnonzero(owner == k) for k in range(wanted)]
    members.sort(key=lambda m: -int(counts[m].sum()))
    return [hex_of(values[m[counts[m].argmax()]]) for m in members if len(m)]


def labels_of(pixels: Pixels, palette: Sequence[str], finer: int) -> tuple[Labels, float]:
    """Return which colour each point of a finer grid has, and the share that is really flat.

    An antialiased edge runs where the mixture is half of each side. A mixture may look like a
    third colour of the palette, so edges choose among the colours that lie flat beside them;
    only lines too thin to lie flat anywhere choose among all that occur near them.

    Args:
        pixels: straight RGBA, shape (height, width, 4).
        palette: colours as ``#rrggbb``.
        finer: points to a pixel, across and down.

    Returns:
        Numbers in the palette, -1 where there is no ink, shape (height·finer, width·finer);
        and the share of the painted area that is alike to a colour of the palette or an edge.
    """
    height, width = pixels.shape[:2]
    ink = pixels[..., 3] >= 128
    near, own = _nearest(pixels[..., :3], palette)
    alike = (near <= ALIKE) & ink
    # What lies flat belongs to the nearest colour, however far a small palette leaves it.
    surely = alike | (_flat(pixels[..., :3]) & ink)
    size = (width * finer, height * finer)
    fine = np.asarray(Image.fromarray(pixels).resize(size, Image.Resampling.BICUBIC))
    colour = fine[..., :3].astype(np.float32)
    best = np.full((3, *colour.shape[:2]), np.inf, np.float32)
    label = np.zeros((3, *colour.shape[:2]), np.int16)
    flat_beside = np.zeros((height, width), np.int16)
    any_near = np.zeros((height, width), bool)
    for k, value in enumerate(rgb_of(list(palette)).astype(np.float32)):
        weak = surely & (own == k)
        beside = _around(weak & (_around(weak) >= _STRONG)) > 0
        occurs = beside | (_around(_around(weak) > 0) > 0)
        flat_beside += beside
        any_near |= occurs
        difference = colour - value
        away = np.einsum("ijk,ijk->ij", difference, difference)
        # Among those that lie flat beside it, those that occur near it, and all.
        for level, allowed in enumerate((beside, occurs, None)):
            masked = away if allowed is None else np.where(_finer(allowed, finer), away, np.inf)
            closer = masked < best[level]
            best[level][closer] = masked[closer]
            label[level][closer] = k
    which = np.where(flat_beside >= 2, 0, np.where(any_near, 1, 2))
    chosen = np.take_along_axis(label, _finer(which, finer)[None], axis=0)[0]
    chosen[fine[..., 3] < 128] = -1
    return chosen, float((alike | (flat_beside >= 1))[ink].mean()) if ink.any() else 1.0


def _nearest(rgb: Pixels, palette: Sequence[str]) -> tuple[Floats, NDArray[np.int64]]:
    """Return the OKLab distance to the nearest colour of a palette, and which one that is."""
    values, back = np.unique(_packed(rgb.reshape(-1, 3)), return_inverse=True)
    lab = oklab_of(_apart(values))
    best, own = np.full(len(values), np.inf), np.zeros(len(values), np.int64)
    for k, centre in enumerate(oklab_of(rgb_of(list(palette)))):
        away = np.linalg.norm(lab - centre, axis=1)
        closer = away < best
        best[closer], own[closer] = away[closer], k
    return best[back].reshape(rgb.shape[:2]), own[back].reshape(rgb.shape[:2])


def _around(mask: Mask) -> NDArray[np.uint8]:
    """Return how many of the nine pixels around and at each are set."""
    padded = np.pad(mask, 1).astype(np.uint8)
    rows = padded[:-2] + padded[1:-1] + padded[2:]
    total: NDArray[np.uint8] = rows[:, :-2] + rows[:, 1:-1] + rows[:, 2:]
    return total


def _finer(values: NDArray[Any], by: int) -> NDArray[Any]:
    """Return an array with each pixel repeated across and down."""
    return values.repeat(by, axis=0).repeat(by, axis=1) if by > 1 else values
