"""Raster tiles: what is read of files, nudges and their vectors, and the guesses."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from vecrepeat.check.checking import check_picture
from vecrepeat.check.edges import follow
from vecrepeat.check.pixels import PixelTile, best_layout, levels, period_of, read_tile
from vecrepeat.check.rasterjoins import check_raster_joins
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.layout import Layout

SIDE = 480


def drawn(off: tuple[int, int] = (0, 0), shift: int = 0) -> NDArray[np.uint8]:
    """Discs and diamonds on and off the joins, drawn at four times the size and reduced.

    Those that come in at the left lie ``off`` px beside; each next column is ``shift`` lower.
    """
    image = Image.new("RGB", (SIDE * 4, SIDE * 4), "#f2ead8")
    pen = ImageDraw.Draw(image)
    shapes = [
        (0, 70, 40),
        (6, 210, 30),
        (-8, 330, 44),
        (240, 2, 38),
        (120, 150, 30),
        (330, 400, 33),
    ]
    for k, (x, y, r) in enumerate(shapes):
        for i in (-1, 0, 1):
            for j in (-2, -1, 0, 1, 2):
                cx, cy = x + i * SIDE, y + j * SIDE + i * shift
                if cx < SIDE / 4 and abs(x) < 20:
                    cx, cy = cx + off[0], cy + off[1]
                box = [4 * (cx - r), 4 * (cy - r), 4 * (cx + r), 4 * (cy + r)]
                pen.ellipse(box, fill=("#7a1f3d", "#1f4e7a", "#2d6a3f")[k % 3])
                s = r * 0.6
                corners = [(cx - s, cy), (cx, cy - s), (cx + s, cy), (cx, cy + s)]
                pen.polygon([(4 * a, 4 * b) for a, b in corners], fill="#e0b040")
    return np.asarray(image.resize((SIDE, SIDE), Image.Resampling.BOX))


def saved(folder: Path, pixels: NDArray[np.uint8], name: str = "tile.png", **how: object) -> Path:
    Image.fromarray(pixels).save(folder / name, **how)  # type: ignore[arg-type]
    return folder / name


def kinds(file: Path, layout: str = "block") -> list[str]:
    report = check_picture(file, layout=Layout.parse(layout), only=("joins",))
    return [f.kind for f in report.findings]


@pytest.mark.parametrize("name", ["tile.png", "tile.tif", "tile.jpg"])
def test_seamless_tile_is_clean_in_each_format(tmp_path: Path, name: str) -> None:
    how = {"quality": 95} if name.endswith("jpg") else {}
    assert kinds(saved(tmp_path, drawn(), name, **how)) == []


@pytest.mark.parametrize("off", [(0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (0, 3)])
def test_nudge_is_told_with_its_vector(tmp_path: Path, off: tuple[int, int]) -> None:
    report = check_picture(saved(tmp_path, drawn(off)), layout=Layout(), only=("joins",))
    assert [f.vector_px for f in report.findings] == [off]


def test_row_of_ground_is_a_line(tmp_path: Path) -> None:
    pixels = drawn().copy()
    pixels[0] = (242, 234, 216)
    assert kinds(saved(tmp_path, pixels)) == ["line"]


def test_transparent_column_is_a_fringe(tmp_path: Path) -> None:
    clear = np.dstack([drawn(), np.full((SIDE, SIDE), 255, np.uint8)])
    clear[:, -1, 3] = 90
    assert "alpha fringe" in kinds(saved(tmp_path, clear))


def test_half_drop_is_clean_as_such_and_wrong_as_a_block(tmp_path: Path) -> None:
    file = saved(tmp_path, drawn(shift=SIDE // 2))
    assert kinds(file, "half-drop") == []
    assert kinds(file) == ["wrong layout"]


def test_layout_is_guessed_where_none_is_stated(tmp_path: Path) -> None:
    for shift, expected in ((0, "block"), (SIDE // 2, "half-drop"), (SIDE // 3, "drop:1/3")):
        grey = levels(read_tile(saved(tmp_path, drawn(shift=shift))))
        assert str(best_layout(grey, np.ascontiguousarray(grey.T))) == expected


def test_period_of_a_sheet_of_tiles() -> None:
    tile = drawn()[:, :, 0].astype(np.float32)
    assert period_of(np.tile(tile, (2, 3))) == (SIDE, SIDE)
    assert period_of(tile) is None


def test_resolution_of_the_file_gives_the_size(tmp_path: Path) -> None:
    file = saved(tmp_path, drawn(), dpi=(240, 240))
    report = check_picture(file, layout=Layout(), only=("print",))
    # 480 px at 240 dpi are 2 in.
    assert float(report.size.width) == pytest.approx(50.8, rel=1e-4)


def test_print_width_sets_the_resolution(tmp_path: Path) -> None:
    file = saved(tmp_path, drawn())
    report = check_picture(file, layout=Layout(), only=("print",), width=Fraction(254))
    # 480 px over 10 in are 48 dpi, below the profile's 100.
    assert [f.kind for f in report.findings] == ["coarse picture"]
    assert report.findings[0].value == pytest.approx(48)


def test_stripe_on_the_join_that_is_usual_elsewhere_is_no_fault() -> None:
    stripes = np.full((240, 240, 3), 230, np.uint8)
    stripes[:, ::12] = (60, 70, 90)
    answer, _ = check_raster_joins(PixelTile(stripes, None, None), Layout(), 0.1)
    assert answer.findings == ()


def test_edge_of_a_stripe_just_on_the_join_is_no_break() -> None:
    stripes = np.full((240, 240, 3), 230, np.uint8)
    stripes[:, :50] = stripes[:, 120:150] = (60, 70, 90)
    answer, _ = check_raster_joins(PixelTile(stripes, None, None), Layout(), 0.1)
    assert answer.findings == ()


def test_edges_jump_by_what_arithmetic_says() -> None:
    # Bands that fall by one in two, and half a level either side of each edge as box filters
    # leave it; the right side lies two pixels lower.
    rows, columns = np.meshgrid(np.arange(480), np.arange(-2, 2), indexing="ij")
    down = (columns >= 0) * 2.0
    wave = (rows - down - 0.5 * columns) % 60
    strip = (np.clip(wave - 10, 0, 1) - np.clip(wave - 40, 0, 1)).astype(np.float32) * 200
    edges = follow(strip[:, :2], strip[:, 2:], 0.0)
    assert len(edges.jump) >= 10
    assert edges.jump == pytest.approx(2, abs=0.1)
    assert edges.slope == pytest.approx(0.5, abs=0.1)


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("no.png", None, "no such file"),
        ("bad.png", b"not a picture", "no picture"),
        ("cut.png", "half", "damaged"),
        ("wrong.png", "checksum", "damaged: the checksum"),
    ],
)
def test_picture_that_can_not_be_read(
    tmp_path: Path, name: str, data: bytes | str | None, says: str
) -> None:
    file = tmp_path / name
    if data == "half":
        whole = saved(tmp_path, drawn(), name).read_bytes()
        file.write_bytes(whole[: len(whole) // 2])
    elif data == "checksum":
        # The last of the four bytes before the 12 of IEND: they are the pixels' CRC-32.
        wrong = bytearray(saved(tmp_path, drawn(), name).read_bytes())
        wrong[-13] ^= 1
        file.write_bytes(wrong)
    elif isinstance(data, bytes):
        file.write_bytes(data)
    with pytest.raises(InputError, match=says):
        read_tile(file)
