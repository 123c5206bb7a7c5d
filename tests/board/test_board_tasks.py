"""Tasks as a person does them on the page, from the folder to what lies on the disk.

More of them, and longer ones, are driven by ``python tests/board/tasks``.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from browsing import (
    GROUND,
    RECIPE,
    board_of,
    carry,
    colour_at,
    looked_at,
    near,
    page_against_export,
    rested,
    station,
    write_art,
)
from support import vecrepeat

WAY = """
[[colourway]]
name = "Night sky"
ground = "#102040"
colours = {"#c02020" = "#f0c010"}
"""


def saved(page: Any) -> None:
    page.click("#save")
    page.wait_for_selector("#standing:text-is('Saved')")


def test_the_basting_is_pulled_and_the_cloth_follows(chromium: Any, tmp_path: Path) -> None:
    recipe = write_art(tmp_path)
    before = recipe.read_bytes()
    with board_of(recipe) as board:
        page = looked_at(chromium.new_page(viewport={"width": 1280, "height": 800}), board)
        # Elsewhere the cloth slides.
        edge = page.evaluate("board.table.view.toPage([100, 85])")
        page.mouse.move(*edge)
        page.mouse.down()
        page.mouse.move(edge[0] + 20, edge[1], steps=2)
        page.mouse.up()
        page.evaluate("board.table.settle()")
        assert page.is_disabled("#undo")
        station(page, "tile")
        x, y = page.evaluate("board.table.view.toPage([100, 85])")
        far = page.evaluate("20 * board.table.view.scale")
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + far, y, steps=3)
        page.wait_for_function("() => board.table.lie.tile[0] === 120")
        # Half-drop: the next disc is as far across as the tile is wide, and half as high lower.
        assert near(colour_at(page, 20 + 120, 50 + 50), "#c02020")
        assert page.evaluate("board.store.history.cursor") == 0
        page.keyboard.press("Escape")
        page.mouse.up()
        page.wait_for_function("() => board.table.lie.tile[0] === 100")
        page.focus("#cloth")
        for key in ("t", "Shift+ArrowRight", "Shift+ArrowRight", "ArrowUp", "Enter"):
            page.keyboard.press(key)
        page.wait_for_selector("#undo:not([disabled])")
        rested(page)
        assert near(colour_at(page, 20 + 120, 50 + 99 / 2), "#c02020")
        saved(page)
        assert recipe.read_text() == RECIPE.replace("100x100mm", "120x99mm")
        page.click("#undo")
        saved(page)
        page.context.close()
    assert recipe.read_bytes() == before


def test_thin_lines_are_thickened_where_they_are_found(chromium: Any, tmp_path: Path) -> None:
    hair = '<g id="hair"><path d="M20 30H80" stroke="#c02020" stroke-width=".1"/></g>'
    dot = '<circle id="dot" cx="50" cy="75" r="9" fill="#2040c0"/>'
    recipe = write_art(tmp_path, 'art = ["art.svg"]\n', GROUND + hair + dot)
    with board_of(recipe) as board:
        page = looked_at(chromium.new_page(viewport={"width": 1280, "height": 800}), board)
        page.evaluate("async () => { board.table.zoom(2); await board.table.settle() }")
        station(page, "look")
        page.select_option("#limits", "screen")
        page.click("#check")
        page.click("#findings button:has-text('Thicken hair’s lines to 0.36 mm')")
        page.wait_for_selector("#check:not([disabled])")
        page.wait_for_function("() => board.store.motifs.get('hair').box[3] > 30.17")
        assert not page.locator("#findings button:has-text('Thicken')").count()
        saved(page)
        assert page_against_export(page, recipe, tmp_path) <= 1.0
        assert 'name = "hair"\nleast-line = "0.36mm"' in recipe.read_text()
        page.click("#undo")
        page.wait_for_function("() => board.store.motifs.get('hair').box[3] < 30.06")
        saved(page)
        # What the tray says of a motif's width is seen at once, wherever it lies.
        assert near(colour_at(page, 62, 75), "#f4e8d0")
        page.click("#traysizes")
        page.fill("[aria-label^='Printed width of dot']", "36")
        page.keyboard.press("Tab")
        rested(page)
        assert near(colour_at(page, 62, 75), "#2040c0")
        page.context.close()
    assert recipe.read_text() == 'art = ["art.svg"]\n'


def test_what_the_cloth_wears_is_what_is_written(chromium: Any, tmp_path: Path) -> None:
    recipe = write_art(tmp_path, RECIPE + WAY)
    with board_of(recipe) as board:
        page = looked_at(chromium.new_page(viewport={"width": 1280, "height": 800}), board)
        carry(page, (48, 78), (60, 80))
        page.mouse.up()
        rested(page)
        station(page, "colour")
        page.click("[data-way='Night sky']")
        page.wait_for_function("() => board.store.ground[0] === '#102040'")
        station(page, "files")
        page.select_option("#filedeed", "cloth")
        page.fill("#file-dpi", "20")
        page.click("#write")
        page.wait_for_selector("#jobs .job[data-state=done]")
        page.context.close()
    # It was saved first: what is written is what is seen.
    asked = ("--cut", "metre", "--bolt", "140cm", "--dpi", "20", "--colourway", "Night sky")
    assert vecrepeat("cloth", recipe, "-o", tmp_path / "cut.png", *asked).code == 0
    written = tmp_path / "three-files" / "three-night-sky-cloth.png"
    assert written.read_bytes() == (tmp_path / "cut.png").read_bytes()
