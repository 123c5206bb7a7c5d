"""Pictures are resampled once, by a good filter, and alike in every copy.

The judge of the filter is a zone plate, a picture whose frequency grows with the distance from
its middle: what it looks like at any scale and turn is known by formula. What the print can hold
must be there; what it can't must be grey, not stripes that the drawing has not.
"""

from __future__ import annotations

import base64
import io
import pickle
import tempfile
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from support import Pixels, svg, write_svg

from vecrepeat.art.read import read_art
from vecrepeat.core.geometry import Affine
from vecrepeat.draw.cairo_worker import Drawing
from vecrepeat.draw.paint import Window
from vecrepeat.draw.resample import Part, SourcePicture
from vecrepeat.draw.resvg import rasterise
from vecrepeat.repeat.model import Placement, Repeat
from vecrepeat.sources.loose import read_loose
from vecrepeat.write.exporting import Exporter

SIDE = 384
ROOM = 16
Floats = NDArray[np.float64]


def zone_plate() -> Image.Image:
    """Half a cycle a pixel at the middle of each side, none in the middle."""
    wave = zone(SIDE, 1.0)[0]
    return Image.fromarray(np.dstack([np.rint(wave).astype(np.uint8)] * 3)).convert("RGBA")


def zone(side: int, scale: float) -> tuple[Floats, Floats]:
    """The zone plate at a scale, in levels, and its frequency in cycles per printed pixel."""
    y, x = (np.mgrid[:side, :side] + 0.5 - side / 2) / scale
    squared = x * x + y * y
    rate = np.pi / SIDE
    return 127.5 + 127.5 * np.cos(rate * squared), rate * np.sqrt(squared) / np.pi / scale


def uri(picture: Image.Image, kind: str = "PNG") -> str:
    stream = io.BytesIO()
    picture.save(stream, kind, lossless=True)
    return f"data:image/{kind.lower()};base64,{base64.b64encode(stream.getvalue()).decode()}"


def drawn(body: str, width: int, height: int) -> Pixels:
    """What the worker's drawing makes of a body in pixels, premultiplied RGBA."""
    sides = {"width": f"{width}mm", "height": f"{height}mm"}
    with tempfile.TemporaryDirectory() as folder:
        path = write_svg(Path(folder), body, **sides, view_box=f"0 0 {width} {height}")
        [motif] = read_art(path, loose=True, backdrop=True).motifs
    words = Drawing(pickle.dumps([motif.scene])).picture(
        (width, height), (0, width), None, [(0, 1.0, 0.0, 0.0, 1.0, 0.0, 0.0)]
    )
    native = np.frombuffer(words, np.uint8).reshape(height, width, 4)
    return native[..., [2, 1, 0, 3]]


def placed(picture: Image.Image, x: float, y: float, w: float, h: float, more: str = "") -> str:
    return f'<image x="{x}" y="{y}" width="{w}" height="{h}" {more} xlink:href="{uri(picture)}"/>'


@pytest.mark.parametrize(
    ("scale", "turn", "in_band", "beyond"),
    [
        # (scale, turn, mean levels lost of what the print can hold, and left of what it can't)
        pytest.param(1.0, 0, 0.3, None, id="1:1"),
        pytest.param(1.0, 90, 0.3, None, id="1:1, a quarter turn"),
        pytest.param(1.0, 30, 4, None, id="1:1, turned"),
        pytest.param(0.5, 0, 1.5, 8, id="1:2"),
        pytest.param(0.5, 30, 2.5, 8, id="1:2, turned"),
        pytest.param(1 / 4.3, 0, 3, 3, id="1:4.3"),
        pytest.param(1 / 4.3, 30, 4, 3, id="1:4.3, turned"),
        pytest.param(2.0, 0, 4, None, id="2:1"),
        pytest.param(2.0, 30, 6, None, id="2:1, turned"),
    ],
)
def test_the_zone_plate(scale: float, turn: int, in_band: float, beyond: float | None) -> None:
    """cairo's own filter loses 6 levels at 1:2 and 9 at 1:4.3, resvg's leaves 27 and 50 beyond."""
    side = round(SIDE * scale)
    picture = zone_plate()
    middle = ROOM + side / 2
    corner = middle - SIDE * scale / 2
    body = placed(
        picture,
        corner,
        corner,
        SIDE * scale,
        SIDE * scale,
        f'transform="rotate({turn} {middle} {middle})"',
    )
    page = side + 2 * ROOM
    levels = drawn(body, page, page)[ROOM:-ROOM, ROOM:-ROOM, 0].astype(np.float64)
    expected, frequency = zone(side, scale)
    y, x = np.mgrid[:side, :side] + 0.5 - side / 2
    inside = np.hypot(x, y) < side / 2 - 4
    # What the picture's own pixels hold is not to be asked of the filter.
    held = inside & (frequency * scale < 0.4) & (frequency < 0.35)
    assert np.abs(levels - expected)[held].mean() < in_band
    if beyond is not None:
        lost = inside & (frequency > 0.65)
        assert np.abs(levels - 127.5)[lost].mean() < beyond


