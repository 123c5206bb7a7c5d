"""PNG in the colours of a profile: the iCCP chunk, and the pixels of the TIFF.

Source: Portable Network Graphics (PNG) Specification (Third Edition), W3C, called "PNG": §11.3.2.3
(iCCP: a name of 1 to 79 bytes of Latin-1, null, method 0, the profile deflated; an RGB profile
for colour types 2 and 6, a grey one for 0 and 4), §5.6 (it excludes sRGB and comes before IDAT).
Judges: Pillow, tifffile, pypng, libvips; littleCMS's conversion of the whole tile.
The profiles are of Debian's libgs-common, and one that is made by Pillow's ImageCms.
"""

from __future__ import annotations

import io
import zlib
from fractions import Fraction as F  # noqa: N817
from pathlib import Path

import numpy as np
import png as pypng
import pytest
import pyvips
import tifffile
from PIL import Image, ImageCms
from support import Pixels, demo, read, vecrepeat

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import Size
from vecrepeat.write.exporting import Exporter
from vecrepeat.write.formats import Settings
from vecrepeat.write.icc import open_conversion
from vecrepeat.write.png import PngHeader

ICC = Path("/usr/share/color/icc/ghostscript")
# (profile, what it is, colour type with and without alpha: PNG §11.2.1)
PROFILES = [("a98.icc", "RGB", (2, 6)), ("rommrgb.icc", "RGB", (2, 6)), ("sgray.icc", "L", (0, 4))]
BODY = (
    '<rect width="100" height="100" fill="#f2ede0"/>'
    '<circle cx="4" cy="30" r="17" fill="#204060"/>'
    '<path d="M20 70 60 40 90 95z" fill="#c0502a" fill-opacity=".5"/>'
)


def chunks(data: bytes) -> dict[bytes, bytes]:
    """Contents by type; of several the last."""
    found, at = {}, 8
    while at < len(data):
        length = int.from_bytes(data[at : at + 4])
        found[data[at + 4 : at + 8]] = data[at + 8 : at + 8 + length]
        at += length + 12
    return found


def by_pillow(file: Path) -> Pixels:
    with Image.open(file) as image:
        return np.asarray(image)


@pytest.mark.parametrize(("name", "mode", "types"), PROFILES)
@pytest.mark.parametrize("transparent", [False, True])
def test_the_chunk_is_the_profile_itself(
    tmp_path: Path, name: str, mode: str, types: tuple[int, int], transparent: bool
) -> None:
    exporter = Exporter(read(tmp_path, BODY).repeat())
    colour = open_conversion(ICC / name)
    assert colour.mode == mode
    file = tmp_path / "a.png"
    cut = exporter.sheet(exporter.plan(F(30)))
    done = exporter.write(file, cut, transparent=transparent, settings=Settings(colour=colour))
    found = chunks(file.read_bytes())
    kinds = list(found)
    assert kinds.index(b"IHDR") < kinds.index(b"iCCP") < kinds.index(b"IDAT")
    assert not {b"sRGB", b"gAMA", b"cHRM"} & set(kinds)
    label, _, rest = found[b"iCCP"].partition(b"\0")
    assert label.decode("latin-1") == colour.name
    assert rest[0] == 0, "compression method: deflate"
    assert zlib.decompress(rest[1:]) == (ICC / name).read_bytes()
    assert found[b"IHDR"][9] == types[transparent]
    assert done.facts["profile"] == colour.name
    with Image.open(file) as image:
        assert image.info["icc_profile"] == (ICC / name).read_bytes(), "as Pillow finds it"


