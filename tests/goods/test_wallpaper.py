"""Wallpaper arithmetic: no wall is ever short, whatever its match.

Published figures: a roll of 0.53 m × 10.05 m is EN 233's (from memory). The drop method of
decorators' handbooks (from memory, among them the Collins Complete DIY Manual): drops needed,
divided by drops that a roll yields. The rule of thumb of German paperhangers (from memory):
perimeter × height in metres, divided by five, for rolls of that size.
"""

from __future__ import annotations

import math
from fractions import Fraction as F  # noqa: N817
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import Size
from vecrepeat.goods.wallpaper import (
    EN_233,
    FREE,
    Match,
    Wall,
    cut,
    estimate,
    match_of,
    whole_repeats,
)
from vecrepeat.repeat.layout import Layout


def size(width: float | F, height: float | F) -> Size:
    return Size(F(width), F(height))


# --- the match

MATCHES = [
    # (layout, tile in mm, roll's width, kind, repeat, offset)
    ("block", (530, 640), 530, "straight", 640, 0),
    ("block", (265, 320), 530, "straight", 320, 0),
    ("half-drop", (530, 640), 530, "drop", 640, 320),
    ("drop:1/3", (530, 600), 530, "drop", 600, 200),
    # Two columns on a half-drop is back where it began.
    ("half-drop", (265, 640), 530, "straight", 640, 0),
    ("drop:1/3", (265, 600), 530, "drop", 600, 400),
    # A brick goes straight across, and comes back after as many rows as it has steps.
    ("brick", (530, 200), 530, "straight", 400, 0),
    ("brick:1/3", (530, 200), 530, "straight", 600, 0),
]


@pytest.mark.parametrize(("layout", "tile", "roll", "kind", "repeat", "offset"), MATCHES)
def test_the_match_follows_from_the_layout(
    layout: str, tile: tuple[int, int], roll: int, kind: str, repeat: int, offset: int
) -> None:
    match = match_of(Layout.parse(layout), size(*tile), F(roll))
    assert match == Match(kind, F(repeat), F(offset))


def test_a_roll_that_is_no_whole_number_of_repeats_wide_is_refused() -> None:
    with pytest.raises(InputError, match=r"2\.5 repeats wide"):
        match_of(Layout(), size(212, 300), F(530))


# --- worked by hand


def test_a_free_match_by_hand() -> None:
    # 4 m ÷ 0.53 m = 7.547: 8 drops of 2.5 + 0.1 = 2.6 m; 10.05 ÷ 2.6 = 3.87: 3 a roll; 8 ÷ 3: 3.
    found = estimate([Wall(size(4000, 2500))], FREE)
    assert len(found.drops) == 8
    assert found.rolls == 3
    assert found.waste == 1 - F(4000 * 2500, 3 * 530 * 10_050)


def test_a_straight_match_by_hand() -> None:
    # A repeat of 0.64 m: drops of 2.6 m start 5 × 0.64 = 3.2 m apart, at 0, 3.2 and 6.4 m; the
    # third ends at 9.0 m, a fourth would end at 12.2 m. 8 drops: 3 rolls.
    found = estimate([Wall(size(4000, 2500))], Match("straight", F(640)))
    assert [d.start for d in found.drops[:4]] == [0, 3200, 6400, 0]
    assert found.rolls == 3


def test_a_repeat_that_costs_a_roll_by_hand() -> None:
    # Walls of 2.4 m: drops of 2.5 m, 4 a roll with a free match (10.0 m), so 8 drops are 2
    # rolls; on a repeat of 0.64 m they start at 0, 2.56, 5.12 and 7.68 m, and the fourth would
    # end at 10.18 m: 3 a roll, 3 rolls.
    walls = [Wall(size(4000, 2400))]
    assert estimate(walls, FREE).rolls == 2
    assert estimate(walls, Match("straight", F(640))).rolls == 3


def test_a_drop_match_by_hand() -> None:
    # Repeat 0.53 m, offset 0.265 m: the second drop starts half a repeat into one. After 2.6 m
    # the next such place is 5 × 0.53 − 0.265 = 2.385? too soon; 2.915 m. It ends at 5.515 m; the
    # third starts on a whole repeat, 11 × 0.53 = 5.83 m, and ends at 8.43 m.
    drops = cut([F(2600)] * 3, Match("drop", F(530), F(265)), F(10_050))
    assert [d.start for d in drops] == [0, 2915, 5830]


def test_an_opening_by_hand() -> None:
    # 1.8 m ÷ 0.53 m = 3.4: three widths fit in, of which two lie within it wherever it is. Above
    # and below it: 2.5 − 1.2 + 2 × 0.1 = 1.5 m. 8 drops: 6 of 2.6 m on 2 rolls, each with
    # 10.05 − 7.8 = 2.25 m left; both short ones: 1.5 m on the second roll, 1.5 m on a third.
    wall = Wall(size(4000, 2500), (size(1800, 1200),))
    found = estimate([wall], FREE)
    assert [d.length for d in found.drops] == [2600] * 6 + [1500] * 2
    assert [d.roll for d in found.drops] == [1, 1, 1, 2, 2, 2, 2, 3]
    assert found.papered == 4000 * 2500 - 1800 * 1200


def test_whole_repeats_a_roll() -> None:
    assert whole_repeats(Match("straight", F(640)), EN_233.height) == 15  # 15 × 0.64 = 9.6
    assert whole_repeats(Match("drop", F(530), F(265)), EN_233.height) == 18  # 18 × 0.53 = 9.54
    assert whole_repeats(FREE, EN_233.height) is None


