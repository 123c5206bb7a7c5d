"""Which motifs go into a print together: of one hand, and no two that look like twins."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache

import numpy as np
import shapely

from vecrepeat.core.colours import Floats
from vecrepeat.repeat.model import Motif
from vecrepeat.scene.kinds import GRADIENT
from vecrepeat.sources.looks import ALIKE, Look, main_colour

_ACROSS = 28
"""Points across by which silhouettes are held against each other."""

_INKED = 0.35
"""OKLab lightness below which an edge looks drawn with a pen."""

_TWIN, _HAND, _PLACE = 3.0, 1.0, 0.06
"""What likeness, another hand and each later place in order of preference cost (set by eye)."""

_PANEL = 0.97
"""Share of its box that a motif covers from which it looks like a label, many times over."""

_LOOKED_AT = 12
"""So many motifs are chosen from, the first by preference."""


def chosen(
    names: Sequence[str],
    count: int,
    motifs: Mapping[str, Motif],
    seen: Mapping[str, Look],
    beside: Sequence[str] = (),
) -> list[str]:
    """Return names of motifs that go together.

    Args:
        names: to choose from, by preference.
        count: how many.
        motifs: by name.
        seen: their looks.
        beside: names that are in the print already.
    """
    found: list[str] = []
    left = list(names[:_LOOKED_AT])
    while left and len(found) < count:
        others = [*beside, *found]

        def cost(name: str, others: Sequence[str] = others) -> float:
            twin = max((likeness(motifs[name], motifs[o]) for o in others), default=0.0)
            hand = max((style_gap(motifs, seen, name, o) for o in others), default=0.0)
            return _TWIN * twin**2 + _HAND * hand + _PLACE * names.index(name)

        found.append(min(left, key=cost))
        left.remove(found[-1])
    return found


def likeness(one: Motif, other: Motif) -> float:
    """Return how alike two motifs look, 0 to 1: by their silhouettes, and less by their colours."""
    a, b = _silhouette(one), _silhouette(other)
    shape = float((a & b).sum() / max(1, (a | b).sum()))
    ours, theirs = main_colour(one), main_colour(other)
    if ours is None or theirs is None:
        return shape
    apart = float(np.sum((np.array(ours) - np.array(theirs)) ** 2))
    return shape * (0.7 + 0.3 * float(np.exp(-apart / ALIKE**2)))


@lru_cache(maxsize=512)
def _silhouette(motif: Motif) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Return where a motif is painted, on a square about its box."""
    x0, y0, x1, y1 = motif.box
    half = max(x1 - x0, y1 - y0) / 2
    steps = half * (2 * (np.arange(_ACROSS) + 0.5) / _ACROSS - 1)
    x, y = np.meshgrid((x0 + x1) / 2 + steps, (y0 + y1) / 2 + steps)
    return np.asarray(shapely.contains_xy(motif.outline, x, y), bool)


def style_gap(motifs: Mapping[str, Motif], seen: Mapping[str, Look], one: str, other: str) -> float:
    """Return how far two motifs are from being drawn by one hand, about 0 to 2.

    That is by outlines in ink, by gradients, and by how many colours they have.
    """
    gap = np.abs(_style(motifs[one], seen[one]) - _style(motifs[other], seen[other]))
    return float(gap @ np.array([1.0, 0.7, 0.25]))


def _style(motif: Motif, look: Look) -> Floats:
    inked = float((look.edge[:, 0] < _INKED).mean())
    soft = float(any(feature.kind == GRADIENT for feature in motif.features))
    return np.array([inked, soft, np.log2(look.colours)])


def is_panel(motif: Motif) -> bool:
    """Whether a motif fills its box, as pictures on a ground of their own do."""
    return bool(motif.outline.area > _PANEL * motif.box.width * motif.box.height)
