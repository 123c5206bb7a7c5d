"""PDF files as other people's readers open them, and as ISO 32000 has them.

Sizes: a point is 1/72 in, an inch 25.4 mm (CSS Values 4 §6.2). Sections of ISO 32000-1 are
cited from memory: §8.7.3.1 tiling patterns, §14.11.2 page boxes,
Annex C.2 (a page's side is at most 14,400 units), Table 30 (UserUnit).
"""

from __future__ import annotations

import base64
import io
import re
from fractions import Fraction as F  # noqa: N817
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pikepdf
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pdf_judges import READERS, Pixels, mupdf, pdfium
from PIL import Image
from support import demo, needs_a_font, needs_cairo, read, svg, vecrepeat, write_svg

from vecrepeat.art.read import read_art
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import MM_PER_INCH, Size
from vecrepeat.repeat.model import Repeat
from vecrepeat.write.exporting import Exported, Exporter
from vecrepeat.write.formats import Settings
from vecrepeat.write.icc import open_conversion, srgb_profile
from vecrepeat.write.pdf_page import frame

CMYK = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")
"""Of Debian's libgs-common."""

GROUND = '<rect width="100" height="100" fill="#f2ede0"/>'
BODY = (
    f"{GROUND}"
    '<circle cx="4" cy="30" r="17" fill="#204060"/>'
    '<path d="M20 70 60 40 90 95z" fill="#c0502a" fill-opacity=".5" stroke="#222"'
    ' stroke-width="4" stroke-linejoin="round"/>'
    '<circle cx="60" cy="99" r="12" fill="#3a7d44"/>'
)


def points(mm: F | float) -> float:
    return float(F(mm) * 72 * 10 / 254)


def inches(folder: Path, body: str) -> Repeat:
    """A repeat whose tile is 4 in × 4 in: whole points, so that readers need not round its page.

    Its user unit is 1/25 in.
    """
    return read_art(write_svg(folder, body, width="4in", height="4in")).repeat()


def written(
    folder: Path,
    repeat: Repeat,
    dpi: int = 50,
    size: tuple[int, int] | None = None,
    **told: Any,
) -> tuple[Path, Exported, Exporter]:
    """A PDF in a folder, of a size in inches or one tile.

    Its dpi is for parts that must be pictures, and for comparing.
    """
    exporter = Exporter(repeat)
    plan = exporter.plan(F(dpi))
    mm = None if size is None else Size(F(size[0]) * MM_PER_INCH, F(size[1]) * MM_PER_INCH)
    cut = exporter.sheet(plan, size=mm)
    transparent = told.pop("transparent", False)
    done = exporter.write(folder / "a.pdf", cut, transparent=transparent, settings=Settings(**told))
    return folder / "a.pdf", done, exporter


def ours(folder: Path, exporter: Exporter, done: Exported) -> Pixels:
    exporter.write(folder / "ours.png", done.cut)
    with Image.open(folder / "ours.png") as image:
        return np.array(image.convert("RGB"))


def apart(one: Pixels, other: Pixels) -> float:
    """Mean difference in levels of 255."""
    assert one.shape == other.shape
    return float(np.abs(one.astype(np.int16) - other).mean())


# ------------------------------------------------------------------ what readers show


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("layout", ["block", "half-drop", "drop:1/3", "brick", "turnover-across"])
def test_a_sheet_looks_like_ours(tmp_path: Path, layout: str, reader: str) -> None:
    repeat = inches(tmp_path, BODY).with_layout(layout)
    file, done, exporter = written(tmp_path, repeat, size=(14, 9))
    wanted = ours(tmp_path, exporter, done)
    shown = READERS[reader](file, 50)
    assert apart(shown, wanted) <= 1
    assert apart(np.roll(shown, 1, axis=0), wanted) > 1, "a pixel out of place would be seen"


@pytest.fixture(scope="module")
def garden(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Pixels]:
    """A strip of the night garden as PDF, and our pixels of it at 300 dpi."""
    folder = tmp_path_factory.mktemp("garden")
    exporter = Exporter(demo("night-garden").repeat("half-drop"))
    cut = exporter.sheet(exporter.plan(F(300)), size=Size(F(254), F(508, 10)))
    done = exporter.write(folder / "a.pdf", cut)
    assert done.facts["rasterised"] == []
    return folder / "a.pdf", ours(folder, exporter, done)


