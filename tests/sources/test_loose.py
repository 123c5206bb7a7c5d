"""Loose motif files: sizes by arithmetic, pixels against Pillow, outlines against the alpha."""

from __future__ import annotations

import base64
import io
import re
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
import shapely
import tifffile
from PIL import Image, ImageCms, ImageDraw, TiffImagePlugin
from support import markup_of, svg, vecrepeat, write_svg

from vecrepeat.core.errors import InputError
from vecrepeat.repeat.model import Motif
from vecrepeat.sources import bitmap
from vecrepeat.sources.bitmap import read_bitmap
from vecrepeat.sources.loose import read_loose
from vecrepeat.sources.source import open_source, read_pool
from vecrepeat.util.imagefiles import own_dpi

MM = 25.4


def leaf(width: int = 60, height: int = 40) -> Image.Image:
    """A soft-edged ring with a hole and a loose dot, on nothing."""
    big = Image.new("RGBA", (width * 4, height * 4))
    pen = ImageDraw.Draw(big)
    pen.ellipse((20, 20, width * 4 - 60, height * 4 - 20), fill="#2f7d4f")
    pen.ellipse((80, 60, 120, 100), fill=(0, 0, 0, 0))
    small = big.resize((width, height), Image.Resampling.LANCZOS)
    small.putpixel((width - 3, 4), (200, 30, 40, 255))
    return small


def saved(
    folder: Path, name: str = "leaf.png", image: Image.Image | None = None, **how: Any
) -> Path:
    """Save a picture and return its path."""
    (leaf() if image is None else image).save(folder / name, **how)
    return folder / name


class Loose(NamedTuple):
    motif: Motif
    notes: list[str]


def only(path: Path) -> Loose:
    read = read_loose(path)
    [motif] = read.motifs
    return Loose(motif, read.notes)


def embedded(loose: Loose) -> bytes:
    [link] = re.findall(r'href="data:image/png;base64,([^"]*)"', markup_of(loose.motif.scene))
    return base64.b64decode(link)


def shown(loose: Loose) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(embedded(loose))).convert("RGBA"))


def drawn_size(loose: Loose) -> tuple[float, float]:
    found = re.search(r'width="([^"]*)" height="([^"]*)"', markup_of(loose.motif.scene))
    assert found is not None
    return float(found[1]), float(found[2])


def test_a_png_is_embedded_untouched(tmp_path: Path) -> None:
    path = saved(tmp_path, dpi=(300, 300))
    loose = only(path)
    assert embedded(loose) == path.read_bytes()
    assert loose.notes == []
    assert loose.motif.name == "leaf"
    assert [feature.kind for feature in loose.motif.features] == ["image"]


@pytest.mark.parametrize(
    ("how", "given", "width", "dpi"),
    [
        # 60 px at so many dpi; PNG says whole pixels per metre, 300 dpi being 11811 of them.
        pytest.param({"dpi": (300, 300)}, {}, 60 / 300 * MM, 300, id="its own 300 dpi"),
        pytest.param({"dpi": (72, 72)}, {}, 60 / 72 * MM, 72, id="its own 72 dpi"),
        pytest.param({}, {}, 60 / 300 * MM, 300, id="none: 300 dpi"),
        pytest.param({"dpi": (300, 300)}, {"dpi": Fraction(150)}, 10.16, 150, id="a dpi given"),
        pytest.param({"dpi": (72, 72)}, {"width": Fraction(30)}, 30, 60 / 30 * MM, id="a width"),
        pytest.param({"dpi": (300, 150)}, {}, 5.08, 150, id="unequal: the coarser counts"),
        pytest.param({"dpi": (0.001, 0.001)}, {}, 60 / 300 * MM, 300, id="nonsense: 300 dpi"),
    ],
)
def test_size(
    tmp_path: Path,
    how: dict[str, Any],
    given: dict[str, Fraction],
    width: float,
    dpi: float,
) -> None:
    bitmap = read_bitmap(saved(tmp_path, **how), **given)
    assert float(bitmap.size.width) == pytest.approx(width, abs=1e-9)
    assert float(min(bitmap.dpi)) == pytest.approx(dpi)
    if not given:
        loose = only(bitmap.file)
        assert drawn_size(loose)[0] == pytest.approx(width, abs=1e-9)
        assert loose.motif.dpi == pytest.approx(dpi)


