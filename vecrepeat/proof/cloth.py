"""Pieces of the endless cloth on a proof: as vectors at true scale, or as a picture."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from PIL import Image

from vecrepeat.core.geometry import Rect
from vecrepeat.core.units import MM_PER_INCH
from vecrepeat.draw.sheet import Sheet, opaque
from vecrepeat.proof.drawing import Box, n
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
    """

    def __init__(self, repeat: Repeat) -> None:
        self._repeat = repeat
        self._exporter = Exporter(repeat)
        self._motifs = Motifs(repeat)
        self.is_vector = not self._exporter.beyond_cairo

    @property
    def definitions(self) -> str:
        """What the document's ``defs`` must hold."""
        return self._motifs.definitions() if self.is_vector else ""

    def true_scale(self, box: Box) -> str:
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

    def pixels(self, width: int, height: int, scale: float, dpi: float) -> Image.Image:
        """Return the cloth as a picture.

        Args:
            width: in pixels.
            height: in pixels.
            scale: paper over cloth: 1 is true scale.
            dpi: pixels per inch of paper.
        """
        pixels_per_mm = Fraction(dpi) / MM_PER_INCH * Fraction(scale)
        across = max(1, round(self._repeat.width * pixels_per_mm))
        plan = self._exporter.plan(
            Fraction(254, 10), width=Fraction(across), height=self._height(across)
        )
        sheet = Sheet(plan, width, height)
        block = np.concatenate([opaque(s) for s in sheet.strips(self._exporter.painter(plan))])
        # One block is drawn, however often the picture shows it.
        times = (-(-height // block.shape[0]), -(-width // block.shape[1]), 1)
        return Image.fromarray(np.tile(block, times)[:height, :width], "RGB")

    def _height(self, across: int) -> Fraction:
        return max(Fraction(1), Fraction(round(self._repeat.height * across / self._repeat.width)))

    def picture(self, box: Box, scale: float) -> str:
        """Return the cloth in a box as a picture at a scale, 1 for true."""
        across, down = (
            max(1, round(side / float(MM_PER_INCH) * PICTURE_DPI))
            for side in (box.width, box.height)
        )
        picture = png_of(self.pixels(across, down, scale, PICTURE_DPI))
        return (
            f'<image x="{n(box.x)}" y="{n(box.y)}" width="{n(box.width)}" '
            f'height="{n(box.height)}" preserveAspectRatio="none" '
            f'xlink:href="{data_url(picture)}"/>'
        )
