"""JPEG and WebP: close to the PNG, tagged, and no larger than allowed."""

from __future__ import annotations

import io
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms
from support import demo, read, vecrepeat

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import MM_PER_INCH, Size
from vecrepeat.sources.bitmap import read_bitmap
from vecrepeat.write import lossy
from vecrepeat.write.exporting import Exporter
from vecrepeat.write.formats import Cut, Settings


@pytest.fixture(scope="module")
def exporter() -> Exporter:
    return Exporter(demo("night-garden").repeat("half-drop"))


@pytest.fixture(scope="module")
def sheet(exporter: Exporter) -> Cut:
    return exporter.sheet(exporter.plan(Fraction(40)), size=Size(Fraction(400), Fraction(300)))


@pytest.mark.parametrize("suffix", ["jpg", "jpeg", "webp"])
def test_it_shows_what_the_png_shows(
    exporter: Exporter, sheet: Cut, tmp_path: Path, suffix: str
) -> None:
    exporter.write(tmp_path / "a.png", sheet)
    exporter.write(tmp_path / f"a.{suffix}", sheet, settings=Settings(quality=95))
    with Image.open(tmp_path / "a.png") as png, Image.open(tmp_path / f"a.{suffix}") as lossy_file:
        assert lossy_file.format == {"webp": "WEBP"}.get(suffix, "JPEG")
        one, other = (np.asarray(image.convert("RGB"), np.int16) for image in (png, lossy_file))
    assert one.shape == other.shape
    # Far above what packing loses, far below what a picture moved by a pixel would differ.
    assert np.abs(one - other).mean() < 5
    assert np.abs(one - np.roll(other, 1, axis=1)).mean() > 8


@pytest.mark.parametrize("suffix", ["jpg", "webp"])
def test_it_is_tagged_srgb_and_knows_its_size(
    exporter: Exporter, sheet: Cut, tmp_path: Path, suffix: str
) -> None:
    exporter.write(tmp_path / f"a.{suffix}", sheet)
    with Image.open(tmp_path / f"a.{suffix}") as image:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
        if suffix == "jpg":
            assert image.info["dpi"] == (40, 40)
        else:
            # Of a WebP, RFC 9649 §2.7.1.5: metadata are EXIF; tags as in TIFF 6.0 §8.
            assert [image.getexif()[tag] for tag in (282, 283, 296)] == [40, 40, 2]
    assert profile.profile.profile_description == "sRGB built-in"


@pytest.mark.parametrize("suffix", ["jpg", "webp", "tif"])
@pytest.mark.parametrize("dpi", [Fraction(221, 2), Fraction(100, 3)])
def test_a_dpi_that_is_no_whole_number_is_kept(
    exporter: Exporter, tmp_path: Path, suffix: str, dpi: Fraction
) -> None:
    # 110.5 dpi and a third of a hundred. JFIF (ITU-T T.871 §10.1) holds whole numbers only.
    side = 300 * MM_PER_INCH / dpi
    done = exporter.write(
        tmp_path / f"a.{suffix}", exporter.sheet(exporter.plan(dpi), size=Size(side, side))
    )
    with Image.open(tmp_path / f"a.{suffix}") as image:
        tags = image.getexif()
        assert [Fraction(tags[282]), Fraction(tags[283]), tags[296]] == [dpi, dpi, 2]
        assert image.info.get("jfif_unit", 0) == 0, "no other resolution beside it"
    told = [note for note in done.notes if "in its EXIF" in note]
    assert len(told) == (suffix == "jpg")
    own = read_bitmap(tmp_path / f"a.{suffix}").dpi
    assert own == pytest.approx((dpi, dpi), rel=1e-6)


@pytest.mark.parametrize("suffix", ["jpg", "webp"])
@pytest.mark.parametrize("near", [5, 62])
def test_the_best_quality_that_fits(
    exporter: Exporter, sheet: Cut, tmp_path: Path, suffix: str, near: int
) -> None:
    file = tmp_path / f"a.{suffix}"
    exporter.write(file, sheet, settings=Settings(quality=near))
    limit = file.stat().st_size + 20
    done = exporter.write(file, sheet, settings=Settings(max_bytes=limit))
    quality = done.facts["quality"]
    assert file.stat().st_size <= limit
    assert near <= quality < lossy.QUALITY, "the limit binds"
    (note,) = (note for note in done.notes if note.startswith("the best quality that fits"))
    assert f"that fits is {quality}" in note
    assert ("which shows" in note) == (quality < 50)
    exporter.write(file, sheet, settings=Settings(quality=quality + 1))
    assert file.stat().st_size > limit, "one step better does not fit"


def test_the_quality_asked_for_is_the_best_one_tried(
    exporter: Exporter, sheet: Cut, tmp_path: Path
) -> None:
    settings = Settings(quality=30, max_bytes=10_000_000)
    done = exporter.write(tmp_path / "a.jpg", sheet, settings=settings)
    assert done.facts["quality"] == 30
    assert not any("that fits" in note for note in done.notes), "it is what was asked for"


def test_a_limit_that_nothing_meets_leaves_no_file(
    exporter: Exporter, sheet: Cut, tmp_path: Path
) -> None:
    with pytest.raises(InputError, match="even at quality 1"):
        exporter.write(tmp_path / "a.jpg", sheet, settings=Settings(max_bytes=500))
    assert not list(tmp_path.iterdir())


def test_webp_keeps_alpha_and_jpeg_refuses_it(tmp_path: Path) -> None:
    exporter = Exporter(read(tmp_path, '<circle cx="50" cy="50" r="30" fill="#f00"/>').repeat())
    sheet = exporter.sheet(exporter.plan(Fraction(30)))
    exporter.write(tmp_path / "a.webp", sheet, transparent=True)
    with Image.open(tmp_path / "a.webp") as image:
        assert image.mode == "RGBA"
        assert image.getpixel((2, 2))[3] == 0  # type: ignore[index]
        assert image.getpixel((59, 59))[3] == 255  # type: ignore[index]
    with pytest.raises(InputError, match="no transparency"):
        exporter.write(tmp_path / "a.jpg", sheet, transparent=True)


@pytest.mark.parametrize(("suffix", "side"), [("webp", 16_383), ("jpg", 65_500)])
def test_a_side_beyond_the_format_is_refused(tmp_path: Path, suffix: str, side: int) -> None:
    exporter = Exporter(read(tmp_path, '<circle cx="50" cy="50" r="30"/>').repeat())
    plan = exporter.plan(Fraction(254, 10))  # a pixel is a millimetre
    size = Size(Fraction(1), Fraction(side + 1))
    with pytest.raises(InputError, match=f"a side may have {side:,}"):
        exporter.write(tmp_path / f"a.{suffix}", exporter.sheet(plan, size=size))
    size = Size(Fraction(1), Fraction(side))
    exporter.write(tmp_path / f"a.{suffix}", exporter.sheet(plan, size=size))
    with Image.open(tmp_path / f"a.{suffix}") as image:
        assert image.size == (1, side)


def test_on_the_command_line(tmp_path: Path) -> None:
    read(tmp_path, '<circle cx="50" cy="50" r="30"/>')
    out = tmp_path / "a.jpg"
    run = vecrepeat("export", tmp_path / "art.svg", "-o", out, "--dpi", "90", "--max-bytes", "4kB")
    assert run.code == 0, run.err
    assert 0 < out.stat().st_size <= 4000
