"""How sharp pictures print; every expected figure is dots over inches, by arithmetic."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from support import box, motif

from vecrepeat.core.geometry import IDENTITY, Affine
from vecrepeat.repeat.model import Motif, Placement, Repeat
from vecrepeat.write.pictures import coarse_pictures


def pixel_motif(name: str, dpi: float | None) -> Motif:
    return replace(motif(name, box(0, 0, 10, 10)), dpi=dpi)


def repeat_with(*placements: Placement) -> Repeat:
    return Repeat("art", Fraction(200), Fraction(100), placements)


@pytest.mark.parametrize(
    ("drawn", "transform", "scale", "printed", "width"),
    [
        pytest.param(300, IDENTITY, 4, "75 dpi", "400 mm", id="printed four times as large"),
        pytest.param(300, Affine.scaling(3), 1, "100 dpi", "133.3 mm", id="placed larger"),
        pytest.param(
            300, Affine.scaling(3), Fraction(3, 2), "66.6 dpi", "133.3 mm", id="placed and printed"
        ),
        pytest.param(
            300, Affine(0.0, 3.0, -3.0, 0.0), 1, "100 dpi", "133.3 mm", id="turned and larger"
        ),
        pytest.param(
            300, Affine(-1.0, 0.0, 0.0, 1.0), 3, "100 dpi", "400 mm", id="mirrored is no larger"
        ),
        pytest.param(
            300, Affine.scaling(1, 3), 1, "100 dpi", "133.3 mm", id="stretched one way alone"
        ),
        pytest.param(72, IDENTITY, 1, "72 dpi", "96 mm", id="drawn coarse"),
    ],
)
def test_coarse(
    drawn: float, transform: Affine, scale: Fraction | int, printed: str, width: str
) -> None:
    repeat = repeat_with(Placement(pixel_motif("rose", drawn), transform))
    [sentence] = coarse_pictures(repeat, scale)
    assert sentence == (
        f"“rose” prints at {printed}: up to a repeat width of {width} it keeps 150 dpi or more"
    )


@pytest.mark.parametrize(
    ("drawn", "scale"),
    [
        pytest.param(None, 100, id="vectors at any size"),
        pytest.param(150, 1, id="exactly the limit"),
        pytest.param(300, 2, id="exactly the limit in print"),
        pytest.param(300, Fraction(1, 3), id="printed smaller"),
    ],
)
def test_sharp_enough(drawn: float | None, scale: Fraction | int) -> None:
    assert coarse_pictures(repeat_with(Placement(pixel_motif("rose", drawn))), scale) == []


def test_the_largest_placement_of_a_motif_counts_once() -> None:
    rose = pixel_motif("rose", 300)
    placements = [Placement(rose, Affine.scaling(by)) for by in (1, 5, 2)]
    [sentence] = coarse_pictures(repeat_with(*placements), 1)
    assert "at 60 dpi" in sentence


def test_the_width_it_names_is_sharp_enough_and_one_a_little_larger_is_not() -> None:
    repeat = repeat_with(Placement(pixel_motif("rose", 211.7), Affine.scaling(1.9)))
    [sentence] = coarse_pictures(repeat, 1)
    named = float(sentence.split("width of ")[1].split(" mm")[0])
    assert coarse_pictures(repeat, named / 200) == []
    assert coarse_pictures(repeat, (named + 0.2) / 200) != []


def test_another_limit() -> None:
    repeat = repeat_with(Placement(pixel_motif("rose", 250)))
    assert coarse_pictures(repeat, 1) == []
    [sentence] = coarse_pictures(repeat, 1, limit=300)
    assert "166.6 mm it keeps 300 dpi" in sentence
