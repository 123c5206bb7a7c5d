"""What is pinned down stays, keeps its clearance from all that is tossed, and is counted."""

from __future__ import annotations

from dataclasses import replace

import pytest
from strewing import as_tile, discs, least_gap

from vecrepeat.arrange import RankSettings, TossSettings, anchor, toss
from vecrepeat.repeat.model import Placement
from vecrepeat.repeat.pose import Pose

ASKED = TossSettings(
    clearance=2.0,
    hero=RankSettings(count=3),
    secondary=RankSettings(count=3),
    filler=RankSettings(count=4),
    rounds=20,
)


@pytest.mark.parametrize("layout", ["half-drop", "block+turnover-across"])
def test_a_toss_leaves_what_is_pinned_and_keeps_clear_of_it(layout: str) -> None:
    repeat, ranked = as_tile(80, layout), discs()
    first = toss(repeat, ranked, ASKED)
    turns = len(repeat.symmetry.transforms) if repeat.symmetry else 1
    heroes = [k for k, row in enumerate(first.rows) if row.rank == "hero"]
    motifs = {motif.name: motif for motif, _ in ranked}
    row = first.rows[heroes[0]]
    pinned = Placement(motifs[row.motif], row.pose.affine(anchor(motifs[row.motif])))
    again = toss(repeat, ranked, replace(ASKED, seed=9, pinned=(pinned,)))
    # The pinned one comes first, with its images, and is no row of what was tossed.
    assert again.placements[0].transform == pytest.approx(pinned.transform, abs=1e-6)
    assert len(again.placements) == turns * (1 + len(again.rows))
    assert sum(row.rank == "hero" for row in again.rows) == len(heroes) - 1
    assert least_gap(again.on(repeat), 40.0) >= 2.0


def test_with_each_motif_once_a_pinned_one_is_not_tossed_besides() -> None:
    repeat, ranked = as_tile(80, "block"), discs()
    motif = ranked[0][0]
    pinned = Placement(motif, Pose(20.0, 20.0, 0.0, 1.0, False).affine(anchor(motif)))
    rows = toss(repeat, ranked, TossSettings(clearance=1.0, pinned=(pinned,), rounds=10)).rows
    assert sorted(row.motif for row in rows) == sorted(m.name for m, _ in ranked[1:])
