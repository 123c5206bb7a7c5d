"""Looking at the board: true size, findings that are the check's, mending, scenes in use."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from browsing import board_of as open_board
from browsing import looked_at, station, write_art
from PIL import Image
from shapely import box

from vecrepeat.board import seeing
from vecrepeat.board.cloth import repeat_of
from vecrepeat.board.colouring import dress, in_row
from vecrepeat.board.desk import Desk
from vecrepeat.board.helper_worker import fill_voids
from vecrepeat.check.checking import check_drawing
from vecrepeat.check.findings import Finding
from vecrepeat.check.plane import Plane
from vecrepeat.check.printing import check_printing
from vecrepeat.check.profile import load_profile
from vecrepeat.core.errors import InputError
from vecrepeat.sources.source import open_source

FILLER = """art = ["art.svg"]
tile = "100x100mm"

placement = [{motif = "disc", at = [20, 20]}, {motif = "square", at = [30, 60]}]

[[motif]]
name = "disc"
rank = "filler"
"""


def test_findings_are_the_check_s(tmp_path: Path) -> None:
    file = write_art(tmp_path)
    desk = Desk(file)
    found = seeing.find_faults(desk.source, desk.now, {"profile": "", "row": None})
    wanted = check_drawing(open_source(file)).findings
    assert [one["what"] for one in found["found"]] == [finding.what for finding in wanted]
    assert found["count"] == len(wanted) > 0


def test_one_void_is_filled_and_no_other(tmp_path: Path) -> None:
    desk = Desk(write_art(tmp_path, FILLER))
    everywhere = fill_voids(desk.source, desk.now, {"settings": {}})["rows"]
    # Beyond the tile's edge, where the same void lies again.
    void = {"x": 170.0, "y": 70.0, "radius": 18.0}
    rows = fill_voids(desk.source, desk.now, {"settings": {}, "void": void})["rows"]
    assert 0 < len(rows) < len(everywhere)
    for row in rows:
        dx, dy = ((row["at"][k] - (70, 70)[k] + 50) % 100 - 50 for k in (0, 1))
        assert dx * dx + dy * dy <= 18**2


def test_lanes_are_ended_by_the_layout_that_goes_across_them(tmp_path: Path) -> None:
    desk = Desk(write_art(tmp_path, 'art = ["art.svg"]\n'))
    for mark, layout in ((box(0, 40, 100, 60), "half-drop"), (box(40, 0, 60, 100), "brick")):
        alley = Finding("alley", "an empty lane", 20, 10, mark)
        mends = seeing.mends_of(alley, desk.now, repeat_of(desk.source, desk.now))
        assert mends == [{"deed": "relay", "layout": layout}]
    desk.step(0, {"layout": "drop:1/3"})
    assert not seeing.mends_of(alley, desk.now, repeat_of(desk.source, desk.now)), "moved already"


def test_near_colours_are_made_one(tmp_path: Path) -> None:
    body = (
        '<rect id="a" x="10" y="10" width="30" height="30" fill="#c02020"/>'
        '<rect id="b" x="60" y="60" width="30" height="30" fill="#c02021"/>'
    )
    desk = Desk(write_art(tmp_path, 'art = ["art.svg"]\n', body))
    repeat = repeat_of(desk.source, desk.now)
    (near,) = check_printing(Plane(repeat), load_profile().print).findings
    (mend,) = seeing.mends_of(near, desk.now, repeat)
    row = {"name": "one", "colours": {mend[key]: mend["into"] for key in ("into", "colour")}}
    made = in_row(desk.source, desk.now, row)
    assert {c for p in made.placements for c in p.motif.colours} == {mend["into"]}


HAIR = (
    '<circle id="dot" cx="80" cy="20" r="9" fill="#2040c0"/>'
    '<g id="hair" fill="none"><path d="M15 20H45" stroke="#c02020" stroke-width=".1"/>'
    '<path d="M15 40H45" stroke="#2040c0" stroke-width="2"/></g>'
)


def test_lines_are_thickened_until_they_print_at_the_smallest_that_they_lie(tmp_path: Path) -> None:
    rows = '[{motif = "hair"}, {motif = "hair", at = [70, 70], turn = 30, scale = 0.5}]'
    file = write_art(tmp_path, f'art = ["art.svg"]\nplacement = {rows}\n', HAIR)
    desk = Desk(file)
    limits = load_profile("screen").print
    repeat = repeat_of(desk.source, desk.now)
    (thin,) = check_printing(Plane(repeat), limits).findings
    # Screens hold lines of 0.35 mm, and the smaller copy lies half as large.
    mend, *_ = seeing.mends_of(thin, desk.now, repeat)
    assert mend == {"deed": "thicken", "motif": "hair", "least": 0.71}
    desk.step(0, {"motifs": {"hair": {"least-line": mend["least"]}}})
    assert not check_printing(Plane(repeat_of(desk.source, desk.now)), limits).findings
    desk.save()
    hair = open_source(file).pool.motifs["hair"]
    # 30 mm of lines 0.71 and 2 mm thick.
    assert sum(part.area for part in hair.parts) == pytest.approx(30 * 2.71)
    assert dress(desk.source, desk.now, {})["shapes"]["hair"]["box"] == list(hair.box)


def test_a_scene_in_use_is_drawn_in_the_worn_colours(tmp_path: Path) -> None:
    desk = Desk(write_art(tmp_path))
    row = {"name": "night", "ground": "#101020", "colours": {}}
    drawn = seeing.draw_in_use(desk.source, desk.now, {"scene": 3, "row": row})
    with Image.open(io.BytesIO(drawn)) as image:
        colours = {colour: n for n, colour in image.convert("RGB").getcolors(1 << 24) or []}
    assert max(colours, key=lambda c: colours[c] if c != (255, 255, 255) else 0) == (16, 16, 32)
    assert repeat_of(desk.source, desk.now).ground is not None
    with pytest.raises(InputError, match="no such scene"):
        seeing.draw_in_use(desk.source, desk.now, {"scene": 9, "row": None})


def test_the_screen_is_measured_once_and_true_size_is_true(chromium: Any, tmp_path: Path) -> None:
    with open_board(write_art(tmp_path)) as board:
        context = chromium.new_context(viewport={"width": 1280, "height": 800})
        page = looked_at(context.new_page(), board)
        station(page, "look")
        page.click("#measure")
        # A screen on which a bank card, 53.98 mm wide, takes 324 pixels.
        page.fill("#cardwidth", "324")
        page.click("#measured")
        page = looked_at(context.new_page(), board)
        station(page, "look")
        page.click("[data-size=true]")
        # Tiles are whole pixels, which is half a percent at most.
        assert page.evaluate("board.table.view.scale") == pytest.approx(324 / 53.98, rel=0.006)
        page.click("[data-size='far']")
        assert page.evaluate("board.table.view.scale") == pytest.approx(324 / 53.98 / 5, rel=0.01)
        page.click("#check")
        page.click("#findings button:has-text('Go there') >> nth=0")
        place = page.evaluate("board.table.seen.place")
        x, y = page.evaluate("board.table.view.toCloth(board.table.view.middle)")
        assert abs(x - place["x"]) < 2
        assert abs(y - place["y"]) < 2
        page.click("#uses button >> nth=3")
        page.wait_for_selector("#shownpicture:not([hidden])")
        assert page.evaluate("document.getElementById('shownpicture').naturalWidth") == 1200
        context.close()
