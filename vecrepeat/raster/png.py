"""Write a periodic image as PNG by repeating compressed bytes instead of pixels.

A repeat sheet is one block of pixels laid again and again, so its PNG is one block of
*compressed* bytes laid again and again, provided that the compressed bytes depend on nothing
outside the block. This module writes them so:

* The first row of every band (one vertical period) has filter type 0 (None), every other row
  has type 2 (Up). Neither looks sideways, so a filtered row keeps the block's horizontal period,
  and no band looks at the band above, so every band filters to the same bytes.
* No deflate match reaches back across a band, nor over the rows that a last, partial band ends
  with. A band's compressed bytes may therefore follow themselves.
* Within a row, the repeats are deflate matches at a distance of one block row (or, for rows
  wider than deflate's window, the block row's compressed bytes over again).
* Both checksums follow without the repeated pixels: the Adler-32 in closed form (`Adler`), the
  chunks' CRC because the same chunk is written over again.

Work is proportional to the block's pixels plus the bytes written, never to the sheet's pixels.

Standards cited below: "PNG" is Portable Network Graphics (PNG) Specification (Third Edition),
W3C; "RFC 1950" is ZLIB Compressed Data Format 3.3; "RFC 1951" is DEFLATE 1.3.
"""

from __future__ import annotations

import os
import struct
import tempfile
import zlib
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from fractions import Fraction
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

__all__ = ["Adler", "PngHeader", "write_periodic"]

# PNG 5.2, PNG signature.
SIGNATURE = b"\x89PNG\r\n\x1a\n"
# PNG 7.1: four-byte unsigned integers are limited to 2^31 - 1; PNG 11.2.1 bars zero for the size.
UINT31_MAX = 2**31 - 1
# PNG 11.2.1: colour type by number of channels.
COLOUR_TYPES = {3: 2, 4: 6}
# PNG 9.2: filter types.
FILTER_NONE, FILTER_UP = 0, 2

# RFC 1950, 2.2: CM 8 (deflate), CINFO 7 (32 KiB window), FLEVEL 2, FCHECK to a multiple of 31.
ZLIB_HEADER = b"\x78\x9c"
# RFC 1951, 3.2.3 and 3.2.6: BFINAL 1, BTYPE 01, then only the end-of-block code.
FINAL_BLOCK = b"\x03\x00"
# RFC 1951, 2: a match reaches back 32 KiB at most; 3.2.5: and is 3 to 258 bytes long.
WINDOW = 32768
MATCH_MIN, MATCH_MAX = 3, 258
END_OF_BLOCK, LENGTH_258 = 256, 285

# RFC 1951, 3.2.4: LEN and NLEN of a stored block without data.
STORED_EMPTY = b"\x00\x00\xff\xff"

# PNG 5.3: a chunk's length, type and CRC.
CHUNK_FRAME = 12
# IDAT payload that closes a chunk; the size of a slice of rows worked on at once.
CHUNK_BYTES = 1 << 20
SLICE_BYTES = 1 << 19
# A compressed band up to this size stays in memory, a larger one goes to a temporary file.
SPOOL_BYTES = 64 << 20
# Threads that compress slices: on two cores, two take 0.5 to 0.75 of the time that one takes.
WORKERS = min(4, os.cpu_count() or 1)


@dataclass(frozen=True)
class PngHeader:
    """What the PNG's header chunks declare; samples are always 8 bits.

    Parameters
    ----------
    width, height
        The image's size in pixels, 1 to 2^31 - 1 (PNG 11.2.1).
    channels
        3 for RGB, 4 for RGB with straight (unassociated) alpha (PNG 4.4, 6.2).
    dpi
        Pixels per inch, the same in X and Y; exact, as the pHYs chunk rounds it only once.

    Raises
    ------
    ValueError
        A size outside PNG's limits, another number of channels, or a resolution which does not
        round to 1 to 2^31 - 1 pixels per metre.
    """

    width: int
    height: int
    channels: int
    dpi: Fraction | int

    def __post_init__(self) -> None:
        """Hold the header to PNG's limits."""
        _require_size("image", self.width, self.height)
        if self.channels not in COLOUR_TYPES:
            raise ValueError(f"channels must be 3 (RGB) or 4 (RGBA), not {self.channels}")
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
        phys = struct.pack(">IIB", self.pixels_per_metre, self.pixels_per_metre, 1)
        return b"".join(
            (SIGNATURE, _chunk(b"IHDR", ihdr), _chunk(b"sRGB", b"\0"), _chunk(b"pHYs", phys))
        )