@pytest.mark.parametrize("reader", READERS)
def test_the_night_garden_looks_like_ours(garden: tuple[Path, Pixels], reader: str) -> None:
    # At a print's own resolution: at 100 dpi its hairlines are a pixel wide, and readers differ
    # by how they weigh edges (1.1 and 1.4 levels for two of them, pattern or none).
    file, wanted = garden
    assert apart(READERS[reader](file, 300), wanted) <= 1


# (layout, a tile's pixels at 100 dpi, the sheet's): whole pixels, but never whole points.
ODD_SIZES = [
    ("block", (210, 308), (630, 1232)),
    ("half-drop", (130, 190), (650, 380)),
    ("brick", (175, 256), (350, 768)),
    ("block", (99, 144), (693, 864)),
    ("drop:1/3", (111, 162), (880, 641)),
]


@pytest.mark.parametrize(("layout", "tile", "sheet"), ODD_SIZES)
def test_a_page_of_no_whole_points_is_not_out_by_a_pixel(
    tmp_path: Path, layout: str, tile: tuple[int, int], sheet: tuple[int, int]
) -> None:
    # MuPDF is held to a tile alone: it cuts cells' distances off to whole pixels.
    exporter = Exporter(demo("ogee").repeat(layout))
    px = MM_PER_INCH / 100
    plan = exporter.plan(F(100), width=tile[0] * px, height=tile[1] * px)
    assert (plan.width, plan.height) == tile
    for size in (sheet, tile):
        cut = exporter.sheet(plan, size=Size(size[0] * px, size[1] * px))
        done = exporter.write(tmp_path / "a.pdf", cut)
        wanted = ours(tmp_path, exporter, done)
        for reader, draw in READERS.items():
            if reader == "mupdf" and size == sheet:
                continue
            shown = draw(tmp_path / "a.pdf", 100)
            assert apart(shown, wanted) <= 1, (reader, size)


@pytest.fixture(scope="module")
def hairlines(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Pixels]:
    """The night garden's tile as a pattern and plainly, as PDF, and our pixels at 100 dpi."""
    folder = tmp_path_factory.mktemp("hairlines")
    exporter = Exporter(demo("night-garden").repeat())
    plan = exporter.plan(F(100))
    side = MM_PER_INCH * 10
    done = exporter.write(folder / "a.pdf", exporter.sheet(plan, size=Size(side, side)))
    exporter.write(folder / "plain.pdf", exporter.sheet(plan))
    return folder / "a.pdf", folder / "plain.pdf", ours(folder, exporter, done)


@needs_cairo
@pytest.mark.parametrize("reader", READERS)
def test_at_100_dpi_what_readers_do_to_hairlines_is_theirs(
    hairlines: tuple[Path, Path, Pixels], reader: str
) -> None:
    # The pattern is no further from ours than the reader's own plain tile is; and its picture of
    # 300 dpi, shrunk by means of 3 × 3 pixels, in which thin lines have room, is within a level.
    pattern, plain, wanted = hairlines
    draw = READERS[reader]
    assert apart(draw(pattern, 100), draw(plain, 100)) <= 0.2
    fine = draw(pattern, 300).reshape(1000, 3, 1000, 3, 3).mean((1, 3))
    assert float(np.abs(fine - wanted).mean()) <= 1


@pytest.mark.parametrize("layout", ["p6mm", "brick:1/3", "half-drop"])
def test_on_pixels_a_sheet_lies_where_the_png_does(tmp_path: Path, layout: str) -> None:
    # A tile of 93.3 mm is 132.2 px at 36 dpi: on a sheet of 54 × 36 in up to 3 px are at stake.
    # MuPDF is left out: it cuts cells' distances off to whole pixels.
    body = BODY.replace('width="100"', 'width="93.3"').replace('height="100"', 'height="71.7"')
    art = write_svg(tmp_path, body, width="93.3mm", height="71.7mm", view_box="0 0 93.3 71.7")
    exporter = Exporter(read_art(art).repeat(layout))
    plan, size = exporter.plan(F(36)), Size(MM_PER_INCH * 54, MM_PER_INCH * 36)
    snapped = exporter.sheet(plan, size=size, on_pixels=True)
    done = exporter.write(tmp_path / "a.pdf", snapped)
    assert plan.note() in done.notes
    exporter.write(tmp_path / "exact.pdf", exporter.sheet(plan, size=size))
    wanted = ours(tmp_path, exporter, done)
    for reader in (pdfium, READERS["poppler"]):
        assert apart(reader(tmp_path / "a.pdf", 36), wanted) <= 1
        assert apart(reader(tmp_path / "exact.pdf", 36), wanted) > 2, "it has other sizes"


