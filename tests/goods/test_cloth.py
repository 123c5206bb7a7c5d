"""Cloth: cuts, scale, shrinkage and selvedges. Expected figures are worked by hand."""

from __future__ import annotations

import sys
from collections.abc import Callable
from fractions import Fraction as F  # noqa: N817
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from support import needs_a_font, read

from vecrepeat.art.read import read_art
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Affine
from vecrepeat.core.units import Size
from vecrepeat.goods.cloth import ClothPlan, Shrinkage, plan_cloth, write_cloth
from vecrepeat.goods.screens import on_screen
from vecrepeat.goods.selvedge import strip_svg
from vecrepeat.goods.tables import BOLTS, CUTS, ClothCut, read_tables
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Placement, Repeat
from vecrepeat.write.exporting import Exported, Exporter
from vecrepeat.write.formats import Settings

sys.path.insert(0, str(Path(__file__).parents[1] / "vector"))
from pdf_judges import READERS, Pixels, ghostscript

BODY = (
    '<rect width="100" height="100" fill="#f2ede0"/>'
    '<circle cx="4" cy="30" r="17" fill="#204060"/><path d="M20 70 60 40 90 95z" fill="#c0502a"/>'
)
PLAIN = Settings()


@pytest.fixture
def repeat(tmp_path: Path) -> Repeat:
    return read(tmp_path, BODY).repeat("half-drop")


def written(
    repeat: Repeat,
    plan: ClothPlan,
    file: Path,
    text: str = "",
    settings: Settings = PLAIN,
    *,
    dpi: F = F(100),
    on_pixels: bool = False,
) -> Exported:
    """A cut of cloth in a file."""
    return write_cloth(
        repeat,
        plan,
        str(file),
        dpi=dpi,
        text=text,
        one_way=False,
        on_pixels=on_pixels,
        settings=settings,
    )


# --- tables


def test_cuts_and_bolts_by_name_and_by_size() -> None:
    tables = read_tables(None)
    assert tables.cut("yard") == ClothCut(F(9144, 10))
    assert tables.cut("fat-quarter") == ClothCut(F(4572, 10), F(5334, 10))  # 18 in × 21 in
    assert tables.cut("2.5m") == ClothCut(F(2500))
    assert tables.cut("50cmx70cm") == ClothCut(F(700), F(500)), "width first, as everywhere"
    assert tables.bolt("quilting") == F(11176, 10)  # 44 in
    assert tables.bolt("1.4m") == 1400


def test_a_users_own_table_goes_on_top(tmp_path: Path) -> None:
    file = tmp_path / "shop.toml"
    file.write_text('[cuts]\nscarf = "70x200cm"\nyard = "91cm"\n[bolts]\nlinen = "138cm"\n')
    tables = read_tables(file)
    assert tables.cut("scarf") == ClothCut(F(2000), F(700))
    assert tables.cut("yard") == ClothCut(F(910))
    assert tables.cut("metre") == CUTS["metre"]
    assert tables.bolt("linen") == 1380
    assert tables.bolt("110cm") == BOLTS["110cm"]


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("[cuts]\nscarf = 7", "“scarf” is not a size"),
        ("[cuts]\nscarf = '7'", "no unit"),
        ("[bolts]\nx = '-1m'", "negative"),
        ("[rolls]\nx = '1m'", "“rolls” means nothing"),
        ("scarf = '1m'", "means nothing"),
        ("[cuts", "not TOML"),
    ],
)
def test_a_table_in_error_is_told(tmp_path: Path, text: str, what: str) -> None:
    (tmp_path / "shop.toml").write_text(text)
    with pytest.raises(InputError, match=what) as error:
        read_tables(tmp_path / "shop.toml")
    assert "shop.toml" in str(error.value)


def test_an_unknown_name_lists_the_known() -> None:
    with pytest.raises(InputError, match=r"known are yard, .*metre"):
        read_tables(None).cut("ell")
    with pytest.raises(InputError, match="known are quilting"):
        read_tables(None).bolt("wool")


# --- the plan


def test_so_many_across_fill_the_usable_width(repeat: Repeat) -> None:
    plan = plan_cloth(repeat, ClothCut(F(1000)), F(1400), selvedge=F(15), repeats_across=5)
    assert plan.tile == Size(F(274), F(274))  # (1400 − 30) ÷ 5
    assert plan.across == 5
    assert plan.sheet == Size(F(1400), F(1000))
    assert plan.notes == ()


