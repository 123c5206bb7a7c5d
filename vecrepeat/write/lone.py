"""One motif's picture, alone on nothing."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from vecrepeat.core.geometry import Affine
from vecrepeat.draw.paint import Window
from vecrepeat.draw.sheet import straight
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.write.exporting import Exporter

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MARGIN = 1.04
"""Side of the picture over the motif's longer side."""

_MM = 100
"""Side of the picture as it is planned: motifs come as large as walls, and as small as dots."""


def lone_picture(motif: Motif, side: int, *, engine: str = "auto") -> NDArray[np.uint8]:
    """Return a motif's picture in RGBA, straight alpha, shape (side, side, 4).

    Its longer side all but fills the picture.

    Args:
        motif: the motif.
        side: of the picture in pixels.
        engine: as an :class:`Exporter` has it.

    Raises:
        InputError: the motif can't be drawn.
    """
    box = motif.box
    by = _MM / (max(box.width, box.height) * MARGIN)
    middle = Affine.translation(_MM, _MM) @ Affine.scaling(by)
    middle @= Affine.translation(-(box.x0 + box.x1) / 2, -(box.y0 + box.y1) / 2)
    tile = Fraction(2 * _MM)
    exporter = Exporter(Repeat.alone(motif, tile, middle), engine=engine)
    plan = exporter.plan(Fraction(254, 10) * 2 * side / tile)
    left = (plan.width - side) // 2
    return straight(exporter.painter(plan).paint(Window(left, left, side, side)))
