"""Palettes: merging, naming, sorting; areas are arithmetic."""

from __future__ import annotations

from pathlib import Path

import pytest
from real_art import emoji_sheet
from support import needs_a_font, read, write_svg

from vecrepeat.art.read import read_art
from vecrepeat.colour.palette import Palette, css_name, grouped_within
from vecrepeat.colour.paletting import palette_of, parse_colour, table_csv, toml_block
from vecrepeat.colour.swatches import css
from vecrepeat.core.colours import differences
from vecrepeat.core.errors import InputError


def _palette(folder: Path, body: str, **options: object) -> Palette:
    return palette_of(read(folder, body).repeat(), **options)[1]  # type: ignore[arg-type]


SQUARES = (
    '<rect width="100" height="100" fill="#ffffff"/>'
    '<rect x="10" y="10" width="20" height="10" fill="#c00000"/>'
    '<rect x="50" y="10" width="10" height="10" fill="#c10001"/>'
    '<rect x="70" y="10" width="5" height="10" fill="#0000c0"/>'
)


def test_colours_come_by_area_with_their_share(tmp_path: Path) -> None:
    found = _palette(tmp_path, SQUARES, merge=0)
    assert [(e.colour, e.is_ground) for e in found.entries] == [
        ("#ffffff", True), ("#c00000", False), ("#c10001", False), ("#0000c0", False),
    ]  # fmt: skip
    assert [e.area for e in found.entries] == pytest.approx([9650, 200, 100, 50])
    assert [e.share for e in found.entries] == pytest.approx([0.965, 0.02, 0.01, 0.005])


def test_colours_within_the_limit_merge_into_the_one_seen_most(tmp_path: Path) -> None:
    found = _palette(tmp_path, SQUARES)
    assert found.entries[1].members == ("#c00000", "#c10001")
    assert found.entries[1].area == pytest.approx(300)
    assert found.entry("#c10001") is found.entries[1]


def test_the_user_names_colours_and_css_names_the_rest(tmp_path: Path) -> None:
    found = _palette(tmp_path, SQUARES, names={"#c00000": "poppy"})
    assert found.block() == {"white": "#ffffff", "poppy": "#c00000", "mediumblue": "#0000c0"}


@pytest.mark.parametrize(
    # CSS Color 4 §6.1: each keyword's own value.
    ("colour", "name"),
    [("#ff6347", "tomato"), ("#708090", "slategrey"), ("#663399", "rebeccapurple")],
)
def test_a_keywords_colour_has_its_name(colour: str, name: str) -> None:
    assert css_name(colour) == name


def test_two_colours_nearest_to_one_keyword_get_two_names(tmp_path: Path) -> None:
    body = (
        '<rect x="10" y="10" width="20" height="10" fill="#141e3c"/>'
        '<rect x="50" y="10" width="10" height="10" fill="#1a1a66"/>'
    )
    names = list(_palette(tmp_path, body).block())
    assert names == ["midnightblue", "midnightblue-2"]


def test_every_group_stays_within_the_limit_of_its_leader() -> None:
    colours = [f"#{r:02x}{g:02x}40" for r in range(0, 256, 15) for g in range(0, 256, 51)]
    groups = grouped_within(colours, 8)
    assert sorted(c for group in groups for c in group) == sorted(colours)
    for group in groups:
        assert differences([group[0]], group).max() <= 8
    leaders = [group[0] for group in groups]
    table = differences(leaders, leaders)
    assert table[table > 0].min() > 8


@needs_a_font
def test_live_text_is_measured_as_it_is_drawn(tmp_path: Path) -> None:
    body = SQUARES + '<text x="10" y="60" font-size="40" fill="#00aa00">a</text>'
    outlined = palette_of(read_art(write_svg(tmp_path, body)).repeat())[1]
    live = palette_of(read_art(write_svg(tmp_path, body), live_text=True).repeat())[1]
    assert not outlined.note
    assert live.note
    assert live.find("#00aa00").area == pytest.approx(outlined.find("#00aa00").area, rel=0.05)


def test_current_color_and_strokes_count(tmp_path: Path) -> None:
    body = (
        '<g color="#123456"><rect x="10" y="10" width="10" height="10" fill="none" '
        'stroke="currentColor" stroke-width="2"/></g>'
    )
    # Outer 12², inner 8².
    assert _palette(tmp_path, body).find("#123456").area == pytest.approx(80)


def test_shares_of_real_art_add_up_to_one(tmp_path: Path) -> None:
    found = palette_of(read_art(emoji_sheet(tmp_path, 20)).repeat("half-drop"))[1]
    assert sum(e.share for e in found.entries) + found.cloth == pytest.approx(1, abs=1e-6)


def test_an_unknown_name_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="the palette has no colour “teal”"):
        _palette(tmp_path, SQUARES).find("teal")


def test_files_say_the_palette(tmp_path: Path) -> None:
    found = _palette(tmp_path, SQUARES, names={"#0000c0": "Deep Sea"})
    assert "--deep-sea: #0000c0;" in css(found.block())
    assert table_csv(found).splitlines()[3] == "Deep Sea,#0000c0,0.5000,0.005000,no,#0000c0"
    assert '"Deep Sea" = "#0000c0"' in toml_block(found)


def test_colours_are_read_as_css_writes_them() -> None:
    # CSS Color 4 §6.1 and §7 (hsl(120 100% 50%) is lime, #00ff00).
    assert [parse_colour(t) for t in ("#abc", "Navy", "hsl(120 100% 50%)")] == [
        "#aabbcc", "#000080", "#00ff00",
    ]  # fmt: skip
    with pytest.raises(InputError, match="is not a colour"):
        parse_colour("bluish")