def _tiff(path: Path, **tags: Any) -> None:
    """A TIFF with these tags for its resolution: 282 across, 283 down, 296 the unit."""
    made = TiffImagePlugin.ImageFileDirectory_v2()
    for tag, value in tags.items():
        made[int(tag[1:])] = value
    leaf().save(path, "TIFF", tiffinfo=made)


def _exif(path: Path, kind: str, **tags: Any) -> None:
    exif = Image.Exif()
    for tag, value in tags.items():
        exif[int(tag[1:])] = value
    leaf().convert("RGB" if kind == "JPEG" else "RGBA").save(path, kind, exif=exif)
    if kind == "JPEG":
        # Without the JFIF segment (2 bytes of marker, 16 of segment) that Pillow writes first.
        data = path.read_bytes()
        assert data[2:4] == b"\xff\xe0"
        path.write_bytes(data[:2] + data[20:])


OWN = [
    # (what the file says, how it is made, its dpi; TIFF 6.0 §8, JFIF 1.02, Exif 2.3 §4.6.4)
    ("TIFF: nothing", lambda p: _tiff(p), None),
    ("TIFF: a resolution of no unit", lambda p: _tiff(p, t282=300.0, t283=300.0, t296=1), None),
    ("TIFF: a unit alone", lambda p: _tiff(p, t296=2), None),
    ("TIFF: by inches where no unit is", lambda p: _tiff(p, t282=200.0, t283=200.0), 200),
    ("TIFF: centimetres", lambda p: _tiff(p, t282=100.0, t283=100.0, t296=3), 254),
    ("TIFF: one to the inch", lambda p: _tiff(p, t282=1.0, t283=1.0, t296=2), None),
    ("TIFF of another writer", lambda p: tifffile.imwrite(p, np.asarray(leaf())), None),
    ("PNG: nothing", lambda p: leaf().save(p, "PNG"), None),
    ("WebP: nothing", lambda p: leaf().save(p, "WEBP"), None),
    ("WebP: Exif", lambda p: _exif(p, "WEBP", t282=150.0, t283=150.0, t296=2), 150),
    ("GIF: nothing", lambda p: leaf().convert("P").save(p, "GIF"), None),
    ("BMP: nothing", lambda p: leaf().convert("RGB").save(p, "BMP", dpi=(0, 0)), None),
    (
        "BMP: 3,937 to the metre",
        lambda p: leaf().convert("RGB").save(p, "BMP", dpi=(100, 100)),
        100,
    ),
    ("JPEG: nothing", lambda p: leaf().convert("RGB").save(p, "JPEG"), None),
    ("JPEG: 120", lambda p: leaf().convert("RGB").save(p, "JPEG", dpi=(120, 120)), 120),
    ("JPEG: Exif without it", lambda p: _exif(p, "JPEG", t271="a camera"), None),
    ("JPEG: Exif", lambda p: _exif(p, "JPEG", t282=240.0, t283=240.0, t296=2), 240),
]


@pytest.mark.parametrize(("make", "dpi"), [pytest.param(*row[1:], id=row[0]) for row in OWN])
def test_what_a_file_says_of_its_dpi(tmp_path: Path, make: Any, dpi: int | None) -> None:
    path = tmp_path / "leaf"
    make(path)
    with Image.open(path) as image:
        assert own_dpi(image) == (None if dpi is None else (Fraction(dpi), Fraction(dpi)))


@pytest.mark.parametrize("name", ["leaf.png", "leaf.tif", "leaf.webp"])
def test_every_format_without_a_dpi_is_told_of(tmp_path: Path, name: str) -> None:
    loose = only(saved(tmp_path, name))
    assert drawn_size(loose)[0] == pytest.approx(60 / 300 * MM)
    assert any("does not say its dpi: 300 is taken" in note for note in loose.notes)


def test_without_a_dpi_it_says_what_is_taken(tmp_path: Path) -> None:
    [note] = only(saved(tmp_path)).notes
    assert "does not say its dpi: 300 is taken, which makes it 5.08 mm wide" in note


def test_a_dpi_and_a_width_exclude_each_other(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="exclude each other"):
        read_bitmap(saved(tmp_path), dpi=Fraction(300), width=Fraction(30))


