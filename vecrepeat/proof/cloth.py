"""Pieces of the endless cloth on a proof: as vectors at true scale, or as a picture."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from PIL import Image

from vecrepeat.core.geometry import Rect
from vecrepeat.core.units import MM_PER_INCH
from vecrepeat.draw.sheet import Sheet, opaque
from vecrepeat.proof.drawing import SheetBox, n
from vecrepeat.repeat.model import Repeat
from vecrepeat.repeat.wrap import copies
from vecrepeat.util.imagefiles import data_url, png_of
from vecrepeat.write.exporting import Exporter
from vecrepeat.write.svg import Motifs

PICTURE_DPI = 300
"""Pixels per inch of paper of what is shown as a picture."""


class Cloth:
    """One repeat's cloth, cut to boxes on paper.

    Args:
        repeat: the endless cloth, at print size.
        dpi: pixels per inch of paper of what is shown as a picture.
    """

    def __init__(self, repeat: Repeat, dpi: int = PICTURE_DPI) -> None:
        self._repeat = repeat
        self._dpi = dpi
        self._exporter = Exporter(repeat)
        self._motifs = Motifs(repeat)
        self.is_vector = not self._exporter.beyond_cairo

    @property
    def definitions(self) -> str:
        """What the document's ``defs`` must hold."""
        return self._motifs.definitions() if self.is_vector else ""

    def true_scale(self, box: SheetBox) -> str:
        """Return the cloth in a box at true scale, the tile's corner in the box's.

        Art that no vector renderer draws alike everywhere comes as a picture.
        """
        if not self.is_vector:
            return self.picture(box, 1.0)
        key = self._motifs.fresh("cut")
        ground = self._repeat.ground
        colour = "#ffffff" if ground is None else ground.colour
        found = copies(self._repeat, Rect(0.0, 0.0, box.width, box.height))
        return (
            f'<clipPath id="{key}"><rect width="{n(box.width)}" height="{n(box.height)}"/>'
            f'</clipPath><g transform="translate({n(box.x)} {n(box.y)})">'
            f'<g clip-path="url(#{key})"><rect width="{n(box.width)}" height="{n(box.height)}" '
            f'fill="{colour}"/>\n{self._motifs.used(self._repeat, found)}</g></g>'
        )

    def picture(self, box: SheetBox, scale: float) -> str:
        """Return the cloth in a box as a picture at a scale, paper over cloth: 1 is true."""
        width, height = (
            max(1, round(side / float(MM_PER_INCH) * self._dpi)) for side in (box.width, box.height)
        )
        repeat = self._repeat
        across = max(1, round(repeat.width * self._dpi / MM_PER_INCH * Fraction(scale)))
        down = max(1, round(repeat.height * across / repeat.width))
        # Whole pixels are asked for as mm at a pixel to the mm.
        plan = self._exporter.plan(MM_PER_INCH, width=Fraction(across), height=Fraction(down))
        strips = Sheet(plan, width, height).strips(self._exporter.painter(plan))
        block = np.concatenate([opaque(strip) for strip in strips])
        # One block is drawn, however often the picture shows it.
        times = (-(-height // block.shape[0]), -(-width // block.shape[1]), 1)
        picture = Image.fromarray(np.tile(block, times)[:height, :width], "RGB")
        return (
            f'<image x="{n(box.x)}" y="{n(box.y)}" width="{n(box.width)}" '
            f'height="{n(box.height)}" preserveAspectRatio="none" '
            f'xlink:href="{data_url(png_of(picture))}"/>'
        )
