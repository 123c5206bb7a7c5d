"""Fill: what is there stays, the clearance holds, and no void is left that had room."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest
import shapely
from strewing import LAYOUTS, as_tile, discs, distances, gaps, leaves, odd, outlines, steps
from support import box, motif, repeat_of

from vecrepeat.arrange import Filled, FillSettings, anchor, fill
from vecrepeat.core.geometry import Affine
from vecrepeat.repeat.model import Motif, Placement, Repeat

FILLERS = [(m, "filler") for m, _ in [*leaves()[2:], *discs()[2:], odd()[3]]]


def strewn(layout: str) -> Repeat:
    """Three motifs: mirrored and turned, sheared, and one that lies over another."""
    hook, ring, star = (m for m, _ in odd()[:3])
    placements = (
        Placement(hook, Affine(0.0, -1.2, -1.2, 0.0, 40.0, 55.0)),
        Placement(star, Affine(1.0, 0.3, 0.6, 1.1, 88.0, 20.0)),
        Placement(ring, Affine.translation(60.0, 80.0)),
        Placement(star, Affine.translation(66.0, 86.0)),
    )
    return replace(as_tile(100, layout), placements=placements)


def nearest_to_fillers(repeat: Repeat, filled: Filled) -> float:
    """The least distance of a filler to anything, by brute force, so far as it is below 9 mm."""
    first = len(repeat.placements)
    return min(gap for one, other, gap in gaps(filled.on(repeat), 9.0) if max(one, other) >= first)


@pytest.mark.parametrize(
    ("layout", "even"), list(zip(LAYOUTS, [True, False, False, True], strict=True))
)
def test_fillers_keep_the_clearance_and_leave_no_room(layout: str, even: bool) -> None:
    repeat = strewn(layout)
    filled = fill(repeat, FILLERS, FillSettings(clearance=2.0, scale=(0.6, 1.2), even=even))
    assert len(filled.rows) >= 5
    assert filled.placements[:4] == repeat.placements
    assert nearest_to_fillers(repeat, filled) >= 2.0
    # A disc of the smallest filler: radius 3 at scale 0.6 has a circle of 1.8 mm.
    smallest = min(shapely.minimum_bounding_radius(m.outline) * 0.6 for m, _ in FILLERS)
    assert filled.room == pytest.approx(smallest + 2.0, abs=0.02)
    assert filled.circle.radius < filled.room
    pixel = 0.4
    found = distances(filled.on(repeat), pixel).max()
    assert filled.circle.radius == pytest.approx(found, abs=1.5 * pixel)
    assert not filled.notes


def test_the_largest_void_is_filled_first() -> None:
    walls = [box(0, 0, 60, 2), box(0, 0, 2, 60), box(40, 0, 42, 60)]
    repeat = repeat_of(walls, 60, 60)
    filled = fill(repeat, discs()[2:], FillSettings(clearance=1.0, count=1, even=False))
    # The wide room's middle lies 19 mm from its walls, the narrow one's 9.
    (row,) = filled.rows
    assert (row.pose.x, row.pose.y) != (51.0, 31.0)
    assert 10 < row.pose.x < 32
    assert any("all 1 fillers are placed" in note for note in filled.notes)


def test_voids_under_the_smallest_stay() -> None:
    repeat = strewn("half-drop")
    asked = FillSettings(clearance=1.0, smallest=24.0, even=False)
    filled = fill(repeat, FILLERS, asked)
    assert 1 <= len(filled.rows) < len(fill(repeat, FILLERS, replace(asked, smallest=0)).rows)
    assert 2 * filled.circle.radius < 24.0
    assert any("voids under 24 mm are to stay" in note for note in filled.notes)


def test_a_filler_too_large_for_every_void_is_named() -> None:
    repeat = repeat_of([box(0, 0, 30, 22)], 30, 30)
    large = motif("platter", shapely.Point(0, 0).buffer(9))
    filled = fill(repeat, [(large, "filler"), *discs()[2:]], FillSettings(clearance=0.5))
    assert any("platter" in note for note in filled.notes)
    assert {row.motif for row in filled.rows} == {"disc-3"}


def test_what_is_apart_from_its_like_is_said_where_it_leaves_a_void() -> None:
    asked = FillSettings(clearance=1.0, same_apart=60.0)
    filled = fill(strewn("block"), discs()[2:], asked)
    assert filled.circle.radius > filled.room
    assert any("60 mm apart" in note for note in filled.notes)


def test_fillers_stay_apart_from_their_like_that_was_there_before() -> None:
    dot = discs()[2][0]
    repeat = replace(as_tile(80, "half-drop"), placements=(Placement(dot, Affine(e=40.0, f=40.0)),))
    filled = fill(repeat, [(dot, "filler")], FillSettings(clearance=2.0, same_apart=30.0))
    assert len(filled.rows) >= 3
    assert all(
        math.hypot(row.pose.x - 40 + dx, row.pose.y - 40 + dy) >= 30
        for row in filled.rows
        for dx, dy in steps(repeat)
    )


def test_rows_make_the_placements_and_facts_are_plain_data() -> None:
    repeat = strewn("brick")
    known: dict[str, Motif] = {m.name: m for m, _ in FILLERS}
    filled = fill(repeat, FILLERS, FillSettings(clearance=2.0, flip=True))
    for row, placement in zip(filled.rows, filled.placements[4:], strict=True):
        assert placement.transform == row.pose.affine(anchor(known[row.motif]))
    told = json.loads(json.dumps(filled.as_dict()))
    assert len(told["placements"]) == len(filled.rows)
    assert filled.coverage == pytest.approx(
        sum(o.area for o in outlines(filled.on(repeat))[4:]) / 100**2, rel=1e-6
    )


def test_bare_cloth_is_filled_too() -> None:
    filled = fill(as_tile(30, "half-drop"), discs()[2:], FillSettings(clearance=2.0))
    assert len(filled.rows) > 5
    assert math.isfinite(filled.circle.radius)
    assert filled.circle.radius < filled.room
