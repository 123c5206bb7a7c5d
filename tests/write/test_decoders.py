"""Exported PNG files, read by programs that we did not write, and walked chunk by chunk.

Judges: Pillow (libpng's reader) and pypng (pure Python); zlib for the checksums. The walk is as
strict as a conformance checker: order, counts, lengths, checksums, nothing after the end.
Source of each rule: Portable Network Graphics (PNG) Specification (Third Edition), W3C, called
"PNG" below; "RFC 1950" is ZLIB Compressed Data Format 3.3.
"""

from __future__ import annotations

import struct
import zlib
from fractions import Fraction as F  # noqa: N817
from functools import cache
from itertools import groupby
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import numpy as np
import png as pypng
import pytest
from PIL import Image
from support import Pixels, demo

from vecrepeat.core.units import Size, parse_size
from vecrepeat.draw.sheet import opaque, straight
from vecrepeat.repeat.model import Repeat
from vecrepeat.write.exporting import Exporter


class Case(NamedTuple):
    """One export of a demo drawing."""

    name: str
    drawing: str
    layout: str
    dpi: int
    sheet: str | None = None
    block: bool = False
    transparent: bool = False


CASES = [
    Case("tile", "night-garden", "block", 72),
    Case("tile without ground", "night-garden", "block", 72, transparent=True),
    Case("block", "brook", "half-drop", 25, block=True),
    Case("sheet", "night-garden", "half-drop", 40, sheet="25x17in"),
    Case("sheet of fractional shift", "brook", "drop:1/3", 25, sheet="130x170cm"),
    Case("sheet within a tile", "brook", "brick", 50, sheet="11x7in"),
    Case("sheet without ground", "brook", "half-drop", 20, sheet="130x170cm", transparent=True),
]
each_case = pytest.mark.parametrize("case", CASES, ids=lambda c: c.name)


@cache
def repeat(drawing: str, layout: str) -> Repeat:
    return demo(drawing).repeat(layout)


class Written(NamedTuple):
    """An exported file and the pixels it must hold."""

    data: bytes
    pixels: Pixels


@cache
def export(case: Case) -> Written:
    """The file of a case, and its straight block tiled plainly over the sheet."""
    exporter = Exporter(repeat(case.drawing, case.layout))
    plan = exporter.plan(F(case.dpi))
    size = None if case.sheet is None else parse_size(case.sheet, "sheet")
    sheet = exporter.sheet(plan, size=size, block=case.block)
    with TemporaryDirectory() as folder:
        file = Path(folder) / "out.png"
        exporter.write(file, sheet, transparent=case.transparent)
        data = file.read_bytes()
    convert = straight if case.transparent else opaque
    painter = exporter.painter(plan, ground=not case.transparent)
    block = np.concatenate([convert(strip) for strip in sheet.strips(painter)])
    rows, columns = np.arange(sheet.height), np.arange(sheet.width)
    return Written(data, block[rows % sheet.period[1]][:, columns % sheet.period[0]])


def by_pillow(file: Path) -> Pixels:
    with Image.open(file) as image:
        return np.asarray(image)


def by_pypng(file: Path) -> Pixels:
    width, height, rows, info = pypng.Reader(bytes=file.read_bytes()).read()
    flat = np.array([np.asarray(row) for row in rows], np.uint8)
    return flat.reshape(height, width, info["planes"])


def chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    """Types and contents of all chunks; signature, lengths and CRCs checked (PNG §5.2, §5.3)."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    found, at = [], 8
    while at < len(data):
        assert at + 12 <= len(data), "a chunk is cut off"
        (length,) = struct.unpack_from(">I", data, at)
        assert length <= 2**31 - 1
        assert at + 12 + length <= len(data), "a chunk is cut off"
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        assert struct.unpack_from(">I", data, at + 8 + length)[0] == zlib.crc32(kind + body)
        found.append((kind, body))
        at += 12 + length
    return found


def only(data: bytes, kind: bytes) -> bytes:
    """The contents of the one chunk of a type."""
    (body,) = (body for name, body in chunks(data) if name == kind)
    return body


@each_case
def test_two_decoders_read_what_was_painted(case: Case, tmp_path: Path) -> None:
    """Pillow and pypng agree with each other and with the painted block, tiled plainly."""
    data, pixels = export(case)
    file = tmp_path / "read.png"
    file.write_bytes(data)
    one, other = by_pillow(file), by_pypng(file)
    assert one.shape == other.shape == pixels.shape
    assert (one == other).all()
    assert (one == pixels).all()


@each_case
def test_chunks_stand_in_order(case: Case) -> None:
    """IHDR first, IDATs in a row, IEND last and empty, nothing behind it; each else once.

    Source: PNG §5.6, *Chunk ordering*: sRGB before PLTE and IDAT, pHYs before IDAT.
    """
    data, _ = export(case)
    kinds = [kind for kind, _ in chunks(data)]
    runs = [kind for kind, _ in groupby(kinds)]
    assert len(runs) == len(set(runs)), "a type stands in two places"
    assert all(kinds.count(kind) == 1 for kind in runs if kind != b"IDAT")
    assert runs[0] == b"IHDR"
    assert runs[-2:] == [b"IDAT", b"IEND"]
    assert set(runs[1:-2]) >= {b"sRGB", b"pHYs"}
    assert only(data, b"IEND") == b""
    # PNG §5.4: a reader may stop at a critical chunk it does not know; ours are all registered.
    assert {kind for kind in runs if kind[:1].isupper()} == {b"IHDR", b"IDAT", b"IEND"}
    # PNG §12.3 and §14: sRGB and iCCP exclude each other.
    assert b"iCCP" not in runs


@each_case
def test_the_header_says_what_the_rows_hold(case: Case) -> None:
    """Source: PNG §11.2.1: size, 8 bits, colour type 2 or 6, no interlace."""
    data, pixels = export(case)
    height, width, channels = pixels.shape
    header = struct.pack(">IIBBBBB", width, height, 8, {3: 2, 4: 6}[channels], 0, 0, 0)
    assert only(data, b"IHDR") == header
    assert channels == (4 if case.transparent else 3)


@each_case
def test_the_image_data_are_one_whole_zlib_stream(case: Case) -> None:
    """It ends where the IDATs end and holds one filter byte and one row per row, no more.

    Sources: PNG §10.1 (the IDATs' contents are one zlib stream), §9.2 (filter types);
    RFC 1950 §2.2 (header check and Adler-32, which zlib's inflate verifies at the end).
    """
    data, pixels = export(case)
    height, width, channels = pixels.shape
    stream = b"".join(body for kind, body in chunks(data) if kind == b"IDAT")
    # RFC 1950 §2.2: CM 8, a window of at most 32 KiB, a check of the first two bytes, no FDICT.
    assert stream[0] & 15 == 8
    assert stream[0] >> 4 <= 7
    assert int.from_bytes(stream[:2]) % 31 == 0
    assert not stream[1] & 32
    inflate = zlib.decompressobj()
    raw = inflate.decompress(stream) + inflate.flush()
    assert inflate.eof
    assert inflate.unused_data == b""
    assert len(raw) == height * (1 + width * channels)
    assert stream[-4:] == struct.pack(">I", zlib.adler32(raw))
    filters = set(raw[:: 1 + width * channels])
    assert max(filters) <= 4


@each_case
def test_the_colours_are_srgb(case: Case) -> None:
    """Source: PNG §11.3.2.5: one byte, the rendering intent, 0 to 3."""
    body = only(export(case).data, b"sRGB")
    assert len(body) == 1
    assert body[0] <= 3


@pytest.mark.parametrize(
    ("dpi", "per_metre"),
    # An inch is exactly 25.4 mm: dpi / 0.0254, rounded.
    [("72", 2835), ("150", 5906), ("300", 11811), ("360", 14173), ("0.5e3", 19685)],
    ids=str,
)
def test_print_resolution_is_stated_in_pixels_per_metre(
    dpi: str, per_metre: int, tmp_path: Path
) -> None:
    """300 dpi is 11,811 pixels per metre, both ways; readers get the dpi back from it.

    Source: PNG §11.3.4.3 (pHYs: x, y, unit 1 is the metre).
    """
    exporter = Exporter(repeat("night-garden", "block"))
    plan = exporter.plan(F(dpi), width=F(254, 20))
    file = tmp_path / "out.png"
    exporter.write(file, exporter.sheet(plan))
    body = only(file.read_bytes(), b"pHYs")
    assert body == struct.pack(">IIB", per_metre, per_metre, 1)
    with Image.open(file) as image:
        assert image.info["dpi"] == pytest.approx((float(F(dpi)),) * 2, abs=0.02)
        assert image.info["srgb"] == 0


@pytest.mark.parametrize(
    ("size", "dpi", "pixels"),
    [
        # common practice, no source: 10 × 10 in at 300 dpi is 3,000 × 3,000 px.
        ("10x10in", 300, (3000, 3000)),
        # common practice, no source: cloth 54 in wide, a yard long, at 150 dpi.
        ("54x36in", 150, (8100, 5400)),
        # 53 cm and 10.05 m at 300 dpi, rounded half up.
        ("53cmx10.05m", 300, (6260, 118701)),
    ],
    ids=["tile", "yard", "roll"],
)
def test_a_sheet_is_as_many_pixels_as_it_should(
    size: str, dpi: int, pixels: tuple[int, int]
) -> None:
    exporter = Exporter(repeat("night-garden", "block"))
    sheet = exporter.sheet(exporter.plan(F(dpi)), size=parse_size(size, "sheet"))
    assert (sheet.width, sheet.height) == pixels


def test_a_ten_inch_tile_at_300_dpi_decodes_to_3000_pixels(tmp_path: Path) -> None:
    """common practice, no source."""
    exporter = Exporter(repeat("night-garden", "block"))
    plan = exporter.plan(F(300))
    assert exporter.repeat.width == exporter.repeat.height == F(254)
    exporter.write(tmp_path / "tile.png", exporter.sheet(plan))
    with Image.open(tmp_path / "tile.png") as image:
        assert image.size == (3000, 3000)
        image.load()


def test_a_roll_longer_than_any_canvas_decodes(tmp_path: Path) -> None:
    """A roll of 33,000 rows, more than cairo can hold, has every row where it belongs."""
    exporter = Exporter(repeat("brook", "half-drop"))
    plan = exporter.plan(F(10))
    size = Size(F(53), F(33_000) * F(254, 100))
    file = tmp_path / "roll.png"
    done = exporter.write(file, exporter.sheet(plan, size=size))
    assert done.height == 33_000
    pixels = by_pillow(file)
    rows = plan.height
    whole = len(pixels) // rows * rows
    bands = pixels[:whole].reshape(-1, rows, *pixels.shape[1:])
    assert (bands == bands[0]).all()
    assert (pixels[whole:] == bands[0][: len(pixels) - whole]).all()
