"""Motifs that turn along a wave or a drawn line: the way they run repeats as the cloth does."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from strewing import as_tile, least_gap, leaves
from support import vecrepeat

from vecrepeat.arrange import RankSettings, TossSettings, toss
from vecrepeat.arrange.flow import WAVE, Flow
from vecrepeat.arrange.torus import Torus

Floats = NDArray[np.float64]
PLACES = np.random.default_rng(3).uniform(-200, 200, (40, 2))


def off(one: Floats, other: Floats | float) -> Floats:
    """How far angles are from angles, in degrees."""
    found: Floats = np.abs((one - other + 180) % 360 - 180)
    return found


@pytest.mark.parametrize(
    "layout", ["block", "half-drop", "brick:1/3", "p4", "block+turnover-across"]
)
def test_a_wave_repeats_and_swings_gently(layout: str) -> None:
    repeat = as_tile(120, layout)
    torus = Torus(repeat)
    flow = Flow(torus, WAVE)
    here = flow.at(*PLACES.T)
    for vector in (torus.a, torus.b):
        assert off(flow.at(*(PLACES + np.array(vector)).T), here).max() < 0.02
    # 35 degrees to either side, and no jump within a millimetre.
    assert 30 < off(here, 0.0).max() <= 35.1
    assert off(flow.at(*(PLACES + 1.0).T), here).max() < 8


def test_near_a_line_the_field_runs_as_the_line_does() -> None:
    around = np.linspace(0, 2 * np.pi, 200)
    circle = 60 + 35 * np.stack([np.cos(around), np.sin(around)], axis=1)
    flow = Flow(Torus(as_tile(120, "block")), [circle])
    x, y = circle.T
    assert off(flow.at(x, y), np.degrees(around) + 90).max() < 15
    assert np.allclose(flow.at(x + 120, y - 240), flow.at(x, y), atol=0.02)


@pytest.mark.parametrize(("layout", "direction"), [("half-drop", "free"), ("p4", "two-way")])
def test_motifs_lie_along_it_where_they_end_up(layout: str, direction: str) -> None:
    page = as_tile(110, layout)
    count = 4 if layout == "p4" else 9
    asked = TossSettings(
        clearance=2.0,
        hero=RankSettings(count=1, scale=(0.4, 0.4)),
        secondary=RankSettings(count=2, scale=(0.5, 0.5)),
        filler=RankSettings(count=count),
        direction=direction,
        along=WAVE,
    )
    tossed = toss(page, leaves(), asked)
    poses = np.array([row.pose[:3] for row in tossed.rows])
    assert len(poses) == 3 + count
    flow = Flow(Torus(page), WAVE, (0.0, 180.0) if direction == "two-way" else (0.0,))
    assert off(poses[:, 2], flow.rest(*poses.T)).max() < 4
    assert np.ptp((poses[:, 2] + 180) % 180) > 20
    assert least_gap(tossed.on(page), 3.0) >= 2.0


def test_the_key_is_written_and_a_path_that_is_none_refused(here: Path) -> None:
    run = vecrepeat("toss", "d.toml", "--again", "--along", "wave", "-o", "w.toml")
    assert run.code == 0, run.err
    assert 'along = "wave"' in Path("w.toml").read_text()
    run = vecrepeat("toss", "d.toml", "--again", "--along", "nobody", "-o", "n.toml")
    assert run.code == 2
    assert "“nobody” is neither a motif nor an SVG file" in run.err
