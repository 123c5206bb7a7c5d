"""Set: a grid that divides the lattice, motifs that keep the clearance on it."""

from __future__ import annotations

import math

import pytest
import shapely
from strewing import LAYOUTS, as_tile, discs, least_gap, odd, steps
from support import motif

from vecrepeat.arrange import SetSettings, lay_set
from vecrepeat.core.errors import InputError


@pytest.mark.parametrize("layout", LAYOUTS)
def test_no_two_copies_are_nearer_than_the_clearance(layout: str) -> None:
    repeat = as_tile(120, layout)
    done = lay_set(repeat, odd(), SetSettings(clearance=2.5, columns=3, rows=3, flip=True))
    # Nine points and nine middles.
    assert len(done.rows) == 18
    assert least_gap(done.on(repeat), 60.0) >= 2.5


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_grid_runs_on_over_every_join(layout: str) -> None:
    repeat = as_tile(120, layout)
    one = [(discs()[0][0], "hero")]
    done = lay_set(repeat, one, SetSettings(clearance=1.0, columns=2, rows=3))
    points = [(r.pose.x + dx, r.pose.y + dy) for r in done.rows for dx, dy in steps(repeat, 3)]
    nearest = []
    for row in done.rows:
        gaps = sorted(math.dist((row.pose.x, row.pose.y), p) for p in points)
        nearest.append(gaps[1:5])
    # Every point sees the same four neighbours: a lattice has no seam.
    assert all(n == pytest.approx(nearest[0], abs=0.01) for n in nearest)


def test_motifs_are_as_large_as_the_clearance_lets_them_be() -> None:
    # Discs 24 mm wide on points 20 mm apart, 2 mm between: 18 mm wide, 0.75 of their size.
    repeat = as_tile(40, "block")
    one = [(discs()[0][0], "hero")]
    done = lay_set(repeat, one, SetSettings(clearance=2.0, columns=2, rows=2))
    assert all(r.pose.scale == pytest.approx(0.75, abs=0.002) for r in done.rows)
    assert "0.75" in done.notes[0]


def test_a_staggered_set_moves_every_other_column_by_half_a_step() -> None:
    one = [(discs()[2][0], "hero")]
    asked = SetSettings(columns=2, rows=2, stagger="drop")
    done = lay_set(as_tile(80, "block"), one, asked)
    places = {(r.pose.x, r.pose.y) for r in done.rows}
    assert places == {(20.0, 20.0), (20.0, 60.0), (60.0, 40.0), (60.0, 0.0)}


def test_fillers_stand_where_there_is_most_room() -> None:
    # On a square grid that is across the corner: 10 mm from each side's middle.
    ranked = [(discs()[0][0], "hero"), (discs()[2][0], "filler")]
    done = lay_set(as_tile(40, "block"), ranked, SetSettings(columns=1, rows=1, scale=0.5))
    hero, filler = done.rows
    assert (hero.pose.x, hero.pose.y) == (20.0, 20.0)
    assert (filler.pose.x % 40, filler.pose.y % 40) == (0.0, 0.0)


def test_motifs_on_the_points_give_way_until_every_middle_is_bare() -> None:
    # Bars along the diagonal, 4 mm from end to end: their ends are 3.5 mm from the middles where
    # they give way to 0.88, and 4.9 mm at 0.76.
    bar = motif("bar", shapely.LineString([(0, 0), (30, 30)]).buffer(0.01))
    ranked = [(bar, "hero"), (discs()[2][0], "filler")]
    done = lay_set(as_tile(40, "block"), ranked, SetSettings(clearance=4.0, columns=2, rows=2))
    assert len(done.rows) == 8
    assert least_gap(done.on(as_tile(40, "block")), 10.0) >= 4.0
    # The bars fit to 24.3 of their 42.4 mm.
    assert done.rows[0].pose.scale == pytest.approx(0.76 * 24.3 / 42.4, abs=0.003)


def test_fillers_without_a_middle_are_named() -> None:
    hero = (motif("hero", shapely.box(0, 0, 9, 9)), "hero")
    fillers = [(motif(f"f{k}", shapely.box(0, 0, 3, 3)), "filler") for k in range(5)]
    done = lay_set(as_tile(60, "block"), [hero, *fillers], SetSettings(columns=2, rows=2))
    assert "no place on 2 × 2 points for “f4”" in done.notes


def test_directions_take_turns_and_a_seed_shuffles() -> None:
    ranked = [(motif(f"m{k}", shapely.box(0, 0, 9, 5)), "hero") for k in range(6)]
    plain = lay_set(as_tile(90, "block"), ranked, SetSettings(columns=3, rows=2))
    assert sorted(r.motif for r in plain.rows) == [f"m{k}" for k in range(6)]
    two = lay_set(
        as_tile(90, "block"), ranked, SetSettings(columns=3, rows=2, direction="two-way", seed=4)
    )
    assert [r.pose.turn for r in two.rows] == [0, 180, 0, 180, 0, 180]
    assert [r.motif for r in two.rows] != [r.motif for r in plain.rows]
    again = SetSettings(columns=3, rows=2, direction="two-way", seed=4)
    assert lay_set(as_tile(90, "block"), ranked, again).rows == two.rows


def test_no_motif_stands_one_way_where_directions_take_turns() -> None:
    # On a chequer of two, each would always come with the same turn.
    ranked = [(motif(f"m{k}", shapely.box(0, 0, 9, 5)), "hero") for k in range(2)]
    asked = SetSettings(columns=4, rows=4, direction="two-way")
    rows = lay_set(as_tile(90, "block"), ranked, asked).rows
    for name in ("m0", "m1"):
        assert sorted(r.pose.turn for r in rows if r.motif == name) == [0] * 4 + [180] * 4


@pytest.mark.parametrize(
    ("layout", "asked", "words"),
    [
        ("block", SetSettings(columns=3, stagger="drop"), "even number of columns"),
        ("block", SetSettings(rows=3, stagger="brick"), "even number of rows"),
        ("p4mm", SetSettings(), "p4mm turns"),
        ("block", SetSettings(columns=0), "out of range"),
        ("block", SetSettings(clearance=59.0), "do not fit"),
        ("block", SetSettings(clearance=60.0), "every motif comes again after 60 mm"),
    ],
)
def test_what_cannot_be_set_is_refused(layout: str, asked: SetSettings, words: str) -> None:
    with pytest.raises(InputError) as refused:
        lay_set(as_tile(60, layout), discs(), asked)
    assert words in f"{refused.value.what} {refused.value.hint}"


def test_like_keeps_away_from_like_from_row_to_row() -> None:
    # Eight motifs in turn on 8 × 8 points 10 mm apart: rows that begin three on from row to row
    # put like two points across and two down from like, by arithmetic the furthest there is.
    ranked = [(motif(f"dot {k}", shapely.Point(0, 0).buffer(4)), "hero") for k in range(8)]
    repeat = as_tile(80, "block")
    done = lay_set(repeat, ranked, SetSettings(columns=8, rows=8, clearance=1.0))
    names = [row.motif for row in done.rows]
    assert {names.count(name) for name in names} == {8}
    at = [(row.pose.x, row.pose.y) for row in done.rows]
    apart = [
        math.hypot(a[0] - b[0] + dx, a[1] - b[1] + dy)
        for k, a in enumerate(at)
        for n, b in enumerate(at)
        for dx, dy in steps(repeat)
        if n != k and names[n] == names[k]
    ]
    assert min(apart) == pytest.approx(10 * math.sqrt(8), abs=0.01)
