"""TIFF sheets as other programs read them: the very pixels of the PNG, and honest tags.

Judges: Pillow (libtiff), tifffile, libvips. Tag numbers and values: TIFF Revision 6.0, §8, §14,
§16; ICC profile tag 34675: ICC.1 Annex B.4 (all from memory).
"""

from __future__ import annotations

import io
import re
import sys
import zlib
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import pyvips
import tifffile
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms
from support import Pixels, demo, read, vecrepeat

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import Size
from vecrepeat.write import tiff
from vecrepeat.write.exporting import Exporter
from vecrepeat.write.formats import Settings
from vecrepeat.write.icc import open_conversion

CMYK = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")
"""Of Debian's libgs-common."""

BODY = (
    '<rect width="100" height="100" fill="#f2ede0"/>'
    '<circle cx="4" cy="30" r="17" fill="#204060"/>'
    '<path d="M20 70 60 40 90 95z" fill="#c0502a" fill-opacity=".5"/>'
    '<circle cx="60" cy="99" r="12" fill="#3a7d44"/>'
)


def by_pillow(file: Path) -> Pixels:
    with Image.open(file) as image:
        return np.asarray(image)


def by_tifffile(file: Path) -> Pixels:
    pixels: Pixels = tifffile.imread(file)
    return pixels


def by_libvips(file: Path) -> Pixels:
    pixels: Pixels = pyvips.Image.new_from_file(str(file)).numpy()
    return pixels


READERS = {"pillow": by_pillow, "tifffile": by_tifffile, "libvips": by_libvips}

# (layout, dpi, sheet in mm or None for one tile, transparent)
CASES = [
    ("block", 30, (250, 330), False),
    ("half-drop", 30, (333, 290), False),
    ("drop:1/3", 25, (777, 256), True),
    ("brick:1/2", 41, (120, 900), False),
    ("block", 77, None, True),
    ("block", 25, (40, 30), False),
]


@pytest.fixture
def exporter(tmp_path: Path) -> Exporter:
    return Exporter(read(tmp_path, BODY).repeat())


@pytest.mark.parametrize("compression", ["deflate", "lzw"])
@pytest.mark.parametrize(("layout", "dpi", "size", "transparent"), CASES)
def test_three_readers_see_the_pixels_of_the_png(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    layout: str,
    dpi: int,
    size: tuple[int, int] | None,
    transparent: bool,
    compression: str,
) -> None:
    # Small strips, so that a block has several and the last one of a sheet is cut short.
    monkeypatch.setattr(tiff, "STRIP_BYTES", 9000)
    monkeypatch.setattr(tiff, "FREE_STRIP_BYTES", 3000)
    exporter = Exporter(read(tmp_path, BODY).repeat(layout))
    plan = exporter.plan(Fraction(dpi))
    sheet = exporter.sheet(plan, size=None if size is None else Size(*map(Fraction, size)))
    exporter.write(tmp_path / "a.png", sheet, transparent=transparent)
    settings = Settings(compression=compression)
    exporter.write(tmp_path / "a.tif", sheet, transparent=transparent, settings=settings)
    wanted = by_pillow(tmp_path / "a.png")
    assert len(np.unique(wanted.reshape(-1, wanted.shape[2]), axis=0)) > 4, "something is drawn"
    for name, reader in READERS.items():
        assert np.array_equal(reader(tmp_path / "a.tif"), wanted), name


def test_the_night_garden_is_the_same_in_both(tmp_path: Path) -> None:
    exporter = Exporter(demo("night-garden").repeat("half-drop"))
    sheet = exporter.sheet(exporter.plan(Fraction(50)), size=Size(Fraction(600), Fraction(500)))
    for suffix in ("png", "tif"):
        exporter.write(tmp_path / f"a.{suffix}", sheet)
    for reader in READERS.values():
        assert np.array_equal(reader(tmp_path / "a.tif"), by_pillow(tmp_path / "a.png"))