@pytest.mark.parametrize("scale", [1, 4])
def test_the_outline_holds_every_pixel_with_ink_and_little_else(tmp_path: Path, scale: int) -> None:
    image = leaf(60 * scale, 40 * scale)
    loose = only(saved(tmp_path, image=image, dpi=(254, 254)))
    ink = np.asarray(image)[..., 3] > 0
    outline = shapely.transform(loose.motif.outline, lambda xy: xy * 10)
    rows, columns = np.nonzero(ink)
    shapely.prepare(outline)
    assert shapely.covers(outline, shapely.box(columns, rows, columns + 1, rows + 1)).all()
    ring = shapely.union_all(shapely.box(columns, rows, columns + 1, rows + 1)).buffer(
        1.6, join_style="mitre"
    )
    assert shapely.covers(ring, outline)


def test_holes_and_loose_dots_are_kept(tmp_path: Path) -> None:
    outline = only(saved(tmp_path)).motif.outline
    parts = shapely.get_parts(outline)
    assert len(parts) == 2
    assert sorted(len(part.interiors) for part in parts) == [0, 1]


def test_ink_at_the_border_is_not_outlined_beyond_it(tmp_path: Path) -> None:
    image = Image.new("RGBA", (20, 10))
    ImageDraw.Draw(image).rectangle((0, 3, 5, 9), fill="#123456")
    loose = only(saved(tmp_path, image=image, dpi=(254, 254)))
    assert loose.motif.box == pytest.approx((0.0, 0.2, 0.7, 1.0), abs=0.051)


