"""OKLab and OKLCh against published values and the coloraide library."""

from __future__ import annotations

import random

import numpy as np
import pytest
from coloraide import Color

from vecrepeat.core.colours import (
    differences,
    hex_from_oklab,
    hex_from_oklch,
    hex_of,
    oklab_of,
    oklch_of,
    rgb_from_oklab,
    rgb_of,
)


def _random_colours(count: int) -> list[str]:
    rng = random.Random(6)
    return [f"#{rng.randrange(1 << 24):06x}" for _ in range(count)]


@pytest.mark.parametrize(
    ("colour", "lch"),
    [
        # CSS Color 4 §9.3, the worked values of sRGB's corners, to three digits.
        ("#ff0000", (0.628, 0.258, 29.23)),
        ("#00ff00", (0.866, 0.295, 142.5)),
        ("#0000ff", (0.452, 0.313, 264.05)),
    ],
)
def test_published_corners(colour: str, lch: tuple[float, float, float]) -> None:
    assert oklch_of(rgb_of(colour)) == pytest.approx(lch, abs=0.02, rel=1e-3)


def test_oklab_agrees_with_coloraide() -> None:
    for colour in _random_colours(300):
        expected = Color(colour).convert("oklab").coords()
        assert np.abs(oklab_of(rgb_of(colour)) - expected).max() < 2e-4


def test_oklch_hue_agrees_with_coloraide_where_there_is_one() -> None:
    for colour in _random_colours(300):
        light, chroma, hue = Color(colour).convert("oklch").coords()
        ours = oklch_of(rgb_of(colour))
        assert ours[:2] == pytest.approx((light, chroma), abs=2e-4)
        if chroma > 0.03:
            assert abs((ours[2] - hue + 180) % 360 - 180) < 0.3


def test_there_and_back_is_the_same_colour() -> None:
    for colour in ["#000000", "#ffffff", *_random_colours(500)]:
        assert hex_of(rgb_from_oklab(oklab_of(rgb_of(colour)))) == colour
        assert hex_from_oklch(oklch_of(rgb_of(colour))) == colour


def test_a_colour_beyond_srgb_keeps_lightness_and_hue() -> None:
    # Chroma 0.4 is far beyond sRGB at every hue of that lightness.
    for hue in range(0, 360, 15):
        shown = Color(hex_from_oklch([0.6, 0.4, hue])).convert("oklch").coords()
        assert shown[0] == pytest.approx(0.6, abs=0.01)
        assert abs((shown[2] - hue + 180) % 360 - 180) < 2


def test_lightness_beyond_the_scale_is_black_or_white() -> None:
    assert hex_from_oklab([1.4, 0, 0]) == "#ffffff"
    assert hex_from_oklab([-0.2, 0.1, 0]) == "#000000"


def test_differences_are_a_table_of_ciede2000() -> None:
    colours = _random_colours(8)
    table = differences(colours, colours[:3])
    assert table.shape == (8, 3)
    for n, one in enumerate(colours):
        for m, other in enumerate(colours[:3]):
            # The white point differs in its fourth digit.
            expected = Color(one).delta_e(Color(other), method="2000", space="lab-d65")
            assert table[n, m] == pytest.approx(expected, abs=0.05)