def test_at_1_to_1_on_whole_pixels_it_is_the_picture_itself() -> None:
    rng = np.random.default_rng(7)
    pixels = rng.integers(0, 256, (40, 60, 4), np.uint8)
    pixels[..., 3] = np.where(pixels[..., 3] < 128, 0, 255)
    pixels[pixels[..., 3] == 0] = 0
    got = drawn(placed(Image.fromarray(pixels), 5, 9, 60, 40), 100, 60)
    assert np.array_equal(got[9:49, 5:65], pixels)
    assert not got[:9].any()
    assert not got[49:].any()


@pytest.mark.parametrize("kind", ["WEBP", "GIF"])
def test_other_formats_are_drawn_as_png_is(kind: str) -> None:
    picture = Image.new("RGBA", (8, 8), "#0a64c8")
    ImageDraw.Draw(picture).rectangle((2, 2, 5, 5), fill="#c83232")
    image = f'<image x="1" y="1" width="8" height="8" xlink:href="{uri(picture, kind)}"/>'
    assert np.array_equal(drawn(image, 10, 10)[1:9, 1:9], np.asarray(picture))


def test_sixteen_bit_grey_is_drawn_by_its_nearest_levels() -> None:
    """65535 / 255 = 257 a level."""
    grey = Image.fromarray(np.array([[0, 257 * 100, 65535, 257 * 3 + 1]], np.uint16))
    got = drawn(placed(grey, 0, 0, 4, 1), 4, 1)
    assert got[0, :, 0].tolist() == [0, 100, 255, 3]


PIXELS = {"width": "60", "height": "60", "view_box": "0 0 60 60"}
CASES = {
    "meet, by default": ("", "1 1 58 40"),
    "slice": ('preserveAspectRatio="xMinYMax slice"', "1 1 58 40"),
    "stretched": ('preserveAspectRatio="none"', "2.5 3.25 50 44"),
    "half seen": ('opacity="0.5"', "1 1 40 40"),
    "skewed": ('transform="skewX(20) scale(0.7 0.9)"', "1 1 40 40"),
    "hidden": ('visibility="hidden"', "1 1 40 40"),
    "clipped": ('clip-path="url(#c)"', "1 1 40 40"),
    "hard-edged on purpose": ('image-rendering="optimizeSpeed"', "0 0 60 60"),
}


@pytest.mark.parametrize("case", CASES)
def test_where_a_picture_lies_is_what_resvg_says(case: str) -> None:
    """Independent judge: resvg. A smooth picture, so that filters do not matter; borders may
    differ by their antialiasing.
    """
    y, x = np.mgrid[:60, :60]
    smooth = np.dstack([x * 4, y * 4, 255 - x * 2 - y * 2, np.full_like(x, 255)]).astype(np.uint8)
    more, frame = CASES[case]
    x0, y0, w, h = (float(v) for v in frame.split())
    clip = '<clipPath id="c"><circle cx="22" cy="22" r="15"/></clipPath>'
    body = clip + placed(Image.fromarray(smooth), x0, y0, w, h, more)
    body += '<path d="M0 58h60v2H0z" fill="#123456"/>'
    one, other = drawn(body, 60, 60), rasterise(svg(body, **PIXELS), 60, 60)
    difference = np.abs(one.astype(np.int16) - other).max(axis=2)
    assert (difference > 12).mean() < 0.02
    assert np.median(difference) <= 1


