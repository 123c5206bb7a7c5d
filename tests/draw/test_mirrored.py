"""Mirrored layouts in pixels: turned without a difference, and the same art as drawn directly."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from support import Pixels, box, needs_cairo, read, repeat_of

from vecrepeat.art.read import Art
from vecrepeat.draw.mirrored import MirroredPainter, mirrored
from vecrepeat.draw.paint import Window
from vecrepeat.draw.sheet import Sheet
from vecrepeat.repeat.mirrors import is_group, mirror_grain, turned_over_itself, upright_turns
from vecrepeat.repeat.model import Repeat
from vecrepeat.repeat.symmetry import GROUPS
from vecrepeat.write.exporting import Exporter

# Everything lies in the upper left of the page, so that no group lays it on itself: curves,
# strokes and a gradient over the page's left and upper edge.
BODY = """<defs><linearGradient id="g"><stop stop-color="#d94"/><stop offset="1" stop-color="#426"/>
</linearGradient></defs><rect width="100" height="100" fill="#f4efe6"/>
<path id="leaf" d="M12 4c5 1 9 5 7 11-6-1-9-5-7-11z" fill="#275" stroke="#123" stroke-width=".7"/>
<circle id="bud" cx="6.3" cy="11.1" r="2.7" fill="url(#g)"/>
<path id="stem" d="M11 9q4 3 8.5 8" stroke="#842" stroke-width=".9" fill="none"/>"""
FLIPS = ["turnover-across", "turnover-down", "turnover-both", "half-turn-both"]
LAYOUTS = [
    *(f"block+{form}" for form in FLIPS),
    *("half-drop+turnover-across", "half-drop+half-turn-both", "half-drop+half-turn-down"),
    *("brick+turnover-down", "brick+half-turn-both", "brick+half-turn-across"),
]
UPRIGHT = ["p2", "pm", "pg", "cm", "p2mm", "p2mg", "p2gg", "c2mm", "p4", "p4mm", "p4gm"]


@pytest.fixture(scope="module")
def art(tmp_path_factory: pytest.TempPathFactory) -> Art:
    return read(tmp_path_factory.mktemp("art"), BODY)


def block_of(repeat: Repeat, dpi: str = "50.8") -> Pixels:
    """The straight block; at 50.8 dpi, 2 px a mm."""
    exporter = Exporter(repeat)
    plan = exporter.plan(Fraction(dpi))
    sheet = exporter.sheet(plan, block=True)
    return np.concatenate(list(sheet.strips(exporter.painter(plan))))


@pytest.mark.parametrize("name", [*LAYOUTS, *UPRIGHT])
def test_mirrors_and_half_turns_change_no_pixel(art: Art, name: str) -> None:
    repeat = art.repeat(name)
    pixels = block_of(repeat)
    height, width = pixels.shape[:2]
    assert repeat.symmetry is not None
    tile = (float(repeat.width) * 2, float(repeat.height) * 2)
    rows, columns = np.mgrid[:height, :width]
    for turn in upright_turns(repeat.symmetry):
        # Where the pixel (column, row) is taken to, by the operation itself.
        x = turn.a * (columns + 0.5) + float(turn.e) * tile[0]
        y = turn.d * (rows + 0.5) + float(turn.f) * tile[1]
        assert np.array_equal(
            pixels[np.floor(y).astype(int) % height, np.floor(x).astype(int) % width], pixels
        )


@pytest.mark.parametrize("name", ["p4", "p4mm", "p4gm"])
def test_quarter_turns_change_next_to_nothing(art: Art, name: str) -> None:
    pixels = block_of(art.repeat(name)).astype(int)
    # x, y → −y, x about the cell's corner, which is one of the fourfold points.
    turned = np.rot90(pixels, -1)
    assert np.abs(turned - pixels).mean() <= 1
    assert len(np.unique(pixels.reshape(-1, 4), axis=0)) > 20


@pytest.mark.parametrize(("name", "degrees"), [("p3", 120), ("p6", 60), ("p31m", 120)])
def test_hexagonal_turns_change_next_to_nothing(art: Art, name: str, degrees: int) -> None:
    repeat = art.repeat(name)
    exporter = Exporter(repeat)
    plan = exporter.plan(Fraction("101.6"))
    sheet = np.tile(
        np.concatenate(list(Sheet(plan, *plan.block).strips(exporter.painter(plan)))), (2, 3, 1)
    ).astype(float)
    across, down = plan.scale
    # About a lattice point in the middle of the sheet, bilinear on both sides of the turn.
    cx, cy = plan.width * 1.5, float(plan.height)
    y, x = np.mgrid[-150:150, -150:150] + 0.5
    angle = np.radians(degrees)
    tx = (np.cos(angle) * x / across - np.sin(angle) * y / down) * across
    ty = (np.sin(angle) * x / across + np.cos(angle) * y / down) * down
    here, there = (_sampled(sheet, cx + u, cy + v) for u, v in ((x, y), (tx, ty)))
    assert np.abs(here - there).mean() <= 1
    assert here.std() > 10


def _sampled(image: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Bilinear samples at points in pixels."""
    x, y = x - 0.5, y - 0.5
    x0, y0 = np.floor(x).astype(int), np.floor(y).astype(int)
    fx, fy = (x - x0)[..., None], (y - y0)[..., None]
    top = image[y0, x0] * (1 - fx) + image[y0, x0 + 1] * fx
    bottom = image[y0 + 1, x0] * (1 - fx) + image[y0 + 1, x0 + 1] * fx
    return np.asarray(top * (1 - fy) + bottom * fy)


