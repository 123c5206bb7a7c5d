"""Sheets as PNG: lossless, in sRGB or a profile's colours, by repeating compressed bytes.

A repeat sheet is one block of pixels laid again and again, so its PNG is one block of
*compressed* bytes laid again and again, provided that the compressed bytes depend on nothing
outside the block. They are written so:

* The first row of every band (one vertical period) has filter type 0 (None), every other row
  has type 2 (Up). Neither looks sideways, so a filtered row keeps the block's horizontal period,
  and no band looks at the band above, so every band filters to the same bytes.
* Where a layout drops, the block's columns are one tile at several heights: each row of the
  tile is filtered and compressed once, while the tile is being drawn, and its bytes are put side
  by side (:mod:`vecrepeat.write.png_rows`).
* No deflate match reaches back across a band, nor over the rows that a last, partial band ends
  with. A band's compressed bytes may therefore follow themselves.
* Within a row, the repeats are deflate matches at a distance of one block row (or, for rows
  wider than deflate's window, the compressed bytes over again).
* Both checksums follow without the repeated pixels: the Adler-32 in closed form
  (:class:`~vecrepeat.write.deflate.Adler`), the CRC of a chunk since the chunk is written again.

Work is proportional to the block's pixels plus the bytes written, never to the sheet's pixels.

Standards: "PNG" is Portable Network Graphics (PNG) Specification (Third Edition), W3C; RFC 1950
is ZLIB Compressed Data Format 3.3.
"""

from __future__ import annotations

import os
import struct
import tempfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from vecrepeat.core.errors import InputError
from vecrepeat.util.ahead import map_ahead
from vecrepeat.write.deflate import FINAL_BLOCK, Adler
from vecrepeat.write.formats import FileJob, Progress, WrittenFile
from vecrepeat.write.png_rows import Coded, Grid, SideBySide, WholeLines, filtered

TAKES = frozenset(("colour",))

# PNG 5.2, PNG signature.
SIGNATURE = b"\x89PNG\r\n\x1a\n"
# PNG 7.1: four-byte unsigned integers are limited to 2^31 - 1; PNG 11.2.1 bars zero for the size.
UINT31_MAX = 2**31 - 1
# PNG 11.2.1: colour type by number of channels.
COLOUR_TYPES = {1: 0, 2: 4, 3: 2, 4: 6}
# PNG 11.3.2.3: a profile's name has at most 79 bytes of printable Latin-1.
PROFILE_NAME_MAX = 79
# RFC 1950, 2.2: CM 8 (deflate), CINFO 7 (32 KiB window), FLEVEL 2, FCHECK to a multiple of 31.
ZLIB_HEADER = b"\x78\x9c"
# PNG 5.3: a chunk's length, type and CRC.
CHUNK_FRAME = 12
# IDAT payload that closes a chunk; the size of a slice of rows worked on at once.
CHUNK_BYTES = 1 << 20
SLICE_BYTES = 1 << 19
# A compressed band up to this size stays in memory, a larger one goes to a temporary file.
SPOOL_BYTES = 64 << 20
# Threads that compress slices: on two cores, two take 0.5 to 0.75 of the time that one takes.
WORKERS = min(4, os.cpu_count() or 1)


def write(out: BinaryIO, job: FileJob, progress: Progress | None) -> WrittenFile:
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
    return WrittenFile(tuple(job.raster_notes()))