def test_tags_say_what_the_file_is(exporter: Exporter, tmp_path: Path) -> None:
    sheet = exporter.sheet(exporter.plan(Fraction(301, 2)))
    exporter.write(tmp_path / "a.tif", sheet, transparent=True)
    with tifffile.TiffFile(tmp_path / "a.tif") as file:
        assert not file.is_bigtiff
        tags = {tag.code: tag.value for tag in file.pages[0].tags}  # type: ignore[union-attr]
    assert tags[282] == tags[283] == (301, 2), "XResolution, YResolution: exact"
    assert tags[296] == 2, "ResolutionUnit: inch"
    assert tags[262] == 2, "PhotometricInterpretation: RGB"
    assert tags[258] == (8, 8, 8, 8), "BitsPerSample"
    assert tags[338] == (2,), "ExtraSamples: unassociated alpha"
    assert tags[317] == 2, "Predictor: horizontal differencing"
    assert tags[259] == 8, "Compression: deflate"


def test_the_profile_is_srgb(exporter: Exporter, tmp_path: Path) -> None:
    exporter.write(tmp_path / "a.tif", exporter.sheet(exporter.plan(Fraction(20))))
    with Image.open(tmp_path / "a.tif") as image:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
    assert profile.profile.profile_description == "sRGB built-in"


def test_the_same_job_is_the_same_bytes(exporter: Exporter, tmp_path: Path) -> None:
    sheet = exporter.sheet(exporter.plan(Fraction(50)))
    for name in ("a.tif", "b.tiff"):
        exporter.write(tmp_path / name, sheet)
    assert (tmp_path / "a.tif").read_bytes() == (tmp_path / "b.tiff").read_bytes()


