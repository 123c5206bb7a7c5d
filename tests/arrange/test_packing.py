"""Packing: exact where a motif is put, full, and thinned to what was asked."""

from __future__ import annotations

import math

import shapely
from strewing import as_tile, discs, leaves
from support import motif

from vecrepeat.arrange.crowd import Member
from vecrepeat.arrange.finishing import finished
from vecrepeat.arrange.likeness import Likeness
from vecrepeat.arrange.packing import Packing
from vecrepeat.arrange.settings import RankSettings, TossSettings
from vecrepeat.arrange.settling import fit_in
from vecrepeat.arrange.shapes import Shape, Shapes
from vecrepeat.arrange.torus import Torus
from vecrepeat.repeat.model import Motif
from vecrepeat.repeat.pose import Pose


def two_discs() -> Shapes:
    """Discs of radius 3 and 10."""
    large = motif("large", shapely.Point(0, 0).buffer(10))
    return Shapes([Shape.of(discs()[2][0], 5.0), Shape.of(large, 5.0)])


def test_a_motif_is_pushed_clear_of_another_that_stays() -> None:
    shapes, there = two_discs(), Member(1, Pose(100.0, 100.0), 0)
    asked = Member(0, Pose(106.0, 101.0), 0)
    torus = Torus(as_tile(200, "block"))
    found = fit_in(torus, shapes, [there], asked, clearance=5.0, same_apart=0.0)
    assert found is not None
    # Discs are polygons: their corners lie on the circle, their sides a hair inside.
    assert math.hypot(found.pose.x - 100, found.pose.y - 100) >= 3 + 10 + 5 - 0.1
    assert found._replace(pose=asked.pose) == asked


def test_a_motif_without_room_is_not_fitted() -> None:
    # Between discs of 10 on squares of 24 a circle of 24 / √2 − 10 = 6.97 is empty, and a disc
    # of 3 with 5 about it takes 8.
    there, asked = Member(1, Pose(0.0, 0.0), 0), Member(0, Pose(12.0, 12.0), 0)
    torus = Torus(as_tile(24, "block"))
    assert fit_in(torus, two_discs(), [there], asked, clearance=5.0, same_apart=0.0) is None
    assert fit_in(torus, two_discs(), [there], asked, clearance=3.9, same_apart=0.0) is not None


def packing(ranked: list[tuple[Motif, str]], side: int, coverage: float) -> Packing:
    """The packing of motifs at a clearance of 2 mm."""
    shapes = Shapes([Shape.of(m, 2.0) for m, _ in ranked])
    asked = TossSettings(clearance=2.0, hero=RankSettings(coverage=coverage), rounds=30)
    torus = Torus(as_tile(side, "half-drop"))
    return Packing(torus, shapes, [0] * len(ranked), asked, 0, Likeness(torus, shapes))


def test_what_is_packed_beyond_a_coverage_is_taken_out_again() -> None:
    work = packing(leaves(), 84, 0.4)
    members = work.packed([])
    # All but what the smallest leaf paints: it would have been taken out too.
    smallest = math.pi * 8 * 4 / 84**2
    assert 0.4 <= work.painted(members) < 0.4 + smallest
    least = finished(work.torus, work.shapes, members, []).least_gap
    assert least is not None
    assert least >= 2.0