@pytest.mark.parametrize("patterned", [True, False])
def test_a_long_sheet_in_pages_is_the_same_sheet(tmp_path: Path, patterned: bool) -> None:
    # 300 in are beyond the plain limit of 200 in; 18 dpi is a quarter of a pixel to the point.
    tall = write_svg(tmp_path, BODY, width="4in", height="4in" if patterned else "300in")
    exporter = Exporter(read_art(tall).repeat("half-drop"))
    size = Size(MM_PER_INCH * 10, MM_PER_INCH * 300) if patterned else None
    cut = exporter.sheet(exporter.plan(F(18)), size=size)
    (note,) = exporter.write(tmp_path / "one.pdf", cut).notes
    # 300 in are 7,620 mm.
    assert "UserUnit of 2" in note
    assert "--page-length 3810mm makes 2 pages" in note
    settings = Settings(page_length=MM_PER_INCH * 140)
    done = exporter.write(tmp_path / "a.pdf", cut, settings=settings)
    assert (done.notes, done.facts["pages"], done.facts["user_unit"]) == ((), 3, 1)
    document = pypdfium2.PdfDocument(tmp_path / "a.pdf")
    pages = [np.array(page.render(scale=0.25).to_pil().convert("RGB")) for page in document]
    assert [len(page) for page in pages] == [140 * 18, 140 * 18, 20 * 18]
    assert apart(np.concatenate(pages), ours(tmp_path, exporter, done)) <= 1.5


def test_pages_are_numbered_beside_their_marks(tmp_path: Path) -> None:
    told: dict[str, Any] = {"marks": True, "label": "Test", "page_length": MM_PER_INCH * 4}
    file = written(tmp_path, inches(tmp_path, BODY), size=(9, 10), **told)[0]
    pages = list(pypdfium2.PdfDocument(file))
    words = [page.get_textpage().get_text_bounded() for page in pages]
    assert words == [f"Test page {number} of 3" for number in (1, 2, 3)]


def test_more_pages_than_anybody_prints_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="2,000 pages"):
        written(tmp_path, inches(tmp_path, BODY), size=(9, 20_000), page_length=MM_PER_INCH * 10)


PNG_DATA = io.BytesIO()
Image.fromarray(np.dstack([np.tile(np.arange(0, 240, 20, dtype=np.uint8), (9, 1))] * 3)).resize(
    (120, 90)
).save(PNG_DATA, "PNG")
PICTURE = f"data:image/png;base64,{base64.b64encode(PNG_DATA.getvalue()).decode()}"