@dataclass(frozen=True, slots=True)
class Adler:
    """The two Adler-32 sums (RFC 1950, 2.2) of a run of bytes, as if both began at zero.

    Such sums can be joined, ``x + y``, and repeated, ``x * times``, without the bytes.

    Parameters
    ----------
    total
        Sum of the bytes, modulo 65521.
    weighted
        Sum of every byte times its 1-based place from the end, modulo 65521.
    length
        Number of bytes.
    """

    total: int = 0
    weighted: int = 0
    length: int = 0

    # RFC 1950, 2.2: the largest prime below 65536.
    BASE = 65521

    @classmethod
    def of(cls, data: bytes | memoryview) -> Adler:
        """The sums of `data`, which must be C-contiguous."""
        sums = zlib.adler32(data, 0)
        return cls(sums & 0xFFFF, sums >> 16, memoryview(data).nbytes)

    def __add__(self, then: Adler) -> Adler:
        """The sums of these bytes followed by those of `then`."""
        # Each byte of the first run moves `then.length` places away from the end.
        return Adler(
            (self.total + then.total) % Adler.BASE,
            (self.weighted + then.length * self.total + then.weighted) % Adler.BASE,
            self.length + then.length,
        )

    def __mul__(self, times: int) -> Adler:
        """The sums of these bytes `times` over (0 or more)."""
        # Copy j from the end is moved by j lengths: 0 + 1 + ... + (times - 1).
        moved = self.length * self.total * (times * (times - 1) // 2)
        return Adler(
            self.total * times % Adler.BASE,
            (self.weighted * times + moved) % Adler.BASE,
            self.length * times,
        )

    @property
    def checksum(self) -> int:
        """The Adler-32 itself: s2 * 65536 + s1, where s1 began at 1 and s2 at 0."""
        s1 = (1 + self.total) % Adler.BASE
        s2 = (self.length + self.weighted) % Adler.BASE
        return s2 << 16 | s1


def write_periodic(
    out: BinaryIO,
    header: PngHeader,
    period: tuple[int, int],
    strips: Iterable[NDArray[np.uint8]],
    *,
    progress: Callable[[int], None] | None = None,
) -> None:
    """Write the image whose pixel (X, Y) is ``block[Y mod ph][X mod pw]``.

    Parameters
    ----------
    out
        Where the file goes; it is only ever written to, so it need not be seekable.
    header
        The image's size, channels and resolution.
    period
        ``(pw, ph)``, the block's width and height in pixels; either may exceed the image's.
    strips
        The block's rows 0 to ``min(ph, height) - 1`` in order, in arrays of shape
        ``(rows, min(pw, width), channels)`` and dtype uint8, of any height and memory layout. An
        array may be reused once the next one is asked for.
    progress
        Called with the number of image rows finished since the last call; in all `height`.

    Raises
    ------
    ValueError
        A size outside 1 to 2^31 - 1, an array of another shape or dtype, or too few or too many
        rows. What has been written to `out` by then is not a complete PNG.
    """
    pw, ph = period
    _require_size("period", pw, ph)
    rows, columns = min(ph, header.height), min(pw, header.width)
    bands, last_rows = divmod(header.height, rows)
    row_bytes, sheet_row_bytes = columns * header.channels, header.width * header.channels
    encode = _encoder(row_bytes, sheet_row_bytes)
    # The second term bounds a slice's compressed bytes where the sheet is far wider than the block.
    slice_rows = max(1, SLICE_BYTES // max(row_bytes, sheet_row_bytes // 64))

    out.write(header.chunks())
    out.write(_chunk(b"IDAT", ZLIB_HEADER))
    adler = last_adler = Adler()
    done = 0
    with _Bands(out, bands, rows, last_rows, progress) as band:
        lines = _filtered((rows, columns, header.channels), slice_rows, last_rows, strips)
        for encoded in _map_ahead(encode, lines):
            band.add(encoded.pieces)
            adler += encoded.adler
            done += encoded.rows
            if done == last_rows:
                band.mark_last()
                last_adler = adler
            band.report(done)
        band.repeat()
    adler = adler * bands + last_adler
    out.write(_chunk(b"IDAT", FINAL_BLOCK + struct.pack(">I", adler.checksum)))
    out.write(_chunk(b"IEND", b""))


# ---------------------------------------------------------------------------------- the filter

# A line is a filtered row with its filter type byte, laid out so that the row's samples start on
# an 8-byte word: PAD bytes of which the last is the filter type, the row, zeros to a full word.
WORD = 8
PAD = WORD


def _filtered(
    block: tuple[int, int, int],
    slice_rows: int,
    last_rows: int,
    strips: Iterable[NDArray[np.uint8]],
) -> Iterator[NDArray[np.uint8]]:
    """Filter the block's rows (PNG 9.2) into slices of lines, whatever the strips' heights.

    Slices have `slice_rows` lines, fewer at the end and before the cut after row `last_rows`.
    Raises ValueError if the strips do not make up a block of shape (rows, columns, channels).
    """
    rows, columns, channels = block
    row_bytes = columns * channels

    def new_lines(row: int) -> NDArray[np.uint8]:
        stop = min(row + slice_rows, last_rows if row < last_rows else rows)
        lines = np.zeros((stop - row, PAD + -(-row_bytes // WORD) * WORD), np.uint8)
        lines[:, PAD - 1] = FILTER_UP
        if row == 0:
            lines[0, PAD - 1] = FILTER_NONE
        return lines

    lines = new_lines(0)
    row = filled = 0
    above = np.zeros(row_bytes, np.uint8)  # so the first row's difference is the row itself: None
    for strip in strips:
        if strip.ndim != 3 or strip.shape[1:] != block[1:] or strip.dtype != np.uint8:
            raise ValueError(
                f"a strip must be uint8 of shape (rows, {columns}, {channels}),"
                f" not {strip.dtype} {strip.shape}"
            )
        if row + filled + len(strip) > rows:
            raise ValueError(f"the strips hold more than the block's {rows} rows")
        start = 0
        while start < len(strip):
            count = min(len(strip) - start, len(lines) - filled)
            samples = strip[start : start + count].reshape(count, row_bytes)
            filtered = lines[filled : filled + count, PAD : PAD + row_bytes]
            np.subtract(samples[0], above, out=filtered[0])
            np.subtract(samples[1:], samples[:-1], out=filtered[1:])
            above = samples[-1]
            start += count
            filled += count
            if filled == len(lines):
                yield lines
                row += filled
                filled = 0
                lines = new_lines(row)
        above = above.copy()  # the caller may reuse the strip's memory
    if row < rows:
        raise ValueError(f"the strips hold {row + filled} rows, the block has {rows}")


# ------------------------------------------------------------------------------- the compressors


@dataclass(frozen=True, slots=True)
class _Encoded:
    """A slice as deflate data, which starts and ends on a byte and refers only to itself."""

    pieces: Sequence[bytes]
    adler: Adler  # of the uncompressed lines of the sheet, filter bytes included
    rows: int


def _encoder(row_bytes: int, sheet_row_bytes: int) -> Callable[[NDArray[np.uint8]], _Encoded]:
    """What turns a slice of lines of the block into the deflate data of the sheet's lines."""
    if row_bytes == sheet_row_bytes:
        return _PlainEncoder(row_bytes).encode
    if row_bytes <= WINDOW:
        return _MatchEncoder(row_bytes, sheet_row_bytes).encode
    return _CopyEncoder(row_bytes, sheet_row_bytes).encode


def _map_ahead(
    encode: Callable[[NDArray[np.uint8]], _Encoded], slices: Iterable[NDArray[np.uint8]]
) -> Iterator[_Encoded]:
    """``map(encode, slices)`` in a few threads: zlib and numpy let go of the interpreter lock.

    The caller's drawing of the next strip overlaps too. At most WORKERS + 1 slices are held.
    """
    with ThreadPoolExecutor(WORKERS) as threads:
        waiting: deque[Future[_Encoded]] = deque()
        for lines in slices:
            waiting.append(threads.submit(encode, lines))
            if len(waiting) > WORKERS:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


class _Deflater:
    """A raw deflate compressor whose every output may stand, and be repeated, on its own."""

    def __init__(self) -> None:
        # Up-filtered rows of drawn art are runs of zeros between short edges, for which looking
        # for runs alone is enough: measured on the demo drawings 1.9 times as fast as level 6
        # for files 2 % larger (11 % on discs with gradients, twice on nothing but a gradient).
        self._deflate = zlib.compressobj(6, zlib.DEFLATED, -15, 9, zlib.Z_RLE)

    def __call__(self, data: NDArray[np.uint8]) -> bytes:
        # A full flush ends on a byte, and no later match reaches back over it.
        return self._deflate.compress(data.data) + self._deflate.flush(zlib.Z_FULL_FLUSH)


class _PlainEncoder:
    """Rows without a horizontal repeat: deflate as it comes."""

    def __init__(self, row_bytes: int) -> None:
        self._line = slice(PAD - 1, PAD + row_bytes)

    def encode(self, lines: NDArray[np.uint8]) -> _Encoded:
        data = np.ascontiguousarray(lines[:, self._line])
        return _Encoded([_Deflater()(data)], Adler.of(data.data), len(lines))


class _MatchEncoder:
    """Rows whose block row fits deflate's window: repeats are matches one block row back.

    Every line is two or three deflate blocks: the filter byte and the block row by zlib, flushed
    so that it refers to nothing before it; then a dynamic-Huffman block of 258-byte matches; then
    a fixed-Huffman block for what is left, and an empty stored block to end on a byte.

    A match one block row back costs 14 bits or so, most of them distance, but in flat art most
    filtered bytes are 0, and a match one *byte* back costs 2 bits. So the block has exactly two
    distance codes, and every 258 bytes that are zero (and follow a zero) take the short one.
    """

    def __init__(self, row_bytes: int, sheet_row_bytes: int) -> None:
        self._row = slice(PAD, PAD + row_bytes)
        self._line = slice(PAD - 1, PAD + row_bytes)
        self._whole, part = divmod(sheet_row_bytes, row_bytes)
        self._part = slice(PAD, PAD + part)

        matches, rest = divmod(sheet_row_bytes - row_bytes, MATCH_MAX)
        lengths = [rest] if rest else []
        if 0 < rest < MATCH_MIN:  # too short for a match: shorten the last long match instead
            matches -= 1
            lengths = [MATCH_MAX + rest - MATCH_MIN, MATCH_MIN]

        code, extra_bits, extra = _distance_code(row_bytes)
        self._head = _two_distances_header(code) if matches else _Bits()
        # Text of binary digits, last bit of the stream first, for int(..., 2). The 1-bit codes
        # are those of _two_distances_header: length 258 is 1, distance 1 is 0, row_bytes is 1.
        self._one_byte_back = b"01"
        self._one_row_back = f"{extra:0{extra_bits}b}11".encode() if extra_bits else b"11"
        end = _huffman(0, 1) if matches else _Bits()  # end-of-block in the same codes
        if lengths:
            end += _field(0, 1) + _field(1, 2)  # BFINAL 0, BTYPE 01: fixed Huffman codes
            for length in lengths:
                end += _fixed_match(length, row_bytes)
            end += _huffman(END_OF_BLOCK - 256, 7)
        self._tail = end + _field(0, 3)  # BFINAL 0, BTYPE 00: stored

        # Byte p of the sheet's row is byte p mod row_bytes of the block's. Match k stands for
        # 258 bytes from `first` on; with the byte before, they are zero if the words are that
        # cover first - 1 to first + 257: counted by a sum over whole periods and a running sum.
        first = row_bytes + MATCH_MAX * np.arange(matches, dtype=np.int64)
        from_period, from_byte = np.divmod(first - 1, row_bytes)
        to_period, to_byte = np.divmod(first + MATCH_MAX, row_bytes)
        self._periods = to_period - from_period
        self._from_word = from_byte // WORD
        self._to_word = -(-to_byte // WORD)

    def encode(self, lines: NDArray[np.uint8]) -> _Encoded:
        deflate = _Deflater()
        pieces: list[bytes] = []
        adler = Adler()
        words = lines.view(np.uint64)[:, PAD // WORD :]
        running = np.zeros((len(words), words.shape[1] + 1), np.int64)
        np.cumsum(words != 0, axis=1, out=running[:, 1:])
        for line, counts in zip(lines, running, strict=True):
            pieces += (deflate(line[self._line]), self._repeats(counts), STORED_EMPTY)
            adler += Adler.of(line[PAD - 1 : PAD].data)
            adler += Adler.of(line[self._row].data) * self._whole
            adler += Adler.of(line[self._part].data)
        return _Encoded(pieces, adler, len(lines))

    def _repeats(self, counts: NDArray[np.int64]) -> bytes:
        """The row's blocks of matches; `counts[i]` of the block row's first i words are not 0."""
        within = counts[self._to_word] - counts[self._from_word]
        nonzero = within + self._periods * counts[-1] != 0
        digits = nonzero[::-1].tobytes()
        digits = digits.replace(b"\0", self._one_byte_back).replace(b"\1", self._one_row_back)
        matches = _Bits(int(digits, 2), len(digits)) if digits else _Bits()
        return (self._head + matches + self._tail).to_bytes()


class _CopyEncoder:
    """Rows whose block row exceeds deflate's window: the compressed block row itself repeats."""

    def __init__(self, row_bytes: int, sheet_row_bytes: int) -> None:
        self._whole, part = divmod(sheet_row_bytes, row_bytes)
        self._row = slice(PAD, PAD + row_bytes)
        self._part = slice(PAD, PAD + part)

    def encode(self, lines: NDArray[np.uint8]) -> _Encoded:
        deflate = _Deflater()
        pieces: list[bytes] = []
        adler = Adler()
        for line in lines:
            filter_type, row, part = line[PAD - 1 : PAD], line[self._row], line[self._part]
            pieces += (_stored(filter_type.tobytes()), *[deflate(row)] * self._whole)
            if part.size:
                pieces.append(deflate(part))
            adler += Adler.of(filter_type.data)
            adler += Adler.of(row.data) * self._whole + Adler.of(part.data)
        return _Encoded(pieces, adler, len(lines))


# ------------------------------------------------------------------- deflate data, bit by bit


@dataclass(frozen=True, slots=True)
class _Bits:
    """A run of `count` bits; the stream's first bit is `value`'s lowest (RFC 1951, 3.1.1)."""

    value: int = 0
    count: int = 0

    def __add__(self, then: _Bits) -> _Bits:
        return _Bits(self.value | then.value << self.count, self.count + then.count)

    def to_bytes(self) -> bytes:
        """The bytes, the last one filled up with zero bits."""
        return self.value.to_bytes(-(-self.count // 8), "little")


def _field(value: int, count: int) -> _Bits:
    """A data element other than a Huffman code: lowest bit first (RFC 1951, 3.1.1)."""
    return _Bits(value, count)


def _huffman(code: int, count: int) -> _Bits:
    """A Huffman code: highest bit first (RFC 1951, 3.1.1)."""
    return _Bits(int(f"{code:0{count}b}"[::-1], 2), count)


def _length_code(length: int) -> tuple[int, int, int]:
    """Code, number of extra bits and their value for a match length (RFC 1951, 3.2.5)."""
    if length == MATCH_MAX:
        return LENGTH_258, 0, 0
    # Four codes for each number of extra bits, but eight codes have none.
    above = length - MATCH_MIN
    bits = max(0, above.bit_length() - 3)
    return 257 + 4 * bits + (above >> bits), bits, above & ((1 << bits) - 1)


def _distance_code(distance: int) -> tuple[int, int, int]:
    """Code, number of extra bits and their value for a match distance (RFC 1951, 3.2.5)."""
    # Two codes for each number of extra bits, but four codes have none.
    above = distance - 1
    bits = max(0, above.bit_length() - 2)
    return 2 * bits + (above >> bits), bits, above & ((1 << bits) - 1)


def _fixed_match(length: int, distance: int) -> _Bits:
    """A match in the fixed Huffman codes (RFC 1951, 3.2.6)."""
    code, bits, extra = _length_code(length)
    # 256 to 279 have seven bits, from 0000000 on; 280 to 287 have eight, from 11000000 on.
    match = _huffman(code - 256, 7) if code < 280 else _huffman(0b11000000 + code - 280, 8)
    match += _field(extra, bits)
    code, bits, extra = _distance_code(distance)
    return match + _huffman(code, 5) + _field(extra, bits)


def _two_distances_header(distance_code: int) -> _Bits:
    """Open a dynamic-Huffman block (RFC 1951, 3.2.7) whose codes are all one bit long.

    End-of-block is 0 and length 258 is 1; distance 1 is 0 and `distance_code` (2 or more) is 1.
    """
    # Lengths for the code length alphabet, in the order 16 17 18 0 8 7 9 6 10 5 11 4 12 3 13 2
    # 14 1: the four symbols used below have two bits, so their codes count up with the symbol.
    order = (16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1)
    codes = {0: 0b00, 1: 0b01, 17: 0b10, 18: 0b11}

    def zeros(run: int) -> _Bits:
        if run >= 11:
            return _huffman(codes[18], 2) + _field(run - 11, 7)
        if run >= 3:
            return _huffman(codes[17], 2) + _field(run - 3, 3)
        return _Bits(0, 2 * run)

    one = _huffman(codes[1], 2)
    header = _field(0, 1) + _field(2, 2)  # BFINAL 0, BTYPE 10
    header += _field(LENGTH_258 + 1 - 257, 5)  # HLIT
    header += _field(distance_code + 1 - 1, 5)  # HDIST
    header += _field(len(order) - 4, 4)  # HCLEN
    for symbol in order:
        header += _field(2 if symbol in codes else 0, 3)
    # Literal/length code lengths: 256 literals at 0, end-of-block 1, 257 to 284 at 0, 285 at 1.
    header += zeros(138) + zeros(END_OF_BLOCK - 138) + one
    header += zeros(LENGTH_258 - END_OF_BLOCK - 1) + one
    # Distance code lengths: code 0 (distance 1) and `distance_code`.
    return header + one + zeros(distance_code - 1) + one


def _stored(data: bytes) -> bytes:
    """A stored block (RFC 1951, 3.2.4), which starts and ends on a byte."""
    return struct.pack("<BHH", 0, len(data), len(data) ^ 0xFFFF) + data


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


class _Bands:
    """Writes the first band in IDAT chunks as it comes, then every other band from a copy.

    Parameters
    ----------
    out
        Where the chunks go.
    bands, rows, last_rows
        The image is `bands` times `rows` rows and then the first `last_rows` rows.
    progress
        See `write_periodic`.
    """

    def __init__(
        self,
        out: BinaryIO,
        bands: int,
        rows: int,
        last_rows: int,
        progress: Callable[[int], None] | None,
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
