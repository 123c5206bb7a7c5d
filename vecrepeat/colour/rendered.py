"""What is seen of a repeat where its geometry does not tell, measured on a rendering of a tile.

Filters, pictures and live text have no areas of one colour, and gradients that are seen through
one another have too many. So a tile is drawn at a resolution that is told, and its pixels are
counted.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from vecrepeat.colour.flatten import CLOTH, WHITE
from vecrepeat.colour.gradients import by_stops, is_stepped
from vecrepeat.colour.painted import beyond_shapes
from vecrepeat.colour.visible import Visible, visible
from vecrepeat.core.colours import rgb_of
from vecrepeat.core.difference import ciede2000, lab_of
from vecrepeat.core.names import listed
from vecrepeat.core.units import MM_PER_INCH
from vecrepeat.draw.paint import Pixels, Window
from vecrepeat.draw.plan import plan_pixels
from vecrepeat.draw.sheet import straight
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.scene.nodes import Gradient, Group, Node, Path
from vecrepeat.scene.outline import DEFAULT_TOLERANCE
from vecrepeat.write.exporting import Exporter

PIXELS = 1 << 20
"""How many pixels a tile is measured by, whatever its shape."""

VEILS = 8
"""More gradients that let others through than this in a motif are measured, not worked out."""

ALL_VEILS = 500
"""So are more than this on a tile: each is laid over every other that it meets."""

_BITS = 5
"""Bits of red, green and blue by which pixels are first brought together."""

_COLOURS = 512
"""How many colours are told apart; what is seen less counts as the nearest of them."""

Codes = NDArray[np.int64]
"""Colours as whole numbers, 0xrrggbb."""


@lru_cache(maxsize=1024)
def _veils(motif: Motif) -> int:
    """Return how many gradients of a motif run from colour to colour and let others through."""

    def counted(node: Node, *, veiled: bool) -> int:
        if isinstance(node, Group):
            veiled = veiled or node.opacity < 1
            return sum(counted(child, veiled=veiled) for child in node.children)
        paints = node.paints if isinstance(node, Path) else ()
        smooth = [
            (part.paint, part.opacity)
            for part in paints
            if isinstance(part.paint, Gradient) and not is_stepped(part.paint.stops)
        ]
        return sum(veiled or opacity < 1 or paint.is_translucent for paint, opacity in smooth)

    return counted(motif.scene, veiled=False)


def without_areas(repeat: Repeat) -> tuple[str, ...]:
    """Return the names of motifs that have no exact areas, none where geometry tells them all."""
    soft = [_veils(placement.motif) for placement in repeat.placements]
    many = sum(soft) > ALL_VEILS
    return tuple(
        dict.fromkeys(
            p.motif.name
            for p, veils in zip(repeat.placements, soft, strict=True)
            if veils > VEILS or (many and veils) or beyond_shapes(p.motif)
        )
    )


@dataclass(frozen=True, eq=False)
class Rendered:
    """What is seen of a repeat in the pixels of one tile.

    Attributes:
        repeat: the endless cloth.
        soft: names of the motifs that have no exact areas.
        pixels: straight RGBA of a tile's worth of cloth, shape (height, width, 4).
    """

    repeat: Repeat
    soft: tuple[str, ...]
    pixels: Pixels

    @property
    def note(self) -> str:
        """What was measured, and why, in a sentence."""
        height, width = self.pixels.shape[:2]
        shown = listed([f"“{name}”" for name in self.soft])
        return (
            f"shares are measured on a rendering of {width:,} × {height:,} px a tile: filters, "
            f"pictures, text or gradients seen through one another have no exact areas in {shown}"
        )

    @cached_property
    def _kinds(self) -> tuple[Codes, NDArray[np.int32]]:
        """The colours that stand for all, and which of them each pixel is of."""
        red, green, blue = (self.pixels[..., k].astype(np.int64) for k in range(3))
        codes, which, counts = np.unique(
            red << 16 | green << 8 | blue, return_inverse=True, return_counts=True
        )
        cut = 8 - _BITS
        coarse = (codes >> 16 + cut << 2 * _BITS) | (codes >> 8 + cut & 31) << _BITS
        coarse |= codes >> cut & 31
        # Of those that are brought together the one seen most stands for all: flat paint, if any.
        order = np.lexsort((-counts, coarse))
        first = np.flatnonzero(np.diff(coarse[order], prepend=-1))
        kind = np.empty(len(codes), np.int32)
        kind[order] = np.repeat(np.arange(len(first)), np.diff([*first, len(codes)]))
        led = np.argsort(-np.bincount(kind, counts), kind="stable")
        codes = codes[order[first]][led]
        into = np.arange(len(codes), dtype=np.int32)
        if len(codes) > _COLOURS:
            lab = lab_of(np.stack([codes >> 16, codes >> 8 & 255, codes & 255], axis=1))
            for some in np.array_split(np.arange(_COLOURS, len(codes)), len(codes) // _COLOURS * 8):
                into[some] = ciede2000(lab[some, None], lab[None, :_COLOURS]).argmin(axis=1)
        place = np.empty_like(into)
        place[led] = into
        return codes[:_COLOURS], place[kind][which].reshape(self.pixels.shape[:2])

    @cached_property
    def colours(self) -> list[str]:
        """The colours that are seen, as ``#rrggbb``, those alike in five bits as one."""
        return [f"#{code:06x}" for code in self._kinds[0].tolist()]

    @property
    def areas(self) -> dict[str, float]:
        """The area in mm² of each colour in one tile's worth of cloth, and of bare cloth."""
        opaque = self.pixels[..., 3].ravel() / 255
        weight = np.bincount(self._kinds[1].ravel(), opaque, len(self._kinds[0]))
        mm2 = float(self.repeat.lattice.area) / opaque.size
        found = {c: float(w) * mm2 for c, w in zip(self.colours, weight, strict=True) if w > 0}
        bare = float((1 - opaque).sum()) * mm2
        return found | ({CLOTH: bare} if bare > 0 else {})

    def touching(self, key: Callable[[str], str]) -> dict[tuple[str, str], float]:
        """Return how many mm of a tile colours of two keys touch along, by pairs of keys.

        Lines are measured by how many rows and columns cross them (Cauchy and Crofton), which is
        true of lines that run every way.
        """
        keys = [key(colour) for colour in self.colours]
        names = [*sorted(set(keys)), CLOTH]
        number = np.array([names.index(name) for name in keys])
        at = number[self._kinds[1]]
        at[self.pixels[..., 3] < 128] = len(names) - 1
        height, width = at.shape
        side = (float(self.repeat.width) / width, float(self.repeat.height) / height)
        lengths = np.zeros((len(names), len(names)))
        for one, other, mm in ((at[:, :-1], at[:, 1:], side[1]), (at[:-1], at[1:], side[0])):
            met = np.bincount((one * len(names) + other).ravel(), minlength=lengths.size)
            lengths += met.reshape(lengths.shape) * mm * math.pi / 4
        lengths += lengths.T
        return {
            (names[one], names[other]): float(lengths[one, other])
            for one, other in zip(*np.nonzero(np.triu(lengths, 1)), strict=True)
        }

    def flat_areas(self, cloth: str = WHITE) -> dict[str, float]:
        """Return the area in mm² of each colour that is seen on cloth of a colour; none is bare."""
        opaque = self.pixels[..., 3:] / 255
        on_cloth = self.pixels[..., :3] * opaque + rgb_of(cloth) * (1 - opaque)
        whole = np.where(opaque > 0, 255, 0)
        flat = np.concatenate([np.floor(on_cloth + 0.5), whole], axis=2).astype(np.uint8)
        found = Rendered(self.repeat, self.soft, flat).areas
        found.pop(CLOTH, None)
        return found


