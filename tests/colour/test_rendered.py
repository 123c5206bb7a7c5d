"""Art without exact areas: shares of a rendering against geometry and arithmetic."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from support import read

from vecrepeat.colour.colourway import Colourway, full_map, known_names
from vecrepeat.colour.palette import Palette, colour_areas, palette
from vecrepeat.colour.rendered import Rendered, look, rendered, without_areas
from vecrepeat.colour.suggest import suggestions
from vecrepeat.colour.visible import visible
from vecrepeat.core.colours import lightness
from vecrepeat.repeat.model import Repeat

WHITE, RED, BLUE, NAVY = "#ffffff", "#c00000", "#0000c0", "#101040"
GROUND = f'<rect width="100" height="100" fill="{WHITE}"/>'
FLAT = (
    f'{GROUND}<circle cx="2" cy="50" r="10" fill="{RED}"/>'
    f'<rect x="50" y="95" width="20" height="30" fill="{BLUE}"/>'
    f'<rect x="60" y="20" width="3" height="40" fill="{NAVY}"/>'
)
BLURRED = (
    '<defs><filter id="f"><feGaussianBlur stdDeviation="1"/></filter>'
    f'<linearGradient id="g"><stop stop-color="{RED}"/><stop offset=".5" stop-color="#ff9090"/>'
    f'<stop offset="1" stop-color="{NAVY}"/></linearGradient></defs>{GROUND}'
    '<g id="leaf" filter="url(#f)"><rect x="20" y="20" width="40" height="40" '
    'fill="url(#g)"/></g>'
)


@pytest.fixture
def soft(tmp_path: Path) -> tuple[Repeat, Rendered, Palette]:
    repeat = read(tmp_path, BLURRED).repeat()
    seen = look(repeat)
    assert isinstance(seen, Rendered)
    return repeat, seen, palette(seen, most=3)


@pytest.mark.parametrize("layout", ["block", "half-drop"])
def test_a_rendering_tells_flat_areas_within_its_resolution(tmp_path: Path, layout: str) -> None:
    repeat = read(tmp_path, FLAT).repeat(layout)
    exact = colour_areas(visible(repeat).shares)
    found = rendered(repeat, ()).areas
    assert sum(found.values()) == pytest.approx(10_000)
    # 1,024 px to 100 mm, and no edge is off by more than half of one.
    for colour, around in ((RED, 63), (BLUE, 100), (NAVY, 86), (WHITE, 249)):
        assert found[colour] == pytest.approx(exact[colour], abs=around * 100 / 1024)


def test_a_ramp_is_seen_in_even_parts(tmp_path: Path) -> None:
    body = (
        '<defs><linearGradient id="g"><stop stop-color="#000"/><stop offset="1" '
        'stop-color="#fff"/></linearGradient></defs><rect id="a" width="100" height="100" '
        'fill="url(#g)"/>'
    )
    found = rendered(read(tmp_path, body).repeat(), ()).areas
    for level in (64, 128, 192):
        below = sum(area for colour, area in found.items() if int(colour[1:3], 16) < level)
        # From 0 to 255 along the way a level is passed at (level - ½) / 255.
        assert below / 10_000 == pytest.approx((level - 0.5) / 255, abs=0.003)


def test_bare_cloth_is_what_nothing_covers(tmp_path: Path) -> None:
    body = f'<circle cx="50" cy="50" r="20" fill="{RED}" fill-opacity=".5"/>'
    found = rendered(read(tmp_path, body).repeat(), ()).areas
    # Half of what is seen in the disc is cloth.
    assert found["cloth"] == pytest.approx(10_000 - math.pi * 400 / 2, abs=10)


def test_lines_are_as_long_as_they_are(tmp_path: Path) -> None:
    repeat = read(tmp_path, FLAT).repeat()
    found = rendered(repeat, ()).touching(lambda colour: colour if colour == RED else WHITE)
    assert found == {(RED, WHITE): pytest.approx(math.tau * 10, rel=0.02)}


def test_only_what_geometry_does_not_tell_is_rendered(tmp_path: Path) -> None:
    assert without_areas(read(tmp_path, FLAT).repeat()) == ()
    assert without_areas(read(tmp_path, BLURRED).repeat()) == ("leaf",)
    veil = '<rect x="{}" y="9" width="9" height="9" fill="url(#g)" opacity=".5"/>'
    veils = BLURRED.replace(' filter="url(#f)"', "").replace(
        "</g>", "".join(veil.format(n) for n in range(9)) + '</g><circle r="5" fill="#123"/>'
    )
    assert without_areas(read(tmp_path, veils).repeat()) == ("leaf",)
    eight = read(tmp_path, veils.replace(veil.format(8), "")).repeat()
    assert without_areas(eight) == ()
    many = replace(eight, placements=eight.placements * 63)
    assert without_areas(many) == ("leaf",), "504 of them on a tile"


def test_a_gradient_is_a_ramp_under_a_main_colour(
    soft: tuple[Repeat, Rendered, Palette],
) -> None:
    _, seen, found = soft
    assert len(found.entries) == 3
    assert found.entries[0].colour == WHITE
    assert found.entries[0].is_ground
    assert sum(entry.share for entry in found.entries) == pytest.approx(1)
    assert [ramp for entry in found.entries for ramp in entry.ramps] == [(RED, "#ff9090", NAVY)]
    members = [colour for entry in found.entries for colour in entry.members[1:]]
    assert {RED, "#ff9090", NAVY} >= set(members)
    assert "1,024 × 1,024 px" in found.note
    assert "“leaf”" in found.note
    assert found.note == seen.note


def test_a_main_colour_takes_its_shades_and_ramps_along(
    soft: tuple[Repeat, Rendered, Palette],
) -> None:
    repeat, _, found = soft
    main = found.entry(NAVY)
    assert main is not None
    assert main.colour != NAVY
    targets = full_map(repeat, found, Colourway("x", known_names(found, {main.name: "#00ff00"})))
    assert targets[main.colour] == "#00ff00"
    assert targets[NAVY] != NAVY
    assert targets[WHITE] == WHITE


def test_rules_move_main_colours(soft: tuple[Repeat, Rendered, Palette]) -> None:
    repeat, _, found = soft
    mains = [entry.colour for entry in found.entries]
    for way in suggestions(found, mains, 4):
        assert list(way.colours) == mains
        targets = full_map(repeat, found, way)
        # Of two stops the lighter stays the lighter one.
        assert lightness(targets[NAVY]) < lightness(targets["#ff9090"])
