"""Colourways: shades that follow, rules that keep the order of lightness, checks."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from coloraide import Color
from support import demo, markup_of, read, write_svg

from vecrepeat.colour.colourway import (
    Colourway,
    art_colours,
    completed,
    faults,
    full_map,
    in_colourway,
    neighbours,
)
from vecrepeat.colour.colourways import (
    chips,
    in_recipe_colourway,
    keep_colourways,
    recipe_colourways,
)
from vecrepeat.colour.palette import Palette
from vecrepeat.colour.paletting import palette_of
from vecrepeat.colour.suggest import muted, suggestions, toned, turned
from vecrepeat.core.colours import hex_from_oklch, oklab_of, oklch_of, rgb_of
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Affine
from vecrepeat.repeat.model import Ground, Placement, Repeat
from vecrepeat.sources.source import Source, open_source

WHITE, RED, BLUE = "#ffffff", "#ff0000", "#0000ff"


@cache
def _demo(drawing: str) -> tuple[Repeat, Palette]:
    repeat = demo(drawing).repeat()
    return repeat, palette_of(repeat)[1]


def _light(colour: str) -> float:
    return float(Color(colour).convert("oklab")[0])


def test_what_is_mapped_goes_where_it_is_told() -> None:
    assert completed({RED: BLUE}, [RED, WHITE])[RED] == BLUE


def test_a_shade_between_two_colours_stays_between_what_they_become() -> None:
    # The OKLab middle of two colours, by coloraide.
    one, other = "#a04040", "#f0e0d0"
    middle = Color(one).mix(other, 0.5, space="oklab").convert("srgb").to_string(hex=True)
    expected = Color("#204060").mix("#d0e0c0", 0.5, space="oklab")
    found = completed({one: "#204060", other: "#d0e0c0"}, [middle])[middle]
    assert Color(found).delta_e(expected, method="ok") < 0.01


def test_a_near_shade_keeps_its_distance() -> None:
    shade = "#e01010"
    moved = completed({RED: "#00a000"}, [shade])[shade]
    before = oklab_of(rgb_of(shade)) - oklab_of(rgb_of(RED))
    after = oklab_of(rgb_of(moved)) - oklab_of(rgb_of("#00a000"))
    assert np.abs(after[0] - before[0]) < 0.01


def test_what_is_no_shade_of_a_mapped_colour_stays() -> None:
    assert completed({RED: "#00a000"}, [BLUE, WHITE]) == {BLUE: BLUE, WHITE: WHITE}


def test_no_map_changes_nothing() -> None:
    assert completed({}, [RED, BLUE]) == {RED: RED, BLUE: BLUE}


@pytest.mark.parametrize("drawing", ["night-garden", "brook"])
def test_every_rule_keeps_the_order_of_lightness(drawing: str) -> None:
    repeat, palette = _demo(drawing)
    art = sorted(art_colours(repeat, palette), key=_light)
    ways = suggestions(palette, art)
    assert len(ways) == 7
    for way in ways:
        light = [_light(way.colours[colour]) for colour in art]
        # Rounding to #rrggbb may swap shades that are all but one.
        assert min(np.diff(light)) > -0.006, way.name


def test_a_hue_turn_turns_by_its_angle_and_keeps_lightness() -> None:
    new = hex_from_oklch(turned(oklch_of(rgb_of(["#8a6a5a"])), 90)[0])
    old = Color("#8a6a5a").convert("oklch")
    turn = Color(new).convert("oklch")
    assert (turn[2] - old[2]) % 360 == pytest.approx(90, abs=2)
    assert turn[0] == pytest.approx(old[0], abs=0.005)


def test_tonal_is_one_hue_and_muted_has_half_the_chroma() -> None:
    repeat, palette = _demo("brook")
    lch = oklch_of(rgb_of(art_colours(repeat, palette)))
    soft = oklch_of(rgb_of([hex_from_oklch(row) for row in muted(lch, 0.3)]))[:, 1]
    assert soft == pytest.approx(lch[:, 1] / 2, abs=0.012)
    hues = oklch_of(rgb_of([hex_from_oklch(row) for row in toned(lch, 200)]))
    assert np.abs((hues[hues[:, 1] > 0.02, 2] - 200 + 180) % 360 - 180).max() < 25


def test_a_dark_drawing_is_offered_a_light_ground_and_a_light_one_a_dark() -> None:
    for drawing, dark in (("night-garden", False), ("brook", True)):
        repeat, palette = _demo(drawing)
        first = suggestions(palette, art_colours(repeat, palette))[0]
        ground = in_colourway(repeat, palette, first).ground
        assert ground is not None
        assert (_light(ground.colour) < 0.4) is dark


def test_neighbours_are_colours_that_touch_by_the_length_they_do(tmp_path: Path) -> None:
    body = (
        f'<rect width="100" height="100" fill="{WHITE}"/><g><rect x="10" y="10" width="10" '
        f'height="20" fill="{RED}"/><rect x="20" y="10" width="10" height="20" fill="{BLUE}"/></g>'
    )
    seen, palette = palette_of(read(tmp_path, body).repeat())
    found = {frozenset(pair): length for pair, length in neighbours(seen, palette).items()}
    assert found == pytest.approx(
        {
            frozenset((RED, BLUE)): 20,
            frozenset((RED, WHITE)): 40,
            frozenset((BLUE, WHITE)): 40,
        }
    )


def test_a_contact_along_the_bounds_of_the_tile_counts(tmp_path: Path) -> None:
    body = (
        f'<rect id="a" width="50" height="100" fill="{RED}"/>'
        f'<rect id="b" x="50" width="50" height="100" fill="{BLUE}"/>'
    )
    seen, palette = palette_of(read(tmp_path, body).repeat())
    assert list(neighbours(seen, palette).values()) == pytest.approx([200])


def test_colours_touch_along_as_much_wherever_a_motif_lies_alone(tmp_path: Path) -> None:
    """A square of 10 mm with one of 4 mm in it, turned, twice as large, over the tile's corner."""
    body = (
        f'<rect width="100" height="100" fill="{WHITE}"/><g><rect x="20" y="20" width="10" '
        f'height="10" fill="{RED}"/><rect x="23" y="23" width="4" height="4" fill="{BLUE}"/></g>'
    )
    repeat = read(tmp_path, body).repeat("half-drop")
    motif = repeat.placements[0].motif
    places = (Affine(1.2, 1.6, -1.6, 1.2, 5, -60), Affine(1, 0, 0, 1, 40, 30))
    both = replace(repeat, placements=tuple(Placement(motif, place) for place in places))
    seen, palette = palette_of(both)
    found = {frozenset(pair): length for pair, length in neighbours(seen, palette).items()}
    assert found[frozenset((RED, WHITE))] == pytest.approx(40 * 2 + 40)
    assert found[frozenset((RED, BLUE))] == pytest.approx(16 * 2 + 16)


