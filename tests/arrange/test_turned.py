"""Toss and fill where the layout turns: motifs keep clear of their own mirror images too.

What is measured is what a recipe comes to: rows laid on the page, the page on its layout, by
:meth:`Repeat.with_layout`, which knows nothing of arranging. Distances are by brute force.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely
from strewing import as_tile, discs, least_gap, leaves, odd
from support import box, motif

from vecrepeat.arrange import Arrangement, Filled, FillSettings, RankSettings, anchor, fill, toss
from vecrepeat.arrange.settings import TossSettings
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.model import Motif, Placement, Repeat

ASKED = TossSettings(
    clearance=2.0,
    hero=RankSettings(count=1),
    secondary=RankSettings(count=2, scale=(0.6, 0.9)),
    filler=RankSettings(count=3, scale=(0.6, 1.0)),
    rounds=30,
)

LAYOUTS = [
    ("pm", 90, odd),
    ("p2mg", 110, leaves),
    ("p4mm", 140, odd),
    ("p31m", 120, leaves),
    ("p6mm", 150, discs),
    ("half-drop+turnover-across", 64, leaves),
    ("brick:1/3+half-turn-both", 64, odd),
]


def as_recipe(
    side: int, layout: str, done: Arrangement | Filled, motifs: dict[str, Motif]
) -> Repeat:
    """The rows laid on the page, and the page on its layout."""
    laid = tuple(
        Placement(motifs[row.motif], row.pose.affine(anchor(motifs[row.motif])))
        for row in done.rows
    )
    return replace(as_tile(side, "block"), placements=laid).with_layout(layout)


@pytest.mark.parametrize(("layout", "side", "ranked"), LAYOUTS, ids=[row[0] for row in LAYOUTS])
def test_motifs_and_all_their_images_keep_the_clearance(
    layout: str, side: int, ranked: object
) -> None:
    motifs = ranked()  # type: ignore[operator]
    repeat = as_tile(side, layout)
    tossed = toss(repeat, motifs, replace(ASKED, seed=side))
    assert len(tossed.rows) >= 4
    cloth = as_recipe(side, layout, tossed, {m.name: m for m, _ in motifs})
    measured = least_gap(cloth, 40.0)
    assert measured >= 2.0
    if measured < 40:
        assert tossed.least_gap == pytest.approx(measured, abs=1e-6)
    turns = len(cloth.symmetry.operations) if cloth.symmetry else 1
    assert len(tossed.placements) == turns * len(tossed.rows)
    # The arrangement's own repeat is the same cloth.
    for ours, theirs in zip(tossed.placements, cloth.placements, strict=True):
        assert ours.transform == pytest.approx(theirs.transform, abs=1e-9)


def test_a_motif_too_wide_for_its_mirrors_is_left_out_and_named() -> None:
    # Mirrors of pm on 40 mm are 20 mm apart, and a disc of 24 mm crosses one wherever it is.
    wide = motif("wide", shapely.Point(0, 0).buffer(12))
    tossed = toss(as_tile(40, "pm"), [(wide, "hero")], TossSettings(clearance=1.0))
    assert tossed.rows == ()
    assert "“wide”" in tossed.notes[0]


def test_a_motif_longer_than_mirrors_are_apart_is_turned_along_them() -> None:
    # 15 × 3 lies between two mirrors only within 20 − 1 mm; free turning finds it.
    stick = motif("stick", box(0, 0, 34, 3))
    tossed = toss(as_tile(40, "pm"), [(stick, "hero")], TossSettings(clearance=1.0, seed=2))
    assert len(tossed.rows) == 1
    cloth = as_recipe(40, "pm", tossed, {"stick": stick})
    assert least_gap(cloth, 40.0) >= 1.0


@pytest.mark.parametrize(
    ("layout", "direction", "use"),
    [
        ("p2", "one-way", "two-way"),
        ("turnover-down", "one-way", "two-way"),
        ("p4", "two-way", "four-way"),
        ("p6mm", "four-way", "free"),
    ],
)
def test_directions_that_a_layout_turns_away_are_refused_by_name(
    layout: str, direction: str, use: str
) -> None:
    with pytest.raises(InputError) as refused:
        toss(as_tile(90, layout), discs(), replace(ASKED, direction=direction))
    assert layout in refused.value.what
    assert direction in refused.value.what
    assert use in str(refused.value.hint)
    with pytest.raises(InputError):
        fill(as_tile(90, layout), discs(), FillSettings(direction=direction))


def test_a_mirror_that_leaves_up_as_up_leaves_one_way_as_it_is() -> None:
    repeat = as_tile(90, "pm")
    tossed = toss(repeat, odd(), replace(ASKED, direction="one-way"))
    assert {row.pose.turn for row in tossed.rows} == {0.0}
    # Upright: the motif's down is the cloth's down.
    assert all(p.transform.d > 0 and p.transform.b == 0 for p in tossed.placements)


@pytest.mark.parametrize(("layout", "side"), [("p2mm", 130), ("p6", 110), ("turnover-both", 70)])
def test_fillers_keep_clear_of_everything_and_leave_no_room(layout: str, side: int) -> None:
    fillers = [(m, "filler") for m, _ in leaves()[2:]]
    repeat = toss(as_tile(side, layout), odd()[:3], ASKED).on(as_tile(side, layout))
    filled = fill(repeat, fillers, FillSettings(clearance=1.5, scale=(0.7, 1.0)))
    assert len(filled.rows) >= 2
    assert filled.placements[: len(repeat.placements)] == repeat.placements
    assert least_gap(filled.on(repeat), 40.0) >= 1.5
    assert filled.circle.radius < filled.room or filled.notes
