"""Which motifs a PDF holds as they are drawn, and which only as pictures."""

from __future__ import annotations

from vecrepeat.repeat.model import Motif
from vecrepeat.scene.kinds import (
    BLEND,
    CAPPED_DOT,
    CLIP,
    COMPOUND_CLIP,
    DASHES,
    GRADIENT,
    IMAGE,
    MASK,
    OPACITY,
    PAINT_ORDER,
)

VECTOR: frozenset[str] = frozenset(
    (
        *(GRADIENT, MASK, CLIP, BLEND, IMAGE, OPACITY, DASHES, PAINT_ORDER),
        *(COMPOUND_CLIP, CAPPED_DOT),
    )
)
"""Features that are written as they are; a motif with any other becomes a picture."""


def is_vector(motif: Motif) -> bool:
    """Whether a motif can be written as it is."""
    return all(feature.kind in VECTOR for feature in motif.features)