def test_chips_show_no_colour_that_is_gone(tmp_path: Path) -> None:
    body = (
        f'<rect width="100" height="100" fill="{WHITE}"/>'
        f'<rect x="20" y="20" width="10" height="10" fill="{RED}"/>'
    )
    repeat = read(tmp_path, body).repeat()
    _, palette = palette_of(repeat)
    way = Colourway("blue", {}, BLUE)
    changed = in_colourway(repeat, palette, way)
    assert chips(changed, palette, full_map(repeat, palette, way)) == [BLUE, RED]


def test_merged_and_weak_neighbours_are_told(tmp_path: Path) -> None:
    body = (
        f'<rect width="100" height="100" fill="{WHITE}"/><g><rect x="10" y="10" width="10" '
        f'height="20" fill="{RED}"/><rect x="20" y="10" width="10" height="20" fill="{BLUE}"/></g>'
        f'<rect x="60" y="60" width="10" height="10" fill="#00ff00"/>'
    )
    seen, palette = palette_of(read(tmp_path, body).repeat())
    touching = neighbours(seen, palette)
    # Red and green don't touch: they may come close, but not become one.
    close = {RED: "#804040", BLUE: "#884848", "#00ff00": "#804040", WHITE: WHITE}
    kinds = {frozenset(f.names): f.kind for f in faults(palette, close, touching)}
    assert kinds == {
        frozenset(("red", "lime")): "merged",
        frozenset(("red", "blue")): "low contrast",
    }
    assert faults(palette, {c: c for c in palette.block().values()}, touching) == []


