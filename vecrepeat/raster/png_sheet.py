"""Sheets as PNG: lossless, sRGB."""

from __future__ import annotations

from typing import BinaryIO

from vecrepeat.formats import Job, Progress, Written
from vecrepeat.raster.png import PngHeader, write_periodic

TAKES = frozenset[str]()


def write(out: BinaryIO, job: Job, progress: Progress | None) -> Written:
    """Write a job as PNG, in memory that does not grow with the sheet."""
    picture = job.picture()
    header = PngHeader(picture.width, picture.height, len(picture.mode), picture.dpi)
    write_periodic(out, header, job.cut.period, picture.strips(), progress=progress)
    return Written(tuple(job.raster_notes()))
