"""What goes beyond the allowance is refused in a sentence, and at once."""

from __future__ import annotations

import math
import time
from pathlib import Path

import numpy as np
import pytest
import shapely
from support import motif, repeat_of, svg, vecrepeat

from vecrepeat.arrange import toss
from vecrepeat.arrange.settings import TossSettings
from vecrepeat.check.balance import _nearest_neighbours
from vecrepeat.check.plane import Plane
from vecrepeat.core import allowance
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.wrap import copies
from vecrepeat.scene.areas import filled_area

ART = 'art = "art.svg"\n'
LEAF = '<g id="leaf"><path d="M10 10h20v10z" fill="#264"/></g>'
QUICK = 5.0
"""Seconds of processor time, start-up included, that saying no may take."""


@pytest.mark.parametrize(
    ("recipe", "told"),
    [
        ('tile = "100000x100000m"', "r.toml: the tile's size is absurd"),
        ('tile = "1e-9x1mm"', "r.toml: the tile's size is absurd"),
        ('tile = "0.1x0.1mm"', "r.toml: element “leaf”: it reaches more than 40 tiles"),
        ('[[placement]]\nmotif = "leaf"\nscale = 1000', "r.toml: element “leaf”: it reaches more"),
        ('[[placement]]\nmotif = "leaf"\nat = [1e8, -1e8]', "r.toml: element “leaf”: it reaches"),
        ('[[motif]]\nname = "leaf"\nwidth = "1e30m"', "r.toml: element “leaf”: it reaches more"),
        ('[[placement]]\nmotif = "leaf"\nat = [nan, 0]', "line 4: placement.at: expected"),
        ('[[placement]]\nmotif = "leaf"\n' * 20_001, "placement: a tile holds at most 20,000"),
        ("x = " + "[" * 5000 + "]" * 5000, "line 2: not TOML"),
        ("x = " + "9" * 5000, "line 2: not TOML"),
    ],
    ids=lambda text: text[:40],
)
def test_absurd_recipes_are_refused_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, recipe: str, told: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("art.svg").write_text(svg(LEAF))
    Path("r.toml").write_text(ART + recipe)
    begun = time.process_time()
    run = vecrepeat("compose", "r.toml", "-o", "o.svg")
    assert time.process_time() - begun < QUICK
    assert (run.code, told in run.err) == (2, True), run.err
    assert not Path("o.svg").exists()


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--dpi", "100000"], "px are too many to be drawn for one file"),
        (["--repeat-width", "9999m"], "px are too many to be drawn for one file"),
        (["--sheet", "900x900m", "--dpi", "150"], "px are too many to be written for one file"),
    ],
)
def test_pictures_without_end_are_refused_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], told: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("art.svg").write_text(svg(LEAF))
    for name in ("o.png", "o.tif"):
        run = vecrepeat("export", "art.svg", "-o", name, *arguments)
        assert (run.code, told in run.err) == (2, True), run.err
        assert not Path(name).exists()


def test_a_path_of_too_many_points_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "art.svg"
    path.write_text(svg(f'<path id="long" d="M0 0{"l3 1-3 1" * 600_000}z"/>'))
    begun = time.process_time()
    run = vecrepeat("motifs", path)
    assert time.process_time() - begun < QUICK
    assert "element “long”: its paths are written with more than 1,000,000 points" in run.err


def test_a_scribble_of_very_many_crossings_is_taken_by_its_hull_at_once() -> None:
    points = np.random.default_rng(1).random((30_000, 2)) * 100
    ring = shapely.linearrings(points)
    begun = time.process_time()
    area = filled_area(np.array([ring]), even_odd=False)
    assert time.process_time() - begun < QUICK
    assert area.equals(shapely.MultiPoint(points).convex_hull)


def test_more_copies_than_anyone_can_draw_are_refused() -> None:
    # One in each tile of 10 mm: (10 m / 10 mm)².
    with pytest.raises(InputError, match="may hold more than 500,000 copies"):
        copies(repeat_of([shapely.box(1, 1, 2, 2)]), Rect(0, 0, 10_000, 10_000))


@pytest.mark.parametrize("layout", ["block", "half-drop", "p4"])
def test_no_distance_between_like_motifs_takes_longer_than_the_least_that_none_keeps(
    layout: str,
) -> None:
    """No point of a square lattice is further than half its diagonal from a copy of another."""
    repeat = repeat_of([], 40, 40).with_layout(layout)
    dot = [(motif("dot", shapely.Point(5, 5).buffer(1)), "hero")]
    far, further = (
        toss(repeat, dot, TossSettings(clearance=1, same_apart=apart))
        for apart in (40 * math.sqrt(2), 1_000_000.0)
    )
    assert [p.transform for p in far.placements] == [p.transform for p in further.placements]


def test_a_clearance_that_no_motif_keeps_from_its_own_copies_is_refused() -> None:
    dot = [(motif("dot", shapely.Point(5, 5).buffer(1)), "hero")]
    with pytest.raises(InputError, match="every motif comes again after 40 mm"):
        toss(repeat_of([], 40, 40), dot, TossSettings(clearance=1e8))


def test_mixtures_without_end_are_refused_by_the_motifs_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("vecrepeat.colour.flatten.VEILS", 100)
    veils = "".join(
        f'<circle cx="{50 + k}" cy="50" r="20" fill="#c{k}4" opacity=".5"/>' for k in range(9)
    )
    (tmp_path / "art.svg").write_text(svg(f'<g id="mist">{veils}</g>'))
    run = vecrepeat("palette", tmp_path / "art.svg")
    assert run.code == 2
    assert "element “mist”: so many translucent colours" in run.err


def test_the_allowance_is_told_in_the_reference() -> None:
    reference = (Path(__file__).parent.parent / "docs" / "reference.md").read_text("utf-8")
    for value in (allowance.PLACEMENTS, allowance.COPIES, allowance.NODES, allowance.PIXELS):
        assert f"{value:,}" in reference


def test_five_thousand_motifs_are_as_far_from_their_neighbours_as_they_lie() -> None:
    """A grid of points 1 mm apart: each has one as far away, over the bounds too."""
    dot = shapely.box(0, 0, 0.5, 0.5)
    moved = shapely.transform(
        np.repeat(dot, 5_000),
        lambda xy: xy + np.repeat(np.indices((100, 50)).reshape(2, -1).T, 5, axis=0),
    )
    begun = time.process_time()
    distances = _nearest_neighbours(Plane(repeat_of(list(moved), 100, 50)))
    # All pairs of them at once took gigabytes.
    assert time.process_time() - begun < QUICK
    assert distances == pytest.approx(np.ones(5_000))
