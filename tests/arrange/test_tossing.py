"""Toss: the clearance by brute force, and that a toss is what was asked for."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from shapely import affinity
from strewing import (
    LAYOUTS,
    Darts,
    as_tile,
    darts_coverage,
    darts_like,
    discs,
    emoji,
    gaps,
    garden,
    least_gap,
    leaves,
    odd,
    outlines,
    spread,
    steps,
)
from support import box, motif

from vecrepeat.arrange import Arrangement, RankSettings, TossSettings, anchor, toss
from vecrepeat.arrange.tossing import foreseen
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.model import Motif

SMALL = TossSettings(
    clearance=2.5,
    hero=RankSettings(count=2),
    secondary=RankSettings(count=4, scale=(0.7, 1.0)),
    filler=RankSettings(count=8, scale=(0.6, 1.2)),
    rounds=30,
)


def motif_set(name: str, folder: Path) -> tuple[list[tuple[Motif, str]], int]:
    """A set and a tile so small that its motifs crowd."""
    if name == "garden":
        return garden()[::4], 130
    if name == "emoji":
        return emoji(folder, 6), 58
    return {"discs": (discs(), 62), "leaves": (leaves(), 74), "odd": (odd(), 76)}[name]


# Each set on two layouts; tests/benchmarks/toss_check.py has them all, under 200 seeds.
SETS = ("garden", "emoji", "discs", "leaves", "odd")
SAMPLE = [(name, LAYOUTS[(n + k) % 4]) for n, name in enumerate(SETS) for k in (0, 2)]


@pytest.mark.parametrize(("name", "layout"), SAMPLE)
def test_no_two_copies_are_nearer_than_the_clearance(
    tmp_path_factory: pytest.TempPathFactory, name: str, layout: str
) -> None:
    ranked, side = motif_set(name, tmp_path_factory.getbasetemp())
    repeat = as_tile(side, layout)
    tossed = toss(repeat, ranked, replace(SMALL, seed=len(layout), flip=layout == "brick"))
    assert len(tossed.rows) >= 7
    measured = least_gap(tossed.on(repeat), 50.0)
    assert measured >= 2.5
    assert tossed.least_gap == pytest.approx(measured, abs=1e-6)


@pytest.mark.parametrize("even", [True, False])
def test_with_no_clearance_motifs_still_do_not_overlap(even: bool) -> None:
    repeat = as_tile(60, "half-drop")
    tossed = toss(repeat, odd(), replace(SMALL, clearance=0.0, even=even))
    laid = [
        affinity.translate(o, *v) for v in steps(repeat, 1) for o in outlines(tossed.on(repeat))
    ]
    tree = shapely.STRtree(laid)
    one, other = tree.query(laid, predicate="intersects")
    assert list(one) == list(other)


def test_a_motif_longer_than_the_tile_lies_so_that_it_clears_itself() -> None:
    # On 20 × 20 a stick of 30 × 1 meets its own copies lengthwise, but not askew.
    stick = motif("stick", box(0, 0, 30, 1))
    repeat = as_tile(20, "block")
    tossed = toss(repeat, [(stick, "hero")], TossSettings(clearance=2.0))
    assert len(tossed.rows) == 1
    assert least_gap(tossed.on(repeat), 50) >= 2.0


def test_what_can_never_clear_itself_is_left_out_and_named() -> None:
    stick = motif("long stick", box(0, 0, 30, 1))
    tossed = toss(
        as_tile(20, "block"), [(stick, "hero")], TossSettings(clearance=2.0, direction="one-way")
    )
    assert not tossed.rows
    assert tossed.least_gap is None
    assert "long stick" in tossed.notes[0]
    assert "1 of 1 motif not placed" in tossed.notes[0]


def fingerprint(tossed: Arrangement) -> str:
    return json.dumps(tossed.as_dict(), sort_keys=True)


def test_the_same_seed_tosses_alike_in_another_process() -> None:
    code = (
        "import sys; sys.path[:0] = sys.argv[1:3]\n"
        "from test_tossing import *\n"
        "print(fingerprint(toss(as_tile(74, 'half-drop'), leaves(), SMALL)))"
    )
    here = Path(__file__).resolve().parent
    out = subprocess.run(
        [sys.executable, "-c", code, str(here), str(here.parent)],
        env={**os.environ, "PYTHONHASHSEED": "77"},
        capture_output=True,
        text=True,
        check=True,
    ).stdout.strip()
    assert out == fingerprint(toss(as_tile(74, "half-drop"), leaves(), SMALL))


def test_other_seeds_toss_otherwise() -> None:
    repeat = as_tile(74, "half-drop")
    tosses = {fingerprint(toss(repeat, discs(), replace(SMALL, seed=s))) for s in range(3)}
    assert len(tosses) == 3


def test_rows_and_placements_say_the_same() -> None:
    repeat, ranked = as_tile(90, "drop:1/3"), odd()
    tossed = toss(repeat, ranked, replace(SMALL, flip=True))
    known = {m.name: m for m, _ in ranked}
    for row, placement in zip(tossed.rows, tossed.placements, strict=True):
        assert placement.motif is known[row.motif]
        assert placement.transform == row.pose.affine(anchor(placement.motif))
        assert 0 <= row.pose.x <= 90
        assert 0 <= row.pose.y <= 90
    assert [r.rank for r in tossed.rows] == sorted(
        (r.rank for r in tossed.rows), key=["hero", "secondary", "filler"].index
    )
    assert tossed.coverage == pytest.approx(
        sum(o.area for o in outlines(tossed.on(repeat))) / 90**2, rel=1e-6
    )


def test_counts_are_kept_and_shared_out() -> None:
    tossed = toss(as_tile(130, "block"), leaves(), replace(SMALL, filler=RankSettings(count=9)))
    names = [r.motif for r in tossed.rows]
    assert names.count("leaf-0") == 2
    assert names.count("leaf-1") == 4
    assert sorted([names.count("leaf-2"), names.count("leaf-3")]) == [4, 5]
    assert not tossed.notes


def test_a_count_of_none_is_kept_too() -> None:
    tossed = toss(as_tile(60, "block"), discs()[:1], TossSettings(hero=RankSettings(count=0)))
    assert (tossed.rows, tossed.notes, tossed.coverage) == ((), (), 0.0)
    json.dumps(tossed.as_dict())


def test_a_coverage_is_reached_and_not_passed_by_more_than_a_motif() -> None:
    asked = TossSettings(clearance=1.0, hero=RankSettings(coverage=0.3, scale=(0.8, 1.0)))
    tossed = toss(as_tile(120, "half-drop"), [(discs()[1][0], "hero")], asked)
    assert 0.3 - 0.02 < tossed.coverage < 0.3 + 0.02


@pytest.mark.parametrize(
    ("direction", "turns"),
    [("one-way", {0}), ("two-way", {0, 180}), ("four-way", {0, 90, 180, 270})],
)
def test_directions_are_kept_and_used_alike(direction: str, turns: set[int]) -> None:
    asked = TossSettings(clearance=1.0, hero=RankSettings(count=12), direction=direction)
    tossed = toss(as_tile(150, "block"), [(odd()[0][0], "hero")], asked)
    found = [r.pose.turn for r in tossed.rows]
    assert len(found) == 12
    assert {found.count(turn) for turn in turns} == {12 // len(turns)}


def test_sway_leans_so_far_and_no_further() -> None:
    asked = replace(SMALL, direction="two-way", sway=12.0)
    tossed = toss(as_tile(90, "block"), odd(), asked)
    leans = [abs((r.pose.turn + 90) % 180 - 90) for r in tossed.rows]
    assert max(leans) <= 12
    assert max(leans) > 2


def test_free_turning_is_lively() -> None:
    tossed = toss(as_tile(120, "block"), odd(), SMALL)
    eighths = {int(r.pose.turn // 45) for r in tossed.rows}
    assert len(eighths) >= 5


def test_scales_stay_in_their_range_and_use_it() -> None:
    tossed = toss(as_tile(130, "block"), odd(), SMALL)
    scales = [r.pose.scale for r in tossed.rows if r.rank == "filler"]
    assert min(scales) >= 0.6
    assert max(scales) <= 1.2
    assert max(scales) - min(scales) > 0.3


@pytest.mark.parametrize("flip", [True, False])
def test_flips_are_made_only_where_allowed(flip: bool) -> None:
    tossed = toss(as_tile(130, "block"), odd(), replace(SMALL, flip=flip))
    assert any(r.pose.flip for r in tossed.rows) == flip
    assert any(p.transform.determinant < 0 for p in tossed.placements) == flip


@pytest.mark.parametrize("layout", ["block", "drop:1/3"])
def test_the_same_motif_stays_apart(layout: str) -> None:
    repeat = as_tile(130, layout)
    tossed = toss(repeat, discs(), replace(SMALL, same_apart=32.0))
    poses = [(r.motif, r.pose.x, r.pose.y, k) for k, r in enumerate(tossed.rows)]
    nearest = min(
        ((x - u + dx) ** 2 + (y - v + dy) ** 2) ** 0.5
        for name, x, y, k in poses
        for other, u, v, n in poses
        if name == other and n != k
        for dx, dy in steps(repeat)
    )
    assert nearest >= 32.0
    assert len(poses) == 14


def test_a_layout_that_repeats_sooner_than_motifs_may_is_said() -> None:
    tossed = toss(as_tile(60, "block"), discs()[:1], TossSettings(same_apart=80.0))
    assert any("60 mm away" in note for note in tossed.notes)


def test_what_finds_no_room_is_counted_and_named() -> None:
    asked = replace(SMALL, clearance=6.0, filler=RankSettings(count=60))
    tossed = toss(as_tile(62, "block"), discs(), asked)
    missing = 2 + 4 + 60 - len(tossed.rows)
    assert missing > 0
    assert any(f"{missing} of 60 motifs not placed" in n and "disc-3" in n for n in tossed.notes)


def test_what_the_cloth_cannot_hold_is_foreseen_and_not_tried() -> None:
    """Discs of 12 mm and half of 3 mm clearance take 573 mm² each: nine tenths hold six."""
    asked = TossSettings(hero=RankSettings(count=4000), clearance=3.0)
    page = as_tile(64, "block")
    assert foreseen(page, discs()[:1], asked) == (4000, 6)
    start = time.process_time()
    tossed = toss(page, discs()[:1], asked)
    assert time.process_time() - start < 3
    assert any(f"{4000 - len(tossed.rows)} of 4,000 motifs not" in n for n in tossed.notes)


def test_a_coverage_beyond_reach_is_said() -> None:
    asked = TossSettings(hero=RankSettings(coverage=0.9))
    tossed = toss(as_tile(70, "block"), discs()[:1], asked)
    assert tossed.coverage < 0.9
    assert "not 90.0%" in tossed.notes[0]


@pytest.mark.parametrize("ranked", [discs(), leaves(), odd()], ids=["discs", "leaves", "odd"])
def test_gaps_and_voids_are_a_quarter_more_even_than_a_dart_throwers(
    ranked: list[tuple[Motif, str]],
) -> None:
    repeat = as_tile(130, "half-drop")
    ours = toss(repeat, ranked, replace(SMALL, clearance=2.0, rounds=80)).on(repeat)
    darts = darts_like(ours, 2.0, seed=1)
    assert darts is not None
    one, other = spread(ours), spread(darts)
    assert one.nearest <= 0.75 * other.nearest
    assert one.voids <= 0.75 * other.voids


@pytest.mark.parametrize("ranked", [discs(), leaves(), odd()], ids=["discs", "leaves", "odd"])
def test_as_many_as_fit_paint_a_tenth_more_than_a_dart_throwers(
    ranked: list[tuple[Motif, str]],
) -> None:
    repeat = as_tile(70, "half-drop")
    alike = [(m, "hero") for m, _ in ranked]
    asked = TossSettings(clearance=2.0, hero=RankSettings(coverage=1.0))
    darts = darts_coverage(Darts(repeat, 2.0, seed=1), alike)
    packed = toss(repeat, alike, asked)
    assert packed.coverage >= 1.1 * darts
    assert least_gap(packed.on(repeat), 3.0) >= 2.0


def test_evenness_is_measured_as_others_would() -> None:
    repeat = as_tile(110, "half-drop")
    tossed = toss(repeat, discs(), SMALL)
    measured = list(gaps(tossed.on(repeat), 60.0))
    nearest = [
        min(gap for one, other, gap in measured if one == k != other)
        for k in range(len(tossed.rows))
    ]
    mean = sum(nearest) / len(nearest)
    assert tossed.evenness.nearest_mean == pytest.approx(mean, abs=0.3)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"clearance": -1.0}, "clearance"),
        ({"direction": "sideways"}, "sideways"),
        ({"hero": RankSettings(count=3, coverage=0.1)}, "exclude"),
        ({"hero": RankSettings(coverage=1.5)}, "out of range"),
        ({"filler": RankSettings(scale=(2.0, 1.0))}, "no range"),
        ({"seed": -1}, "seed"),
        ({"sway": 200.0}, "sway"),
        ({"rounds": -1}, "rounds"),
        ({"same_apart": float("nan")}, "same motif"),
    ],
)
def test_settings_that_make_no_sense_are_refused(change: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words):
        toss(as_tile(60, "block"), discs(), replace(TossSettings(), **change))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("ranked", "words"),
    [
        ([], "no motifs"),
        ([(motif("m"), "hero")], "paints nothing"),
        ([(discs()[0][0], "star")], "rank “star”"),
        ([discs()[0], discs()[0]], "listed twice"),
    ],
)
def test_motifs_that_cannot_be_placed_are_refused(
    ranked: list[tuple[Motif, str]], words: str
) -> None:
    with pytest.raises(InputError, match=words):
        toss(as_tile(60, "block"), ranked)


def test_lettering_lies_so_that_it_can_be_read() -> None:
    plate = motif("plate", box(0, 0, 24, 9))
    lettered = replace(plate, scene=replace(plate.scene, role="text"))
    ranked = [(lettered, "hero"), (discs()[2][0], "secondary")]
    asked = TossSettings(hero=RankSettings(count=5), flip=True, rounds=20)
    rows = [r for r in toss(as_tile(260, "block"), ranked, asked).rows if r.motif == "plate"]
    assert len(rows) == 5
    # Motifs without letters are turned freely.
    assert all(min(r.pose.turn, 360 - r.pose.turn) <= 12.01 and not r.pose.flip for r in rows)
