"""Colourways of the board are the recipe's, and its colours the command line's."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import coloraide
import numpy as np
import pytest
from browsing import RECIPE, colour_at, looked_at, near, rested, station, write_art
from browsing import board_of as open_board

import vecrepeat.board
from vecrepeat.board import colouring
from vecrepeat.board.desk import Desk
from vecrepeat.board.state import History, first_state
from vecrepeat.core.errors import InputError
from vecrepeat.recipe.model import Placed
from vecrepeat.sources.source import open_source

WAY = {"name": "Night", "ground": "#101020", "colours": {"#c02020": "#f0f040"}}
VISION = Path(vecrepeat.board.__file__).parent / "static" / "js" / "vision.js"


def test_a_colourway_is_a_step_and_a_table_that_the_command_line_reads(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    before = file.read_bytes()
    desk = Desk(file)
    desk.step(0, {"colourways": [WAY], "what": "colourway Night"})
    desk.save()
    assert before.decode() in file.read_text(), "all else stays"
    exported = open_source(file, colourway="Night").repeat
    shown = colouring.in_row(desk.source, desk.now, WAY)
    assert exported.ground == shown.ground
    assert [p.motif.colours for p in exported.placements] == [
        p.motif.colours for p in shown.placements
    ]
    assert "#f0f040" in exported.placements[0].motif.colours
    desk.step(1, {"cursor": 0})
    desk.save()
    assert file.read_bytes() == before


def test_a_changed_colourway_keeps_the_comments_of_its_table(tmp_path: Path) -> None:
    table = (
        '\n[[colourway]]\nname = "night"  # for winter\n[colourway.colours]\n'
        '"#c02020" = "#f0f040"  # as agreed\n'
    )
    file = write_art(tmp_path, RECIPE + table)
    desk = Desk(file)
    (row,) = desk.now.colourways
    changed = {**row, "colours": {**row["colours"], "#2040c0": "#804000"}}
    desk.step(0, {"colourways": [changed]})
    text = desk.text_now()
    assert "# for winter" in text
    assert "# as agreed" in text
    assert '"#2040c0" = "#804000"' in text


@pytest.mark.parametrize(
    "ways",
    [
        [{"name": "a"}, {"name": "A"}],
        [{"name": "a", "colours": {"red": "no colour"}}],
        [{"colours": {}}],
        [{"name": "a", "else": 1}],
        [5],
    ],
)
def test_what_no_recipe_could_say_is_no_colourway(ways: Any) -> None:
    start = History((first_state([Placed("disc")], "block"),))
    with pytest.raises(InputError):
        start.after({"colourways": ways}, {"disc": None})


def test_a_coded_picture_tells_each_main_colour_apart(tmp_path: Path) -> None:
    desk = Desk(write_art(tmp_path))
    found = colouring.main_colours(desk.source, desk.now, None)["colours"]
    by_colour = {entry["colour"]: number for number, entry in enumerate(found)}
    for colour, motif in (("#c02020", "disc"), ("#2040c0", "square")):
        group, channel = divmod(by_colour[colour], 3)
        for asked in range(2):
            drawn = colouring.code(desk.source, desk.now, {"group": asked})
            markup = drawn["pictures"]["motifs"][motif]["markup"]
            lit = ["#ff0000", "#00ff00", "#0000ff"][channel] if asked == group else "#000000"
            assert re.findall(r"#[0-9a-f]{6}", markup) == [lit]
    # The ground is one more, after them.
    group, channel = divmod(len(found), 3)
    drawn = colouring.code(desk.source, desk.now, {"group": group})
    assert drawn["ground"] == ["#ff0000", "#00ff00", "#0000ff"][channel]


def test_a_main_colour_of_filtered_art_is_called_by_a_colour_of_the_art(tmp_path: Path) -> None:
    blur = '<filter id="b"><feGaussianBlur stdDeviation="3"/></filter>'
    stops = "".join(
        f'<stop offset="{k / 15}" stop-color="#{k * 16:02x}40{255 - k * 16:02x}"/>'
        for k in range(16)
    )
    body = (
        f'<g id="a">{blur}<linearGradient id="g">{stops}</linearGradient>'
        '<circle cx="50" cy="50" r="30" fill="url(#g)" filter="url(#b)"/></g>'
    )
    desk = Desk(write_art(tmp_path, 'art = ["art.svg"]\n', body))
    art = set(desk.source.pool.motifs["a"].colours)
    found = colouring.main_colours(desk.source, desk.now, None)["colours"]
    for entry in found:
        assert entry["key"] in art or not art & set(entry["members"])
    assert len({entry["key"] for entry in found}) == len(found)
    (row, *_) = colouring.suggest(desk.source, desk.now, None)["rows"]
    assert set(row["colours"]) == {entry["key"] for entry in found}
    # And so it is found again.
    assert colouring.dress(desk.source, desk.now, {"row": row})["targets"]


def test_what_touches_and_is_alike_is_said(tmp_path: Path) -> None:
    body = '<rect width="100" height="100" fill="#f4e8d0"/>' + (
        '<g id="a"><rect x="10" y="10" width="30" height="30" fill="#c02020"/>'
        '<rect x="40" y="10" width="30" height="30" fill="#b02020"/></g>'
    )
    file = write_art(tmp_path, 'art = ["art.svg"]\n', body)
    desk = Desk(file)
    (line,) = colouring.judge(desk.source, desk.now, {"row": None})["lines"]
    assert "touch along 30 mm" in line
    row = {"name": "a", "colours": {"#c02020": "#f4e8d1"}}
    assert any(
        "merged" in one for one in colouring.judge(desk.source, desk.now, {"row": row})["lines"]
    )


@pytest.mark.parametrize(
    ("key", "name"), [("protan", "protan"), ("deutan", "deutan"), ("tritan", "tritan")]
)
def test_colour_vision_is_simulated_as_published(key: str, name: str) -> None:
    # Machado, Oliveira and Fernandes 2009, as coloraide has it.
    found = re.search(rf"\['{key}', '[^']*', \[([^\]]*)\]", VISION.read_text(encoding="utf-8"))
    assert found is not None
    matrix = np.array([float(v) for v in found[1].split(",")]).reshape(3, 3)
    rgb = [0.5, 0.4, 0.3]
    judged = coloraide.Color("srgb-linear", rgb).filter(name, method="machado", severity=1)
    assert matrix @ rgb == pytest.approx(judged.convert("srgb-linear").coords(), abs=1e-4)


def test_the_cloth_follows_a_moved_colour_and_the_exact_picture_is_the_same(
    chromium: Any, tmp_path: Path
) -> None:
    file = write_art(tmp_path)
    with open_board(file) as board:
        page = looked_at(chromium.new_page(), board)
        station(page, "colour")
        page.click('#maincolours button[data-key="#c02020"]')
        page.fill("#mixcode", "#c02020")
        # The finger moves until the colour is in the hand.
        page.evaluate(
            """async () => {
                const hue = document.getElementById('mixhue');
                hue.value = 200;
                while (!board.table.cloth.quick) {
                    hue.dispatchEvent(new Event('input'));
                    await new Promise(requestAnimationFrame);
                }
            }"""
        )
        mixed = page.input_value("#mixcode")
        assert mixed != "#c02020"
        moved = [colour_at(page, x, y) for x, y in ((20, 50), (48, 78), (74, 32), (5, 5))]
        assert near(moved[0], mixed)
        assert near(moved[1], "#2040c0")
        page.evaluate("document.getElementById('mixhue').dispatchEvent(new Event('change'))")
        page.wait_for_selector('#ways button[data-way="my colours"][aria-pressed="true"]')
        page.wait_for_function("() => !board.table.cloth.quick")
        exact = [colour_at(page, x, y) for x, y in ((20, 50), (48, 78), (74, 32), (5, 5))]
        assert np.abs(np.subtract(moved, exact)).max() <= 3
        station(page, "files")
        page.wait_for_selector("#filesaid code:has-text(\"--colourway 'my colours'\")")
        station(page, "colour")
        page.click("#save")
        page.wait_for_selector("#standing:text-is('Saved')")
        recipe = open_source(file).recipe
        assert recipe is not None
        assert recipe.colourways == ({"name": "my colours", "colours": {"#c02020": mixed}},)
        page.click("#undo")
        page.wait_for_selector('#ways button[data-way=""][aria-pressed="true"]')
        rested(page)
        assert near(colour_at(page, 20, 50), "#c02020")
        page.close()


def test_a_colourway_is_seen_at_the_sizes_of_the_moment(tmp_path: Path) -> None:
    desk = Desk(write_art(tmp_path))
    desk.step(0, {"motifs": {"disc": {"width": 30}}})
    worn = colouring.in_row(desk.source, desk.now, WAY)
    (disc,) = {p.motif for p in worn.placements if p.motif.name == "disc"}
    assert disc.box.width == pytest.approx(30)