def test_large_pictures_are_outlined_on_fewer_points(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("vecrepeat.sources.loose.TRACED_PIXELS", 700)
    image = leaf(61, 41)
    outline = only(saved(tmp_path, image=image, dpi=(254, 254))).motif.outline
    rows, columns = np.nonzero(np.asarray(image)[..., 3])
    pixels = shapely.box(columns / 10, rows / 10, columns / 10 + 0.1, rows / 10 + 0.1)
    assert shapely.covers(outline.buffer(1e-9), pixels).all()


@pytest.mark.parametrize(
    ("name", "how"),
    [
        ("leaf.webp", {"lossless": True, "exact": True}),
        ("leaf.tif", {"compression": "tiff_lzw"}),
        ("leaf.tiff", {}),
    ],
)
def test_webp_and_tiff_keep_every_pixel(tmp_path: Path, name: str, how: dict[str, Any]) -> None:
    loose = only(saved(tmp_path, name, dpi=(300, 300), **how))
    assert np.array_equal(shown(loose), np.asarray(leaf()))
    assert any("kept as PNG, without loss" in note for note in loose.notes)


def test_a_tiff_in_centimetres(tmp_path: Path) -> None:
    """TIFF 6.0: ResolutionUnit 3 is the centimetre; 100 to the cm are 254 dpi."""
    pixels = np.asarray(leaf())
    tifffile.imwrite(
        tmp_path / "leaf.tif",
        pixels,
        photometric="rgb",
        extrasamples=["unassalpha"],
        resolution=(100, 100),
        resolutionunit="CENTIMETER",
    )
    assert drawn_size(only(tmp_path / "leaf.tif")) == pytest.approx((6.0, 4.0))


def test_sixteen_bits_become_eight(tmp_path: Path) -> None:
    pixels = np.asarray(leaf()).astype(np.uint16) * 257
    tifffile.imwrite(tmp_path / "leaf.tif", pixels, photometric="rgb", extrasamples=["unassalpha"])
    assert np.array_equal(shown(only(tmp_path / "leaf.tif")), np.asarray(leaf()))


@pytest.mark.parametrize("mode", ["palette", "grey with alpha"])
def test_other_pixels(tmp_path: Path, mode: str) -> None:
    image = Image.new("RGBA", (12, 10), (0, 0, 0, 0))
    ImageDraw.Draw(image).rectangle((3, 3, 8, 7), fill="#808080")
    made = image.quantize(4) if mode == "palette" else image.convert("LA")
    path = saved(tmp_path, image=made, dpi=(300, 300))
    loose = only(path)
    assert embedded(loose) == path.read_bytes()
    assert loose.motif.box.width == pytest.approx(8 / 300 * MM, abs=2 / 300 * MM)


def test_a_profile_is_converted_to_srgb(tmp_path: Path) -> None:
    """Judge: littleCMS's own conversion of one flat colour, from a profile of other primaries."""
    plain = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    wide = ImageCms.ImageCmsProfile(io.BytesIO(_swapped_primaries(plain)))
    image = Image.new("RGBA", (12, 10), (0, 0, 0, 0))
    ImageDraw.Draw(image).rectangle((3, 3, 8, 7), fill="#c83232")
    loose = only(saved(tmp_path, image=image, dpi=(300, 300), icc_profile=wide.tobytes()))
    expected = ImageCms.profileToProfile(
        image.convert("RGB"),
        wide,
        ImageCms.createProfile("sRGB"),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
    )
    assert expected is not None
    assert shown(loose)[5, 5].tolist() == [*expected.getpixel((5, 5)), 255]  # type: ignore[misc]
    assert shown(loose)[5, 5, :3].tolist() != [0xC8, 0x32, 0x32]
    assert any("to sRGB" in note for note in loose.notes)


def _swapped_primaries(profile: bytes) -> bytes:
    """An RGB profile whose red and green primaries have changed places, under another name."""
    count = int.from_bytes(profile[128:132], "big")
    changed = bytearray(profile)
    for k in range(count):
        at = 132 + 12 * k
        tag = bytes(changed[at : at + 4])
        if tag in (b"rXYZ", b"gXYZ"):
            changed[at : at + 4] = b"gXYZ" if tag == b"rXYZ" else b"rXYZ"
    return (
        bytes(changed)
        .replace("sRGB".encode("utf-16-be"), "odd!".encode("utf-16-be"))
        .replace(b"sRGB", b"odd!")
    )


def test_an_srgb_profile_changes_nothing(tmp_path: Path) -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    path = saved(tmp_path, dpi=(300, 300), icc_profile=profile)
    assert embedded(only(path)) == path.read_bytes()


def test_an_exif_orientation_is_obeyed(tmp_path: Path) -> None:
    """Exif 2.3: orientation 6 is a quarter turn clockwise; width and height change places."""
    exif = Image.Exif()
    exif[0x0112] = 6
    loose = only(saved(tmp_path, dpi=(300, 150), exif=exif))
    assert np.array_equal(shown(loose), np.rot90(np.asarray(leaf()), -1))
    # 40 px across at 150 dpi, 60 px down at 300.
    assert drawn_size(loose) == pytest.approx((40 / 150 * MM, 60 / 300 * MM))


def test_a_haze_too_faint_to_see_is_told(tmp_path: Path) -> None:
    image = Image.new("RGBA", (40, 40), (200, 0, 0, 2))
    image.putpixel((0, 0), (0, 0, 0, 0))
    ImageDraw.Draw(image).rectangle((10, 10, 20, 20), fill="#c83232")
    assert any("haze" in note for note in only(saved(tmp_path, image=image)).notes)
    assert not any("haze" in note for note in only(saved(tmp_path)).notes)


def flat_card() -> Image.Image:
    card = Image.new("RGBA", (40, 30), "#f7f1e3")
    ImageDraw.Draw(card).ellipse((10, 5, 30, 25), fill="#2f7d4f")
    return card


def noise(alpha: bool) -> Image.Image:
    pixels = np.random.default_rng(1).integers(0, 256, (30, 40, 4), np.uint8)
    pixels[..., 3] = 255
    return Image.fromarray(pixels if alpha else pixels[..., :3])


def framed(inner: Image.Image) -> Image.Image:
    page = Image.new("RGBA", (inner.width + 8, inner.height + 8))
    page.paste(inner, (4, 4))
    return page


@pytest.mark.parametrize(
    ("image", "words"),
    [
        pytest.param(flat_card().convert("RGB"), "flat #f7f1e3 ground", id="paper, no alpha"),
        pytest.param(flat_card(), "flat #f7f1e3 ground", id="paper, alpha that hides nothing"),
        pytest.param(framed(flat_card()), "flat #f7f1e3 ground", id="a card with a margin"),
        pytest.param(noise(alpha=False), "nothing in it is transparent", id="a photo"),
        pytest.param(noise(alpha=True), "nothing in it is transparent", id="a photo with alpha"),
    ],
)
def test_boxes_are_refused(tmp_path: Path, image: Image.Image, words: str) -> None:
    with pytest.raises(InputError, match=words) as raised:
        read_loose(saved(tmp_path, image=image))
    assert "transparent ground" in str(raised.value)
    assert "vecrepeat trace" in str(raised.value)
    assert "\n" not in str(raised.value)


@pytest.mark.parametrize(
    "image", [noise(alpha=True), Image.new("RGBA", (40, 30), "white")], ids=["a photo", "a card"]
)
def test_a_rectangle_with_nothing_around_it_is_a_motif(tmp_path: Path, image: Image.Image) -> None:
    assert only(saved(tmp_path, image=framed(image))).motif.box.width > 0


BROKEN = [
    ("an empty picture", lambda p: Image.new("RGBA", (9, 9)).save(p), "all of it is transparent"),
    ("nothing", lambda p: p.write_bytes(b""), "neither PNG"),
    ("text", lambda p: p.write_text("rose"), "neither PNG"),
    ("a PNG cut short", lambda p: _cut(p, "PNG"), "damaged or cut short"),
    ("a WebP cut short", lambda p: _cut(p, "WEBP"), "damaged or cut short"),
    ("a TIFF cut short", lambda p: _cut(p, "TIFF"), "damaged or cut short"),
    ("a PNG with a wrong checksum", lambda p: _flipped(p), "checksum of a chunk 'IDAT' is wrong"),
    ("a PNG without its end", lambda p: _flipped(p, 12), "damaged or cut short: it is cut short"),
    ("a JPEG cut short", lambda p: _cut(p, "JPEG"), "damaged or cut short"),
    ("its head alone", lambda p: p.write_bytes(b"\x89PNG\r\n\x1a\n"), "damaged or cut short"),
    ("CMYK with alpha", lambda p: _cmyka(p), "is not read"),
    ("floating point", lambda p: tifffile.imwrite(p, np.eye(9, dtype="f4")), "floating-point"),
]


def _flipped(path: Path, ending: int = 0) -> None:
    """A PNG whose pixels unpack as ever, but whose checksum (CRC-32) is another's."""
    noise(alpha=True).save(path, "PNG")
    data = bytearray(path.read_bytes())
    if ending:
        del data[-ending:]
    else:
        # Before the 12 bytes of IEND stand the four of the last IDAT's checksum.
        data[-13] ^= 1
    path.write_bytes(data)


def _cut(path: Path, kind: str) -> None:
    stream = io.BytesIO()
    noise(alpha=True).convert("RGB" if kind == "JPEG" else "RGBA").save(stream, kind)
    path.write_bytes(stream.getvalue()[: stream.tell() * 2 // 3])


def _cmyka(path: Path) -> None:
    pixels = np.zeros((8, 8, 5), np.uint8)
    tifffile.imwrite(path, pixels, photometric="separated", extrasamples=["unassalpha"])


@pytest.mark.parametrize(("make", "words"), [pytest.param(*r[1:], id=r[0]) for r in BROKEN])
def test_broken_files_are_one_line(tmp_path: Path, make: object, words: str) -> None:
    path = tmp_path / "rose.png"
    make(path)  # type: ignore[operator]
    with pytest.raises(InputError, match=words) as raised:
        read_loose(path)
    assert str(path) in str(raised.value)
    assert "\n" not in str(raised.value)


def test_a_damaged_tiff_says_nothing_beside_the_one_line(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """libtiff writes what it finds wrong straight to standard error."""
    path = saved(tmp_path, "rose.tif", compression="tiff_lzw")
    data = bytearray(path.read_bytes())
    data[8:60] = b"\xff" * 52
    path.write_bytes(data)
    with pytest.raises(InputError, match="damaged or cut short"):
        read_loose(path)
    assert capfd.readouterr().err == ""


def test_pictures_beyond_the_bounds_are_not_unpacked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = saved(tmp_path)
    monkeypatch.setattr(bitmap, "MAX_PIXELS", 2399)
    with pytest.raises(InputError, match="60 × 40 px is too large"):
        read_loose(path)
    monkeypatch.setattr(bitmap, "MAX_BYTES", 99)
    with pytest.raises(InputError, match="the file is larger"):
        read_loose(path)


def test_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="can't read the file"):
        read_loose(tmp_path / "none.png")


A = '<g id="a"><rect x="10" y="10" width="20" height="20" fill="#ff0000"/></g>'
B = '<g id="b"><circle cx="70" cy="70" r="8" fill="url(#g)"/></g>'
PARKED = '<g id="c"><rect x="130" y="10" width="9" height="9" fill="#0000ff"/></g>'
G = '<linearGradient id="g"><stop stop-color="#00ff00"/><stop offset="1"/></linearGradient>'


def test_a_drawing_is_one_motif_without_what_lies_far_beside_the_page(tmp_path: Path) -> None:
    ground = '<rect width="100" height="100" fill="#fafafa"/>'
    loose = only(write_svg(tmp_path, G + ground + A + B + PARKED, name="bunch.svg"))
    motif = loose.motif
    assert motif.name == "bunch"
    assert motif.box == pytest.approx((10, 10, 78, 78), abs=0.01)
    # 400 + π·64 mm².
    assert motif.outline.area == pytest.approx(400 + np.pi * 64, rel=1e-3)
    markup = markup_of(motif.scene)
    assert markup.index('fill="#ff0000"') < markup.index('fill="url(')
    assert "#0000ff" not in motif.colours
    assert [feature.kind for feature in motif.features] == ["gradient"]
    assert motif.dpi is None
    backdrop, beside = loose.notes
    assert "it stands on a flat #fafafa rectangle" in backdrop
    assert "1 drawn thing left out" in beside


def test_a_picture_in_a_drawing_counts_by_its_dpi(tmp_path: Path) -> None:
    """60 px on 30 mm are 50.8 dpi; drawn half as wide, twice as many."""
    stream = io.BytesIO()
    leaf().save(stream, "PNG")
    link = f"data:image/png;base64,{base64.b64encode(stream.getvalue()).decode()}"
    body = f'<g id="a"><image width="30" height="20" xlink:href="{link}"/></g>'
    motif = only(write_svg(tmp_path, body + A)).motif
    assert motif.dpi == pytest.approx(50.8)
    assert motif.scaled(0.5).dpi == pytest.approx(101.6)


def test_a_folder_is_read_in_order_of_names_and_not_deeper(tmp_path: Path) -> None:
    saved(tmp_path, "rose.png")
    saved(tmp_path, "rose.webp", leaf(30, 20), lossless=True)
    write_svg(tmp_path, A, name="bud.svg")
    (tmp_path / "notes.txt").write_text("buy thread")
    (tmp_path / ".hidden.png").write_text("x")
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "weed.svg").write_text(svg(A))
    read = read_loose(tmp_path)
    assert list(read.found) == ["bud", "rose", "rose (2)"]
    assert any("notes.txt" in note for note in read.notes)
    assert len({motif.scene for motif in read.motifs}) == 3


def test_a_folder_without_motifs(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no motif files"):
        read_loose(tmp_path)


BAD = {
    "broken.svg": ("<svg", "not a well-formed SVG file", "save it again as plain SVG"),
    "empty.svg": (svg(), "nothing is drawn on the page", "mend it"),
    "defs.svg": (svg("<defs><circle id='c' r='4'/></defs>"), "nothing is drawn", "mend it"),
    "hidden.svg": (
        svg('<mask id="m"/><g mask="url(#m)">' + A + "</g>"),
        "nothing is drawn",
        "mend it",
    ),
    "vast.svg": (svg(A, width="101000mm"), "is absurd", "to 100 m a side"),
    "card.png": (None, "would print as a box", "vecrepeat trace"),
}


@pytest.fixture
def mixed(tmp_path: Path) -> Path:
    """A folder of three drawings, and of a file for each reason why one is no motif."""
    folder = tmp_path / "mixed"
    folder.mkdir()
    for name in ("bud", "leaf", "rose"):
        write_svg(folder, A, name=f"{name}.svg")
    for name, (text, *_) in BAD.items():
        if text is not None:
            (folder / name).write_text(text)
    saved(folder, "card.png", flat_card())
    return folder


def test_a_folder_is_read_without_files_that_can_be_no_motif(mixed: Path, tmp_path: Path) -> None:
    """The notes name each once, with why and what to do; the recipe names them, and reads back."""
    recipe = tmp_path / "r.toml"
    made = vecrepeat("recipe", mixed, "-o", recipe)
    assert made.code == 0
    notes = [line for line in made.err.splitlines() if "left out" in line]
    for name, (_, why, hint) in BAD.items():
        [note] = [note for note in notes if name in note]
        assert why in note
        assert hint in note
    [said] = [line for line in recipe.read_text().splitlines() if "broken.svg" in line]
    assert said.startswith("# ")
    assert all(name in said for name in BAD)
    assert vecrepeat("toss", recipe).code == 0
    assert {one.motif.name for one in open_source(recipe).page.placements} == {
        "bud",
        "leaf",
        "rose",
    }
    assert vecrepeat("check", recipe, "--json").code == 0
    # What the recipe names is somebody's work: it is never left out in silence.
    (mixed / "leaf.svg").write_text("<svg")
    lost = vecrepeat("check", recipe)
    assert lost.code == 2
    assert lost.err.count("\n") == 1
    assert "leaf.svg: not a well-formed SVG file" in lost.err


@pytest.mark.parametrize("bad", BAD)
def test_a_file_named_by_itself_is_not_left_out(mixed: Path, tmp_path: Path, bad: str) -> None:
    recipe = tmp_path / "r.toml"
    said = [str(mixed / name) for name in ("bud.svg", bad)]
    recipe.write_text(f'tile = "10x10in"\nloose = {said}\n')
    for run in (
        vecrepeat("recipe", "--loose", *said, "-o", tmp_path / "new.toml"),
        vecrepeat("motifs", recipe),
    ):
        assert run.code == 2
        assert run.err.count("\n") == 1
        assert f"{bad}: " in run.err
    assert not (tmp_path / "new.toml").exists()


def test_a_folder_in_which_nothing_is_left_is_refused(mixed: Path, tmp_path: Path) -> None:
    for name in ("bud", "leaf", "rose"):
        (mixed / f"{name}.svg").unlink()
    refused = vecrepeat("recipe", mixed, "-o", tmp_path / "r.toml")
    assert refused.code == 2
    assert refused.err.count("\n") == 1
    assert "none of its 6 files can be a motif, such as broken.svg: not a well-" in refused.err
    assert not (tmp_path / "r.toml").exists()


def test_mending_what_was_left_out_renames_no_other(tmp_path: Path) -> None:
    """It has its name all the while, in its folder and beside other folders."""
    for place in ("a", "b"):
        (tmp_path / place).mkdir()
        write_svg(tmp_path / place, A, name="leaf.svg")
    (tmp_path / "a" / "leaf.svg").write_text("<svg")
    saved(tmp_path / "a", "leaf.webp", lossless=True)
    folders = [tmp_path / "a", tmp_path / "b"]
    before = read_pool([], folders)
    assert list(before.motifs) == ["leaf (2)", "b/leaf"]
    assert before.left_out == (tmp_path / "a" / "leaf.svg",)
    read_pool([], folders, needed=before.motifs)
    with pytest.raises(InputError, match="not a well-formed"):
        read_pool([], folders, needed=["a/leaf"])
    write_svg(tmp_path / "a", A, name="leaf.svg")
    assert list(read_pool([], folders).motifs) == ["a/leaf", "leaf (2)", "b/leaf"]


def test_many_files_left_out_are_all_named_in_few_notes(mixed: Path) -> None:
    """Those alike share a note, and so do the last of many reasons."""
    for name, width in (("a", "1aa"), ("b", "1bb")):
        write_svg(mixed, A, name=f"{name}.svg", width=width)
    (mixed / "page.svg").write_text("<html/>")
    first, *others = read_loose(mixed).notes
    assert first.startswith("a.svg, b.svg: left out, for several reasons, the first: ")
    assert "“1aa”" in first
    assert len(others) == 3
    names = [*BAD, "page.svg"]
    assert all(sum(name in note for note in others) == 1 for name in names)


def test_a_name_that_no_recipe_can_hold_is_left_out(tmp_path: Path) -> None:
    write_svg(tmp_path, A, name="bud.svg")
    try:
        write_svg(tmp_path, A, name="q\udcff.svg")
    except (OSError, UnicodeError):
        pytest.skip("this system has no such names")
    read = read_loose(tmp_path)
    assert [motif.name for motif in read.motifs] == ["bud"]
    assert [note.partition(", ")[0] for note in read.notes] == [
        "q?.svg: left out: its name is not UTF-8"
    ]


def test_what_lies_beside_the_page_stays_where_it_belongs_to_the_rest(tmp_path: Path) -> None:
    leaf_on_it = '<path d="M20 20h80v60h-80z"/>'
    stalk = '<path d="M101 45h30v9h-30z"/>'
    loose = only(write_svg(tmp_path, leaf_on_it + stalk))
    assert tuple(loose.motif.box) == pytest.approx((20, 20, 131, 80))
    # A drawing that is all beside its page is itself.
    assert only(write_svg(tmp_path, PARKED, name="c.svg")).motif.box.width == pytest.approx(9)
