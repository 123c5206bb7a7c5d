"""Motifs that only a renderer of pixels can draw, as pictures in a PDF."""

from __future__ import annotations

import math
from fractions import Fraction

from pikepdf import Object

from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.draw.paint import Window
from vecrepeat.draw.plan import plan_pixels
from vecrepeat.draw.resvg_paint import ResvgEngine
from vecrepeat.draw.sheet import straight
from vecrepeat.repeat.model import Motif
from vecrepeat.write.formats import Job
from vecrepeat.write.pdf_image import picture
from vecrepeat.write.pdf_resources import Resources, matrix_text

MAX_PIXELS = 100_000_000
"""The largest picture of one motif, in pixels."""


def raster_form(job: Job, resources: Resources, motif: Motif) -> Object:
    """Return a form in mm, y downwards, that shows a motif as a picture at the job's dpi.

    Raises:
        InputError: the picture would be too large, or the motif can't be drawn.
    """
    repeat, plan = job.repeat, job.cut.plan
    box = motif.box.grown(1 / min(plan.scale))
    # Alone in the middle of a tile so large that no copy of it comes into view.
    side = max(box.width, box.height) * 1.5
    tile = Fraction(side * 3)
    alone = repeat.alone(motif, tile, Affine.translation(side - box.x0, side - box.y0))
    single = plan_pixels(
        alone,
        plan.dpi,
        width=tile * plan.printed.width / repeat.width,
        height=tile * plan.printed.height / repeat.height,
    )
    sx, sy = single.scale
    left, top = math.floor(side * sx), math.floor(side * sy)
    width = math.ceil((side + box.width) * sx) - left
    height = math.ceil((side + box.height) * sy) - top
    if width * height > MAX_PIXELS:
        raise InputError(
            f"as a picture it would have {width:,} × {height:,} px",
            element=motif.name,
            hint="lower the dpi",
        )
    painter = ResvgEngine(alone).painter(single, ground=False)
    image = picture(resources.pdf, straight(painter.paint(Window(left, top, width, height))))
    name = resources.named("XObject", image)
    x, y = left / sx - side + box.x0, top / sy - side + box.y0
    w, h = width / sx, height / sy
    matrix = matrix_text(Affine(w, 0.0, 0.0, -h, x, y + h))
    return resources.form(f"q {matrix} cm /{name} Do Q", Rect(x, y, x + w, y + h))