@pytest.mark.parametrize(("name", "mode", "types"), PROFILES)
@pytest.mark.parametrize("transparent", [False, True])
@pytest.mark.parametrize(
    ("layout", "size"), [("block", None), ("half-drop", (333, 290)), ("brick:1/2", (120, 900))]
)
def test_the_pixels_are_those_of_the_tiff(
    tmp_path: Path,
    name: str,
    mode: str,
    types: tuple[int, int],
    transparent: bool,
    layout: str,
    size: tuple[int, int] | None,
) -> None:
    exporter = Exporter(read(tmp_path, BODY).repeat(layout))
    mm = None if size is None else Size(*map(F, size))
    cut = exporter.sheet(exporter.plan(F(41)), size=mm)
    settings = Settings(colour=open_conversion(ICC / name))
    for suffix in ("png", "tif"):
        file = tmp_path / f"a.{suffix}"
        exporter.write(file, cut, transparent=transparent, settings=settings)
    wanted: Pixels = tifffile.imread(tmp_path / "a.tif")
    assert len(np.unique(wanted.reshape(-1, wanted.shape[-1]))) > 4, "something is drawn"
    assert np.array_equal(by_pillow(tmp_path / "a.png"), wanted)
    _, _, rows, info = pypng.Reader(bytes=(tmp_path / "a.png").read_bytes()).read()
    flat = np.array([np.asarray(row) for row in rows], np.uint8)
    assert info["planes"] == (1 if wanted.ndim == 2 else wanted.shape[2])
    assert np.array_equal(flat.reshape(wanted.shape), wanted)
    vips = pyvips.Image.new_from_file(str(tmp_path / "a.png")).numpy()
    assert np.array_equal(vips.reshape(wanted.shape), wanted)


def test_they_are_littlecms_own_conversion(tmp_path: Path) -> None:
    exporter = Exporter(demo("night-garden").repeat())
    cut = exporter.sheet(exporter.plan(F(40)))
    exporter.write(tmp_path / "srgb.png", cut)
    colour = open_conversion(ICC / "rommrgb.icc", intent="perceptual")
    exporter.write(tmp_path / "rom.png", cut, settings=Settings(colour=colour))
    with Image.open(tmp_path / "srgb.png") as image:
        whole = ImageCms.profileToProfile(
            image,
            ImageCms.createProfile("sRGB"),
            str(ICC / "rommrgb.icc"),
            renderingIntent=ImageCms.Intent.PERCEPTUAL,
            outputMode="RGB",
            flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
        )
    assert whole is not None
    assert np.array_equal(by_pillow(tmp_path / "rom.png"), np.asarray(whole))
    assert not np.array_equal(by_pillow(tmp_path / "rom.png"), by_pillow(tmp_path / "srgb.png"))


def test_a_profile_made_by_pillow_and_a_reader_that_manages_colour(tmp_path: Path) -> None:
    # From sRGB to sRGB nothing moves: littleCMS's own profile as the printer's.
    profile = tmp_path / "made.icc"
    profile.write_bytes(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    read(tmp_path, BODY)
    common = ("export", tmp_path / "art.svg", "--dpi", "40", "--sheet", "30x20cm", "-o")
    assert vecrepeat(*common, tmp_path / "a.png").code == 0
    run = vecrepeat(*common, tmp_path / "b.png", "--profile", profile)
    assert run.code == 0, run.err
    one, other = by_pillow(tmp_path / "a.png"), by_pillow(tmp_path / "b.png")
    assert np.abs(one.astype(int) - other).max() <= 1
    # What a program that manages colour shows of a wide space is what was meant, within what
    # eight bits of a wider space can tell apart.
    run = vecrepeat(*common, tmp_path / "c.png", "--profile", ICC / "a98.icc")
    assert run.code == 0, run.err
    with Image.open(tmp_path / "c.png") as image:
        own = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
        seen = ImageCms.profileToProfile(image, own, ImageCms.createProfile("sRGB"))
    assert seen is not None
    assert np.abs(one.astype(int) - np.asarray(seen)).max() <= 2


def test_cmyk_is_refused_by_name_with_what_to_do(tmp_path: Path) -> None:
    exporter = Exporter(read(tmp_path, BODY).repeat())
    settings = Settings(colour=open_conversion(ICC / "default_cmyk.icc"))
    with pytest.raises(InputError, match="Artifex CMYK SWOP Profile is a CMYK profile") as caught:
        exporter.write(tmp_path / "a.png", exporter.sheet(exporter.plan(F(30))), settings=settings)
    assert "write .tif" in str(caught.value.hint)
    assert not (tmp_path / "a.png").exists()


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("Press  room\tten ", "Press room ten"),
        ("Büro™", "Büro?"),
        ("x" * 100, "x" * 79),
        ("y" * 78 + " z", "y" * 78),
        ("  ", "ICC profile"),
    ],
)
def test_the_name_is_brought_to_what_png_allows(name: str, kept: str) -> None:
    data = PngHeader(1, 1, 3, 300, profile=(name, b"profile")).chunks()
    assert chunks(data)[b"iCCP"].partition(b"\0")[0].decode("latin-1") == kept
