"""Art brought to a few flat colours."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from support import by_resvg, read

from vecrepeat.colour.gradients import by_stops
from vecrepeat.colour.palette import palette
from vecrepeat.colour.reduce import flat_areas, into_flats, reduced, reduction
from vecrepeat.colour.visible import visible
from vecrepeat.core.colours import differences, hex_of
from vecrepeat.core.errors import InputError
from vecrepeat.draw.paint import Window
from vecrepeat.scene.nodes import Stop
from vecrepeat.write.exporting import Exporter
from vecrepeat.write.svg import tile_svg

BODY = (
    '<defs><linearGradient id="g"><stop stop-color="#ff0000"/><stop offset="1" '
    'stop-color="#0000ff"/></linearGradient></defs><rect width="100" height="100" fill="#ffffff"/>'
    '<rect x="10" y="10" width="60" height="20" fill="url(#g)"/>'
    '<rect x="10" y="50" width="20" height="20" fill="#fa0505"/>'
)


def test_the_cheapest_merge_comes_first() -> None:
    # Near reds of 5 mm² against far blue of 1 mm²: 5 · ΔE(reds) < 1 · ΔE(blue, red).
    areas = {"#ff0000": 50.0, "#f00808": 5.0, "#0000ff": 1.0}
    red = differences(["#f00808"], ["#ff0000"])[0, 0]
    blue = differences(["#0000ff"], ["#ff0000", "#f00808"])[0].min()
    assert 5 * red < 1 * blue
    choice = reduction(areas, 2)
    assert choice.colours == ("#ff0000", "#0000ff")
    (move,) = choice.moves
    assert (move.colour, move.into, move.area) == ("#f00808", "#ff0000", 5.0)
    assert move.difference == pytest.approx(red)


def test_a_colour_seen_little_goes_before_a_near_one_seen_much() -> None:
    areas = {"#ff0000": 900.0, "#d00000": 800.0, "#0000ff": 0.01}
    assert reduction(areas, 2).colours == ("#ff0000", "#d00000")


def test_each_merge_is_the_cheapest_of_all_pairs() -> None:
    rng = np.random.default_rng(3)
    areas = {f"#{code:06x}": float(rng.integers(0, 4)) for code in rng.integers(0, 1 << 24, 40)}
    names, left = list(areas), dict(areas)
    apart = dict(zip(names, differences(names, names), strict=True))

    def greater(one: str, other: str) -> bool:
        return (left[other], -names.index(other)) > (left[one], -names.index(one))

    while len(left) > 5:
        _, one, other = min(
            (left[one] * apart[one][names.index(other)], names.index(one), names.index(other))
            for one in left
            for other in left
            if greater(one, other)
        )
        left[names[other]] += left.pop(names[one])
    assert set(reduction(areas, 5).colours) == set(left)


def test_kept_colours_stay_even_if_nothing_is_seen_of_them() -> None:
    choice = reduction({"#ff0000": 10.0, "#00ff00": 5.0}, 2, keep=["#0000ff"])
    assert "#0000ff" in choice.colours


@pytest.mark.parametrize(("count", "keep"), [(0, []), (1, ["#ff0000", "#00ff00"])])
def test_too_few_colours_are_refused(count: int, keep: list[str]) -> None:
    with pytest.raises(InputError, match="too few"):
        reduction({"#ff0000": 1.0}, count, keep)


def test_every_colour_goes_to_the_nearest_left() -> None:
    choice = reduction({f"#{v:02x}{255 - v:02x}80": 1.0 + v for v in range(0, 256, 5)}, 5)
    for move in choice.moves:
        assert move.difference == pytest.approx(differences([move.colour], choice.colours).min())


def test_reduced_art_holds_no_more_colours_than_asked(tmp_path: Path) -> None:
    repeat = read(tmp_path, BODY).repeat()
    choice = reduction(flat_areas(visible(repeat).banded(by_stops)), 3)
    flat = reduced(repeat, choice)
    found = palette(visible(flat).banded(by_stops), merge=0)
    assert {e.colour for e in found.entries if e.area > 0} <= set(choice.colours)
    assert len(choice.colours) == 3
    # Another program sees the same few colours away from the edges.
    drawn = by_resvg(tile_svg(flat), 400)[..., :3]
    colours, counts = np.unique(drawn.reshape(-1, 3), axis=0, return_counts=True)
    assert (counts > 200).sum() == 3
    assert {hex_of(c) for c in colours[counts > 200]} == set(choice.colours)


def test_geometry_and_renderer_agree_where_a_gradient_steps(tmp_path: Path) -> None:
    repeat = read(tmp_path, BODY).repeat()
    choice = reduction(flat_areas(visible(repeat).banded(by_stops)), 3)
    flat = reduced(repeat, choice)
    by_geometry = flat_areas(visible(flat).banded(by_stops))
    exporter = Exporter(flat)
    plan = exporter.plan(Fraction(254))
    pixels = exporter.painter(plan).paint(Window(0, 0, 1000, 1000))[..., :3].reshape(-1, 3)
    for colour, area in by_geometry.items():
        rgb = [int(colour[k : k + 2], 16) for k in (1, 3, 5)]
        assert np.all(pixels == rgb, axis=1).mean() * 10_000 == pytest.approx(area, abs=12)


def test_steps_limit_the_bands_of_a_gradient() -> None:
    choice = reduction({f"#{v:02x}00{255 - v:02x}": 1.0 for v in range(0, 256, 15)}, 18)
    stops = (Stop(0, "#ff0000"), Stop(1, "#0000ff"))
    assert len(into_flats(choice, 4)(stops)) == 4
    assert len(into_flats(choice)(stops)) > 10