def test_a_ground_of_its_own_leaves_the_same_colour_in_the_art(tmp_path: Path) -> None:
    body = (
        f'<rect width="100" height="100" fill="{RED}"/>'
        f'<g id="m"><rect x="9" y="9" width="9" height="9" fill="{BLUE}"/>'
        f'<rect x="11" y="11" width="2" height="2" fill="{RED}"/></g>'
    )
    repeat = read(tmp_path, body).repeat()
    palette = palette_of(repeat)[1]
    new = in_colourway(repeat, palette, Colourway("x", {RED: RED}, WHITE))
    assert new.ground == Ground(WHITE)
    assert RED in markup_of(new.placements[0].motif.scene)


def recipe(folder: Path, rows: str) -> Source:
    """A recipe of a white page with a red square, and colourways."""
    body = (
        f'<rect width="100" height="100" fill="{WHITE}"/>'
        f'<rect x="9" y="9" width="9" height="9" fill="{RED}"/>'
    )
    write_svg(folder, body, name="art.svg")
    file = folder / "ways.toml"
    file.write_text(f'art = "art.svg"\n{rows}', encoding="utf-8")
    return open_source(file)


def test_colourways_of_a_recipe_are_read_by_palette_names(tmp_path: Path) -> None:
    row = '[[colourway]]\nname = "dawn"\nground = "#ffe0d0"\ncolours = { red = "#008080" }\n'
    source = recipe(tmp_path, row)
    (way,) = recipe_colourways(source, palette_of(source.repeat)[1])
    assert (way.name, way.colours, way.ground) == ("dawn", {RED: "#008080"}, "#ffe0d0")
    taken = open_source(source.file, colourway="dawn").repeat
    assert taken.ground == Ground("#ffe0d0")
    assert "#008080" in markup_of(taken.placements[0].motif.scene)


def test_a_colourway_may_have_no_ground(tmp_path: Path) -> None:
    source = recipe(tmp_path, '[[colourway]]\nname = "bare"\nground = "none"\n')
    assert in_recipe_colourway(source, "bare").ground is None


def test_names_of_the_recipe_s_palette_will_do(tmp_path: Path) -> None:
    way = '[[colourway]]\nname = "a"\ncolours = { berry = "#123456" }\n'
    rows = f'[palette]\nberry = "{RED}"\n{way}'
    source = recipe(tmp_path, rows)
    assert "#123456" in markup_of(in_recipe_colourway(source, "a").placements[0].motif.scene)


def test_colourways_are_kept_once_and_read_back(tmp_path: Path) -> None:
    source = recipe(tmp_path, "# mine\n")
    way = Colourway("dusk", {RED: "#223344"}, "#000000")
    keep_colourways(source, [way])
    again = open_source(source.file)
    keep_colourways(again, [way])
    text = source.file.read_text(encoding="utf-8")
    assert (text.count("dusk"), text.count("# mine")) == (1, 1)
    assert recipe_colourways(again, palette_of(again.repeat)[1]) == [way]


def test_what_the_palette_does_not_have_is_told_in_one_line(tmp_path: Path) -> None:
    row = '[[colourway]]\nname = "a"\ncolours = { mauve = "#112233" }\n'
    source = recipe(tmp_path, row)
    with pytest.raises(InputError, match="the palette has no colour “mauve”") as caught:
        in_recipe_colourway(source, "a")
    assert str(source.file) in str(caught.value)


def test_an_unknown_colourway_is_told_with_those_there_are(tmp_path: Path) -> None:
    source = recipe(tmp_path, '[[colourway]]\nname = "a"\n')
    with pytest.raises(InputError, match=r"no colourway “b”.*it has a"):
        in_recipe_colourway(source, "b")