def pixel_motif(folder: Path) -> Path:
    """A soft leaf with a hole, fine lines and a hard edge, 150 × 110 px at 300 dpi."""
    big = Image.new("RGBA", (600, 440))
    pen = ImageDraw.Draw(big)
    pen.ellipse((40, 30, 560, 410), fill="#2f7d4f")
    pen.ellipse((240, 160, 340, 260), fill=(0, 0, 0, 0))
    for k in range(60, 560, 28):
        pen.line((k, 40, 600 - k, 400), fill="#f0d9a0", width=4)
    leaf = big.resize((150, 110), Image.Resampling.LANCZOS)
    ImageDraw.Draw(leaf).rectangle((0, 50, 20, 60), fill="#b4502d")
    leaf.save(folder / "leaf.png", dpi=(300, 300))
    return folder / "leaf.png"


def scattered(folder: Path, layout: str) -> Repeat:
    """The leaf over edges and corners of a tile: plain, at odd places, mirrored, turned."""
    [motif] = read_loose(pixel_motif(folder)).motifs
    turned = Affine(0.8, 0.6, -0.6, 0.8, 13.1, 22.7)
    placements = [
        Placement(motif, Affine.translation(-5.31, -4.77)),
        Placement(motif, Affine.translation(20.0, 12.5)),
        Placement(motif, Affine(-1.7, 0, 0, 1.7, 31.23, -3.9)),
        Placement(motif, turned),
        Placement(motif, Affine(0.0, 0.5, -0.5, 0.0, 2.2, 14.4)),
    ]
    return Repeat("leaves", Fraction(30), Fraction(26), tuple(placements)).with_layout(layout)


