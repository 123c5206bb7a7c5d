"""Recipes written: a first one, and changes that leave the rest alone."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from support import DEMO, write_svg

from vecrepeat.arrange.arranging import asked_over
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.edit import with_keys, with_placements, with_rows, with_settings
from vecrepeat.recipe.model import Placed, parse_recipe
from vecrepeat.repeat.layout import Layout
from vecrepeat.sources.first import start_recipe
from vecrepeat.sources.source import open_source

TEXT = """\
# my design
art = "a.svg"   # by hand
placement = [
    # the star
    { motif = "moth", at = [1, 2] },
    { motif = "bud", at = [3, 4], turn = 5 },  # leans
]

[toss]
seed = 4  # lucky
"""


def rows(text: str) -> list[Placed]:
    return list(parse_recipe(text, Path("x.toml")).placements)


def test_a_first_recipe_is_the_drawing_again(tmp_path: Path) -> None:
    output = tmp_path / "deep" / "garden.toml"
    motifs = start_recipe([DEMO / "night-garden.svg"], output, layout=Layout.parse("brick")).motifs
    source, drawn = open_source(output), open_source(DEMO / "night-garden.svg")
    assert motifs == len(drawn.repeat.placements)
    assert (source.name, str(source.repeat.layout)) == ("garden", "brick")
    assert source.repeat.ground == drawn.repeat.ground
    for ours, theirs in zip(source.repeat.placements, drawn.repeat.placements, strict=True):
        assert ours.motif.name == theirs.motif.name
        assert ours.outline.bounds == pytest.approx(theirs.outline.bounds, abs=1e-4)


def test_placements_may_be_left_to_the_drawing(tmp_path: Path) -> None:
    output = tmp_path / "b.toml"
    start_recipe([DEMO / "brook.svg"], output, layout=Layout(), as_drawn=True)
    assert "placement" not in tomllib.loads(output.read_text(encoding="utf-8"))
    assert open_source(output).repeat.placements


def test_ranks_go_by_size(tmp_path: Path) -> None:
    body = "".join(
        f'<g id="{name}"><rect x="5" y="5" width="{w}" height="{w}"/></g>'
        for name, w in (("big", 40), ("middle", 20), ("small", 5))
    )
    output = tmp_path / "r.toml"
    start_recipe([write_svg(tmp_path, body)], output, layout=Layout())
    assert open_source(output).ranks == {"big": "hero", "middle": "secondary", "small": "filler"}


def test_a_count_that_is_asked_for_takes_the_place_of_a_coverage() -> None:
    keys = {"hero-coverage": 0.3, "seed": 4}
    assert asked_over(keys, {"heroes": 5}) == {"heroes": 5, "seed": 4}
    assert asked_over({"heroes": 5}, keys) == keys
    assert asked_over(keys, {"seed": 7}) == {"hero-coverage": 0.3, "seed": 7}


def test_a_density_that_is_asked_for_takes_the_place_of_how_many_and_how_near() -> None:
    keys = {"density": "airy", "heroes": 4, "filler-coverage": 0.1, "clearance": 3.0, "sway": 5.0}
    assert asked_over(keys, {"density": "packed"}) == {"density": "packed", "sway": 5.0}
    asked = {"density": "packed", "heroes": 6, "clearance": 1.0}
    assert asked_over(keys, asked) == {**asked, "sway": 5.0}
    assert asked_over(keys, {"heroes": 6}) == {**keys, "heroes": 6}


def test_a_recipe_is_never_overwritten(tmp_path: Path) -> None:
    output = tmp_path / "r.toml"
    output.write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="there already"):
        start_recipe([DEMO / "brook.svg"], output, layout=Layout())
    assert output.read_text(encoding="utf-8") == "mine"


def test_the_same_placements_leave_every_byte() -> None:
    assert with_placements(TEXT, rows(TEXT)) == TEXT


def test_a_changed_placement_changes_its_line_only() -> None:
    first, second = rows(TEXT)
    changed = with_placements(TEXT, [Placed("moth", (1.5, 2.0), 10.0, 1.25, True), second])
    before, after = TEXT.splitlines(), changed.splitlines()
    assert [n for n, (a, b) in enumerate(zip(before, after, strict=True)) if a != b] == [4]
    assert rows(changed)[0] == Placed("moth", (1.5, 2.0), 10.0, 1.25, True)
    assert first != rows(changed)[0]


COMMENTED = """art = "a.svg"
placement = [
    { motif = "moth", at = [1, 2] },  # hangs low
    # the pair
    { at = [3, 4], motif = "bud" },  # left one
    { motif = "bud", at = [5, 6] },  # right one
]
"""

TABLES = """art = "a.svg"