def test_a_part_of_a_repeat_is_told_with_the_number_that_fits(repeat: Repeat) -> None:
    plan = plan_cloth(repeat, ClothCut(F(1000)), F(1400), repeat_width=F(300))
    assert plan.across == F(14, 3)
    # 4 × 300 = 1200: 200 mm of the fifth are left.
    (note,) = plan.notes
    assert "200 mm of one are left" in note
    assert "--across 5" in note


def test_tiles_are_counted_across_the_cut_itself(repeat: Repeat) -> None:
    # A fat quarter is 21 in wide, whatever the bolt: 533.4 ÷ 100 = 5.334.
    cut, bolt = CUTS["fat-quarter"], BOLTS["quilting"]
    plan = plan_cloth(repeat, cut, bolt, selvedge=F(10))
    assert plan.across == F(5334, 1000)
    told = " ".join(plan.notes)
    assert "33.4 mm of one are left at the cut's edge; --across 5 makes them whole" in told
    assert "at the selvedge" not in told, "it has none"
    whole = plan_cloth(repeat, cut, bolt, selvedge=F(10), repeats_across=5)
    assert whole.tile.width * 5 == whole.sheet.width == F(5334, 10)
    assert not any("left at" in note for note in whole.notes)


def test_shrinkage_prints_larger_by_its_reciprocal(repeat: Repeat) -> None:
    wash = Shrinkage(across=F(2, 100), along=F(5, 100))
    plan = plan_cloth(repeat, ClothCut(F(950), F(490)), F(1400), repeat_width=F(98), shrinkage=wash)
    assert plan.sheet == Size(F(500), F(1000))
    assert plan.tile == Size(F(100), F(98) / F(95, 100))
    # Washed, all of it is as it was meant.
    assert plan.tile.width * (1 - wash.across) == 98 == plan.tile.height * (1 - wash.along)
    assert any("wash a test piece" in note for note in plan.notes)


def test_with_shrinkage_and_a_number_across_the_print_fills_the_bolt(repeat: Repeat) -> None:
    wash = Shrinkage(across=F(3, 100), along=F(8, 100))
    plan = plan_cloth(repeat, ClothCut(F(1000)), F(1400), repeats_across=7, shrinkage=wash)
    assert plan.tile.width == 200
    washed = (plan.tile.width * (1 - wash.across), plan.tile.height * (1 - wash.along))
    assert washed[0] == washed[1], "its proportions come back in the wash"


@pytest.mark.parametrize(
    ("cut", "told", "what"),
    [
        (ClothCut(F(500), F(1390)), {"selvedge": F(10)}, "only 1380 mm of 1400 mm"),
        (ClothCut(F(500)), {"selvedge": F(700)}, "leave nothing"),
        (ClothCut(F(500)), {"repeat_width": F(9), "repeats_across": 2}, "exclude each other"),
        (ClothCut(F(500)), {"repeats_across": 0}, "at least one"),
    ],
)
def test_what_can_not_be_cut_is_refused(
    repeat: Repeat, cut: ClothCut, told: dict[str, F], what: str
) -> None:
    with pytest.raises(InputError, match=what):
        plan_cloth(repeat, cut, F(1400), **told)  # type: ignore[arg-type]


def test_a_shrinkage_beyond_half_is_refused() -> None:
    with pytest.raises(InputError, match="shrinkage"):
        Shrinkage(across=F(51, 100))


def test_one_way_is_told(repeat: Repeat) -> None:
    (note,) = plan_cloth(repeat, ClothCut(F(1000)), F(1400), one_way=True, repeats_across=7).notes
    assert note.startswith("one way: cut all pieces with the same end up")


# --- selvedges


