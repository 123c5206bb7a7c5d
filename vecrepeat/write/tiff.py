"""Sheets as TIFF: lossless, in the printer's own colours if need be, streamed.

A sheet's rows come back after one straight block. Where every strip of rows covers the same
part of a block, its compressed bytes come back too: each is compressed once and written as
often as the sheet needs it. So the rows in a strip divide the block's.

Standards: "TIFF" is TIFF Revision 6.0 (Adobe, 1992); compression 8 (deflate) is of Adobe's TIFF
Technical Note 2 (2002); BigTIFF has offsets of eight bytes. From memory.
"""

from __future__ import annotations

import tempfile
import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import IO, BinaryIO, NamedTuple

import numpy as np
import tifffile
from numpy.typing import NDArray

from vecrepeat.core.errors import InputError, missing_package
from vecrepeat.util.ahead import map_ahead
from vecrepeat.write.formats import FileJob, Progress, WrittenFile
from vecrepeat.write.icc import srgb_profile
from vecrepeat.write.picture import Picture

TAKES = frozenset(("compression", "colour"))

STRIP_BYTES = 1 << 20
"""The most bytes of samples in a strip of several rows."""

FREE_STRIP_BYTES = 1 << 18
"""About the bytes of samples in a strip where any number of rows will do."""

SPOOL_BYTES = 64 << 20
"""Compressed strips up to so many bytes stay in memory, more go to a temporary file."""

CLASSIC_BYTES = 2**32 - 2**24
"""What a TIFF with offsets of four bytes holds, less room for its directory."""

WORKERS = 2

Encode = Callable[[NDArray[np.uint8]], bytes]


class _Place(NamedTuple):
    """Where a compressed strip lies in the store."""

    offset: int
    size: int


@dataclass(frozen=True)
class _Strips:
    """The strips of a file, each different one compressed once.

    Attributes:
        store: holds their bytes.
        block: those of a straight block, from the top down.
        last: the file's last strip where it has fewer rows than the others.
        count: how many strips the file has.
    """

    store: IO[bytes]
    block: list[_Place]
    last: _Place | None
    count: int

    def __iter__(self) -> Iterator[bytes]:
        """Yield the bytes of every strip of the file in order."""
        for n in range(self.count):
            place = self.block[n % len(self.block)]
            if self.last is not None and n == self.count - 1:
                place = self.last
            self.store.seek(place.offset)
            yield self.store.read(place.size)

    @property
    def size(self) -> int:
        """How many bytes they come to in the file, with their two tags."""
        whole, part = divmod(self.count, len(self.block))
        total = whole * sum(place.size for place in self.block)
        total += sum(place.size for place in self.block[:part])
        # An offset and a count each; the last strip is no longer than the one it stands for.
        return total + 16 * self.count


def write(out: BinaryIO, job: FileJob, progress: Progress | None) -> WrittenFile:
    """Write a job as TIFF, in memory that does not grow with the sheet."""
    picture = job.picture()
    compression = job.settings.compression or "deflate"
    if picture.mode == "CMYKA":
        raise InputError(
            "a transparent file in CMYK is not written",
            file=job.file,
            hint="leave out --transparent or --profile",
        )
    rows = strip_rows(job.cut.period[1], picture.height, picture.width * len(picture.mode))
    with tempfile.SpooledTemporaryFile(SPOOL_BYTES) as store:
        strips = _compressed(picture, rows, _encoder(compression, job), store)
        big = strips.size > CLASSIC_BYTES
        _write(out, picture, rows, compression, big, _counted(strips, rows, picture, progress))
    facts = {"compression": compression, "bigtiff": big}
    notes = [*job.raster_notes()]
    if big:
        notes.append("the file is a BigTIFF, being larger than 4 GB")
    return WrittenFile(tuple(notes), facts)


