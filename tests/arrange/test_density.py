"""Density in the trade's words: how much is painted, and each motif at least once."""

from __future__ import annotations

import math

import pytest
import shapely
from strewing import as_tile, discs, least_gap
from support import motif

from vecrepeat.arrange import toss
from vecrepeat.arrange.arranging import toss_settings
from vecrepeat.arrange.density import bulk, counts_of
from vecrepeat.repeat.ranks import DENSITIES, RANKS

ONE = {str(rank): (1.0, 1.0) for rank in RANKS}


def test_a_density_paints_its_share_of_solid_motifs() -> None:
    """A quarter of the cloth when airy, two fifths when medium, half when packed, by and by."""
    ranked = discs()
    shares = {}
    for density in DENSITIES:
        page = as_tile(120, "half-drop")
        tossed = toss(page, ranked, toss_settings({"density": density}, page, ranked))
        shares[density] = tossed.coverage
        assert {row.motif for row in tossed.rows} == {m.name for m, _ in ranked}
        assert not tossed.notes
    assert shares["airy"] == pytest.approx(0.27, abs=0.04)
    assert shares["medium"] == pytest.approx(0.42, abs=0.04)
    assert shares["airy"] < shares["medium"] < shares["packed"]


def test_every_motif_is_asked_for_however_many_there_are() -> None:
    ranked = [(one, "filler") for one, _ in discs()]
    counts = counts_of("airy", as_tile(10, "block"), ranked, ONE)
    assert counts == {"filler": len(ranked)}


def test_what_is_said_goes_before_the_density() -> None:
    ranked, page = discs(), as_tile(160, "block")
    keys = {"density": "medium", "clearance": 1.5, "heroes": 2, "filler-coverage": 0.05}
    settings = toss_settings(keys, page, ranked)
    assert settings.clearance == 1.5
    assert (settings.hero.count, settings.hero.coverage) == (2, None)
    assert (settings.filler.count, settings.filler.coverage) == (None, 0.05)
    by_itself = toss_settings({"density": "medium"}, page, ranked)
    assert by_itself.clearance == pytest.approx(2.0)
    assert settings.secondary == by_itself.secondary


def test_a_layout_that_turns_asks_for_its_part() -> None:
    ranked = discs()
    plain = counts_of("medium", as_tile(300, "block"), ranked, ONE)
    turned = counts_of("medium", as_tile(300, "p4mm"), ranked, ONE)
    for rank, count in plain.items():
        assert turned[rank] == pytest.approx(count / 8, abs=1)


def test_a_hairline_is_asked_for_no_more_often_than_it_has_room() -> None:
    # 40 mm long, and 200 / 80 = 2.5 mm from its like: each takes 100 mm² and more of 40,000.
    hair = motif("hair", shapely.box(0, 0, 40, 0.02))
    counts = counts_of("medium", as_tile(200, "block"), [(hair, "filler")], ONE)
    assert 200 < counts["filler"] <= 400


def test_what_lines_enclose_counts() -> None:
    disc = shapely.Point(0, 0).buffer(20)
    ring = motif("ring", disc.difference(shapely.Point(0, 0).buffer(19)))
    assert bulk(ring) == pytest.approx(math.pi * 20**2, rel=0.02)
    assert bulk(motif("disc", disc)) == pytest.approx(math.pi * 20**2, rel=0.02)


def test_packed_motifs_grow_into_their_gaps_by_a_bounded_share() -> None:
    """Discs as they are would paint so much by arithmetic."""
    ranked, page = discs()[:2], as_tile(75, "half-drop")
    packed = toss_settings({"density": "packed"}, page, ranked)
    tossed = toss(page, ranked, packed)
    area = {"disc-12": math.pi * 144, "disc-7": math.pi * 49}
    assert tossed.coverage > 1.03 * sum(area[row.motif] for row in tossed.rows) / 75**2
    assert all(0.85 <= row.pose.scale <= 1.15 for row in tossed.rows)
    assert max(row.pose.scale for row in tossed.rows) > 1.03
    assert least_gap(tossed.on(page), 9.0) >= packed.clearance