# What SVG can say and a PDF holds as vectors; each is one motif on a ground.
ART = {
    "even-odd fill": '<path fill-rule="evenodd" d="M10 10h80v80h-80z M30 30h40v40h-40z"/>',
    "arcs and curves": '<path d="M10 50A30 20 15 1 1 70 60Q90 90 50 90T15 70z" fill="#379"/>',
    "rounded corners": '<rect x="9" y="20" width="80" height="50" rx="30" fill="#357"/>',
    "dashes": '<path d="M9 20L90 40 20 90" fill="none" stroke="#135" stroke-width="8"'
    ' stroke-dasharray="14 6 3" stroke-dashoffset="-5" stroke-linecap="round"/>',
    "miters": '<path d="M20 90L50 20 80 90" fill="none" stroke="#135" stroke-width="9"/>'
    '<path d="M30 95L50 60 70 95" fill="none" stroke="#a35" stroke-width="6"'
    ' stroke-miterlimit="1.5"/>',
    "a dot": '<path d="M50 50h0" stroke="#c00" stroke-width="40" stroke-linecap="round"/>',
    "stroke beneath": '<circle cx="50" cy="50" r="30" fill="#fc0" stroke="#123"'
    ' stroke-width="14" stroke-opacity=".5" paint-order="stroke"/>',
    "fill and stroke fade apart": '<circle cx="50" cy="50" r="30" fill="#fc0" stroke="#123"'
    ' stroke-width="14" stroke-opacity=".5"/>',
    "linear gradient": '<linearGradient id="g" x2="1" y2="1"><stop offset=".2" stop-color="#063"/>'
    '<stop offset=".2" stop-color="#fd6"/><stop offset=".9" stop-color="#c33"/></linearGradient>'
    '<rect x="10" y="20" width="80" height="40" fill="url(#g)"/>',
    "repeating gradient": '<linearGradient id="g" gradientUnits="userSpaceOnUse" x1="20" y1="20"'
    ' x2="34" y2="28" spreadMethod="repeat"><stop stop-color="#c33"/><stop offset="1"'
    ' stop-color="#36a"/></linearGradient><circle cx="50" cy="50" r="40" fill="url(#g)"/>',
    "reflecting radial": '<radialGradient id="g" r=".2" fx=".4" fy=".45" spreadMethod="reflect">'
    '<stop stop-color="#639"/><stop offset="1" stop-color="#fc9"/></radialGradient>'
    '<ellipse cx="50" cy="50" rx="45" ry="25" fill="url(#g)" transform="rotate(20 50 50)"/>',
    "fading gradient": '<radialGradient id="g"><stop stop-color="#e62"/><stop offset="1"'
    ' stop-color="#206" stop-opacity="0"/></radialGradient>'
    '<circle cx="50" cy="50" r="45" fill="url(#g)" fill-opacity=".8"/>',
    "gradient on a stroke": '<linearGradient id="g"><stop stop-color="#063"/><stop offset="1"'
    ' stop-color="#f90" stop-opacity=".3"/></linearGradient>'
    '<circle cx="50" cy="50" r="30" fill="none" stroke="url(#g)" stroke-width="20"/>',
    "group opacity": '<g opacity=".5"><rect x="10" y="10" width="50" height="50" fill="#d33"/>'
    '<rect x="40" y="40" width="50" height="50" fill="#33d"/></g>',
    "opacity within opacity": '<g opacity=".6"><circle cx="40" cy="50" r="30"/><g opacity=".5">'
    '<rect x="40" y="40" width="50" height="50" fill="#fff"/><circle cx="70" cy="70" r="9"/>'
    "</g></g>",
    "clip": '<clipPath id="c"><path d="M10 10L90 30 40 90z"/></clipPath>'
    '<g clip-path="url(#c)"><rect width="99" height="99" fill="#258"/></g>',
    "clip of two that overlap": '<clipPath id="c"><circle cx="35" cy="50" r="25"/>'
    '<path d="M30 30v40h60v-40z"/></clipPath><g clip-path="url(#c)">'
    '<rect width="99" height="99" fill="#284"/></g>',
    "clip of two apart": '<clipPath id="c"><circle cx="25" cy="50" r="20"/>'
    '<circle cx="75" cy="50" r="20"/></clipPath><g clip-path="url(#c)">'
    '<rect width="99" height="99" fill="#284"/></g>',
    "clip on a clip, turned": '<clipPath id="o"><circle cx="50" cy="50" r="30"/></clipPath>'
    '<clipPath id="c" clip-path="url(#o)"><rect x="20" y="40" width="70" height="20"'
    ' transform="rotate(20 50 50)"/></clipPath><g clip-path="url(#c)">'
    '<rect width="99" height="99" fill="#b4a"/></g>',
    "clip in shares of the box": '<clipPath id="c" clipPathUnits="objectBoundingBox">'
    '<circle cx=".5" cy=".5" r=".5"/></clipPath>'
    '<rect x="10" y="30" width="80" height="40" fill="#069" clip-path="url(#c)"/>',
    "even-odd clip": '<clipPath id="c"><path clip-rule="evenodd" d="M10 10h80v80h-80z'
    ' M30 30h40v40h-40z"/></clipPath><circle cx="50" cy="50" r="45" clip-path="url(#c)"/>',
    "mask": '<linearGradient id="g"><stop stop-color="#fff"/><stop offset="1"/></linearGradient>'
    '<mask id="m"><rect width="100" height="100" fill="url(#g)"/></mask>'
    '<g mask="url(#m)"><circle cx="40" cy="50" r="30" fill="#a20"/>'
    '<circle cx="60" cy="50" r="30" fill="#04a"/></g>',
    "mask in shares of the box": '<mask id="m" maskContentUnits="objectBoundingBox">'
    '<circle cx=".5" cy=".5" r=".4" fill="#ccc"/></mask>'
    '<rect x="10" y="20" width="80" height="60" fill="#940" mask="url(#m)" opacity=".8"/>',
    "coloured mask": '<mask id="m"><circle cx="50" cy="50" r="40" fill="#0f0"/></mask>'
    '<rect width="99" height="99" fill="#024" mask="url(#m)"/>',
    "blend mode": '<rect x="10" y="30" width="50" height="50" fill="#f80"/>'
    '<g style="mix-blend-mode:multiply"><circle cx="60" cy="50" r="30" fill="#0af"/></g>',
    "picture": f'<image x="10" y="10" width="80" height="60" href="{PICTURE}"/>',
    "picture cut to its frame": '<image x="10" y="10" width="40" height="80"'
    f' preserveAspectRatio="xMinYMid slice" href="{PICTURE}"/>',
}