def look(repeat: Repeat, tolerance: float = DEFAULT_TOLERANCE) -> Visible | Rendered:
    """Return what is seen of a repeat: by its geometry where that tells, else by a rendering.

    Gradients count by their stops. Curves are at most ``tolerance`` mm off their polygons.
    """
    soft = without_areas(repeat)
    if soft:
        return rendered(repeat, soft)
    return visible(repeat, tolerance=tolerance).banded(by_stops)


def rendered(repeat: Repeat, soft: tuple[str, ...]) -> Rendered:
    """Draw a tile's worth of cloth and return what is seen of it; see :func:`without_areas`.

    Raises:
        InputError: a motif can't be drawn.
    """
    across = max(1, round(math.sqrt(PIXELS * repeat.width / repeat.height)))
    down = max(1, round(PIXELS / across))
    # Whole pixels are asked for as mm at a pixel to the mm.
    plan = plan_pixels(repeat, MM_PER_INCH, width=Fraction(across), height=Fraction(down))
    # Cut where nothing in particular is likely to lie, so that lines along the tile's bounds
    # count too.
    x, y = round(plan.width * 0.3183), round(plan.height * 0.2718)
    painter = Exporter(repeat).painter(plan)
    return Rendered(repeat, soft, straight(painter.paint(Window(x, y, plan.width, plan.height))))
