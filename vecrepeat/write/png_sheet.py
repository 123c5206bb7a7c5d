"""Sheets as PNG: lossless, in sRGB or in the colours of a profile."""

from __future__ import annotations

from typing import BinaryIO

from vecrepeat.core.errors import InputError
from vecrepeat.write.formats import Job, Progress, Written
from vecrepeat.write.png import PngHeader, write_periodic

TAKES = frozenset(("colour",))


def write(out: BinaryIO, job: Job, progress: Progress | None) -> Written:
    """Write a job as PNG, in memory that does not grow with the sheet."""
    picture, colour = job.picture(), job.settings.colour
    if colour is not None and colour.mode == "CMYK":
        raise InputError(
            f"PNG holds no CMYK, and {colour.name} is a CMYK profile",
            file=job.file,
            hint="write .tif for these inks, or give an RGB or grey profile",
        )
    profile = None if colour is None else (colour.name, colour.icc)
    header = PngHeader(
        picture.width, picture.height, len(picture.mode), picture.dpi, profile=profile
    )
    if (shifts := job.cut.columns) is None:
        write_periodic(out, header, job.cut.period, picture.strips(), progress=progress)
    else:
        tile = (job.cut.plan.width, job.cut.plan.height)
        strips = picture.tile_strips()
        write_periodic(out, header, tile, strips, shifts=shifts, progress=progress)
    return Written(tuple(job.raster_notes()))