COLUMNS = 7
LIMITS = {
    # Readers draw gradients in a limited number of steps, which hard stops and turns show, and
    # each smooths enlarged pictures in its own way.
    "linear gradient": 2.0,
    "repeating gradient": 5.0,
    "reflecting radial": 5.0,
    "gradient on a stroke": 5.0,
    "picture": 2.0,
}
"""Levels by which a cell may be apart, where it is more than 1.2: edges weigh more in a cell."""


class Sampler(NamedTuple):
    """All of :data:`ART` on one page, a cell of 200 px each, as we and as readers draw it."""

    file: Path
    done: Exported
    ours: Pixels
    shown: dict[str, Pixels]


@pytest.fixture(scope="module")
def sampler(tmp_path_factory: pytest.TempPathFactory) -> Sampler:
    folder = tmp_path_factory.mktemp("sampler")
    cells = []
    for n, body in enumerate(ART.values()):
        own = re.sub(r'(id="|url\(#)(\w)', rf"\g<1>\g<2>{n}", body)
        place = f"translate({n % COLUMNS * 100} {n // COLUMNS * 100})"
        cells.append(f'<g id="cell{n}" transform="{place}">{own}</g>')
    rows = -(-len(ART) // COLUMNS)
    art = write_svg(
        folder,
        f'<rect width="{COLUMNS * 100}" height="{rows * 100}" fill="#f2ede0"/>{"".join(cells)}',
        width=f"{COLUMNS}in",
        height=f"{rows}in",
        view_box=f"0 0 {COLUMNS * 100} {rows * 100}",
    )
    repeat = read_art(art).repeat()
    # As a sheet, so that all of it is in a pattern.
    file, done, exporter = written(folder, repeat, 200, size=(COLUMNS, rows))
    wanted = ours(folder, exporter, done)
    return Sampler(file, done, wanted, {k: draw(file, 200) for k, draw in READERS.items()})


@pytest.mark.parametrize("name", ART)
def test_what_svg_says_looks_like_ours(sampler: Sampler, name: str) -> None:
    row, column = divmod(list(ART).index(name), COLUMNS)
    cell = (slice(row * 200, row * 200 + 200), slice(column * 200, column * 200 + 200))
    wanted = sampler.ours[cell]
    plain = np.full_like(wanted, (0xF2, 0xED, 0xE0))
    assert apart(plain, wanted) > 5, "there is something to see"
    for reader, shown in sampler.shown.items():
        assert apart(shown[cell], wanted) <= LIMITS.get(name, 1.2), reader


def test_what_svg_says_is_vector(sampler: Sampler) -> None:
    assert sampler.done.facts["rasterised"] == []
    with pikepdf.open(sampler.file) as pdf:
        pictures = [o for o in pdf.objects if _is_picture(o)]
    assert len(pictures) == 1, "the drawing's own, once for both places"


def _is_picture(thing: pikepdf.Object) -> bool:
    return isinstance(thing, pikepdf.Stream) and thing.get("/Subtype") == "/Image"


@pytest.mark.parametrize("reader", READERS)
def test_bleed_is_more_of_the_same_cloth(tmp_path: Path, reader: str) -> None:
    repeat = inches(tmp_path, BODY).with_layout("half-drop")
    for size in (None, (6, 5)):
        file, done, _ = written(tmp_path, repeat, size=size, bleed=MM_PER_INCH / 2)
        width, height = size or (4, 4)
        page = READERS[reader](file, 50)
        assert page.shape[:2] == (50 * height + 50, 50 * width + 50)
        trim = [v / 25.4 for v in done.facts["trim_box_mm"]]
        assert trim == pytest.approx([0.5, 0.5, width + 0.5, height + 0.5])
        # A column of 200 px on, the cloth comes back 100 px further down.
        assert apart(page[:-100, :50], page[100:, 200:250]) <= 1


def test_marks_stay_outside_the_bleed(tmp_path: Path) -> None:
    repeat = inches(tmp_path, BODY)
    size, bleed = (8, 6), MM_PER_INCH / 8
    file, done, _ = written(tmp_path, repeat, size=size, bleed=bleed, marks=True)
    bare = written(tmp_path / "bare", repeat, size=size, bleed=bleed)[0]
    with_marks, without = mupdf(file, 254), mupdf(bare, 254)  # 10 px to the mm
    height = with_marks.shape[0]
    left, bottom, right, top = (round(v * 10) for v in done.facts["bleed_box_mm"])
    rows, columns = slice(height - top + 2, height - bottom - 2), slice(left + 2, right - 2)
    assert apart(with_marks[rows, columns], without[2:-2, 2:-2][: rows.stop - rows.start]) < 1
    dark: Any = (with_marks < 128).any(axis=2)
    # Trim marks stand on the lines of the trim, here left of its top and its bottom.
    trim = [round(v * 10) for v in done.facts["trim_box_mm"]]
    for y in (height - trim[1], height - trim[3]):
        assert dark[y - 3 : y + 3, : left - 20].any()
        assert not dark[y - 3 : y + 3, left - 15 : left - 2].any(), "they stop short of the bleed"


def test_marks_are_on_every_plate(tmp_path: Path) -> None:
    file = written(tmp_path, inches(tmp_path, BODY), size=(8, 6), marks=True)[0]
    with pikepdf.open(file) as pdf:
        spaces = dict(pdf.pages[0].Resources.ColorSpace)
        (mark,) = (s for k, s in spaces.items() if k != "/DefaultRGB")
        assert list(mark)[:2] == ["/Separation", "/All"], "ISO 32000-1 §8.6.6.4"


def test_a_transparent_file_has_no_ground(tmp_path: Path) -> None:
    pymupdf = pytest.importorskip("pymupdf")
    repeat = inches(tmp_path, BODY)
    for size in (None, (6, 6)):
        file = written(tmp_path, repeat, size=size, transparent=True)[0]
        picture = pymupdf.open(file)[0].get_pixmap(alpha=True)
        pixels = np.frombuffer(picture.samples, np.uint8).reshape(picture.height, -1, 4)
        assert pixels[10, 230, 3] == 0, "bare cloth"
        assert pixels[86, 12, 3] == 255, "the circle"


# ------------------------------------------------------------------ what the file says


@pytest.mark.parametrize(
    ("width", "height", "bleed", "marks"),
    [
        (1400, 50_000, 0, False),
        (530, 10_050, 3, True),
        (914.4, 1371.6, F(25, 8), False),
        (210, 297, 5, True),
        (F(1, 3), F(10_000, 7), 0, False),
        (5080, 5080, 0, False),
    ],
)
def test_boxes_are_right_to_a_thousandth_of_a_point(
    tmp_path: Path, width: F, height: F, bleed: F, marks: bool
) -> None:
    repeat = read(tmp_path, BODY).repeat()
    exporter = Exporter(repeat)
    cut = exporter.sheet(exporter.plan(F(254, 5)), size=Size(F(width), F(height)))
    settings = Settings(bleed=F(bleed), marks=marks)
    done = exporter.write(tmp_path / "a.pdf", cut, settings=settings)
    with pikepdf.open(tmp_path / "a.pdf") as pdf:
        page = pdf.pages[0]
        unit = float(page.get("/UserUnit", 1))
        media, bleeds, trim = (
            [float(v) * unit for v in box] for box in (page.mediabox, page.bleedbox, page.trimbox)
        )
        longest = max(float(v) for v in page.mediabox)
    slug = trim[0] - points(bleed)
    assert slug == pytest.approx(points(9) if marks else 0, abs=1e-3)
    assert trim[2] - trim[0] == pytest.approx(points(width), abs=1e-3)
    assert trim[3] - trim[1] == pytest.approx(points(height), abs=1e-3)
    for k, sign in enumerate((-1, -1, 1, 1)):
        assert bleeds[k] == pytest.approx(trim[k] + sign * points(bleed), abs=1e-3)
        assert media[k] == pytest.approx(bleeds[k] + sign * slug, abs=1e-3)
    assert media[:2] == [0, 0]
    assert longest <= 14_400
    assert (unit > 1) == (max(media) > 14_400)
    assert any("UserUnit" in note for note in done.notes) == (unit > 1)


@given(
    st.fractions(F(1, 10), 10_000_000),
    st.fractions(F(1, 10), 10_000_000),
    st.fractions(0, 50),
    st.fractions(0, 50),
)
def test_a_page_is_never_too_long_nor_its_unit_too_large(w: F, h: F, bleed: F, slug: F) -> None:
    boxes = frame(w, h, bleed, slug)
    longest = max(w, h) + 2 * (bleed + slug)
    assert max(boxes.media) == longest * 72 * 10 / 254 / boxes.unit <= 14_400
    assert boxes.unit == 1 or longest * 72 * 10 / 254 / (boxes.unit - 1) > 14_400
    assert boxes.trim[2] - boxes.trim[0] == w * 72 * 10 / 254 / boxes.unit


# (layout, the straight block in mm of a tile 100 mm × 100 mm)
BLOCKS = [
    ("block", 100, 100),
    ("half-drop", 200, 100),
    ("drop:2/5", 500, 100),
    ("brick:1/3", 100, 300),
]


@pytest.mark.parametrize(("layout", "width", "height"), BLOCKS)
@pytest.mark.parametrize("size", [(28, 35), (55, 1968)])
def test_the_pattern_is_the_straight_block(
    tmp_path: Path, layout: str, width: int, height: int, size: tuple[int, int]
) -> None:
    repeat = read(tmp_path, BODY).repeat(layout)
    file = written(tmp_path, repeat, size=size)[0]
    with pikepdf.open(file) as pdf:
        page = pdf.pages[0]
        unit = float(page.get("/UserUnit", 1))
        (pattern,) = page.Resources.Pattern.as_dict().values()
        assert [int(pattern.PatternType), int(pattern.PaintType)] == [1, 1]
        a, b, c, d, e, f = (float(v) * unit for v in pattern.Matrix)
        assert (b, c) == (0, 0)
        assert float(pattern.XStep) * a == pytest.approx(points(width), rel=2e-8)
        assert float(pattern.YStep) * d == pytest.approx(points(height), rel=2e-8)
        across, down = float(pattern.XStep), float(pattern.YStep)
        assert [float(v) for v in pattern.BBox] == [0, -down, across, 0], "from its top left"
        assert e == pytest.approx(float(page.trimbox[0]) * unit, abs=2e-3)
        top = float(page.trimbox[3]) * unit
        assert f == pytest.approx(top, abs=2e-3), "a block's top is the sheet's"
        rectangles = page.Contents.read_bytes().decode().count(" re f")
    assert rectangles == 2, "the ground and the pattern, whatever the size"


def test_each_motif_is_there_once(tmp_path: Path) -> None:
    repeat = read(tmp_path, BODY).repeat("half-drop")
    file, done, _ = written(tmp_path, repeat, size=(35, 35))
    assert done.facts["copies"] > len(repeat.placements)
    with pikepdf.open(file) as pdf:
        forms = [
            o for o in pdf.objects if isinstance(o, pikepdf.Stream) and o.get("/Subtype") == "/Form"
        ]
    assert len(forms) == len(repeat.placements)


def test_fifty_metres_of_the_night_garden_are_tiny_and_open_at_once(tmp_path: Path) -> None:
    exporter = Exporter(demo("night-garden").repeat("half-drop"))
    sizes = {}
    for metres in (1, 50):
        cut = exporter.sheet(exporter.plan(F(300)), size=Size(F(1400), F(1000 * metres)))
        sizes[metres] = exporter.write(tmp_path / f"{metres}.pdf", cut).size
    assert sizes[50] < 1_000_000
    assert sizes[50] - sizes[1] < 200, "what grows are a few digits"
    # 1 px to 10 cm; pdfium does not heed UserUnit, so its page is a tenth of the size.
    assert pdfium(tmp_path / "50.pdf", 2.54).shape[:2] == pytest.approx((500, 14), abs=1)
    assert mupdf(tmp_path / "50.pdf", 0.254).shape[:2] == pytest.approx((500, 14), abs=1)


def test_a_coordinate_is_the_drawings_own(tmp_path: Path) -> None:
    body = f'{GROUND}<path d="M12.345 20L67.89 21.5 33.3 80.125z"/>'
    file = written(tmp_path, read(tmp_path, body).repeat())[0]
    with pikepdf.open(file) as pdf:
        (form,) = pdf.pages[0].Resources.XObject.as_dict().values()
        text = form.read_bytes().decode()
    assert "12.345 20 m\n67.89 21.5 l\n33.3 80.125 l\nh" in text


def test_the_print_size_scales_the_pattern(tmp_path: Path) -> None:
    exporter = Exporter(read(tmp_path, BODY).repeat())
    plan = exporter.plan(F(300), width=F(250))
    exporter.write(tmp_path / "a.pdf", exporter.sheet(plan, size=Size(F(900), F(900))))
    with pikepdf.open(tmp_path / "a.pdf") as pdf:
        (pattern,) = pdf.pages[0].Resources.Pattern.as_dict().values()
        assert float(pattern.XStep) * float(pattern.Matrix[0]) == pytest.approx(points(250))


def test_the_same_job_is_the_same_bytes(tmp_path: Path) -> None:
    repeat = read(tmp_path, BODY).repeat()
    one = written(tmp_path, repeat, size=(12, 12))[0].read_bytes()
    assert written(tmp_path, repeat, size=(12, 12))[0].read_bytes() == one


# ------------------------------------------------------------------ colours


def test_colours_are_srgb_and_say_so(tmp_path: Path) -> None:
    file = written(tmp_path, read(tmp_path, BODY).repeat())[0]
    with pikepdf.open(file) as pdf:
        space = pdf.pages[0].Resources.ColorSpace.DefaultRGB
        assert space[0] == "/ICCBased"
        assert space[1].read_bytes() == srgb_profile()
        assert not pdf.attachments


def test_a_profile_is_attached_and_the_file_claims_to_be_nothing_it_is_not(tmp_path: Path) -> None:
    repeat = read(tmp_path, BODY.replace("#3a7d44", "#00ff00")).repeat()
    file, done, _ = written(tmp_path, repeat, colour=open_conversion(CMYK))
    with pikepdf.open(file) as pdf:
        # An output intent says that a file is PDF/X or PDF/A (ISO 32000-1 §14.11.5).
        assert "/OutputIntents" not in pdf.Root
        ((name, attached),) = pdf.attachments.items()
        assert name == "artifex-cmyk-swop-profile.icc"
        assert attached.get_file().read_bytes() == CMYK.read_bytes()
    assert done.facts["out_of_gamut"][0]["colour"] == "#00ff00"
    assert any("#00ff00" in note for note in done.notes)
    assert any("colours stay sRGB; Artifex CMYK SWOP Profile is attached" in n for n in done.notes)
    assert (
        file.read_bytes() == written(tmp_path, repeat, colour=open_conversion(CMYK))[0].read_bytes()
    )


# ------------------------------------------------------------------ what must be a picture


@pytest.mark.parametrize("size", [None, (8, 6)])
def test_a_filter_makes_its_motif_a_picture_and_only_that(
    tmp_path: Path, size: tuple[int, int] | None
) -> None:
    body = (
        f'{GROUND}<filter id="f"><feGaussianBlur stdDeviation="2"/></filter>'
        '<g id="glow" filter="url(#f)"><circle cx="90" cy="50" r="20" fill="#a30"/></g>'
        '<circle id="plain" cx="40" cy="50" r="20" fill="#03a"/>'
    )
    file, done, exporter = written(tmp_path, inches(tmp_path, body), 100, size=size)
    assert done.facts["rasterised"] == ["glow"]
    assert any("“glow” is a picture of 100 dpi for the sake of filter" in n for n in done.notes)
    with pikepdf.open(file) as pdf:
        (picture,) = (o for o in pdf.objects if _is_picture(o) and "/SMask" in o)
        # A blur of 2 reaches three times as far on each side; a user unit is 4 px.
        assert 4 * (40 + 4) <= picture.Width <= 4 * (40 + 20)
    wanted = ours(tmp_path, exporter, done)
    for reader, draw in READERS.items():
        # MuPDF lays a picture on whole pixels of its own choice, and its own sRGB is a level off.
        assert apart(draw(file, 100), wanted) <= (2 if reader == "mupdf" else 1.5), reader


@needs_a_font
def test_live_text_says_how_to_keep_it_vector(tmp_path: Path) -> None:
    (tmp_path / "t.svg").write_text(
        svg(f'{GROUND}<text id="t" x="10" y="60" font-size="40" font-family="serif">Ab</text>')
    )
    out = tmp_path / "t.pdf"
    run = vecrepeat("export", tmp_path / "t.svg", "-o", out, "--dpi", "50", "--live-text")
    assert run.code == 0, run.err
    assert "for the sake of text; without --live-text it stays vector" in run.err
    run = vecrepeat("export", tmp_path / "t.svg", "-o", out, "--dpi", "50")
    assert run.code == 0, run.err
    assert "picture" not in run.err