@pytest.mark.parametrize("name", [*LAYOUTS, *GROUPS, "drop:1/4+turnover-across"])
def test_turned_pixels_show_what_is_drawn_directly(art: Art, name: str) -> None:
    repeat = art.repeat(name)
    exporter = Exporter(repeat)
    plan = exporter.plan(Fraction("50.8"))
    exporter.painter(plan)
    assert exporter._drawer is not None
    direct = exporter._drawer.painter(plan)
    window = Window(-31, 17, 260, 190)
    difference = np.abs(
        mirrored(direct, plan).paint(window).astype(int) - direct.paint(window).astype(int)
    )
    # Only antialiasing differs in a mirror.
    assert difference.mean() < 0.1
    assert difference.max() < 64


@pytest.mark.parametrize("name", ["drop:1/3+turnover-across", "half-drop+turnover-down"])
def test_a_third_drop_turned_over_is_no_mirror(art: Art, name: str) -> None:
    repeat = art.repeat(name)
    assert repeat.symmetry is not None
    assert not is_group(upright_turns(repeat.symmetry), repeat.layout)
    exporter = Exporter(repeat)
    assert not isinstance(exporter.painter(exporter.plan(Fraction(72))), MirroredPainter)


def test_a_motif_on_its_own_mirror_image_is_drawn_directly(tmp_path: Path) -> None:
    body = '<path id="wing" d="M-4 10 8 12 2 30z"/><circle id="far" cx="30" cy="30" r="4"/>'
    repeat = read(tmp_path, body).repeat("pm")
    assert turned_over_itself(repeat) == ("wing",)
    exporter = Exporter(repeat)
    assert not isinstance(exporter.painter(exporter.plan(Fraction("50.8"))), MirroredPainter)


@pytest.mark.parametrize(
    ("over", "lies"),
    # pm mirrors about the page's left edge: a rounding's depth over it is contact, no overlap.
    [(-0.5, False), (0.0, False), (7e-7, False), (1e-3, True)],
)
def test_a_motif_that_only_touches_its_mirror_image_does_not_lie_on_it(
    over: float, lies: bool
) -> None:
    repeat = repeat_of([box(-over, 5, 6, 25)], 40, 40).with_layout("pm")
    assert turned_over_itself(repeat) == (("m0",) if lies else ())


def test_cut_to_its_region_it_no_longer_lies_on_itself(tmp_path: Path) -> None:
    repeat = read(tmp_path, '<path id="wing" d="M-4 10 8 12 2 30z"/>').repeat("pm", cut=True)
    assert turned_over_itself(repeat) == ()


@pytest.mark.parametrize("name", [*LAYOUTS, *UPRIGHT, "p6"])
@pytest.mark.parametrize("dpi", [72, 100, 149])
def test_tiles_are_snapped_so_that_mirrors_fall_between_pixels(
    art: Art, name: str, dpi: int
) -> None:
    repeat = art.repeat(name)
    exporter = Exporter(repeat)
    plan = exporter.plan(Fraction(dpi))
    assert isinstance(exporter.painter(plan), MirroredPainter)
    for side, size, grain in zip(
        (plan.width, plan.height), plan.printed, mirror_grain(repeat), strict=True
    ):
        assert abs(side - size * dpi * 10 / 254) <= Fraction(grain, 2)


def test_a_size_whose_mirrors_would_fall_in_a_pixel_is_not_exact(art: Art) -> None:
    # 50 mm at 25.4 dpi are 50 px, and a quarter of them, c2mm's region, 12½ px.
    exporter = Exporter(art.repeat("c2mm"))
    plan = exporter.plan(Fraction(254, 10), width=Fraction(50))
    assert (plan.width, plan.height) == (52, 50)
    assert not plan.is_exact


@needs_cairo
def test_cut_art_shows_no_ground_along_its_mirrors(tmp_path: Path) -> None:
    # One flat colour over the whole region: the whole cloth must be that colour.
    body = (
        '<rect width="100" height="100" fill="#fff"/>'
        '<g id="a"><rect x="-5" y="-5" width="99" height="99" fill="#248"/></g>'
    )
    repeat = read(tmp_path, body).repeat("p4mm", cut=True)
    pixels = block_of(repeat, "300")
    assert (pixels == (0x22, 0x44, 0x88, 255)).all()
