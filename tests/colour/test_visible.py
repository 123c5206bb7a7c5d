"""What is seen of a repeat: areas after overlaps, on the torus of the repeat."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
from real_art import emoji_sheet
from support import demo, read

from vecrepeat.art.read import read_art
from vecrepeat.colour.flatten import over, plain, seen_colour
from vecrepeat.colour.gradients import by_stops
from vecrepeat.colour.painted import BEYOND_SHAPES, PaintLayer, Veil, painted_layers
from vecrepeat.colour.palette import colour_areas
from vecrepeat.colour.visible import visible
from vecrepeat.core.geometry import Rect

RED, BLUE, WHITE = "#ff0000", "#0000ff", "#ffffff"
GROUND = f'<rect width="100" height="100" fill="{WHITE}"/>'


def _areas(folder: Path, body: str, layout: str = "block") -> dict[str, float]:
    seen = visible(read(folder, body).repeat(layout)).banded(by_stops)
    return colour_areas(seen.shares)


def test_a_motif_that_leaves_the_page_counts_whole(tmp_path: Path) -> None:
    body = f'{GROUND}<rect x="-5" y="-5" width="10" height="10" fill="{RED}"/>'
    assert _areas(tmp_path, body) == pytest.approx({RED: 100, WHITE: 9900})


def test_a_copy_from_the_other_side_hides_too(tmp_path: Path) -> None:
    # Blue runs 5 mm out at the right, so its copy comes in over red at the left.
    body = (
        f'{GROUND}<rect id="a" width="10" height="10" fill="{RED}"/>'
        f'<rect id="b" x="95" width="10" height="10" fill="{BLUE}"/>'
    )
    assert _areas(tmp_path, body) == pytest.approx({RED: 50, BLUE: 100, WHITE: 9850})


def test_a_half_drop_brings_the_copy_half_a_tile_lower(tmp_path: Path) -> None:
    body = (
        f'{GROUND}<rect id="a" y="50" width="10" height="10" fill="{RED}"/>'
        f'<rect id="b" x="95" width="10" height="10" fill="{BLUE}"/>'
    )
    # The column to the left hangs half a tile higher: −50 + 100 = 50 in the column below it.
    assert _areas(tmp_path, body, "half-drop") == pytest.approx({RED: 50, BLUE: 100, WHITE: 9850})


def test_a_motif_larger_than_the_tile_hides_itself(tmp_path: Path) -> None:
    body = (
        f'<g id="m"><rect width="150" height="100" fill="{RED}"/>'
        f'<rect x="150" width="30" height="100" fill="{BLUE}"/></g>'
    )
    # Copies are 100 mm apart and each later one lies on top: blue at 150–180 is under the next
    # copy's red, 100–250, so nothing is seen of it but where no later copy lies: nowhere.
    found = _areas(tmp_path, body)
    assert sum(found.values()) == pytest.approx(10_000)
    assert found.get(BLUE, 0) == pytest.approx(0)


def test_without_a_ground_bare_cloth_is_seen(tmp_path: Path) -> None:
    found = _areas(tmp_path, f'<circle cx="50" cy="50" r="10" fill="{RED}"/>')
    assert found["cloth"] == pytest.approx(10_000 - np.pi * 100, abs=0.8)


def test_opacity_shares_an_area_with_the_ground(tmp_path: Path) -> None:
    body = f'{GROUND}<rect x="10" y="10" width="10" height="10" fill="{RED}" fill-opacity=".3"/>'
    assert _areas(tmp_path, body) == pytest.approx({RED: 30, WHITE: 9970})


def test_opacity_over_another_motif_mixes_with_it(tmp_path: Path) -> None:
    body = (
        f'{GROUND}<rect id="a" x="10" y="10" width="10" height="10" fill="{RED}"/>'
        f'<g id="b" opacity=".5"><rect x="15" y="10" width="10" height="10" fill="{BLUE}"/></g>'
    )
    shares = visible(read(tmp_path, body).repeat()).shares
    assert shares == pytest.approx(
        {
            plain(RED): 50,
            over(plain(BLUE, 0.5), plain(RED)): 50,
            over(plain(BLUE, 0.5), plain(WHITE)): 50,
            plain(WHITE): 9850,
        }
    )


def test_gradients_count_by_their_stops(tmp_path: Path) -> None:
    body = (
        f'<defs><linearGradient id="g"><stop stop-color="{RED}"/>'
        f'<stop offset="1" stop-color="{BLUE}"/></linearGradient></defs>{GROUND}'
        '<rect x="95" y="10" width="20" height="10" fill="url(#g)"/>'
    )
    assert _areas(tmp_path, body) == pytest.approx({RED: 100, BLUE: 100, WHITE: 9800})


def test_stroke_lies_on_its_fill_unless_told_otherwise(tmp_path: Path) -> None:
    square = f'x="10" y="10" width="10" height="10" fill="{RED}" stroke="{BLUE}" stroke-width="2"'
    # Outer square 12², inner 8².
    assert _areas(tmp_path, f"{GROUND}<rect {square}/>")[RED] == pytest.approx(64)
    below = f'{GROUND}<rect {square} paint-order="stroke"/>'
    assert _areas(tmp_path, below)[RED] == pytest.approx(100)


def test_a_clip_cuts_each_paint(tmp_path: Path) -> None:
    body = (
        '<defs><clipPath id="c"><rect x="10" y="10" width="5" height="10"/></clipPath></defs>'
        f'{GROUND}<g clip-path="url(#c)"><rect x="10" y="10" width="10" height="10" '
        f'fill="{RED}"/></g>'
    )
    assert _areas(tmp_path, body)[RED] == pytest.approx(50)


def test_hidden_and_empty_paints_are_not_seen(tmp_path: Path) -> None:
    body = (
        f'{GROUND}<g id="m"><rect width="5" height="5" fill="{RED}"/>'
        f'<rect width="5" height="5" fill="{BLUE}" visibility="hidden"/>'
        f'<rect width="5" height="5" fill="{BLUE}" fill-opacity="0"/></g>'
    )
    assert _areas(tmp_path, body) == pytest.approx({RED: 25, WHITE: 9975})


@pytest.mark.parametrize("layout", ["block", "half-drop", "brick:1/3"])
def test_real_art_fills_the_block_and_no_more(tmp_path: Path, layout: str) -> None:
    repeat = read_art(emoji_sheet(tmp_path, 12)).repeat(layout)
    seen = visible(repeat)
    width, height = (float(side) for side in repeat.block_size)
    areas = seen.grouped(Rect(0, 0, width, height), lambda mix: mix)
    total = sum(area.area for area in areas.values())
    assert total == pytest.approx(width * height, rel=1e-6)
    assert shapely.is_valid(list(areas.values())).all()
    # A block cut from the pieces holds what the pieces say.
    tiles = width * height / float(repeat.lattice.area)
    for mix, share in seen.shares.items():
        assert areas[mix].area == pytest.approx(share * tiles, rel=1e-5, abs=1e-4)


def test_any_window_of_the_cloth_shows_the_same_areas(tmp_path: Path) -> None:
    repeat = read_art(emoji_sheet(tmp_path, 12)).repeat("half-drop")
    seen = visible(repeat)
    width, height = (float(side) for side in repeat.block_size)
    here = seen.grouped(Rect(0, 0, width, height), seen_colour)
    there = seen.grouped(Rect(31.7, -8.4, 31.7 + width, height - 8.4), seen_colour)
    assert {k: a.area for k, a in there.items()} == pytest.approx(
        {k: a.area for k, a in here.items()}, rel=1e-5, abs=1e-3
    )


def test_painted_layers_make_up_the_outline() -> None:
    art = demo("brook")
    for motif in art.motifs[:6]:
        assert not {feature.kind for feature in motif.features} & BEYOND_SHAPES
        areas = []
        todo: list[PaintLayer | Veil] = list(painted_layers(motif))
        while todo:
            layer = todo.pop()
            if isinstance(layer, Veil):
                todo += layer.layers
            else:
                areas.append(layer.area)
        assert (
            shapely.union_all(areas).symmetric_difference(motif.outline).area
            < 1e-3 * motif.outline.area
        )
