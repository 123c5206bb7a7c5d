"""Selvedges: a line of text and a dot of every colour along both edges of the cloth.

Cloth with selvedges is a repeat of its own, as wide as the cloth and as long as the design's
straight block (or some of them), so every format of pixels writes it as it writes any other. In
vectors white laid over the design would let it show at the white's edges, so there design and
selvedges fill their own parts of the cloth.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

import numpy as np

from vecrepeat.art.read import Art, read_art
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import IDENTITY, Affine, Rect
from vecrepeat.core.units import Size
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Placement, Repeat
from vecrepeat.repeat.wrap import copies
from vecrepeat.util.files import scratch_folder
from vecrepeat.util.xmltext import escaped
from vecrepeat.write.formats import Part

MAX_DOTS = 24
"""The most colours that get a dot; pictures have more than anybody checks by eye."""

_GAP = 10.0
_FONT = 'font-family="sans-serif"'


def strip_svg(
    width: float, height: float, text: str, colours: Sequence[str], one_way: bool
) -> tuple[str, float]:
    """Return one selvedge as a drawing, and how much of its height is needed.

    Args:
        width: of the selvedge in mm.
        height: of the drawing in mm.
        text: runs up along it.
        colours: a dot each, in order, above the text.
        one_way: put an arrow to the top between them.
    """
    size, radius, middle = min(0.45 * width, 5.0), min(0.3 * width, 4.0), width / 2
    at = _GAP
    parts = []
    for colour in colours[:MAX_DOTS]:
        at += radius
        parts.append(
            f'<circle cx="{middle}" cy="{at}" r="{radius}" fill="{colour}" stroke="#808080" '
            f'stroke-width="{0.04 * radius}"/>'
        )
        at += 1.6 * radius
    if one_way:
        parts.append(
            f'<path d="M{middle} {at}l{radius} {2 * radius}h{-2 * radius}z" fill="#303030"/>'
        )
        at += 3 * radius
    at += radius
    if text:
        # It ends at the dots: how long it is depends on the letters.
        parts.append(
            f'<text transform="translate({middle + 0.35 * size} {at}) rotate(-90)" '
            f'text-anchor="end" {_FONT} font-size="{size}" fill="#303030">{escaped(text)}</text>'
        )
        at += text_length(text, size)
    return _drawing(width, height, "".join(parts)), at + _GAP


def _drawing(width: float, height: float, body: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}"><g id="selvedge">{body}</g></svg>'
    )


def _read(drawing: str) -> Art:
    with scratch_folder() as folder:
        path = folder / "selvedge.svg"
        path.write_text(drawing, encoding="utf-8")
        try:
            return read_art(path, motifs="#selvedge")
        except InputError as error:
            raise InputError(
                f"the selvedge's {error.what}",
                hint="install one, or leave the words out: --selvedge-text ''",
            ) from None


@lru_cache
def text_length(text: str, size: float) -> float:
    """Return how long a text is at a size of type, both in mm."""
    words = f'<text y="{2 * size}" {_FONT} font-size="{size}">{escaped(text)}</text>'
    art = _read(_drawing(3 * size * (len(text) + 1), 3 * size, words))
    return max((motif.box.x1 for motif in art.motifs), default=0.0)


def with_selvedges(
    repeat: Repeat,
    tile: Size,
    cloth: Fraction,
    selvedge: Fraction,
    *,
    text: str,
    colours: Sequence[str],
    one_way: bool = False,
) -> tuple[Repeat, tuple[Part, ...], tuple[str, ...]]:
    """Return a repeat between selvedges as one repeat in print mm, as its parts, and notes.

    The design's corner lies where the usable width begins.

    Args:
        repeat: the endless cloth.
        tile: one tile's print size in mm.
        cloth: the cloth's width in mm.
        selvedge: each selvedge's width in mm.
        text: runs up along both.
        colours: a dot each, in order.
        one_way: put an arrow to the top beside them.
    """
    sx, sy = tile.width / repeat.width, tile.height / repeat.height
    block = repeat.block_size[1]
    _, needed = strip_svg(float(selvedge), 1.0, text, colours, one_way)
    blocks = max(1, math.ceil(needed / float(block * sy)))
    height = block * blocks
    usable = cloth - 2 * selvedge
    placements: dict[tuple[int, Fraction, Fraction], Placement] = {}
    to_print = Affine(float(sx), 0.0, 0.0, float(sy), float(selvedge), 0.0)
    for copy in copies(repeat, Rect(0.0, 0.0, float(usable / sx), float(height))):
        offset = repeat.lattice.at(copy.i, copy.j)
        # What lies a whole height further down is the same motif of this taller tile.
        key = (copy.placement, offset.x, offset.y % height)
        if key in placements:
            continue
        original = repeat.placements[copy.placement]
        moved = Affine.translation(float(offset.x), float(key[2])) @ original.transform
        placements[key] = Placement(original.motif, to_print @ moved)
    boxes = repeat.boxes
    reach = float(np.nanmax(boxes[:, 2] - boxes[:, 0])) * float(sx) if len(boxes) else 0.0
    length = float(height * sy)
    strip = _read(strip_svg(float(selvedge), length, text, colours, one_way)[0])
    # So wide that nothing comes in again from the other side.
    beyond = Fraction(math.ceil(2 * reach) + 10)
    # Over both selvedges and what is between them, and over its ends by a hair, so that one piece
    # joins the next.
    wide = float(beyond + 2 * selvedge)
    back = f'<rect y="-0.5" width="{wide}" height="{length + 1}" fill="#ffffff"/>'
    white = _read(_drawing(wide, length, back))
    right = cloth - selvedge
    edges = [
        Placement(motif, Affine.translation(float(x), 0.0))
        for x, drawn in ((right, white), (Fraction(0), strip), (right, strip))
        for motif in drawn.motifs
    ]
    laid = replace(
        repeat,
        width=cloth + beyond,
        height=height * sy,
        placements=(*placements.values(), *edges),
        layout=Layout(),
        symmetry=None,
    )
    placed = tuple(Placement(motif, IDENTITY) for motif in strip.motifs)
    edge = replace(laid, width=selvedge, placements=placed, ground=None)
    parts = (
        Part(repeat, (sx, sy), (selvedge, right)),
        Part(edge, span=(Fraction(0), selvedge)),
        Part(edge, span=(right, cloth)),
    )
    return laid, parts, strip.notes
