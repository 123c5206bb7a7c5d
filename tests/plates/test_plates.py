"""Plates as files, and what separate refuses."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from lxml import etree
from numpy.typing import NDArray
from PIL import Image
from support import SVG, needs_a_font, read, write_svg

from vecrepeat.art.read import read_art
from vecrepeat.colour.plates.separating import Wanted, write_plates
from vecrepeat.core.errors import InputError

RED, BLUE, WHITE = "#ff0000", "#0000ff", "#ffffff"
GROUND = f'<rect width="100" height="100" fill="{WHITE}"/>'
SQUARES = (
    f'{GROUND}<g id="m"><rect x="90" y="40" width="30" height="20" fill="{RED}"/>'
    f'<rect x="95" y="45" width="10" height="10" fill="{BLUE}"/></g>'
)
SOFT = (
    '<defs><linearGradient id="fade"><stop stop-color="#ff0000"/><stop offset="1" '
    f'stop-color="#0000ff"/></linearGradient></defs>{GROUND}'
    '<rect id="bar" x="90" y="40" width="30" height="20" fill="url(#fade)"/>'
)
TIFF = ("tiff",)


def _pixels(path: Path) -> NDArray[np.uint8]:
    with Image.open(path) as image:
        return np.array(image)


def test_1_bit_plates_print_each_pixel_once_at_the_resolution_asked(tmp_path: Path) -> None:
    repeat = read(tmp_path, SQUARES).repeat()
    wanted = Wanted(formats=TIFF, dpi=Fraction(254), marks=False)
    done = write_plates(repeat, tmp_path / "out", wanted)
    inked = np.zeros((1000, 1000), int)
    for plate in done.plates:
        (name,) = plate["files"]
        with Image.open(tmp_path / "out" / name) as image:
            assert image.mode == "1"
            assert image.info["compression"] == "group4"
            assert [float(v) for v in image.info["dpi"]] == [254, 254]
            inked += ~np.array(image)
    assert (inked == 1).all()
    # At 10 px to the mm the red square's 30 × 20 mm less blue's 10 × 10.
    red = next(p for p in done.plates if p["colour"] == RED)
    assert (~_pixels(tmp_path / "out" / red["files"][0])).sum() == 50_000
    assert red["ink_cm2_per_m2"] == pytest.approx(500)


def test_marks_lie_outside_the_repeat(tmp_path: Path) -> None:
    repeat = read(tmp_path, SQUARES).repeat()
    bare, marked = (
        write_plates(
            repeat,
            tmp_path / str(marks),
            Wanted(formats=("svg", "tiff"), dpi=Fraction(127), marks=marks),
        )
        for marks in (False, True)
    )
    for one, other in zip(bare.plates, marked.plates, strict=True):
        plain = _pixels(tmp_path / "False" / one["files"][1])
        framed = _pixels(tmp_path / "True" / other["files"][1])
        around = (len(framed) - len(plain)) // 2
        assert around == 70
        assert np.array_equal(framed[around:-around, around:-around], plain)
        framed[around:-around, around:-around] = True
        assert (~framed).sum() > 500
    assert "plate 1 of 3  white" in (tmp_path / "True" / marked.plates[0]["files"][0]).read_text()


def test_registration_is_alike_on_all_plates_and_patches_are_not(tmp_path: Path) -> None:
    repeat = read(tmp_path, SQUARES).repeat()
    done = write_plates(repeat, tmp_path / "out", Wanted(formats=TIFF, dpi=Fraction(127)))
    plates = [~_pixels(tmp_path / "out" / p["files"][0]) for p in done.plates]
    # A ring of 2.5 mm round the middle of the margin left of the repeat, 5 px to the mm.
    left = [plate[320 - 20 : 320 + 20, 35 - 20 : 35 + 20] for plate in plates]
    assert left[0].any()
    assert all(np.array_equal(one, left[0]) for one in left)
    patch = [plate[-45:-25, 70 : 70 + 75].sum() for plate in plates]
    bars = np.array([plate[-40, 70 : 70 + 75] for plate in plates])
    assert min(patch) > 0
    assert (bars.sum(axis=0) == 1).all()


def test_svg_plates_are_well_formed_and_in_mm(tmp_path: Path) -> None:
    repeat = read(tmp_path, SQUARES).repeat("half-drop")
    done = write_plates(repeat, tmp_path / "out", Wanted(marks=False))
    together = tmp_path / "out" / "art-all-plates.svg"
    assert together in done.files
    root = etree.parse(str(together)).getroot()
    # The straight block of a half-drop: 200 mm × 100 mm.
    assert (root.get("width"), root.get("viewBox")) == ("200mm", "0 0 200 100")
    assert [g.get("fill") for g in root.iter(f"{{{SVG}}}g")] == [WHITE, RED, BLUE]


def test_the_list_says_what_was_made(tmp_path: Path) -> None:
    repeat = read(tmp_path, SQUARES).repeat()
    wanted = Wanted(trap=0.2, laydown=20.0, overprint=("blue",), names={RED: "brick"})
    write_plates(repeat, tmp_path / "out", wanted)
    data = json.loads((tmp_path / "out" / "art-plates.json").read_text())
    assert [p["name"] for p in data["plates"]] == ["white", "brick", "blue"]
    assert data["overprint"] == ["blue"]
    blue = data["plates"][2]
    # 100 mm² of 10,000 at 20 g/m² printed solid.
    assert blue["ink_g_per_m2"] == pytest.approx(0.2)
    # Under an overprinting blue the red is whole: 600 mm².
    assert data["plates"][1]["area_cm2"] == pytest.approx(6)


def test_the_cloth_s_own_colour_takes_no_ink(tmp_path: Path) -> None:
    repeat = read(tmp_path, SQUARES).repeat()
    printed = write_plates(repeat, tmp_path / "in", Wanted())
    (note,) = printed.notes
    # 10,000 mm² less the red square's 600.
    assert note.startswith("white is a plate over 94 % of the cloth: where the cloth itself is")
    wanted = Wanted(formats=("tiff", "pdf"), dpi=Fraction(254), marks=False, cloth=WHITE, trap=0.5)
    done = write_plates(repeat, tmp_path / "out", wanted)
    assert (done.notes, [p["colour"] for p in done.plates]) == ((), [RED, BLUE])
    red, blue = (_pixels(tmp_path / "out" / p["files"][1]) for p in done.plates)
    # The red spreads half a millimetre under the blue and not on the bare cloth: 10 px to the mm.
    assert np.count_nonzero(blue == 0) == 100 * 100
    assert np.count_nonzero(red == 0) == 60_000 - 90 * 90
    assert json.loads((tmp_path / "out" / "art-plates.json").read_text())["cloth"] == WHITE


def test_the_cloth_s_own_colour_takes_no_tint(tmp_path: Path) -> None:
    repeat = read(tmp_path, SOFT.replace(WHITE, "#203050")).repeat()
    wanted = Wanted(soft="tint", formats=TIFF, dpi=Fraction(50), cloth="#203050")
    done = write_plates(repeat, tmp_path / "out", wanted)
    assert sorted(p["colour"] for p in done.plates) == [BLUE, RED]
    total = sum(255 - _pixels(tmp_path / "out" / p["files"][0]).astype(int) for p in done.plates)
    # The bar of 600 mm² is printed in full, the ground not at all: 50 px to the inch.
    assert np.count_nonzero(total > 250) == pytest.approx(600 * (50 / 25.4) ** 2, rel=0.05)
    assert np.count_nonzero(total == 0) > 9300 * (50 / 25.4) ** 2


def test_print_width_scales_plates_but_not_the_trap(tmp_path: Path) -> None:
    repeat = read(tmp_path, SQUARES).repeat()
    done = write_plates(repeat, tmp_path / "out", Wanted(width=Fraction(200), trap=0.5))
    red = next(p for p in done.plates if p["colour"] == RED)
    assert red["area_cm2"] == pytest.approx(20)
    # Blue is 20 mm a side at print size: a frame 0.5 mm wide inside it.
    assert red["trap_cm2"] * 100 == pytest.approx(20**2 - 19**2, abs=0.01)


def test_gradients_are_refused_by_name_unless_told_how(tmp_path: Path) -> None:
    repeat = read(tmp_path, SOFT).repeat()
    with pytest.raises(InputError, match=r"“bar”: the gradient .*fade.* has no flat colour"):
        write_plates(repeat, tmp_path / "out", Wanted())
    assert not (tmp_path / "out").exists()
    done = write_plates(repeat, tmp_path / "out", Wanted(soft="flat"))
    # By the middle of the bar it is nearer to one end or the other in ΔE2000; both are plates.
    areas = {p["colour"]: p["area_cm2"] for p in done.plates}
    assert areas[RED] + areas[BLUE] == pytest.approx(6)


def test_opacity_is_refused_and_flattened(tmp_path: Path) -> None:
    body = f'{GROUND}<rect id="veil" x="9" y="9" width="10" height="10" fill="{RED}" opacity=".5"/>'
    repeat = read(tmp_path, body).repeat()
    with pytest.raises(InputError, match="“veil”: opacity has no flat colour"):
        write_plates(repeat, tmp_path / "out", Wanted())
    done = write_plates(repeat, tmp_path / "out", Wanted(soft="flat"))
    # Half of red on white.
    assert [p["colour"] for p in done.plates] == [WHITE, "#ff8080"]


def test_tints_are_8_bit_and_add_up(tmp_path: Path) -> None:
    repeat = read(tmp_path, SOFT).repeat()
    wanted = Wanted(soft="tint", formats=TIFF, dpi=Fraction(50))
    done = write_plates(repeat, tmp_path / "out", wanted)
    plates = [_pixels(tmp_path / "out" / p["files"][0]).astype(int) for p in done.plates]
    assert all(plate.dtype.kind == "i" and plate.ndim == 2 for plate in plates)
    total = sum(255 - plate for plate in plates)
    assert np.abs(total - 255).max() <= 2
    assert sum(p["coverage"] for p in done.plates) == pytest.approx(1, abs=0.002)


def test_halftones_are_1_bit(tmp_path: Path) -> None:
    repeat = read(tmp_path, SOFT).repeat()
    wanted = Wanted(soft="halftone", formats=TIFF, dpi=Fraction(254), lines=40)
    done = write_plates(repeat, tmp_path / "out", wanted)
    for plate in done.plates:
        with Image.open(tmp_path / "out" / plate["files"][0]) as image:
            assert image.mode == "1"
            assert (~np.array(image)).mean() == pytest.approx(plate["coverage"], abs=0.004)


@pytest.mark.parametrize(
    ("wanted", "told"),
    [
        (Wanted(soft="tint", formats=TIFF, trap=0.2), "traps and overprints need flat colours"),
        (Wanted(soft="halftone", formats=("svg",)), "halftones and tints are pixels"),
        (Wanted(overprint=("mauve",)), "there is no ink “mauve” .there are white, red, blue"),
        (Wanted(overprint=("white",), cloth=WHITE), "there is no ink “white” .there are red"),
        (Wanted(colours=1, keep=(RED, BLUE)), "1 colours are too few"),
        (Wanted(formats=TIFF, dpi=Fraction(20_000)), "px is too large"),
    ],
)
def test_what_cant_be_done_is_told_before_anything_is_written(
    tmp_path: Path, wanted: Wanted, told: str
) -> None:
    with pytest.raises(InputError, match=told):
        write_plates(read(tmp_path, SQUARES).repeat(), tmp_path / "out", wanted)
    assert not (tmp_path / "out").exists()


@needs_a_font
def test_live_text_has_no_areas(tmp_path: Path) -> None:
    path = write_svg(tmp_path, f'{GROUND}<text id="hi" x="9" y="50">hi</text>')
    with pytest.raises(InputError, match=r"uses a text .*leave out --live-text"):
        write_plates(read_art(path, live_text=True).repeat(), tmp_path / "out", Wanted())


def test_more_flat_colours_than_a_press_has_ask_for_a_number(tmp_path: Path) -> None:
    dots = "".join(
        f'<circle id="c{n}" cx="{9 + n * 3}" cy="50" r="1" fill="#{n * 8:02x}40c0"/>'
        for n in range(30)
    )
    with pytest.raises(InputError, match="31 flat colours"):
        write_plates(read(tmp_path, GROUND + dots).repeat(), tmp_path / "out", Wanted())