def test_beyond_four_gigabytes_it_is_a_bigtiff(
    exporter: Exporter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # With the limit brought down, so that the test need not write four gigabytes.
    sheet = exporter.sheet(exporter.plan(Fraction(30)), size=Size(Fraction(400), Fraction(900)))
    exporter.write(tmp_path / "a.tif", sheet)
    monkeypatch.setattr(tiff, "CLASSIC_BYTES", 1000)
    done = exporter.write(tmp_path / "b.tif", sheet)
    assert done.facts["bigtiff"]
    assert any("BigTIFF" in note for note in done.notes)
    assert (tmp_path / "b.tif").read_bytes()[:4] == b"II+\0", "version 43"
    for reader in READERS.values():
        assert np.array_equal(reader(tmp_path / "b.tif"), by_pillow(tmp_path / "a.tif"))


@given(st.integers(1, 5000), st.integers(1, 9000), st.integers(1, 3_000_000))
def test_strips_fall_on_the_same_rows_of_every_block(
    period: int, height: int, row_bytes: int
) -> None:
    rows = tiff.strip_rows(period, height, row_bytes)
    assert 1 <= rows <= height
    assert rows == 1 or rows * row_bytes <= tiff.STRIP_BYTES
    if period < height:
        assert period % rows == 0


def test_each_different_strip_is_compressed_once(
    exporter: Exporter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = []

    def counted(data: memoryview, level: int) -> bytes:
        calls.append(data.nbytes)
        return real(data, level)

    real = zlib.compress
    monkeypatch.setattr(zlib, "compress", counted)
    plan = exporter.plan(Fraction(127, 5))  # 100 px a tile
    for periods in (2, 40):
        calls.clear()
        size = Size(Fraction(100), Fraction(100 * periods))
        exporter.write(tmp_path / "a.tif", exporter.sheet(plan, size=size))
        assert sum(calls) == 100 * 100 * 3, "one block's samples, however long the sheet"


def test_progress_comes_to_the_rows(exporter: Exporter, tmp_path: Path) -> None:
    steps: list[int] = []
    sheet = exporter.sheet(exporter.plan(Fraction(30)), size=Size(Fraction(70), Fraction(731)))
    exporter.write(tmp_path / "a.tif", sheet, progress=steps.append)
    assert sum(steps) == sheet.height


# --- in a printer's colours


@pytest.mark.parametrize("intent", ["perceptual", "relative", "saturation", "absolute"])
@pytest.mark.parametrize("black_point", [True, False])
def test_cmyk_is_littlecms_own_conversion_of_the_tile(
    tmp_path: Path, intent: str, black_point: bool
) -> None:
    exporter = Exporter(demo("night-garden").repeat())
    sheet = exporter.sheet(exporter.plan(Fraction(40)))
    exporter.write(tmp_path / "a.png", sheet)
    colour = open_conversion(CMYK, intent=intent, black_point=black_point)
    exporter.write(tmp_path / "a.tif", sheet, settings=Settings(colour=colour))
    numbers = ["perceptual", "relative", "saturation", "absolute"]  # ICC.1 §7.2.15: 0 to 3
    with Image.open(tmp_path / "a.png") as image:
        whole = ImageCms.profileToProfile(
            image,
            ImageCms.createProfile("sRGB"),
            str(CMYK),
            renderingIntent=ImageCms.Intent(numbers.index(intent)),
            outputMode="CMYK",
            flags=ImageCms.Flags.BLACKPOINTCOMPENSATION if black_point else ImageCms.Flags.NONE,
        )
    assert whole is not None
    wanted = np.asarray(whole)
    for name, reader in READERS.items():
        assert np.array_equal(reader(tmp_path / "a.tif"), wanted), name


def test_cmyk_tags(exporter: Exporter, tmp_path: Path) -> None:
    colour = open_conversion(CMYK)
    sheet = exporter.sheet(exporter.plan(Fraction(30)), size=Size(Fraction(300), Fraction(300)))
    done = exporter.write(tmp_path / "a.tif", sheet, settings=Settings(colour=colour))
    with tifffile.TiffFile(tmp_path / "a.tif") as file:
        tags = {tag.code: tag.value for tag in file.pages[0].tags}  # type: ignore[union-attr]
    assert tags[262] == 5, "PhotometricInterpretation: separated"
    assert tags[277] == 4, "SamplesPerPixel"
    assert tags[34675] == CMYK.read_bytes(), "the profile, whole"
    assert done.facts["profile"] == "Artifex CMYK SWOP Profile"


def test_grey_and_rgb_profiles(exporter: Exporter, tmp_path: Path) -> None:
    sheet = exporter.sheet(exporter.plan(Fraction(30)))
    exporter.write(tmp_path / "a.png", sheet)
    for name, mode in (("default_gray.icc", "L"), ("a98.icc", "RGB")):
        profile = CMYK.with_name(name)
        settings = Settings(colour=open_conversion(profile))
        exporter.write(tmp_path / "a.tif", sheet, settings=settings)
        with Image.open(tmp_path / "a.png") as image:
            wanted = ImageCms.profileToProfile(
                image,
                ImageCms.createProfile("sRGB"),
                str(profile),
                renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
                outputMode=mode,
                flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
            )
        assert np.array_equal(by_pillow(tmp_path / "a.tif"), np.asarray(wanted))


def test_alpha_goes_with_an_rgb_profile_but_not_with_cmyk(
    exporter: Exporter, tmp_path: Path
) -> None:
    sheet = exporter.sheet(exporter.plan(Fraction(30)))
    exporter.write(tmp_path / "a.png", sheet, transparent=True)
    settings = Settings(colour=open_conversion(CMYK.with_name("a98.icc")))
    exporter.write(tmp_path / "a.tif", sheet, transparent=True, settings=settings)
    one, other = (by_pillow(tmp_path / name)[..., 3] for name in ("a.png", "a.tif"))
    assert np.array_equal(one, other)
    settings = Settings(colour=open_conversion(CMYK))
    with pytest.raises(InputError, match="transparent file in CMYK"):
        exporter.write(tmp_path / "b.tif", sheet, transparent=True, settings=settings)
    assert not (tmp_path / "b.tif").exists()


def test_lzw_without_its_package_says_what_to_install(
    exporter: Exporter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "imagecodecs", None)
    sheet = exporter.sheet(exporter.plan(Fraction(30)))
    monkeypatch.delenv("VIRTUAL_ENV", raising=False)
    python = re.escape(sys.executable)
    before = sorted(tmp_path.iterdir())
    with pytest.raises(InputError, match=rf"imagecodecs.*{python}.* imagecodecs\)$"):
        exporter.write(tmp_path / "a.tif", sheet, settings=Settings(compression="lzw"))
    assert sorted(tmp_path.iterdir()) == before


def test_on_the_command_line(tmp_path: Path) -> None:
    read(tmp_path, BODY)
    run = vecrepeat(
        "export", tmp_path / "art.svg", "-o", tmp_path / "a.tif", "--dpi", "30",
        "--profile", CMYK, "--intent", "perceptual", "--compression", "lzw",
    )  # fmt: skip
    assert run.code == 0, run.err
    assert by_pillow(tmp_path / "a.tif").shape == (118, 118, 4)
