"""Trail: motifs along a path that crosses the page's edges, and where a path is found."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from strewing import LAYOUTS, as_tile, discs, least_gap, leaves
from support import motif, read

from vecrepeat.arrange import TrailSettings, lay_trail
from vecrepeat.arrange.drawn_paths import motif_lines
from vecrepeat.core.errors import InputError

LEAF = motif("leaf", shapely.Polygon([(0, 0), (3, -6), (0, -14), (-3, -6)]))


def wave(side: float, drop: float) -> np.ndarray:
    """A path from the left edge to where its copy begins on the next tile."""
    t = np.linspace(0, 1, 200)
    return np.stack([t * side, side / 2 + 12 * np.sin(2 * math.pi * t) + t * drop], axis=1)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_no_two_copies_are_nearer_than_the_clearance(layout: str) -> None:
    repeat = as_tile(140, layout)
    done = lay_trail(repeat, leaves(), [wave(140, 0.0)], TrailSettings(clearance=1.5, scale=0.5))
    assert len(done.rows) >= 4
    assert least_gap(done.on(repeat), 40.0) >= 1.5


def test_motifs_are_evenly_spaced_through_the_join() -> None:
    # Discs of 6 mm at 3 mm apart on a straight path of 100 mm: eleven, not twelve.
    path = np.array([(0.0, 30.0), (100.0, 30.0)])
    done = lay_trail(as_tile(100, "block"), [discs()[2]], [path], TrailSettings(side="on"))
    across = sorted(r.pose.x for r in done.rows)
    assert len(across) == 11
    gaps = [b - a for a, b in pairwise([*across, across[0] + 100])]
    assert gaps == pytest.approx([100 / 11] * 11, abs=0.01)
    assert {r.pose.y for r in done.rows} == {30.0}


def test_a_path_that_ends_where_its_copy_begins_on_a_half_drop_closes() -> None:
    for drop, closed in ((50.0, True), (0.0, False)):
        path = np.array([(0.0, 30.0), (100.0, 30.0 + drop)])
        done = lay_trail(as_tile(100, "half-drop"), [discs()[2]], [path], TrailSettings(side="on"))
        assert bool(done.notes) is not closed
    assert "begins at 100.0, 80.0 mm" in done.notes[0]


def test_motifs_sit_on_the_path_at_their_foot_and_lean_along_it() -> None:
    path = np.array([(0.0, 50.0), (100.0, 50.0)])
    asked = TrailSettings(clearance=2.0, lean=0.0)
    done = lay_trail(as_tile(100, "block"), [(LEAF, "hero")], [path], asked)
    laid = [p.outline.bounds for p in done.placements]
    above = [b for b in laid if b[1] < 49]
    below = [b for b in laid if b[3] > 51]
    assert len(above) == len(below) == len(laid) // 2 > 2
    assert {round(b[3], 2) for b in above} == {50.0} == {round(b[1], 2) for b in below}
    assert {r.pose.turn for r in done.rows} == {0.0, 180.0}
    leaning = lay_trail(as_tile(100, "block"), [(LEAF, "hero")], [path], TrailSettings(lean=30.0))
    assert {r.pose.turn for r in leaning.rows} == {30.0, 150.0}


def test_off_the_path_is_so_far_and_on_one_side() -> None:
    path = np.array([(0.0, 50.0), (100.0, 50.0)])
    asked = TrailSettings(side="left", off=4.0, follow=False)
    done = lay_trail(as_tile(100, "block"), [discs()[1]], [path], asked)
    # Left of a path that runs right is up: 4 mm and the radius of 7.
    assert {round(r.pose.y, 1) for r in done.rows} == {39.0}


def test_paths_share_a_round_and_what_none_has_room_for_is_named() -> None:
    # Three discs of 14 mm, 3 mm apart, have room on 60 mm.
    ranked = [(motif(f"m{k}", shapely.Point(0, 0).buffer(7)), "hero") for k in range(7)]
    paths = [np.array([(0.0, y), (60.0, y)]) for y in (15.0, 45.0)]
    done = lay_trail(as_tile(60, "block"), ranked, paths, TrailSettings(side="on"))
    assert len({row.motif for row in done.rows}) == 6
    assert [note for note in done.notes if "too short for" in note] == [
        "the paths are too short for “m6”"
    ]


def test_what_finds_no_room_is_left_out_and_named() -> None:
    paths = [np.array([(0.0, y), (100.0, y)]) for y in (50.0, 54.0)]
    done = lay_trail(as_tile(100, "block"), [discs()[1]], paths, TrailSettings(side="on"))
    assert least_gap(done.on(as_tile(100, "block")), 40.0) >= 3.0
    assert any("left out" in note and "disc-7" in note for note in done.notes)


def test_a_trail_is_refused_without_a_path_and_on_turned_layouts() -> None:
    with pytest.raises(InputError, match="no path"):
        lay_trail(as_tile(60, "block"), discs(), [np.array([(1.0, 1.0)])])
    with pytest.raises(InputError, match="p2mm turns"):
        lay_trail(as_tile(60, "p2mm"), discs(), [wave(60, 0)])


def test_the_lines_of_a_motif_are_those_it_is_stroked_along(tmp_path: Path) -> None:
    art = read(
        tmp_path,
        '<g id="stem" fill="none" stroke="#000" transform="translate(10 0)">'
        '<path d="M0 50h80"/><path d="M0 0h9v9z" fill="#000" stroke="none"/>'
        '<circle cx="40" cy="50" r="0.1"/></g>',
    )
    lines = motif_lines(art.motifs[0])
    # The filled leaf and the speck are no path.
    assert [line.tolist() for line in lines] == [[[10.0, 50.0], [90.0, 50.0]]]
