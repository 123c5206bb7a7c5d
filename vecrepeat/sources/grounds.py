"""A ground for motifs that have none: light, dark or between, mixed from their own colours."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

import numpy as np

from vecrepeat.core.colours import Floats, hex_from_oklch, oklab_from_oklch
from vecrepeat.sources.looks import Look

_TONES = {
    "light": (0.955, 0.022, 0.0),
    "mid": (0.86, 0.05, 0.06),
    "deep": (0.62, 0.075, 0.2),
    "dark": (0.30, 0.045, 0.09),
}
"""OKLCh lightness and chroma of each kind, and how much better it must be than a light one: a deep
one is for white and black motifs together, of which some would sink into any other."""

KINDS = ("light", "mid", "dark")
"""Those to choose among in a collection."""

_NEAR, _BRIGHT = 0.2, 0.25
"""How far in OKLab paint must be from the ground not to sink into it, and what a ratio of
luminances of e counts for (set by eye)."""

_WORST, _LOST = 4, 1.0
"""The power by which motifs that sink are told, and what they count for beside all edges."""

_GREY = 0.04
"""OKLab chroma below which a colour has no hue to speak of."""

_BROWN = (20.0, 115.0)
"""Hues whose darks are browns: dull as grounds."""

_HUES = 12
"""Hues are told apart by so many parts of the circle."""


class Proposed(NamedTuple):
    """A ground.

    Attributes:
        kind: light, mid, deep or dark.
        colour: as ``#rrggbb``.
        lost: the share of the motifs' edges that stand out little from it, 0 to 1.
    """

    kind: str
    colour: str
    lost: float


def propose_ground(
    seen: Sequence[Look], sizes: Sequence[float], kinds: Collection[str] = tuple(_TONES)
) -> Proposed:
    """Return a ground that motifs stand out from, in a hue of their own.

    Args:
        seen: the motifs' looks, one or more.
        sizes: their sizes; a motif counts by the root of its own, so that no small one is lost.
        kinds: those to choose among: light, mid, deep and dark.
    """
    share = np.sqrt(np.array(sizes)) / np.sqrt(np.array(sizes)).sum()
    best: tuple[float, Proposed] | None = None
    for kind in kinds:
        light, chroma, handicap = _TONES[kind]
        for liking, hue in _hues(seen, share):
            lch = np.array([light, chroma, hue])
            ground = oklab_from_oklch(lch)
            edges = np.array([lost(look.edge, ground) for look in seen])
            paint = np.array([lost(look.paint, ground) for look in seen])
            sunk = float(share @ edges)
            # A power mean: one motif that can't be seen outweighs many that stand out less.
            gone = float(np.mean((0.5 * (edges + paint)) ** _WORST) ** (1 / _WORST))
            cost = sunk + 0.5 * float(share @ paint) + _LOST * gone
            cost += handicap - 0.1 * liking
            if kind == "dark" and _BROWN[0] <= hue <= _BROWN[1]:
                cost += 0.1
            if best is None or cost < best[0]:
                best = cost, Proposed(kind, hex_from_oklch(lch), sunk)
    assert best is not None
    return best[1]


def lost(lab: Floats, ground: Floats) -> float:
    """Return how much of some colours sinks into a ground, 0 to 1."""
    # Darks that differ in lightness look alike: what tells is the ratio of luminances, which are
    # near the cube of lightness, with the glare that WCAG 2 adds to each.
    bright = np.log(lab[:, 0] ** 3 + 0.05) - np.log(ground[0] ** 3 + 0.05)
    apart = np.hypot(_BRIGHT * bright, np.linalg.norm(lab[:, 1:] - ground[1:], axis=1))
    return float(np.clip(1 - apart / _NEAR, 0, 1).mean())


def _hues(seen: Sequence[Look], shares: Floats) -> list[tuple[float, float]]:
    """Return the hues in the motifs with how much of their colour each makes up, 0 to 1.

    Greys have none: their ground is warm, as undyed cloth is.
    """
    lab = np.concatenate([look.paint for look in seen])
    each = zip(seen, shares, strict=True)
    share = np.concatenate([np.full(len(one.paint), s / len(one.paint)) for one, s in each])
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) % 360
    force = np.where(chroma >= _GREY, share * chroma, 0.0)
    if force.sum() == 0:
        return [(0.0, 80.0)]
    part = (hue * _HUES / 360).astype(int) % _HUES
    total = np.bincount(part, force, _HUES)
    return [
        (float(total[k] / total.sum()), float((hue * force)[part == k].sum() / total[k]))
        for k in range(_HUES)
        if total[k] > 0.03 * total.sum()
    ]
