"""A ground for motifs that have none: light, mid, dusty or dark, mixed from their own colours."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

import numpy as np

from vecrepeat.core.colours import Floats, hex_from_oklch, oklab_from_oklch
from vecrepeat.sources.looks import Look

_TONES = {
    "light": (0.955, 0.022),
    "mid": (0.86, 0.05),
    "dusty": (0.77, 0.05),
    "dark": (0.30, 0.045),
}
"""OKLCh lightness and chroma of each kind, in the order in which they are tried."""

KINDS = ("light", "mid", "dark")
"""Those to choose among in a collection."""

_PALE, _MOSTLY = 0.79, 0.75
"""Art is mostly pale where so large a share of its edges has at least this OKLab lightness: a dark
ground is tried first then. What is pale within a dark outline stands out from a light one."""

_NEAR, _BRIGHT = 0.2, 0.25
"""How far in OKLab paint must be from the ground to stand out all it can, and what a ratio of
luminances of e counts for (set by eye)."""

_SUNK, _SAME, _HALF = 0.055, 0.03, 0.5
"""A motif sinks where half its edge is nearer to the ground than the first, or half its paint than
the second: white within an outline may stand on a tint, but not on white (set by eye)."""

_GREY = 0.04
"""OKLab chroma below which a colour has no hue to speak of."""

_DULL = {"mid": (30.0, 130.0), "dusty": (30.0, 130.0), "dark": (10.0, 145.0)}
"""Hues that are tans, khakis, olives and browns in each kind, which make no ground."""

_UNDYED, _SLATE = 80.0, 255.0
"""The hue of a light ground, and of others, for art that has none that will do."""

_HUES = 12
"""Hues are told apart by so many parts of the circle."""


class Proposed(NamedTuple):
    """A ground.

    Attributes:
        kind: light, mid, dusty or dark.
        colour: as ``#rrggbb``.
        own: whether its hue is the motifs' own.
        lost: the share of the motifs' edges that stand out little from it, 0 to 1.
    """

    kind: str
    colour: str
    own: bool
    lost: float


class _Tried(NamedTuple):
    """A ground, how much is lost on it less what speaks for its hue, and how far motifs sink.

    1 and more is a motif that sinks.
    """

    cost: float
    sunk: float
    ground: Proposed


def propose_ground(
    seen: Sequence[Look], sizes: Sequence[float], kinds: Collection[str] = tuple(_TONES)
) -> Proposed:
    """Return a ground that every motif stands out from, in a hue of their own.

    It is of the lightest kind on which no motif sinks, or of the darkest if they are mostly pale;
    where one sinks whatever the kind, of that on which it sinks least. The hue is the one that most
    is seen of, unless a motif sinks in it, or more of all is lost than in another.

    Args:
        seen: the motifs' looks, one or more.
        sizes: their sizes; a motif counts by the root of its own, so that no small one is lost.
        kinds: those to choose among: light, mid, dusty and dark.
    """
    share = np.sqrt(np.array(sizes)) / np.sqrt(np.array(sizes)).sum()
    pale = float(share @ [(look.edge[:, 0] >= _PALE).mean() for look in seen])
    order = [kind for kind in _TONES if kind in kinds]
    if pale >= _MOSTLY:
        order.reverse()
    hues = _hues(seen, share)
    best = [
        min((_try(kind, *hue, seen, share) for hue in _for(kind, hues)), key=lambda one: one.cost)
        for kind in order
    ]
    clear = (one.ground for one in best if one.sunk < 1)
    return next(clear, min(best, key=lambda one: one.sunk).ground)


def _for(kind: str, hues: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return those of some hues that make a ground of a kind, and one that always does."""
    if kind == "light":
        return [*hues, (0.0, _UNDYED)]
    low, high = _DULL[kind]
    return [*(one for one in hues if not low <= one[1] <= high), (0.0, _SLATE)]


def _try(kind: str, liking: float, hue: float, seen: Sequence[Look], share: Floats) -> _Tried:
    light, chroma = _TONES[kind]
    lch = np.array([light, chroma, hue])
    ground = oklab_from_oklch(lch)
    edges = np.array([lost(look.edge, ground) for look in seen])
    paint = np.array([lost(look.paint, ground) for look in seen])
    near = [(_apart(look.edge, ground) < _SUNK).mean() for look in seen]
    same = [(_apart(look.paint, ground) < _SAME).mean() for look in seen]
    sunk = float(max(near + same)) / _HALF
    cost = max(sunk, 1.0) + float(share @ (edges + 0.5 * paint)) - 0.1 * liking
    colour = hex_from_oklch(lch)
    return _Tried(cost, sunk, Proposed(kind, colour, liking > 0, float(share @ edges)))


def lost(lab: Floats, ground: Floats) -> float:
    """Return how much of some colours is lost in a ground, 0 to 1."""
    return float(np.clip(1 - _apart(lab, ground) / _NEAR, 0, 1).mean())


def _apart(lab: Floats, ground: Floats) -> Floats:
    # Darks that differ in lightness look alike: what tells is the ratio of luminances, which are
    # near the cube of lightness, with the glare that WCAG 2 adds to each.
    bright = np.log(lab[:, 0] ** 3 + 0.05) - np.log(ground[0] ** 3 + 0.05)
    found: Floats = np.hypot(_BRIGHT * bright, np.linalg.norm(lab[:, 1:] - ground[1:], axis=1))
    return found


def _hues(seen: Sequence[Look], shares: Floats) -> list[tuple[float, float]]:
    """Return the hues in the motifs with how much of their colour each makes up, 0 to 1.

    Greys have none.
    """
    lab = np.concatenate([look.paint for look in seen])
    each = zip(seen, shares, strict=True)
    share = np.concatenate([np.full(len(one.paint), s / len(one.paint)) for one, s in each])
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) % 360
    force = np.where(chroma >= _GREY, share * chroma, 0.0)
    if force.sum() == 0:
        return []
    part = (hue * _HUES / 360).astype(int) % _HUES
    total = np.bincount(part, force, _HUES)
    return [
        (float(total[k] / total.sum()), float((hue * force)[part == k].sum() / total[k]))
        for k in range(_HUES)
        if total[k] > 0.03 * total.sum()
    ]