def strip_rows(period: int, height: int, row_bytes: int) -> int:
    """Return how many rows to put in a strip.

    Args:
        period: after how many rows the picture repeats.
        height: its rows.
        row_bytes: bytes of a row's samples.

    Returns:
        Any number where the picture ends before it repeats, else a divisor of ``period``.
    """
    if period >= height:
        return min(height, max(1, FREE_STRIP_BYTES // row_bytes))
    most = max(1, STRIP_BYTES // row_bytes)
    return max(n for n in range(1, min(period, most) + 1) if period % n == 0)


def _encoder(compression: str, job: FileJob) -> Encode:
    if compression == "deflate":
        return lambda samples: zlib.compress(samples.data, 6)
    try:
        from imagecodecs import lzw_encode
    except ImportError:
        raise missing_package("LZW", "imagecodecs", file=job.file) from None
    return lambda samples: bytes(lzw_encode(samples.tobytes()))


def _compressed(picture: Picture, rows: int, encode: Encode, store: IO[bytes]) -> _Strips:
    """Compress each different strip of a picture once."""
    count = -(-picture.height // rows)
    last_rows = picture.height - (count - 1) * rows
    predicted = _predicted(picture, encode)
    places: list[_Place] = []
    last: _Place | None = None
    at = 0

    def keep(data: bytes) -> _Place:
        nonlocal at
        store.write(data)
        at += len(data)
        return _Place(at - len(data), len(data))

    across_rows = -(-picture.sheet.needed[1] // rows)
    cut_short = (count - 1) % across_rows if last_rows < rows else None
    chunks = _chunks(picture.strips(), rows)
    for n, (strip, data) in enumerate(map_ahead(predicted, chunks, WORKERS)):
        places.append(keep(data))
        if n == cut_short and len(strip) > last_rows:
            last = keep(predicted(strip[:last_rows]))
    return _Strips(store, places, last, count)


def _predicted(picture: Picture, encode: Encode) -> Encode:
    """Return what turns rows of the block into the compressed rows of the sheet.

    Samples are written as differences from the pixel to the left (TIFF §14, predictor 2), which
    repeat across just as the pixels do, but for a row's first.
    """
    width, across = picture.width, picture.sheet.needed[0]

    def encoded(strip: NDArray[np.uint8]) -> bytes:
        samples = np.empty((len(strip), width, strip.shape[2]), np.uint8)
        different = samples[:, :across]
        np.subtract(strip[:, 1:], strip[:, :-1], out=different[:, 1:])
        np.subtract(strip[:, 0], strip[:, -1], out=different[:, 0])
        for x in range(across, width, across):
            w = min(across, width - x)
            samples[:, x : x + w] = different[:, :w]
        samples[:, 0] = strip[:, 0]
        return encode(samples)

    return encoded


def _chunks(strips: Iterable[NDArray[np.uint8]], rows: int) -> Iterator[NDArray[np.uint8]]:
    """Cut strips of any height into strips of ``rows`` rows; the last may have fewer."""
    held: list[NDArray[np.uint8]] = []
    have = 0
    for strip in strips:
        start = 0
        while start < len(strip):
            part = strip[start : start + rows - have]
            held.append(part)
            have += len(part)
            start += len(part)
            if have == rows:
                yield held[0] if len(held) == 1 else np.concatenate(held)
                held, have = [], 0
    if held:
        yield np.concatenate(held)


def _counted(
    strips: _Strips, rows: int, picture: Picture, progress: Progress | None
) -> Iterator[bytes]:
    """Yield the strips and report the rows they hold."""
    done = 0
    for data in strips:
        now = min(done + rows, picture.height)
        if progress is not None:
            progress(now - done)
        done = now
        yield data


_PHOTOMETRIC = {"RGB": "rgb", "CMYK": "separated", "L": "minisblack"}
_COMPRESSION = {"deflate": "adobe_deflate", "lzw": "lzw"}


def _write(
    out: BinaryIO,
    picture: Picture,
    rows: int,
    compression: str,
    big: bool,
    strips: Iterator[bytes],
) -> None:
    """Write the file around its strips."""
    mode = picture.mode.removesuffix("A")
    resolution = Fraction(picture.dpi).limit_denominator(10_000)
    ratio = (resolution.numerator, resolution.denominator)
    shape = (picture.height, picture.width, len(picture.mode))
    # Named, since the file beside the place has none of its own that tifffile could take.
    handle = tifffile.FileHandle(out, name="sheet.tif")
    with tifffile.TiffWriter(handle, bigtiff=big, byteorder="<") as file:
        file.write(
            strips,
            shape=shape if shape[2] > 1 else shape[:2],
            dtype=np.uint8,
            photometric=_PHOTOMETRIC[mode],
            planarconfig="contig" if shape[2] > 1 else None,
            # Associated alpha would have lost colours; PNG's is straight too.
            extrasamples=["unassalpha"] if picture.transparent else None,
            rowsperstrip=rows,
            compression=_COMPRESSION[compression],
            predictor="horizontal",
            resolution=(ratio, ratio),
            resolutionunit="inch",
            iccprofile=srgb_profile() if picture.colour is None else picture.colour.icc,
            software="vecrepeat",
            metadata=None,
        )