@pytest.mark.parametrize(
    ("layout", "dpi", "width"),
    [
        ("block", 300, 30),
        ("half-drop", 97, 31),
        ("drop:1/3", 72, 25),
        ("brick:1/2", 150, 80),
        ("half-drop", 150, 80),
        ("drop:1/3", 300, 30),
    ],
)
def test_every_window_of_the_plane_is_the_block_rolled(
    tmp_path: Path, layout: str, dpi: int, width: int
) -> None:
    """Each window is drawn afresh, from other copies; every pixel must be the block's."""
    exporter = Exporter(scattered(tmp_path, layout), engine="cairo")
    plan = exporter.plan(Fraction(dpi), width=Fraction(width))
    painter = exporter.painter(plan)
    across, down = plan.block
    block = np.concatenate(list(exporter.sheet(plan, block=True).strips(painter)))
    assert block.shape[:2] == (down, across)
    for x, y in ((across, 0), (-3 * across, 2 * down), (across // 2, down // 2), (17, -5)):
        there = painter.paint(Window(x, y, across, down))
        assert np.array_equal(there, np.roll(block, (-y, -x), axis=(0, 1))), (x, y)


@pytest.mark.parametrize(
    ("scale", "turn"), [(0.23, 0), (0.23, 30), (1.0, 0), (1.0, 30), (2.3, 0), (7.0, 0), (7.0, 30)]
)
def test_nothing_is_painted_far_from_the_outline(tmp_path: Path, scale: float, turn: int) -> None:
    """Filters ripple beyond edges; what lies outside the outline would be missing at the join.

    A window takes the copies that come within a pixel of it, so ink may lie a pixel outside.
    """
    [motif] = read_loose(pixel_motif(tmp_path)).motifs
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    transform = Affine(c, s, -s, c, 10.03, 5.07)
    repeat = Repeat("leaf", Fraction(40), Fraction(30), (Placement(motif, transform),))
    exporter = Exporter(repeat, engine="cairo")
    plan = exporter.plan(Fraction(300 * scale))
    ink = exporter.painter(plan).paint(Window(0, 0, plan.width, plan.height))[..., 3] > 0
    outline = shapely.transform(
        repeat.placements[0].outline, lambda xy: xy * np.array(plan.scale)
    ).buffer(1.0)
    rows, columns = np.nonzero(ink)
    pixels = shapely.box(columns, rows, columns + 1, rows + 1)
    shapely.prepare(outline)
    assert shapely.intersects(outline, pixels).all()
    assert len(rows) > 0.3 * (150 * 110) * scale**2


def test_mirrored_pictures_are_mirror_images_to_the_last_bit() -> None:
    """Widths of a whole number of pixels, so that the mirror lies between two."""
    rng = np.random.default_rng(3)
    picture = SourcePicture(np.dstack([rng.integers(0, 256, (32, 48), np.uint8)] * 4))
    for scale in (0.375, 1.0, 1.25):
        pair = []
        for matrix in (Affine.scaling(scale), Affine(-scale, 0.0, 0.0, scale)):
            place = picture.place(matrix)
            pair.append(picture.part(place.matrix, Part(0, 0, place.width, place.height)))
        assert np.array_equal(pair[0][:, ::-1], pair[1])


def test_places_that_differ_by_whole_pixels_are_one_matrix() -> None:
    """Sums of large numbers round: the place is kept on a grid, so that they round alike."""
    picture = SourcePicture(np.zeros((10, 20, 4), np.uint8))
    here = picture.place(Affine(0.7, 0.1, -0.1, 0.7, 1 / 3, 2 / 7))
    for x, y in ((1, 0), (99_991, -70_001), (-3, 12_345_678)):
        there = picture.place(Affine(0.7, 0.1, -0.1, 0.7, 1 / 3 + x, 2 / 7 + y))
        assert there.matrix == here.matrix
        assert (there.x - here.x, there.y - here.y) == (x, y)


def test_a_large_picture_is_made_in_parts_that_join_without_a_mark() -> None:
    """2,600 px across, three parts: equal to the whole resampled by Pillow at once."""
    y, x = np.mgrid[:300, :1300]
    wave = np.rint(127.5 + 127.5 * np.sin(x / 3.1) * np.cos(y / 2.3)).astype(np.uint8)
    picture = Image.fromarray(np.dstack([wave] * 3))
    got = drawn(placed(picture, 0, 0, 2600, 600), 2600, 600)
    whole = np.asarray(picture.resize((2600, 600), Image.Resampling.LANCZOS)).astype(np.int16)
    inner = np.s_[8:-8, 8:-8]
    assert np.abs(got[inner][..., :3] - whole[inner]).max() <= 1


def test_another_motif_is_not_touched_by_a_picture() -> None:
    """The path of a picture's border must not stay behind for what is drawn next."""
    red = Image.new("RGBA", (4, 4), "red")
    body = placed(red, 1, 1, 4, 4) + '<g stroke="#000"><path d="M10 10h5v5h-5z"/></g>'
    got = drawn(body, 20, 20)
    assert np.array_equal(got[1:5, 1:5], np.asarray(red))
    assert not got[6:9].any()


def test_scaled_motifs_of_one_picture_share_it(tmp_path: Path) -> None:
    [motif] = read_loose(pixel_motif(tmp_path)).motifs
    motif = motif.scaled(20 / 12.7)
    assert motif.dpi == pytest.approx(150 / (20 / 25.4))
    other = replace(motif, name="other")
    placements = (Placement(motif), Placement(other, Affine.translation(20, 0)))
    exporter = Exporter(Repeat("two", Fraction(40), Fraction(20), placements), engine="cairo")
    plan = exporter.plan(Fraction(254))
    got = exporter.painter(plan).paint(Window(0, 0, plan.width, plan.height))
    assert np.array_equal(got[:, :200], got[:, 200:])


def test_a_pixel_motif_at_its_own_size_comes_out_as_it_was_painted(tmp_path: Path) -> None:
    # By whichever engine draws it where nothing is said.
    rng = np.random.default_rng(4)
    painted = np.zeros((60, 60, 4), np.uint8)
    painted[10:50, 10:50] = rng.integers(0, 256, (40, 40, 4))
    painted[10:50, 10:50, 3] = 255
    Image.fromarray(painted).save(tmp_path / "bud.png", dpi=(300, 300))
    [motif] = read_loose(tmp_path / "bud.png").motifs
    inch = Fraction(254, 10)
    exporter = Exporter(Repeat("bud", inch, inch, (Placement(motif),)))
    exporter.write(
        tmp_path / "o.png", exporter.sheet(exporter.plan(Fraction(300))), transparent=True
    )
    with Image.open(tmp_path / "o.png") as written:
        assert np.array_equal(np.asarray(written)[:60, :60], painted)
