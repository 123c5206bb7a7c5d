"""The kinds of what a motif may use beyond plain fills and strokes.

They fall in two: those a reader of the inventory asks for by name (gradients, masks, text …),
and small ones, each a corner of the language that the default engine, cairo, is made to draw
otherwise than SVG says or not at all. :data:`SECOND_ENGINE` holds all of the latter and those
of the former that it has no faithful drawing of; they were found by reading its source and by
drawing thousands of files with it and with resvg.

Sources: SVG 2 and SVG 1.1 for what is right; CairoSVG 2.9, whose calls to cairo ours are.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

GRADIENT = "gradient"
PATTERN = "pattern fill"
MASK = "mask"
CLIP = "clip path"
FILTER = "filter"
BLEND = "blend mode"
TEXT = "text"
IMAGE = "image"
OPACITY = "opacity group"
DASHES = "dashes"
PAINT_ORDER = "paint order"
NON_SCALING = "non-scaling stroke"

COMPOUND_CLIP = "compound clip path"
FOCUS = "focal circle, or focal point at the rim"
JOIN = "line join"
CAPPED_DOT = "dot of a zero-length line"

SECOND_ENGINE: frozenset[str] = frozenset(
    (
        *(PATTERN, MASK, FILTER, BLEND, TEXT, NON_SCALING),
        *(COMPOUND_CLIP, FOCUS, JOIN, CAPPED_DOT),
    )
)
"""Kinds that the first engine, cairo, does not draw faithfully."""


class Feature(NamedTuple):
    """One thing a motif makes use of beyond plain fills and strokes.

    Attributes:
        kind: such as ``gradient`` or ``filter``; :mod:`vecrepeat.scene.kinds` lists them.
        element: the id or label of the element (or definition) that has it, else its tag.
    """

    kind: str
    element: str


def cairo_draws(features: Iterable[Feature]) -> bool:
    """Whether cairo draws faithfully what makes use of no more than these features."""
    return not any(feature.kind in SECOND_ENGINE for feature in features)
