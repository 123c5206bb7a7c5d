"""The kinds of what a motif may use beyond plain fills and strokes.

They fall in two: those a reader of the inventory asks for by name (gradients, masks, text …),
and small ones, each a corner of the language that the default engine, CairoSVG, draws
otherwise than SVG says or not at all. :data:`SECOND_ENGINE` holds all of the latter and those
of the former that it has no faithful drawing of; they were found by reading its source and by
drawing thousands of files with it and with resvg.

Sources: SVG 2 and SVG 1.1 for what is right; CairoSVG 2.9 for what is drawn.
"""

from __future__ import annotations

from collections.abc import Iterable

from vecrepeat.repeat import Feature

GRADIENT = "gradient"
PATTERN = "pattern fill"
MASK = "mask"
CLIP = "clip path"
FILTER = "filter"
BLEND = "blend mode"
TEXT = "text"
MARKER = "marker"
IMAGE = "image"
OPACITY = "opacity group"
DASHES = "dashes"
MISSING = "missing reference"
PAINT_ORDER = "paint order"
NON_SCALING = "non-scaling stroke"

NESTED_CLIP = "clip path on a clip path"
BOX_CLIP = "clip in fractions of the box"
EVEN_ODD_CLIP = "even-odd clip"
JOINED_CLIP = "clip of overlapping shapes"
HIDDEN_CLIP = "clip of hidden shapes or text"
FOCUS = "focal point at or beyond the rim"
FOCAL_CIRCLE = "focal circle"
FLAT_GRADIENT = "gradient without extent"
STROKE_RESET = "stroke style set back"
JOIN = "line join"
MITER = "miter limit below 1"
CAPPED_DOT = "dot of a zero-length line"
CONTEXT = "paint of the context"
CLIP_PROPERTY = "clip property"
PATH_ERROR = "path data in error"
SIGNED_PATH = "path data with plus signs"
ARC = "arc of negative radius"
SHAPE_ERROR = "shape in error"
ONE_RADIUS = "ellipse of one radius"
COLLAPSED = "visibility collapse"
STRAY = "geometry on the wrong element"
CONDITION = "condition outside a switch"
HUGE = "coordinates out of range"

SECOND_ENGINE: frozenset[str] = frozenset(
    (
        *(PATTERN, MASK, FILTER, BLEND, TEXT, MARKER, IMAGE, PAINT_ORDER, NON_SCALING),
        *(NESTED_CLIP, BOX_CLIP, EVEN_ODD_CLIP, JOINED_CLIP, HIDDEN_CLIP),
        *(FOCUS, FOCAL_CIRCLE, FLAT_GRADIENT),
        *(STROKE_RESET, JOIN, MITER, CAPPED_DOT, CONTEXT, CLIP_PROPERTY),
        *(PATH_ERROR, SIGNED_PATH, ARC, SHAPE_ERROR, ONE_RADIUS),
        *(COLLAPSED, STRAY, CONDITION, HUGE),
    )
)
"""Kinds that CairoSVG does not draw faithfully."""


def cairo_draws(features: Iterable[Feature]) -> bool:
    """Whether CairoSVG draws faithfully what makes use of no more than these features."""
    return not any(feature.kind in SECOND_ENGINE for feature in features)