@needs_a_font
@pytest.mark.parametrize("layout", ["half-drop", "turnover-across"])
def test_between_the_selvedges_is_the_design_itself(tmp_path: Path, layout: str) -> None:
    repeat = read(tmp_path, BODY).repeat(layout)
    plan = plan_cloth(repeat, ClothCut(F(900)), F(530), selvedge=F(15))
    assert plan.tile == Size(repeat.width, repeat.height)
    for suffix in ("png", "tif"):
        write_cloth(
            repeat,
            plan,
            str(tmp_path / f"a.{suffix}"),
            dpi=F(254, 5),
            text="Test cloth",
            one_way=True,
            on_pixels=True,
            settings=Settings(),
        )
    exporter = Exporter(repeat)
    usable = Size(F(500), F(900))
    exporter.write(tmp_path / "b.png", exporter.sheet(exporter.plan(F(254, 5)), size=usable))
    with Image.open(tmp_path / "a.png") as one, Image.open(tmp_path / "b.png") as other:
        cloth, design = np.asarray(one).astype(int), np.asarray(other).astype(int)
    with Image.open(tmp_path / "a.tif") as third:
        assert np.array_equal(np.asarray(third), cloth)
    assert cloth.shape == (1800, 1060, 3)
    between = cloth[:, 30:-30]
    assert np.abs(between - design).mean() < 0.02
    assert np.abs(between - design).max() <= 16
    # The strips: mostly white, with a dot of each colour, and the same on both sides.
    left, right = cloth[:, :30], cloth[:, -30:]
    assert np.abs(left - right).mean() < 0.2
    assert (left.min(axis=2) > 250).mean() > 0.5
    for colour in ((0xF2, 0xED, 0xE0), (0x20, 0x40, 0x60), (0xC0, 0x50, 0x2A)):
        assert (np.abs(left - colour).max(axis=2) <= 1).sum() > 30, colour
    # They come back with the straight blocks that they need.
    periods = [p for p in range(100, 900, 100) if np.array_equal(cloth[p:], cloth[:-p])]
    assert periods
    assert periods[0] % 200 == 0


DARK = BODY.replace("#f2ede0", "#101830")


@needs_a_font
@pytest.mark.parametrize("reader", [*READERS.values(), ghostscript])
@pytest.mark.parametrize("marks", [False, True])
def test_nothing_shows_in_the_selvedges_white_nor_at_its_edges(
    tmp_path: Path, reader: Callable[[Path, float], Pixels], marks: bool
) -> None:
    repeat = read(tmp_path, DARK).repeat("half-drop")
    plan = plan_cloth(repeat, ClothCut(F(300)), F(530), selvedge=F(15))
    settings = Settings(bleed=F(3), marks=marks)
    done = written(repeat, plan, tmp_path / "a.pdf", "Test cloth", settings)
    for dpi in (40, 97, 150):
        page = reader(tmp_path / "a.pdf", dpi)

        def at(mm: float, dpi: float = dpi) -> int:
            return round(mm * dpi / 25.4)

        left, bottom, right, top = done.facts["trim_box_mm"]
        rows = page[len(page) - at(top + 2) : len(page) - at(bottom - 2)]
        # Dots are 8 mm wide in the middle of 15 mm, and the text is narrower.
        for x0, x1 in ((-3, 2), (13, 14)):
            assert (rows[:, at(left + x0) : at(left + x1)] == 255).all(), dpi
            assert (rows[:, at(right - x1) : at(right - x0)] == 255).all(), dpi
        assert (rows[:, at(left + 16) : at(right - 16)] < 255).any(axis=2).all(), "the design"


@needs_a_font
def test_vectors_between_selvedges_lie_where_pixels_do(tmp_path: Path) -> None:
    # 36 dpi is half a pixel to the point, so that readers need not round the page: 20 × 12 in.
    repeat = read(tmp_path, DARK).repeat("half-drop")
    plan = plan_cloth(repeat, ClothCut(F(3048, 10)), F(508), selvedge=F(15), repeat_width=F(50))
    for name in ("a.pdf", "a.png"):
        written(repeat, plan, tmp_path / name, "Test cloth", dpi=F(36), on_pixels=True)
    with Image.open(tmp_path / "a.png") as image:
        cloth = np.asarray(image.convert("RGB")).astype(int)
    drawn = READERS["pdfium"](tmp_path / "a.pdf", 36)
    assert np.abs(drawn - cloth)[:, 22:-22].mean() < 0.6
    for axis in (0, 1):
        assert np.abs(np.roll(drawn, 1, axis) - cloth)[:, 22:-22].mean() > 1.5, "a pixel beside it"