@given(st.integers(50, 3000), st.integers(180, 450))
def test_a_free_match_is_the_handbooks_drop_method(width_cm: int, height_cm: int) -> None:
    found = estimate([Wall(size(width_cm * 10, height_cm * 10))], FREE)
    drops = math.ceil(F(width_cm, 53))
    a_roll = 1005 // (height_cm + 10)
    assert found.rolls == math.ceil(F(drops, a_roll))


@pytest.mark.parametrize("perimeter", [12, 14, 16, 18, 20])
def test_it_is_near_the_rule_of_thumb(perimeter: int) -> None:
    # The rule takes four drops a roll for granted and lets doors and windows make up for the
    # trim; at 2.4 m high four do come out of a roll, and then the two are a roll apart at most.
    found = estimate([Wall(size(perimeter * 1000, 2400))], FREE)
    assert 0 <= found.rolls - perimeter * 2.4 / 5 <= 1


# --- for any wall

mm = st.integers(1, 400).map(lambda v: F(v, 4) * 10)
lengths = st.fractions(F(50), F(6000), max_denominator=8)


@st.composite
def matches(draw: st.DrawFn) -> Match:
    kind = draw(st.sampled_from(["free", "straight", "drop"]))
    if kind == "free":
        return FREE
    repeat = draw(mm)
    if kind == "straight":
        return Match("straight", repeat)
    n = draw(st.integers(2, 9))
    return Match("drop", repeat, F(draw(st.integers(1, n - 1)), n) * repeat)


@st.composite
def walls(draw: st.DrawFn) -> Wall:
    width, height = draw(lengths), draw(st.fractions(F(500), F(4000), max_denominator=8))
    shares = draw(st.lists(st.integers(1, 10), max_size=2))
    openings = tuple(Size(width * s / 20, height * draw(st.integers(1, 20)) / 20) for s in shares)
    return Wall(Size(width, height), openings)


@settings(max_examples=300)
@given(st.lists(walls(), min_size=1, max_size=3), matches(), st.integers(300, 1200), mm, st.data())
def test_no_wall_is_ever_short_of_paper(
    rooms: list[Wall], match: Match, web: int, trim: F, data: st.DataObject
) -> None:
    roll = size(web, 12_000)
    found = estimate(rooms, match, roll=roll, trim=trim)
    # What comes off the rolls: nothing twice, nothing beyond an end, all of it in phase.
    by_roll: dict[int, list[tuple[F, F]]] = {}
    for n, drop in enumerate(found.drops):
        by_roll.setdefault(drop.roll, []).append((drop.start, drop.start + drop.length))
        if match.repeat:
            assert (drop.start + n * match.offset) % match.repeat == 0, "it continues the last"
    assert set(by_roll) == set(range(1, found.rolls + 1)), "no roll is bought for nothing"
    for pieces in by_roll.values():
        assert pieces[0][0] >= 0
        assert pieces[-1][1] <= roll.height
        assert all(one[1] <= other[0] for one, other in pairwise(pieces))
    # What hangs on the walls, the openings wherever they may be: every stretch of wall, a web
    # wide, gets either a whole drop or, wholly within an opening, the two pieces.
    have = sorted(drop.length for drop in found.drops)
    need: list[F] = []
    for wall in rooms:
        at = F(0)
        spans = []
        free_width = wall.size.width - sum((o.width for o in wall.openings), F(0))
        for opening in wall.openings:
            gap = free_width * data.draw(st.integers(0, 8)) / 8
            free_width -= gap
            at += gap
            spans.append((at, at + opening.width, opening.height))
            at += opening.width
        for k in range(math.ceil(wall.size.width / web)):
            left, right = F(k * web), F((k + 1) * web)
            high = [h for a, b, h in spans if a <= left and right <= b]
            whole = wall.size.height + trim
            two = wall.size.height - high[0] + 2 * trim + match.repeat if high else whole
            need.append(min(whole, two))
    need.sort()
    # As many drops at least, and each of those needed has one that is long enough.
    assert len(have) >= len(need)
    assert all(h >= n for h, n in zip(have[len(have) - len(need) :], need, strict=True))


@given(matches(), st.lists(st.fractions(F(10), F(3000), max_denominator=4), max_size=30))
def test_cutting_wastes_less_than_a_repeat_between_drops(match: Match, wanted: list[F]) -> None:
    drops = cut(wanted, match, F(10_000))
    for one, other in pairwise(drops):
        if one.roll == other.roll:
            assert 0 <= other.start - one.start - one.length < max(match.repeat, F(1, 10**9))


# --- errors


def test_a_wall_higher_than_a_roll_is_long_is_refused() -> None:
    with pytest.raises(InputError, match="more than a roll of 10050 mm"):
        estimate([Wall(size(1000, 10_000))], FREE)


def test_no_walls_and_impossible_openings_are_refused() -> None:
    with pytest.raises(InputError, match="no wall"):
        estimate([], FREE)
    with pytest.raises(InputError, match="larger than its wall"):
        Wall(size(1000, 2000), (size(900, 2100),))
    with pytest.raises(InputError, match="together are wider"):
        Wall(size(1000, 2000), (size(600, 900), size(600, 900)))
    with pytest.raises(InputError, match="more than 10,000 drops"):
        estimate([Wall(size(10_000_000, 2000))], FREE)
