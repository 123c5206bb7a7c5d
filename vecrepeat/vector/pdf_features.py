"""Which motifs a PDF holds as they are drawn, and which only as pictures."""

from __future__ import annotations

from vecrepeat.art.kinds import (
    ARC,
    BLEND,
    BOX_CLIP,
    CAPPED_DOT,
    CLIP,
    COLLAPSED,
    DASHES,
    EVEN_ODD_CLIP,
    FLAT_GRADIENT,
    GRADIENT,
    IMAGE,
    JOINED_CLIP,
    MASK,
    NESTED_CLIP,
    ONE_RADIUS,
    OPACITY,
    PAINT_ORDER,
    PATH_ERROR,
    SIGNED_PATH,
    STROKE_RESET,
)
from vecrepeat.repeat import Motif

VECTOR: frozenset[str] = frozenset(
    (
        *(GRADIENT, MASK, CLIP, BLEND, IMAGE, OPACITY, DASHES, PAINT_ORDER),
        *(NESTED_CLIP, BOX_CLIP, EVEN_ODD_CLIP, JOINED_CLIP, FLAT_GRADIENT),
        *(STROKE_RESET, CAPPED_DOT, PATH_ERROR, SIGNED_PATH, ARC),
        *(ONE_RADIUS, COLLAPSED),
    )
)
"""Features that are written as they are; a motif with any other becomes a picture."""


def is_vector(motif: Motif) -> bool:
    """Whether a motif can be written as it is."""
    return all(feature.kind in VECTOR for feature in motif.features)
