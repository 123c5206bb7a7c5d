"""What lies alone is worked out once: the plates must be those of working everything out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from plate_judges import are_valid
from support import demo, read

from vecrepeat.colour import visible as module
from vecrepeat.colour.gradients import by_stops
from vecrepeat.colour.plates.separation import APART, Separation, separate
from vecrepeat.colour.reduce import flat_areas, into_flats, reduction
from vecrepeat.colour.visible import lonely, visible
from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.repeat.model import Placement, Repeat

NAVY, CREAM, RED = "#101840", "#f0e8d0", "#c04030"
EYE = (
    f'<g id="eye"><circle cx="20" cy="20" r="12" fill="{CREAM}"/>'
    f'<circle cx="20" cy="20" r="8" fill="{NAVY}"/><circle cx="20" cy="20" r="4" fill="{RED}"/>'
    f'<rect x="28" y="18" width="9" height="4" fill="{RED}"/></g>'
)
"""Rings in the ground's own colour within, red on cream on navy."""


def _plates(repeat: Repeat, count: int, trap: float) -> Separation:
    seen = visible(repeat, tolerance=0.01, apart=APART * trap)
    choice = reduction(flat_areas(seen.banded(by_stops)), count)
    block = Rect(0.0, 0.0, *(float(side) for side in repeat.block_size))
    return separate(seen.banded(into_flats(choice)), choice, block, names={}, trap=trap)


def _same_as_crowded(
    repeat: Repeat, count: int, trap: float, patch: pytest.MonkeyPatch, slack: float = 1e-4
) -> None:
    assert lonely(repeat, APART * trap)
    quick = _plates(repeat, count, trap)
    patch.setattr(module, "lonely", lambda *_: frozenset())
    slow = _plates(repeat, count, trap)
    assert are_valid(quick)
    assert [p.colour for p in quick.plates] == [p.colour for p in slow.plates]
    for one, other in zip(quick.plates, slow.plates, strict=True):
        for name in ("area", "trap", "printed"):
            a, b = getattr(one, name), getattr(other, name)
            # Chords of a turned trap's arcs lie elsewhere: each is 0.2 % of the trap short.
            arcs = 0.002 * trap * other.trap.length if name != "area" else 0.0
            assert shapely.symmetric_difference(a, b).area < slack + arcs, (one.colour, name)
    total = sum(plate.area.area for plate in quick.plates) + quick.cloth.area
    assert total == pytest.approx(quick.region.width * quick.region.height, rel=1e-9)


@pytest.mark.parametrize("trap", [0.0, 0.3])
@pytest.mark.parametrize("ground", [NAVY, CREAM, "none"])
def test_turned_mirrored_scaled_and_over_the_bounds(
    tmp_path: Path, ground: str, trap: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn = read(tmp_path, f'<rect width="100" height="100" fill="{ground}"/>{EYE}')
    repeat = drawn.repeat("half-drop")
    motif = repeat.placements[0].motif
    turned = Affine(0.8, 0.6, -0.6, 0.8, 50.0, 20.0)
    mirrored = Affine(-1.2, 0.0, 0.0, 1.2, 114.0, 60.0)
    placements = [Placement(motif, matrix) for matrix in (Affine(), turned, mirrored)]
    _same_as_crowded(replace(repeat, placements=tuple(placements)), 3, trap, monkeypatch)


def test_beside_motifs_that_meet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    body = (
        f'<rect width="100" height="100" fill="{NAVY}"/>{EYE}'
        f'<rect id="a" x="60" y="60" width="20" height="20" fill="{RED}"/>'
        f'<rect id="b" x="70" y="70" width="20" height="20" fill="{CREAM}" opacity=".5"/>'
        f'<rect id="veil" x="60" y="10" width="9" height="9" fill="{CREAM}" opacity=".5"/>'
    )
    repeat = read(tmp_path, body).repeat("brick:1/3")
    assert lonely(repeat, 0.0) == {0, 3}
    _same_as_crowded(repeat, 5, 0.2, monkeypatch)


def test_a_motif_within_a_motif_is_not_alone(tmp_path: Path) -> None:
    ring = '<circle id="o" cx="50" cy="50" r="30" fill="none" stroke="#000" stroke-width="2"/>'
    dot = '<circle id="dot" cx="50" cy="50" r="29.5" fill="#f00"/>'
    assert lonely(read(tmp_path, ring + dot).repeat(), 0.0) == frozenset()
    # A gap of 1 mm is too near where 2 mm are asked for.
    dot = '<circle id="dot" cx="50" cy="50" r="28" fill="#f00"/>'
    repeat = read(tmp_path, ring + dot).repeat()
    assert lonely(repeat, 0.0) == {0, 1}
    assert lonely(repeat, 2.0) == frozenset()


def test_real_motifs_of_the_demo(monkeypatch: pytest.MonkeyPatch) -> None:
    repeat = demo("night-garden").repeat()
    moth = next(p for p in repeat.placements if p.motif.name == "Rose moth, banking")
    x0, y0, x1, y1 = shapely.total_bounds(moth.parts)
    turn = Affine(0.6, 0.8, -0.8, 0.6, 0.0, 0.0)
    middle = Affine.translation(-(x0 + x1) / 2, -(y0 + y1) / 2)
    placements = [
        Placement(moth.motif, Affine.translation(40, 40) @ middle @ moth.transform),
        Placement(moth.motif, Affine.translation(160, 250) @ turn @ middle @ moth.transform),
    ]
    # Circles of its gradients are polygons too, which a turn moves: 0.002 mm at most.
    repeat = replace(repeat, placements=tuple(placements))
    _same_as_crowded(repeat, 6, 0.2, monkeypatch, slack=0.01)
