"""The periodic PNG writer, held against two decoders, zlib and the plainly tiled image."""

from __future__ import annotations

import io
import itertools
import struct
import time
import tracemalloc
import zlib
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Literal
from unittest import mock

import numpy as np
import png as pypng
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

from vecrepeat.write import deflate, png, png_rows
from vecrepeat.write.deflate import Adler
from vecrepeat.write.png import PngHeader, write_periodic

Pixels = NDArray[np.uint8]


def written(
    block: Pixels,
    width: int,
    height: int,
    *,
    strip: int = 7,
    dpi: Fraction | int = 300,
    shifts: tuple[int, ...] = (0,),
) -> bytes:
    """The PNG of `block`, handed over in strips of `strip` rows, laid over width x height."""
    rows, columns, channels = block.shape
    shown = shifts[: -(-width // columns)]
    used = block[: rows if any(shown) else height, :width]
    strips = (used[y : y + strip] for y in range(0, len(used), strip))
    header = PngHeader(width, height, channels, dpi)
    out = io.BytesIO()
    write_periodic(out, header, (columns, rows), strips, shifts=shifts)
    return out.getvalue()


def tiled(block: Pixels, width: int, height: int, shifts: tuple[int, ...] = (0,)) -> Pixels:
    """Pixel (X, Y) is block[(Y - shifts[X // pw mod n]) mod ph][X mod pw]."""
    x, y = np.arange(width), np.arange(height)[:, None]
    lower = np.array(shifts)[x // block.shape[1] % len(shifts)]
    found: Pixels = block[(y - lower) % len(block), x % block.shape[1]]
    return found


def chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    """Types and contents of a PNG's chunks, every CRC checked (PNG 5.3)."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    found = []
    at = 8
    while at < len(data):
        (length,) = struct.unpack_from(">I", data, at)
        body = data[at + 4 : at + 8 + length]
        assert struct.unpack_from(">I", data, at + 8 + length) == (zlib.crc32(body),)
        found.append((body[:4], body[4:]))
        at += length + 12
    return found


def image_data(data: bytes) -> bytes:
    """The zlib stream."""
    return b"".join(body for kind, body in chunks(data) if kind == b"IDAT")


def by_pillow(data: bytes) -> Pixels:
    with Image.open(io.BytesIO(data)) as image:
        return np.asarray(image).reshape(image.height, image.width, len(image.getbands()))


def by_pypng(data: bytes) -> Pixels:
    width, height, rows, info = pypng.Reader(bytes=data).read()
    return np.array([np.asarray(row) for row in rows], np.uint8).reshape(
        height, width, info["planes"]
    )


def painted(kind: str, rows: int, columns: int, channels: int, seed: int = 0) -> Pixels:
    """A block of one kind of content."""
    random = np.random.default_rng(seed)
    shape = (rows, columns, channels)
    if kind == "noise":
        return random.integers(0, 256, shape, np.uint8)
    if kind == "black":
        return np.zeros(shape, np.uint8)
    block = np.full(shape, random.integers(0, 256, channels), np.uint8)
    if kind == "ramp":
        block += np.arange(rows, dtype=np.uint8)[:, None, None]
    if kind == "specks":
        for _ in range(3):
            block[random.integers(rows), random.integers(columns)] += 1
    return block


KINDS = ["noise", "flat", "black", "ramp", "specks"]


@dataclass
class Case:
    """A block, a sheet, and how the work is cut up."""

    block: Pixels = field(repr=False)
    shape: tuple[int, ...]
    kind: str
    width: int
    height: int
    strip: int
    patched: dict[str, int]
    shifts: tuple[int, ...]


@st.composite
def cases(draw: st.DrawFn) -> Case:
    channels = draw(st.sampled_from([1, 2, 3, 4]))
    # Around one and several pixels, one match, and deflate's window.
    near = sorted({n // channels + d for n in (1, 258, 516, 32768) for d in (0, 1, 2)} - {0})
    columns = draw(st.one_of(st.sampled_from(near), st.integers(1, 300)))
    rows = draw(st.integers(1, 4 if columns > 1000 else 20))
    times, rest = draw(st.integers(0, 3)), draw(st.integers(-3, 130))
    width = max(1, columns * times + rest)
    height = draw(st.integers(1, rows * 4))
    kind = draw(st.sampled_from(KINDS))
    block = painted(kind, rows, columns, channels, draw(st.integers(0, 99)))
    patched = {
        "CHUNK_BYTES": draw(st.sampled_from([1, 50, 1000, 1 << 20])),
        "SLICE_BYTES": draw(st.sampled_from([1, 2000, 1 << 19])),
        "SPOOL_BYTES": draw(st.sampled_from([100, 1 << 20])),
    }
    strip = draw(st.integers(1, rows))
    shifts = (0, *draw(st.lists(st.integers(0, rows), max_size=3)))
    return Case(block, block.shape, kind, width, height, strip, patched, shifts)


@given(cases())
@settings(max_examples=250, deadline=None)
def test_two_decoders_read_the_tiled_image(case: Case) -> None:
    with ExitStack() as stack:
        for name, value in case.patched.items():
            stack.enter_context(mock.patch.object(png, name, value))
        data = written(case.block, case.width, case.height, strip=case.strip, shifts=case.shifts)
    expected = tiled(case.block, case.width, case.height, case.shifts)
    np.testing.assert_array_equal(by_pillow(data), expected)
    np.testing.assert_array_equal(by_pypng(data), expected)


# Each case: what it shows, the block's (rows, columns, channels), the sheet's (width, height).
SHEETS = [
    ("one period, as a tile is exported", (9, 40, 3), (40, 9)),
    ("a sheet smaller than its block", (9, 40, 3), (30, 5)),
    ("one pixel", (1, 1, 3), (1, 1)),
    ("a period of one pixel", (1, 1, 3), (500, 4)),
    ("a period of one byte, too near for a match", (1, 1, 1), (500, 4)),
    ("a period of two bytes, too near for a match", (2, 1, 2), (500, 4)),
    ("a remainder of one byte, too short for a match", (4, 40, 1), (41, 6)),
    ("a remainder of two bytes, too short for a match", (4, 40, 2), (41, 6)),
    ("one period and a part of the next", (9, 40, 3), (40, 14)),
    ("only vertical repeats", (9, 40, 4), (40, 31)),
    ("only horizontal repeats", (9, 40, 4), (135, 9)),
    ("a remainder of one pixel", (4, 40, 3), (41, 6)),
    ("a remainder of 258 bytes, one longest match", (4, 100, 3), (186, 6)),
    ("a remainder of 260 bytes, 2 too few for a match", (4, 100, 4), (165, 6)),
    ("a remainder of 518 bytes, 2 too few after two", (4, 100, 4), (229, 6)),
    ("a block row of 32768 bytes, the farthest match", (3, 8192, 4), (20000, 7)),
    ("a block row of 32772 bytes, past the window", (3, 8193, 4), (20000, 7)),
    ("whole repeats past the window", (3, 11000, 3), (22000, 7)),
]


@pytest.mark.parametrize("chunk_bytes", [100, 1 << 20], ids=["bands of chunks", "chunks of bands"])
@pytest.mark.parametrize("kind", ["noise", "specks"])
@pytest.mark.parametrize(("shape", "size"), [s[1:] for s in SHEETS], ids=[s[0] for s in SHEETS])
def test_the_zlib_stream_is_the_filtered_sheet(
    shape: tuple[int, int, int], size: tuple[int, int], kind: str, chunk_bytes: int
) -> None:
    block = painted(kind, *shape)
    sheet = tiled(block, *size).reshape(size[1], -1)
    lines = b"".join(
        # PNG 9.2: filter type 0 keeps the row, type 2 takes the row above off it.
        b"\0" + row.tobytes() if y % shape[0] == 0 else b"\2" + (row - sheet[y - 1]).tobytes()
        for y, row in enumerate(sheet)
    )
    # zlib raises an error itself if the Adler-32 at the end is not that of the lines.
    with mock.patch.object(png, "CHUNK_BYTES", chunk_bytes):
        assert zlib.decompress(image_data(written(block, *size))) == lines


@pytest.mark.parametrize(("columns", "fewest", "most"), [(8192, 1.0, 1.1), (8193, 3.0, 3.1)])
def test_repeats_cost_next_to_nothing_within_the_window_of_32768_bytes(
    columns: int, fewest: float, most: float
) -> None:
    block = painted("noise", 1, columns, 4)
    size = len(image_data(written(block, 3 * columns, 1)))
    assert fewest < size / block.nbytes < most


@pytest.mark.parametrize("width", [2 * 64, 5 * 64])
def test_the_rows_of_a_drop_are_compressed_once(width: int) -> None:
    sizes: list[int] = []

    class Counting(deflate.Deflater):
        def __call__(self, data: Pixels) -> bytes:
            sizes.append(data.nbytes)
            return super().__call__(data)

    with mock.patch.object(png_rows, "Deflater", Counting):
        written(painted("noise", 64, 64, 3), width, 640, shifts=(0, 32))
    # Every row under the one above, and the two of the first line by themselves.
    assert sizes == [64 * 3] * (64 + 2)


@pytest.mark.parametrize("channels", [1, 2, 3, 4])
def test_every_distance_code_is_understood(channels: int) -> None:
    # RFC 1951, 3.2.5: a new code begins at distances 2^n + 1 and 3 * 2^n + 1.
    starts = [first << bits for bits in range(15) for first in (2, 3)]
    for columns in sorted({n // channels + d for n in starts for d in (0, 1)} - {0}):
        if columns * channels <= 32768:
            block = painted("noise", 1, columns, channels)
            data = written(block, columns + 300, 1)
            np.testing.assert_array_equal(by_pillow(data), tiled(block, columns + 300, 1))


@pytest.mark.parametrize(
    ("length", "code"),
    [
        (3, (257, 0, 0)),
        (10, (264, 0, 0)),
        (11, (265, 1, 0)),
        (12, (265, 1, 1)),
        (18, (268, 1, 1)),
        (19, (269, 2, 0)),
        (130, (280, 4, 15)),
        (131, (281, 5, 0)),
        (257, (284, 5, 30)),
        (258, (285, 0, 0)),
    ],
)
def test_length_codes_are_those_of_rfc_1951_3_2_5(length: int, code: tuple[int, int, int]) -> None:
    assert deflate.length_code(length) == code


@pytest.mark.parametrize(
    ("distance", "code"),
    [
        (1, (0, 0, 0)),
        (4, (3, 0, 0)),
        (5, (4, 1, 0)),
        (6, (4, 1, 1)),
        (7, (5, 1, 0)),
        (12288, (26, 12, 4095)),
        (24577, (29, 13, 0)),
        (32768, (29, 13, 8191)),
    ],
)
def test_distance_codes_are_those_of_rfc_1951_3_2_5(
    distance: int, code: tuple[int, int, int]
) -> None:
    assert deflate.distance_code(distance) == code


def test_the_chunks_are_in_order_and_say_what_the_header_says() -> None:
    found = chunks(written(painted("noise", 8, 8, 4), 50, 20))
    kinds = [kind for kind, _ in found]
    # PNG 5.6: sRGB and pHYs come before the image data, IDAT chunks follow each other.
    assert [kind for kind, _ in itertools.groupby(kinds)] == [
        b"IHDR",
        b"sRGB",
        b"pHYs",
        b"IDAT",
        b"IEND",
    ]
    contents = dict(found)
    # PNG 11.2.1: size, 8 bits, colour type 6 (RGB and alpha), methods 0, not interlaced.
    assert contents[b"IHDR"] == struct.pack(">IIBBBBB", 50, 20, 8, 6, 0, 0, 0)
    assert contents[b"sRGB"] == b"\0"
    assert contents[b"IEND"] == b""


def test_three_channels_are_colour_type_2() -> None:
    assert dict(chunks(written(painted("noise", 8, 8, 3), 50, 20)))[b"IHDR"][9] == 2


@pytest.mark.parametrize(
    ("dpi", "per_metre"),
    [
        # PNG 11.3.4.3: dpi / 0.0254, rounded to the nearest: 11811.02, 5905.5, 2834.6.
        (300, 11811),
        (150, 5906),
        (72, 2835),
        # Exactly half a pixel per metre: 127/10000 of a pixel per inch, up.
        (Fraction(3 * 127, 10000), 2),
        (Fraction(1, 50), 1),
    ],
)
def test_phys_is_in_pixels_per_metre(dpi: Fraction | int, per_metre: int) -> None:
    body = dict(chunks(written(painted("flat", 1, 1, 3), 1, 1, dpi=dpi)))[b"pHYs"]
    assert body == struct.pack(">IIB", per_metre, per_metre, 1)


@given(st.binary(max_size=300), st.binary(max_size=300), st.integers(0, 300))
def test_adler_sums_join_and_repeat_like_the_bytes(x: bytes, y: bytes, times: int) -> None:
    sums = (Adler.of(x) + Adler.of(y)) * times + Adler.of(x)
    data = (x + y) * times + x
    assert sums.checksum == zlib.adler32(data)
    assert sums.length == len(data)


def test_adler_sums_stay_right_past_every_modulus() -> None:
    data = b"\xff" * 70000
    assert (Adler.of(data) * 1000).checksum == zlib.adler32(data * 1000)


@pytest.mark.parametrize("shifts", [(0,), (0, 32), (0, 21, 43)])
@pytest.mark.parametrize("size", [(64, 200), (150, 64), (150, 200)])
def test_the_file_does_not_depend_on_how_the_work_is_cut(
    size: tuple[int, int], shifts: tuple[int, ...]
) -> None:
    block = painted("noise", 64, 64, 3)
    expected = written(block, *size, strip=64, shifts=shifts)
    for strip, workers in [(1, 1), (5, 2), (63, 3)]:
        with mock.patch.object(png, "WORKERS", workers):
            assert written(block, *size, strip=strip, shifts=shifts) == expected


@pytest.mark.parametrize("order", ["C", "F"])
def test_strips_may_have_any_memory_layout_and_share_one_buffer(order: Literal["C", "F"]) -> None:
    block = painted("noise", 12, 30, 3)
    buffer = np.empty((3, 30, 3), np.uint8, order=order)

    def strips() -> Iterator[Pixels]:
        for y in range(0, 12, 3):
            buffer[:] = block[y : y + 3]
            yield buffer
            buffer[:] = 77

    out = io.BytesIO()
    write_periodic(out, PngHeader(70, 30, 3, 300), (30, 12), strips())
    np.testing.assert_array_equal(by_pillow(out.getvalue()), tiled(block, 70, 30))


class Counted:
    """Strips of a block which count the rows that were asked for."""

    def __init__(self, block: Pixels) -> None:
        self.block = block
        self.rows = 0

    def __iter__(self) -> Iterator[Pixels]:
        for y in range(0, len(self.block), 10):
            self.rows += len(self.block[y : y + 10])
            yield self.block[y : y + 10]


class Sink(io.BytesIO):
    """Keeps nothing and cannot seek."""

    def write(self, data: Any) -> int:
        return memoryview(data).nbytes

    def seek(self, *_: int) -> int:
        raise io.UnsupportedOperation


def test_a_sheet_100_times_as_long_draws_the_same_rows_and_adds_only_repeats() -> None:
    sizes = []
    for bands in (1, 2, 100):
        strips, out = Counted(painted("noise", 64, 64, 3)), io.BytesIO()
        write_periodic(out, PngHeader(500, 64 * bands, 3, 300), (64, 64), strips)
        assert strips.rows == 64
        sizes.append(len(image_data(out.getvalue())))
    assert sizes[2] - sizes[1] == 98 * (sizes[1] - sizes[0])


def test_a_cloth_roll_118701_rows_long_is_written_within_a_moment() -> None:
    width, height, out = 2000, 118_701, io.BytesIO()
    block = painted("specks", 64, 64, 3)
    start = time.process_time()
    write_periodic(out, PngHeader(width, height, 3, 300), (64, 64), [block])
    assert time.process_time() - start < 2
    inflate = zlib.decompressobj()
    length = 0
    data = image_data(out.getvalue())
    for at in range(0, len(data), 4096):
        length += len(inflate.decompress(data[at : at + 4096]))
    # `eof` is only reached if the Adler-32 is right; nothing may come after it.
    assert inflate.eof
    assert inflate.unused_data == b""
    assert length == height * (1 + width * 3)


@pytest.mark.parametrize("width", [4000, 9000], ids=["no horizontal repeat", "horizontal repeat"])
def test_memory_is_bounded_by_strips_and_compressed_bytes(width: int) -> None:
    strip = painted("specks", 40, 4000, 3)
    tracemalloc.start()
    try:
        header = PngHeader(width, 50_000, 3, 300)
        write_periodic(Sink(), header, (4000, 4000), itertools.repeat(strip, 100))
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert strip.nbytes * 100 == 48_000_000  # the block's pixels
    assert peak < 10_000_000


def test_flat_art_is_no_larger_than_1_3_times_what_zlib_makes_of_the_whole_sheet() -> None:
    y, x = np.mgrid[:1200, :1200]
    block = np.full((1200, 1200, 3), (243, 233, 216), np.uint8)
    for i in range(12):
        # Discs with an edge one pixel wide, every third one shaded.
        away = np.hypot(x - 100 * i - 40, y - 420 * (i % 3) - 190) - 150
        cover = np.clip(0.5 - away, 0, 1)[..., None]
        paint = np.array([30 * i % 256, 200 - 11 * i, 60], float) + (i % 3 == 0) * y[..., None] / 9
        block = (block * (1 - cover) + paint * cover).astype(np.uint8)
    data = image_data(written(block, 5400, 1200, strip=100))
    assert len(data) < 1.3 * len(zlib.compress(zlib.decompress(data), 6))


@pytest.mark.parametrize(
    ("shape", "size"),
    [
        ((10, 10, 3), (10, 10)),
        ((10, 10, 3), (35, 57)),
        ((10, 10, 3), (35, 4)),
        ((100, 100, 3), (500, 4321)),
        ((1, 1, 4), (1, 5000)),
    ],
)
@pytest.mark.parametrize("chunk_bytes", [1, 3000, 1 << 20])
def test_progress_adds_up_to_the_height(
    shape: tuple[int, int, int], size: tuple[int, int], chunk_bytes: int
) -> None:
    calls: list[int] = []
    block = painted("noise", *shape)[: size[1]]
    with mock.patch.object(png, "CHUNK_BYTES", chunk_bytes):
        write_periodic(
            Sink(), PngHeader(*size, shape[2], 300), shape[1::-1], [block], progress=calls.append
        )
    assert min(calls) > 0
    assert sum(calls) == size[1]


def test_progress_is_told_during_the_first_band_and_during_the_repeats() -> None:
    calls: list[int] = []
    block = painted("noise", 1000, 1000, 3)
    write_periodic(
        Sink(), PngHeader(2000, 3000, 3, 300), (1000, 1000), [block], progress=calls.append
    )
    done = list(itertools.accumulate(calls))
    assert sum(n < 1000 for n in done) >= 3
    assert sum(n > 1000 for n in done) >= 3


@pytest.mark.parametrize(
    ("width", "height", "channels", "dpi", "message"),
    [
        (0, 1, 3, 300, "image"),
        (1, 0, 3, 300, "image"),
        (-1, 1, 3, 300, "image"),
        (2**31, 1, 3, 300, "image"),
        (1, 2**31, 3, 300, "image"),
        (1, 1, 0, 300, "channels"),
        (1, 1, 5, 300, "channels"),
        (1, 1, 3, 0, "dpi"),
        (1, 1, 3, -300, "dpi"),
        (1, 1, 3, 2**31, "dpi"),
    ],
)
def test_a_header_outside_the_limits_of_png_is_refused(
    width: int, height: int, channels: int, dpi: int, message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        PngHeader(width, height, channels, dpi)


@pytest.mark.parametrize("period", [(0, 4), (4, 0), (-4, 4), (2**31, 4), (4, 2**31)])
def test_a_period_outside_the_limits_of_png_is_refused(period: tuple[int, int]) -> None:
    out = io.BytesIO()
    with pytest.raises(ValueError, match="period"):
        write_periodic(out, PngHeader(8, 8, 3, 300), period, [])
    assert out.getvalue() == b""


def zeros(*shape: int) -> Pixels:
    return np.zeros(shape, np.uint8)


@pytest.mark.parametrize(
    ("strips", "message"),
    [
        ([], "hold 0 rows"),
        ([zeros(3, 6, 3)], "hold 3 rows"),
        ([zeros(2, 6, 3), zeros(1, 6, 3)], "hold 3 rows"),
        ([zeros(5, 6, 3)], "more than the block's 4 rows"),
        ([zeros(4, 6, 3), zeros(1, 6, 3)], "more than the block's 4 rows"),
        ([zeros(4, 5, 3)], "must be uint8 of shape"),
        ([zeros(4, 6, 4)], "must be uint8 of shape"),
        ([zeros(4, 18)], "must be uint8 of shape"),
        ([zeros(4, 6, 3).astype(np.uint16)], "must be uint8 of shape"),
    ],
)
@pytest.mark.parametrize("size", [(6, 4), (20, 30)])
def test_strips_that_do_not_make_up_the_block_are_refused(
    strips: list[Pixels], message: str, size: tuple[int, int]
) -> None:
    with pytest.raises(ValueError, match=message):
        write_periodic(io.BytesIO(), PngHeader(*size, 3, 300), (6, 4), strips)


def test_a_failure_of_the_strips_reaches_the_caller() -> None:
    def strips() -> Iterator[Pixels]:
        yield zeros(2, 6, 3)
        raise RuntimeError("drawing failed")

    with pytest.raises(RuntimeError, match="drawing failed"):
        write_periodic(io.BytesIO(), PngHeader(20, 30, 3, 300), (6, 4), strips())
