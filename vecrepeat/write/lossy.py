"""Sheets as JPEG and WebP: pictures for shops and messages, not for print.

These formats are packed as a whole, so a picture is held in memory at once; see
:data:`MAX_PIXELS`.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from fractions import Fraction
from typing import Any, BinaryIO, NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image
from PIL.TiffImagePlugin import IFDRational

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import format_bytes
from vecrepeat.write.formats import FileJob, Progress, WrittenFile
from vecrepeat.write.icc import srgb_profile

TAKES = frozenset(("quality", "max_bytes", "colour"))

QUALITY = 90
"""The quality where none is asked for."""

POOR = 50
"""Below this quality edges of flat colour fray for all to see (common practice, no source)."""

MAX_PIXELS = 250_000_000
"""The largest picture in pixels: about 750 MB of samples."""


class _Kind(NamedTuple):
    """A lossy format.

    Attributes:
        name: what Pillow calls it.
        side: its longest side in pixels.
        modes: what its samples may be.
    """

    name: str
    side: int
    modes: tuple[str, ...]


# JPEG: ITU-T T.81 §B.2.2 gives sides sixteen bits; libjpeg stops at 65,500. WebP: RFC 9649 §2.5
# gives them fourteen.
_JPEG = _Kind("JPEG", 65_500, ("RGB", "L"))
_WEBP = _Kind("WEBP", 16_383, ("RGB", "RGBA"))
_KINDS = {".jpg": _JPEG, ".jpeg": _JPEG, ".webp": _WEBP}


def write(out: BinaryIO, job: FileJob, progress: Progress | None) -> WrittenFile:
    """Write a job as JPEG or WebP, at its quality or at the best one that fits."""
    kind, picture, settings = _KINDS[job.file.suffix.lower()], job.picture(), job.settings
    if max(picture.width, picture.height) > kind.side:
        raise InputError(
            f"{picture.width:,} × {picture.height:,} px is too large for {job.file.suffix}: "
            f"a side may have {kind.side:,}",
            file=job.file,
            hint="lower the dpi or the size, or write PNG or TIFF",
        )
    if picture.width * picture.height > MAX_PIXELS:
        raise InputError(
            f"{picture.width:,} × {picture.height:,} px is too large for a picture in one piece",
            file=job.file,
            hint="lower the dpi or the size, or write PNG or TIFF",
        )
    if picture.mode not in kind.modes:
        what = "have no transparency" if picture.transparent else f"are not written in {_ink(job)}"
        raise InputError(
            f"{job.file.suffix} files {what}", file=job.file, hint="write PNG or TIFF instead"
        )
    samples = picture.whole()
    encode = _encoder(kind, samples, job, picture.dpi)
    top = QUALITY if settings.quality is None else settings.quality
    if settings.max_bytes is None:
        quality, data = top, encode(top)
    else:
        quality, data = best_fit(encode, top, settings.max_bytes, job)
    out.write(data)
    if progress is not None:
        progress(picture.height)
    notes = [*job.raster_notes()]
    if kind is _JPEG and not _in_header(picture.dpi):
        notes.append(
            f"a JPEG's header holds whole pixels per inch: {float(picture.dpi):g} dpi stands in "
            "its EXIF, which some programs don't read (PNG and TIFF hold it)"
        )
    if quality < top:
        shows = ", which shows: lower the dpi or allow more bytes" if quality < POOR else ""
        notes.append(f"the best quality that fits is {quality}{shows}")
    return WrittenFile(tuple(notes), {"quality": quality})


def _ink(job: FileJob) -> str:
    return "sRGB" if job.settings.colour is None else job.settings.colour.mode


def _in_header(dpi: Fraction) -> bool:
    """Whether JFIF can say a resolution: a whole number of sixteen bits (ITU-T T.871 §10.1)."""
    return dpi.denominator == 1 and dpi < 1 << 16


def exif_of(dpi: Fraction) -> Image.Exif:
    """Return a resolution as EXIF: a fraction of 32-bit numbers, to the inch (TIFF 6.0 §8)."""
    near = dpi.limit_denominator((1 << 32) // (math.floor(dpi) + 1))
    exif = Image.Exif()
    for tag in (ExifTags.Base.XResolution, ExifTags.Base.YResolution):
        exif[tag] = IFDRational(near.numerator, near.denominator)
    exif[ExifTags.Base.ResolutionUnit] = 2
    return exif


def _encoder(
    kind: _Kind, samples: NDArray[np.uint8], job: FileJob, dpi: Fraction
) -> Callable[[int], bytes]:
    image = Image.fromarray(samples[..., 0] if samples.shape[2] == 1 else samples)
    colour = job.settings.colour
    icc = srgb_profile() if colour is None else colour.icc
    # Where both could stand they must not differ: programs disagree on which one counts.
    size = {"dpi": (int(dpi),) * 2} if kind is _JPEG and _in_header(dpi) else {"exif": exif_of(dpi)}

    def encode(quality: int) -> bytes:
        data = io.BytesIO()
        told: dict[str, Any] = {"method": 4}
        if kind is _JPEG:
            # Halved chroma frays the edges of flat colour: below 90 size goes first.
            told = {"subsampling": 0 if quality >= 90 else 2, "optimize": True}
        image.save(data, kind.name, quality=quality, icc_profile=icc, **size, **told)
        return data.getvalue()

    return encode


def best_fit(
    encode: Callable[[int], bytes], top: int, max_bytes: int, job: FileJob
) -> tuple[int, bytes]:
    """Return the best quality whose file fits, and the file.

    Files grow with quality, so it is found by halving; the next better one has been tried and
    does not fit, unless it is beyond ``top``.

    Raises:
        InputError: the worst does not fit either.
    """
    data = encode(top)
    if len(data) <= max_bytes:
        return top, data
    fits, too_good = 0, top
    found = b""
    while too_good - fits > 1:
        middle = (fits + too_good) // 2
        data = encode(middle)
        if len(data) <= max_bytes:
            fits, found = middle, data
        else:
            too_good = middle
    if not fits:
        smallest = len(encode(1))
        raise InputError(
            f"even at quality 1 the picture takes {format_bytes(smallest)}",
            file=job.file,
            hint="lower the dpi or the size, or allow more bytes",
        )
    return fits, found