@dataclass(frozen=True)
class PngHeader:
    """What the PNG's header chunks declare; samples are always 8 bits.

    Attributes:
        width: in pixels, 1 to 2^31 - 1 (PNG 11.2.1).
        height: likewise.
        channels: 1 for grey, 3 for RGB; one more with straight alpha (PNG 4.4, 6.2).
        dpi: pixels per inch; exact, as the pHYs chunk rounds it only once.
        profile: name and bytes of the ICC profile that samples are in; sRGB without one.

    Raises:
        ValueError: a size outside PNG's limits, another number of channels, or a resolution that
            does not round to 1 to 2^31 - 1 pixels per metre.
    """

    width: int
    height: int
    channels: int
    dpi: Fraction | int
    profile: tuple[str, bytes] | None = None

    def __post_init__(self) -> None:
        """Hold the header to PNG's limits."""
        _require_size("image", self.width, self.height)
        if self.channels not in COLOUR_TYPES:
            raise ValueError(f"channels must be 1 to 4, not {self.channels}")
        if not 1 <= self.pixels_per_metre <= UINT31_MAX:
            raise ValueError(f"{self.dpi} dpi is {self.pixels_per_metre} pixels per metre")

    @property
    def pixels_per_metre(self) -> int:
        """The resolution in pixels per metre, rounded half up; an inch is 0.0254 m exactly."""
        return int((Fraction(self.dpi) * 10000 / 254 + Fraction(1, 2)) // 1)

    def chunks(self) -> bytes:
        """The PNG signature and every chunk that comes before the image data."""
        ihdr = struct.pack(
            ">IIBBBBB", self.width, self.height, 8, COLOUR_TYPES[self.channels], 0, 0, 0
        )
        # PNG 11.3.2.5: rendering intent 0 is perceptual. PNG 11.3.4.3: unit 1 is the metre.
        colours = _chunk(b"sRGB", b"\0") if self.profile is None else _iccp(*self.profile)
        phys = struct.pack(">IIB", self.pixels_per_metre, self.pixels_per_metre, 1)
        return b"".join((SIGNATURE, _chunk(b"IHDR", ihdr), colours, _chunk(b"pHYs", phys)))


def write_periodic(
    out: BinaryIO,
    header: PngHeader,
    period: tuple[int, int],
    strips: Iterable[NDArray[np.uint8]],
    *,
    shifts: Sequence[int] = (0,),
    progress: Progress | None = None,
) -> None:
    """Write the image that repeats a tile, column by column shifted down.

    Its pixel (X, Y) is ``tile[(Y - shifts[c mod n]) mod ph][X mod pw]``, where ``c = X // pw``
    and ``n = len(shifts)``.

    Args:
        out: where the file goes; it is only ever written to, so it need not be seekable.
        header: the image's size, channels and resolution.
        period: ``(pw, ph)``, the tile's size in pixels; either may exceed the image's.
        strips: the tile's rows in order, in arrays of shape ``(rows, min(pw, width), channels)``
            and dtype uint8, of any height and memory layout: all ``ph`` of them where a column
            is shifted that the image shows, else the first ``min(ph, height)``. An array may be
            reused once the next one is asked for.
        shifts: rows that each column lies lower, over one horizontal period; the first is 0.
        progress: called with the number of image rows finished since the last call.

    Raises:
        ValueError: a size outside 1 to 2^31 - 1, a first shift other than 0, an array of another
            shape or dtype, or too few or too many rows. What has been written by then is not a
            complete PNG.
    """
    pw, ph = period
    _require_size("period", pw, ph)
    lines, columns = min(ph, header.height), min(pw, header.width)
    if shifts[0]:
        raise ValueError(f"the first column is shifted by {shifts[0]} rows")
    shifts = tuple(shifts[: -(-header.width // pw)])
    shifts = shifts if any(shifts) else (0,)
    bands, last = divmod(header.height, lines)
    grid = Grid(
        rows=ph if any(shifts) else lines,
        row_bytes=columns * header.channels,
        line_bytes=header.width * header.channels,
        shifts=shifts,
        lines=lines,
        last=last,
    )
    coder = WholeLines(grid) if grid.row_bytes == grid.line_bytes else SideBySide(grid)
    # The second term bounds a slice's compressed bytes where the sheet is far wider than the block.
    most = max(1, SLICE_BYTES // max(grid.row_bytes, grid.line_bytes // 64))
    slices = filtered(grid, (columns, header.channels), most, strips)

    out.write(header.chunks())
    out.write(_chunk(b"IDAT", ZLIB_HEADER))
    adler = last_adler = Adler()
    done = 0
    with _Bands(out, bands, lines, last, progress) as band:
        coded = (rows for _, rows in map_ahead(coder.encode, slices, WORKERS))
        for some in coder.lines(band.count_rows(coded)):
            band.add(some.pieces)
            adler += some.adler
            done += some.rows
            if done == last:
                band.mark_last()
                last_adler = adler
        band.report(lines)
        band.repeat()
    adler = adler * bands + last_adler
    out.write(_chunk(b"IDAT", FINAL_BLOCK + struct.pack(">I", adler.checksum)))
    out.write(_chunk(b"IEND", b""))


# ---------------------------------------------------------------------------------- the chunks


def _require_size(what: str, width: int, height: int) -> None:
    """Raise ValueError unless both sizes are within PNG's limits (PNG 7.1, 11.2.1)."""
    if not (1 <= width <= UINT31_MAX and 1 <= height <= UINT31_MAX):
        raise ValueError(
            f"the {what}'s width and height must be 1 to {UINT31_MAX}, not {width} x {height}"
        )


def _chunk(kind: bytes, data: bytes) -> bytes:
    """A chunk (PNG 5.3): length, type, data, CRC of type and data."""
    crc = zlib.crc32(data, zlib.crc32(kind))
    return b"".join((struct.pack(">I", len(data)), kind, data, struct.pack(">I", crc)))


def _iccp(name: str, icc: bytes) -> bytes:
    """The chunk of a profile (PNG 11.3.2.3): its name, method 0 (deflate), itself."""
    # Printable Latin-1 (PNG 11.3.3.2), with no space at either end and no two together.
    known = "".join(c if c.isprintable() else " " for c in name)
    latin = " ".join(known.encode("latin-1", "replace").decode("latin-1").split())
    kept = latin[:PROFILE_NAME_MAX].strip() or "ICC profile"
    return _chunk(b"iCCP", kept.encode("latin-1") + b"\0\0" + zlib.compress(icc, 9))


class _Bands:
    """Writes the first band in IDAT chunks as it comes, then every other band from a copy.

    Args:
        out: where the chunks go.
        bands: how often the image shows all of a band.
        rows: of a band.
        last_rows: of the first rows that it shows once more at its end.
        progress: see :func:`write_periodic`.
    """

    def __init__(
        self,
        out: BinaryIO,
        bands: int,
        rows: int,
        last_rows: int,
        progress: Progress | None,
    ) -> None:
        self._out = out
        self._bands = bands
        self._rows = rows
        self._last_rows = last_rows
        self._progress = progress
        self._reported = 0
        # The payload's tail that is not yet in a chunk.
        self._pending: list[bytes] = []
        self._pending_bytes = 0
        # Payload lengths of the chunks in the copy; where the last band ends in the payload.
        self._lengths: list[int] = []
        self._last_bytes = 0
        self._copy = tempfile.SpooledTemporaryFile(SPOOL_BYTES)  # noqa: SIM115

    def __enter__(self) -> _Bands:
        return self

    def __exit__(self, *_: object) -> None:
        self._copy.close()

    def report(self, rows_done: int) -> None:
        """Tell the caller how many rows are newly done."""
        if self._progress is not None and rows_done > self._reported:
            self._progress(rows_done - self._reported)
            self._reported = rows_done

    def count_rows(self, coded: Iterable[Coded]) -> Iterator[Coded]:
        """Pass on what has been compressed, and report it as rows done."""
        done = 0
        for rows in coded:
            yield rows
            done += rows.count
            self.report(min(done, self._rows))

    def add(self, pieces: Sequence[bytes]) -> None:
        """Append to the first band."""
        for piece in pieces:
            self._pending.append(piece)
            self._pending_bytes += len(piece)
            if self._pending_bytes >= CHUNK_BYTES:
                self._close_chunk()

    def mark_last(self) -> None:
        """The last, partial band ends here."""
        self._last_bytes = sum(self._lengths) + self._pending_bytes

    def repeat(self) -> None:
        """Write all bands but what is written already."""
        if not self._lengths:
            self._repeat_within_chunks()
            return
        self._close_chunk()
        for band in range(1, self._bands):
            self._write_copy(sum(self._lengths), band * self._rows, self._rows)
        self._write_copy(self._last_bytes, self._bands * self._rows, self._last_rows)

    def _close_chunk(self) -> None:
        if not self._pending_bytes:
            return
        chunk = _chunk(b"IDAT", b"".join(self._pending))
        self._out.write(chunk)
        if self._bands > 1 or self._last_rows:
            self._copy.write(chunk)
        self._lengths.append(self._pending_bytes)
        self._pending, self._pending_bytes = [], 0

    def _repeat_within_chunks(self) -> None:
        """For a band smaller than a chunk: as many bands as fit into each chunk."""
        band = b"".join(self._pending)
        fit = min(self._bands, max(1, CHUNK_BYTES // len(band)))
        chunk = _chunk(b"IDAT", band * fit)
        for chunks in range(1, self._bands // fit + 1):
            self._out.write(chunk)
            self.report(chunks * fit * self._rows)
        rest = band * (self._bands % fit) + band[: self._last_bytes]
        if rest:
            self._out.write(_chunk(b"IDAT", rest))
        self.report(self._bands * self._rows + self._last_rows)

    def _write_copy(self, payload: int, rows_before: int, rows: int) -> None:
        """Write the band's first `payload` bytes, which hold `rows` rows."""
        self._copy.seek(0)
        done = 0
        for length in self._lengths:
            if done + length <= payload:
                self._out.write(self._copy.read(length + CHUNK_FRAME))
                done += length
            else:
                if done < payload:
                    data = self._copy.read(CHUNK_FRAME + payload - done)[8:-4]
                    self._out.write(_chunk(b"IDAT", data))
                break
            self.report(rows_before + rows * done // payload)
        self.report(rows_before + rows)