# hangs low
[[placement]]
motif = "moth"
at = [1, 2]  # by eye

[[placement]]
# the pair
motif = "bud"
at = [3, 4]

[[placement]]
motif = "bud"  # right one
at = [5, 6]

[toss]
seed = 1
"""


@pytest.mark.parametrize("text", [COMMENTED, TABLES])
def test_comments_stay_with_their_placements(text: str) -> None:
    moth, left, right = rows(text)
    assert with_placements(text, [moth, left, right]) == text
    without = with_placements(text, [left, right])
    assert rows(without) == [left, right]
    assert "by eye" not in without
    assert without.splitlines()[-3:] == text.splitlines()[-3:]
    line = next(line for line in text.splitlines() if "right one" in line)
    new = Placed("fern", (9.0, 9.0))
    between = with_placements(text, [moth, new, left, right])
    assert rows(between) == [moth, new, left, right]
    moved = with_placements(text, [moth, left, Placed("bud", (7.0, 8.0))])
    assert rows(moved) == [moth, left, Placed("bud", (7.0, 8.0))]
    for changed in (without, between):
        assert line in changed
    for changed in (without, between, moved):
        assert "the pair" in changed
    assert "# by eye" in moved or "# hangs low" in moved


@pytest.mark.parametrize("count", [0, 1, 3, 40])
def test_more_or_fewer_placements(count: int) -> None:
    wanted = [Placed("bud", (float(n), 0.5), float(n)) for n in range(count)]
    changed = with_placements(TEXT, wanted)
    assert rows(changed) == wanted
    assert changed.startswith('# my design\nart = "a.svg"   # by hand\n')
    assert changed.endswith("[toss]\nseed = 4  # lucky\n")


@pytest.mark.parametrize(
    "text",
    [
        'art = "a.svg"\n\n[toss]\nseed = 1\n',
        'art = "a.svg"\n[[placement]]\nmotif = "x"\n\n[toss]\n',
        'art = "a.svg"\nplacement = []\n\n[toss]\n',
    ],
)
def test_placements_come_in_where_there_were_none_or_tables(text: str) -> None:
    wanted = [Placed("bud", (1.0, 2.0)), Placed("moth")]
    changed = with_placements(text, wanted)
    assert rows(changed) == wanted
    assert "[toss]" in changed


def test_settings_are_kept_beside_what_stands_there() -> None:
    changed = with_settings(TEXT, "toss", {"seed": 9, "even": True})
    assert "seed = 9  # lucky\neven = true" in changed
    assert tomllib.loads(with_settings(TEXT, "fill", {"seed": 2}))["fill"] == {"seed": 2}


@pytest.mark.parametrize("mark", ["", "\ufeff"], ids=["plain", "byte order mark"])
@pytest.mark.parametrize("end", ["\n", "\r\n"], ids=["LF", "CRLF"])
def test_line_ends_and_a_byte_order_mark_are_kept(mark: str, end: str) -> None:
    moved = [Placed("moth", (9.0, 9.0)), Placed("bud", (3.0, 4.0), 5.0), Placed("new", (5.0, 5.0))]
    text = mark + TEXT.replace("\n", end)
    plain = TEXT
    row = {"name": "dusk", "colours": {"#ff0000": "#00ff00"}}
    changes: list[Callable[[str], str]] = [
        lambda t: with_placements(t, moved),
        lambda t: with_settings(t, "fill", {"seed": 5}),
        lambda t: with_rows(t, "colourway", [row]),
        lambda t: with_keys(t, {"layout": "brick"}),
    ]
    for change in changes:
        text, plain = change(text), change(plain)
        assert text == mark + plain.replace("\n", end)
    assert rows(text) == moved


def test_mixed_line_ends_stay_mixed() -> None:
    text = TEXT.replace("\n", "\r\n", 2)
    assert with_settings(text, "toss", {"seed": 5}) == text.replace("seed = 4", "seed = 5")