@needs_a_font
@pytest.mark.parametrize("text", ["il" * 15, "MW" * 10])
def test_the_selvedge_s_text_begins_beside_the_dots(tmp_path: Path, text: str) -> None:
    # However wide its letters are: a dot of 4 mm radius ends at 10 + 8 mm, the text ends (it runs
    # upwards) within two radii of it.
    drawing, needed = strip_svg(15.0, 400.0, text, ["#ff0000"], False)
    path = tmp_path / "strip.svg"
    path.write_text(drawing, encoding="utf-8")
    (motif,) = read_art(path, motifs="#selvedge").motifs
    exporter = Exporter(
        Repeat("strip", F(15), F(400), (Placement(motif, Affine.translation(0.0, 0.0)),))
    )
    exporter.write(tmp_path / "strip.png", exporter.sheet(exporter.plan(F(254))))
    with Image.open(tmp_path / "strip.png") as image:
        dark = np.flatnonzero((np.asarray(image.convert("L")) < 60).any(axis=1)) / 10
    assert 18 < dark[0] < 18 + 8
    assert dark[-1] < needed


@needs_a_font
def test_whole_pixels_are_told_of_the_cloth_not_of_a_tile(tmp_path: Path) -> None:
    repeat = read(tmp_path, BODY).repeat()
    plan = plan_cloth(repeat, ClothCut(F(300)), F(530), selvedge=F(15))

    def notes(name: str) -> str:
        done = written(repeat, plan, tmp_path / name, dpi=F(31))
        return " ".join(done.notes)

    assert "at 31 dpi whole pixels change design and selvedges together by" in notes("a.png")
    assert "the tile is snapped" not in notes("a.png")
    assert "whole pixels" not in notes("a.pdf"), "it has none"


def test_a_cut_within_the_cloth_has_no_selvedges(repeat: Repeat, tmp_path: Path) -> None:
    plan = plan_cloth(repeat, CUTS["fat-quarter"], BOLTS["quilting"], selvedge=F(10))
    assert not plan.has_selvedges
    assert any("no selvedges are printed" in note for note in plan.notes)
    done = written(repeat, plan, tmp_path / "a.pdf")
    assert done.cut.size == Size(F(5334, 10), F(4572, 10))


# --- screens


def test_a_repeat_that_goes_round_a_screen() -> None:
    screen = on_screen(Layout.parse("half-drop"), Size(F(265), F(320)), F(640), F(1500))
    assert (screen.around, screen.fits, screen.change(screen.fitted)) == (2, True, 0)
    assert screen.across(screen.tile) == F(1500, 530)


def test_the_next_size_that_goes_round() -> None:
    # 640 ÷ 254 = 2.52: three times round, a tile of 213.33 mm (−16 %).
    screen = on_screen(Layout(), Size(F(254), F(254)), F(640), F(1500))
    assert not screen.fits
    assert screen.around == 3
    assert screen.fitted == Size(F(640, 3), F(640, 3))
    assert screen.change(screen.fitted) == pytest.approx(640 / 3 / 254 - 1)
    # Or twice, 320 mm (+26 %).
    assert screen.other == Size(F(320), F(320))
    # Across 1,500 mm: 1500 ÷ 213.33 = 7.031 of the one, 1500 ÷ 320 = 4.688 of the other.
    assert screen.lines()[1].endswith(
        "3 repeats round, 7.031 across 1500 mm; or of 320 mm × 320 mm (+25.984 %), "
        "2 repeats round, 4.688 across 1500 mm"
    )
    assert len(screen.lines()) == 2, "none at a size that does not go round"


def test_a_repeat_longer_than_the_screen_is_round_has_one_size_that_goes() -> None:
    screen = on_screen(Layout(), Size(F(700), F(700)), F(640), F(1500))
    assert screen.fitted == screen.other == Size(F(640), F(640))
    assert "or of" not in "".join(screen.lines())


def test_a_brick_goes_round_by_its_straight_block() -> None:
    # Two rows of 160 mm come back after 320 mm.
    screen = on_screen(Layout.parse("brick"), Size(F(200), F(160)), F(640), F(1000))
    assert screen.block.height == 320
    assert (screen.around, screen.fits) == (2, True)
    # 213.33 mm rows: 640 ÷ 426.67 = 1.5 blocks; one row too many or too few.
    odd = on_screen(Layout.parse("brick"), Size(F(200), F(640, 3)), F(640), F(1000))
    assert not odd.fits
