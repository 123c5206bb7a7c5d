"""Grounds proposed for motifs: held to CIE L*, CIEDE2000 and hue as coloraide reckons them."""

from __future__ import annotations

import random
from collections.abc import Sequence

import numpy as np
import pytest
from coloraide import Color
from PIL import Image, ImageDraw

from vecrepeat.sources.grounds import Proposed, propose_ground
from vecrepeat.sources.looks import Look, look_of

INK = "#241c1a"


def disc(paint: str, outline: str | None = None) -> Look:
    """The look of a disc, flat or within an outline."""
    picture = Image.new("RGBA", (96, 96))
    ImageDraw.Draw(picture).ellipse((4, 4, 91, 91), fill=paint, outline=outline, width=5)
    return look_of(np.asarray(picture))


def ground_of(paints: Sequence[str], outline: str | None = None) -> Proposed:
    return propose_ground([disc(paint, outline) for paint in paints], [1.0] * len(paints))


def tone(colour: str) -> float:
    return float(Color(colour).convert("lab-d65")["lightness"])


def apart(colour: str, paints: Sequence[str]) -> float:
    """The least CIEDE2000 difference of a ground from paints."""
    return min(float(Color(colour).delta_e(paint, method="2000")) for paint in paints)


@pytest.mark.parametrize(
    ("paints", "tones"),
    [
        (["#1b1b2f", "#23332a", "#3a2417"], (90, 97)),
        (["#c0392b", "#2f7d4f", "#2d5fa8", "#8a4fa0"], (90, 97)),
        (["#e07a5f", "#81b29a", "#6d8fc7", "#3d405b"], (90, 97)),
        # One that is white all over has to be seen too; a dark one beside it as well.
        (["#c0392b", "#2f7d4f", "#2d5fa8", "#ffffff"], (70, 86)),
        (["#ffffff", "#101010"], (70, 86)),
        # All of it pale.
        (["#ffffff", "#fbf3dc", "#f3f3f3"], (15, 35)),
        (["#ffe9b8", "#f7d6e0", "#cfe8ff"], (15, 35)),
        # Pale mostly, with one that is as dark as a dark ground.
        (["#ffffff", "#fbf3dc", "#f3f3f3", "#f7d6e0", "#20304a"], (70, 86)),
    ],
)
def test_grounds_are_light_unless_something_would_sink(
    paints: list[str], tones: tuple[int, int]
) -> None:
    ground = ground_of(paints)
    assert tones[0] <= tone(ground.colour) <= tones[1], ground
    assert apart(ground.colour, paints) > 12, ground


def test_white_within_an_outline_may_stand_on_a_light_ground() -> None:
    """As long as it is not the ground's own colour."""
    ground = ground_of(["#ffffff", "#e8503a", "#3f7fbf"], INK)
    assert tone(ground.colour) > 90
    assert 4 < apart(ground.colour, ["#ffffff"]) < 12
    assert tone(ground_of(["#ffffff"] * 3, INK).colour) > 90
    cream = ground_of(["#f8efe0", "#c9823b"], INK)
    assert apart(cream.colour, ["#f8efe0"]) > 4


@pytest.mark.parametrize(
    "paint", ["#ffd9d0", "#b5651d", "#f3d9b0", "#d8b27a", "#6b4423", "#b8860b"]
)
def test_no_ground_is_a_brown(paint: str) -> None:
    """Of brown art, light or dark, with white beside it too: below L* 90 no tan, khaki or brown."""
    for paints in ([paint], [paint, "#ffffff"], [paint, "#ffffff", "#111111"]):
        ground = ground_of(paints)
        lch = Color(ground.colour).convert("oklch")
        low, high = (30, 130) if tone(ground.colour) > 50 else (10, 145)
        assert tone(ground.colour) > 90 or not low < lch["hue"] < high, (paints, ground)
        assert apart(ground.colour, paints) > 8


def test_the_hue_is_the_arts_own_and_soft() -> None:
    for paint in ("#1f6fd0", "#2f8f4f", "#c2307a"):
        ground = ground_of([paint, paint, "#333333"])
        found, own = (Color(c).convert("oklch") for c in (ground.colour, paint))
        assert ground.own
        assert abs((found["hue"] - own["hue"] + 180) % 360 - 180) < 12
        assert found["chroma"] < 0.06
    assert not ground_of(["#777777", "#333333"]).own


def test_whatever_the_colours_none_is_lost() -> None:
    """Most grounds are light, and dark ones are for art of which four in five are pale."""
    rng = random.Random(4)
    light = 0
    for _ in range(30):
        paints = [f"#{rng.randrange(1 << 24):06x}" for _ in range(5)]
        ground = ground_of(paints)
        assert apart(ground.colour, paints) > 7, (paints, ground)
        light += tone(ground.colour) > 90
        assert tone(ground.colour) > 70 or sum(tone(paint) > 73 for paint in paints) >= 4
    assert light >= 24
