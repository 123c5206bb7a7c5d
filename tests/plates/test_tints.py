"""Tints and halftones: plates that add up to the design again."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from plate_judges import recombined
from support import read

from vecrepeat.colour.plates.tints import halftone, rendered_plates, tint_plates, weights
from vecrepeat.draw.paint import Window
from vecrepeat.draw.sheet import opaque
from vecrepeat.write.exporting import Exporter

INKS = ["#ffff00", "#ff0000", "#0000ff"]
BODY = (
    '<defs><linearGradient id="g"><stop stop-color="#ff0000"/><stop offset="1" '
    'stop-color="#0000ff"/></linearGradient></defs><rect width="100" height="100" fill="#ffff00"/>'
    '<rect x="-20" y="10" width="60" height="20" fill="url(#g)"/>'
    '<circle cx="60" cy="60" r="20" fill="#0000ff" fill-opacity=".4"/>'
    '<g opacity=".5"><rect x="50" y="50" width="30" height="30" fill="#ff0000"/></g>'
)


def test_an_ink_is_itself_and_a_mixture_is_two() -> None:
    assert weights("#ff0000", INKS) == {"#ff0000": 1.0}
    # 0.25 · yellow + 0.75 · red = (255, 63.75, 0).
    mixed = weights("#ff4000", INKS)
    assert mixed == pytest.approx({"#ffff00": 0.25, "#ff0000": 0.75}, abs=0.002)


def test_a_pale_shade_is_a_tint_on_bare_cloth() -> None:
    # 0.2 · blue + 0.8 · white = (204, 204, 255).
    assert weights("#ccccff", ["#0000ff"]) == pytest.approx({"#0000ff": 0.2})


def test_a_second_ink_must_bring_a_colour_two_levels_nearer() -> None:
    # Red lightens by (0, 1, 1). (247, 4, 4) is √(8² + 4² + 4²) = 9.8 from red and 8 from its tint;
    # (251, 8, 8) is √(4² + 8² + 8²) = 12 from red and 4 from a tint of 1 - 8/255.
    assert weights("#f70404", ["#ff0000"]) == {"#ff0000": 1.0}
    assert weights("#fb0808", ["#ff0000"]) == pytest.approx({"#ff0000": 1 - 8 / 255})


def test_tints_add_up_to_the_design_within_rounding(tmp_path: Path) -> None:
    repeat = read(tmp_path, BODY).repeat()
    exporter = Exporter(repeat)
    plan = exporter.plan(Fraction(60))
    expected = opaque(exporter.painter(plan).paint(Window(0, 0, plan.width, plan.height)))
    plates = dict(zip(INKS, tint_plates(repeat, plan, INKS, INKS), strict=True))
    difference = np.abs(recombined(plates).astype(int) - expected)
    assert difference.max() <= 3
    assert difference.mean() <= 0.3


def test_plates_of_a_rendering_add_up_to_it(tmp_path: Path) -> None:
    body = (
        '<defs><filter id="f"><feGaussianBlur stdDeviation="2"/></filter></defs>'
        '<rect width="100" height="100" fill="#ffff00"/><g filter="url(#f)">'
        '<rect x="-20" y="10" width="60" height="20" fill="#ff0000"/></g>'
    )
    repeat = read(tmp_path, body).repeat("half-drop")
    exporter = Exporter(repeat)
    plan = exporter.plan(Fraction(30))
    expected = opaque(exporter.painter(plan).paint(Window(0, 0, *plan.block)))
    plates = dict(zip(INKS, rendered_plates(repeat, plan, INKS), strict=True))
    # Seven bits a channel are a level of 255 off at most, and a share half a level.
    assert np.abs(recombined(plates).astype(int) - expected).max() <= 3
    assert not plates["#0000ff"].any()


def test_a_halftone_prints_as_much_as_its_tint() -> None:
    for level in (0, 26, 64, 128, 200, 255):
        dots = halftone(np.full((400, 600), level, np.uint8), 60, 15)
        assert dots.mean() == pytest.approx(level / 255, abs=0.01)


def test_dots_join_at_the_bounds() -> None:
    dots = halftone(np.full((300, 500), 100, np.uint8), 80, 30)
    # Rows of dots repeat, so what differs from one column to the next is as much at the join.
    inner = (dots[:, 1:] != dots[:, :-1]).mean(axis=0)
    assert (dots[:, 0] != dots[:, -1]).mean() <= inner.max() + 0.02
    across = (dots[1:] != dots[:-1]).mean(axis=1)
    assert (dots[0] != dots[-1]).mean() <= across.max() + 0.02
