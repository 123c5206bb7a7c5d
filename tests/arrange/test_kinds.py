"""Kinds spread over the cloth: by brute force, against the same places dealt out at random."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from kinds import apart, kinds, nearest_same
from strewing import as_tile, discs, least_gap
from support import write_svg

from vecrepeat.arrange import (
    Arrangement,
    RankSettings,
    SetSettings,
    StripeSettings,
    TossSettings,
    TrailSettings,
    lay_set,
    lay_stripes,
    lay_trail,
    toss,
)
from vecrepeat.art.read import read_art
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.model import Motif

LINES = [np.array([(0.0, y), (150.0, y)]) for y in (20.0, 57.5, 95.0, 132.5)]
COLOURS = ("#d02030", "#e8a020", "#208040", "#2050b0", "#803090", "#20a0a0", "#404040", "#e070a0")


@pytest.fixture(scope="module")
def flowers(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Motif, str]]:
    """Nine motifs about 12 mm wide: the last two are of one colour."""
    drawn = "".join(
        f'<g id="m{k}"><ellipse cx="{20 * k + 10}" cy="10" rx="6" ry="{4 + k % 3}" '
        f'fill="{colour}" stroke="black" stroke-width="0.6"/></g>'
        for k, colour in enumerate((*COLOURS, COLOURS[-1]))
    )
    path = write_svg(
        tmp_path_factory.mktemp("kinds"), drawn, width="180mm", height="20mm", view_box="0 0 180 20"
    )
    return [(m, "hero") for m in read_art(path).motifs]


@pytest.mark.parametrize("layout", ["block", "half-drop", "brick"])
def test_motifs_and_colours_keep_from_their_like(
    flowers: list[tuple[Motif, str]], layout: str
) -> None:
    repeat = as_tile(150, layout)
    asked = TossSettings(clearance=2.0, hero=RankSettings(count=45), seed=3)
    tossed = toss(repeat, flowers, asked).on(repeat)
    found = kinds(tossed)
    assert found.mean >= 1.5
    assert found.low >= 2.2
    assert found.alike == 0
    assert found.same_colour <= 0.35
    assert least_gap(tossed, 4.0) >= 2.0


@pytest.mark.parametrize(
    ("lay", "layout"),
    [
        (partial(lay_set, settings=SetSettings(columns=6, rows=6)), "half-drop"),
        (partial(lay_stripes, settings=StripeSettings(seed=2)), "brick"),
        (partial(lay_trail, paths=LINES, settings=TrailSettings(side="on", seed=2)), "block"),
    ],
    ids=["set", "stripe", "trail"],
)
def test_motifs_keep_from_their_like_in_rows_too(
    flowers: list[tuple[Motif, str]], lay: Callable[..., Arrangement], layout: str
) -> None:
    repeat = as_tile(150, layout)
    laid = lay(repeat, flowers)
    found = kinds(laid.on(repeat))
    assert {row.motif for row in laid.rows} == {motif.name for motif, _ in flowers}
    assert found.mean >= 1.4
    assert found.alike == 0
    assert found.same_colour <= 0.3
    assert least_gap(laid.on(repeat), 6.0) >= 3.0


def test_a_score_says_what_is_measured(flowers: list[tuple[Motif, str]]) -> None:
    repeat = as_tile(150, "half-drop")
    asked = TossSettings(clearance=2.0, hero=RankSettings(count=30), even=False)
    tossed = toss(repeat, flowers, asked)
    assert tossed.score is not None
    far = apart(tossed.on(repeat))
    names = [row.motif for row in tossed.rows]
    label = np.array([names.index(name) for name in names])
    twins = (far <= 1.5 * (150**2 / 30) ** 0.5) & (label[:, None] == label[None])
    assert tossed.score.twins == twins.sum() // 2
    # What is to be expected of chance is counted there, and dealt out here.
    dice = random.Random(1)
    chance = [nearest_same(far, np.array(dice.sample(label.tolist(), 30))) for _ in range(2000)]
    expected = np.mean([one.mean() for one in chance])
    assert tossed.score.apart == pytest.approx(nearest_same(far, label).mean() / expected, rel=0.02)
    assert "side by side" in tossed.line()
    assert tossed.as_dict()["score"]["points"] == tossed.score.points


def test_more_motifs_than_can_be_tossed_are_refused_with_their_count() -> None:
    asked = replace(TossSettings(), hero=RankSettings(count=6000))
    with pytest.raises(InputError, match="6,000 motifs"):
        toss(as_tile(300, "block"), discs()[:1], asked)
