"""The model of a repeat: the same cloth at another size, motifs enlarged, copies as placements."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
import shapely
from shapely.affinity import scale, translate
from support import motif

from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Ground, Placement, Repeat
from vecrepeat.repeat.wrap import Copy, copies, placed
from vecrepeat.scene.nodes import Group

LEAF = shapely.Polygon([(10, 10), (30, 14), (12, 22)])
PAGE = Repeat(
    "page", Fraction(100), Fraction(60), (Placement(motif("leaf", LEAF)),), ground=Ground("#fff")
)


def test_a_motif_enlarged_about_a_point_keeps_that_point() -> None:
    leaf = replace(motif("leaf", LEAF), regions=(Rect(8, 8, 32, 24), Rect(9, 9, 12, 12)), dpi=300.0)
    larger = leaf.scaled(1.5, about=(10, 14))
    assert larger.outline.equals(scale(LEAF, 1.5, 1.5, origin=(10, 14)))
    assert larger.extent == pytest.approx((7, 5, 43, 29))
    assert larger.regions[1] == pytest.approx((8.5, 6.5, 13, 11))
    assert larger.dpi == 200
    assert larger.scene == Group((leaf.scene,), Affine(1.5, 0, 0, 1.5, -5, -7))


def test_a_motif_of_its_own_size_is_itself() -> None:
    leaf = motif("leaf", LEAF)
    assert leaf.scaled(1.0, about=(3, 4)) is leaf


@pytest.mark.parametrize("layout", ["half-drop", "half-drop+turnover-across", "p6mm"])
def test_the_same_cloth_at_another_size(layout: str) -> None:
    repeat = PAGE.with_layout(layout)
    larger = repeat.scaled(Fraction(5, 2))
    assert (larger.width, larger.height) == (repeat.width * 5 / 2, repeat.height * 5 / 2)
    assert str(larger.layout) == layout
    for ours, theirs in zip(larger.placements, repeat.placements, strict=True):
        assert ours.outline.equals_exact(scale(theirs.outline, 2.5, 2.5, origin=(0, 0)), 1e-9)
    if repeat.symmetry is not None:
        assert larger.symmetry is not None
        # Each operation takes the first placement to its own, at that size too.
        for turn, placement in zip(larger.symmetry.transforms, larger.placements, strict=True):
            moved = shapely.transform(larger.placements[0].outline, turn.apply)
            assert moved.equals_exact(placement.outline, 1e-9)


def test_one_motif_alone_has_no_ground_and_no_neighbours() -> None:
    repeat = PAGE.with_layout("pm")
    alone = repeat.alone(repeat.placements[0].motif, Fraction(500), Affine.translation(200, 210))
    assert (alone.ground, alone.symmetry, alone.layout) == (None, None, Layout())
    (placement,) = alone.placements
    assert placement.outline.equals(translate(LEAF, 200, 210))
    assert copies(alone, Rect(0, 0, 500, 500)) == [Copy(0, 0, 0)]


def test_a_copy_lies_its_lattice_steps_from_the_original() -> None:
    repeat = PAGE.with_layout("half-drop")
    # Two columns on, each 100 mm on and 30 mm lower, and one row of 60 mm up.
    assert placed(repeat, Copy(0, 2, -1)).outline.equals(translate(LEAF, 200, 0))
