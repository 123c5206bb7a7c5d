"""Stripe: rows that close over the tile in whole rounds, alleys alike."""

from __future__ import annotations

from itertools import pairwise

import pytest
import shapely
from strewing import LAYOUTS, as_tile, discs, least_gap, odd, steps
from support import motif

from vecrepeat.arrange import StripeSettings, lay_stripes
from vecrepeat.arrange.spaced import strung
from vecrepeat.core.errors import InputError


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("way", ["down", "across"])
def test_no_two_copies_are_nearer_than_the_clearance(layout: str, way: str) -> None:
    repeat = as_tile(150, layout)
    asked = StripeSettings(clearance=2.0, way=way, direction="two-way", stagger=True, seed=3)
    done = lay_stripes(repeat, odd(), asked)
    assert len(done.rows) >= 8
    assert least_gap(done.on(repeat), 40.0) >= 2.0


def test_a_stripe_is_evenly_spaced_through_the_join() -> None:
    # Discs of 14 mm with 3 mm between: five have room on 100 mm, six would need 102.
    one = [(discs()[1][0], "hero")]
    done = lay_stripes(as_tile(100, "block"), one, StripeSettings(times=1))
    down = sorted(r.pose.y for r in done.rows)
    assert len(down) == 5
    assert [b - a for a, b in pairwise([*down, down[0] + 100])] == pytest.approx([20.0] * 5)
    assert {r.pose.x for r in done.rows} == {50.0}


def test_alleys_are_alike_and_fillers_run_between() -> None:
    ranked = [(discs()[0][0], "hero"), (discs()[2][0], "filler")]
    done = lay_stripes(as_tile(90, "block"), ranked, StripeSettings(times=1))
    middles = sorted({r.pose.x for r in done.rows})
    # 24 and 6 mm wide: 60 mm are left for two alleys.
    assert middles == pytest.approx([15 + 12, 15 + 24 + 30 + 3])


@pytest.mark.parametrize(
    ("layout", "way", "steps_needed"), [("brick", "down", 2), ("drop:1/3", "across", 3)]
)
def test_stripes_run_on_where_the_next_tile_is_moved_across_them(
    layout: str, way: str, steps_needed: int
) -> None:
    repeat = as_tile(120, layout)
    done = lay_stripes(repeat, discs(), StripeSettings(way=way, clearance=1.0))
    across = [(r.pose.x, r.pose.y)[way == "across"] for r in done.rows]
    lines = {round(v % 120, 2) for v in across}
    for dx, dy in steps(repeat, 1):
        moved = {round((v + (dx, dy)[way == "across"]) % 120, 2) for v in across}
        assert moved == lines
    with pytest.raises(InputError, match="don't run on"):
        lay_stripes(repeat, discs(), StripeSettings(way=way, times=steps_needed + 1))


def test_whole_rounds_come_before_parts_of_one() -> None:
    # A round of 10 + 20 with gaps of 1 is 32 long: three rounds in 100, 10 over for the gaps.
    assert strung([10.0, 20.0], 100.0, 1.0, 2) == pytest.approx(
        [0, 10 + 10 / 6, 30 + 20 / 6, 40 + 30 / 6, 60 + 40 / 6, 70 + 50 / 6]
    )
    # No round has room: as many of it as do.
    assert strung([10.0, 20.0], 25.0, 1.0, 2) == pytest.approx([0.0])
    assert strung([10.0, 20.0], 9.0, 1.0, 2) is None


def test_stripes_go_on_with_a_round_that_one_has_no_room_for() -> None:
    # Two of five pieces of 20 mm have room on 50: three stripes hold all of them.
    ranked = [(motif(f"m{k}", shapely.box(0, 0, 9, 20)), "hero") for k in range(5)]
    done = lay_stripes(as_tile(50, "block"), ranked, StripeSettings(times=3))
    assert len(done.rows) == 6
    assert {row.motif for row in done.rows} == {f"m{k}" for k in range(5)}
    done = lay_stripes(as_tile(50, "block"), ranked, StripeSettings(times=2))
    assert done.notes == ("no stripe has room for “m4”",)


def test_a_rank_that_no_stripe_is_of_is_named() -> None:
    done = lay_stripes(as_tile(90, "block"), discs(), StripeSettings(order=("hero",)))
    assert any(note.startswith("no stripe is of the rank of") for note in done.notes)


def test_every_other_stripe_of_the_only_rank_is_half_a_step_on() -> None:
    one = [(discs()[1][0], "hero")]
    done = lay_stripes(as_tile(100, "block"), one, StripeSettings(times=2, stagger=True))
    lines = [sorted(r.pose.y for r in done.rows if r.pose.x == x) for x in (25.0, 75.0)]
    assert [round(b - a, 3) for a, b in zip(*lines, strict=True)] == [10.0] * 5


@pytest.mark.parametrize(
    ("layout", "asked", "words"),
    [
        ("turnover-across", StripeSettings(), "turns its tiles"),
        ("block", StripeSettings(way="round"), "round"),
        ("block", StripeSettings(order=("star",)), "“star”"),
        ("block", StripeSettings(order=("filler", "secondary")), "no motif has the rank secondary"),
    ],
)
def test_what_cannot_be_striped_is_refused(layout: str, asked: StripeSettings, words: str) -> None:
    bar = motif("bar", shapely.box(0, 0, 4, 9))
    with pytest.raises(InputError) as refused:
        lay_stripes(as_tile(60, layout), [(bar, "filler")], asked)
    assert words in refused.value.what


def test_no_motif_stands_one_way_where_directions_take_turns() -> None:
    ranked = [(motif(f"m{k}", shapely.box(0, 0, 9, 5)), "hero") for k in range(2)]
    rows = lay_stripes(as_tile(90, "block"), ranked, StripeSettings(direction="two-way")).rows
    assert {(r.motif, r.pose.turn) for r in rows} == {
        (name, turn) for name in ("m0", "m1") for turn in (0, 180)
    }
