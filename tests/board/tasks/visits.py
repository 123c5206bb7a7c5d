"""Two tabs, keys alone, and everybody at three sizes."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

from browsing import board_of, faults_of, looked_at, station

from tasks.hands import Task, design, page_at, ran, same, save, twice
from vecrepeat.recipe.edit import with_placements
from vecrepeat.recipe.files import read_recipe

SIZES = ((1400, 900), (820, 1180), (390, 844))


def two_tabs(chromium: Any, folder: Path) -> None:
    recipe = design(folder / "page")
    before = recipe.read_bytes()
    with page_at(chromium, recipe) as (one, board):
        other = looked_at(one.context.new_page(), board)
        one.focus("#cloth")
        one.keyboard.press("n")
        one.keyboard.press("ArrowRight")
        other.wait_for_function("() => board.store.history.cursor === 1")
        rows = "board.store.rows"
        assert one.evaluate(rows) == other.evaluate(rows)
        other.click("#undo")
        one.wait_for_function("() => board.store.history.cursor === 0")
        save(one)
        other.wait_for_selector("#standing:text-is('Saved')")
    assert recipe.read_bytes() == before


def without_a_pointer(chromium: Any, folder: Path) -> None:
    """From the first page to a written file by Tab, Enter, arrows and letters alone."""
    recipe, line = twice(folder)
    with page_at(chromium, recipe.parent) as (page, _):
        page.wait_for_selector("#shelf img")
        press_to(page, "[data-design='ten.toml']")
        page.keyboard.press("Enter")
        page.wait_for_selector("body[data-ready] #cloth")
        press_to(page, "#cloth")
        page.keyboard.press("n")
        page.keyboard.press("Shift+ArrowRight")
        page.keyboard.press("Control+s")
        page.wait_for_selector("#standing:text-is('Saved')")
        press_to(page, "#to-arrange")
        for _ in range(4):
            page.keyboard.press("ArrowRight")
        page.wait_for_selector("#station-files:not([hidden])")
        press_to(page, "#file-dpi")
        page.keyboard.press("Control+a")
        page.keyboard.type("40")
        page.keyboard.press("Enter")
        page.wait_for_selector("#jobs .job[data-state=done]")
        (row,) = page.evaluate("[board.store.rows.find(row => row.motif)]")
        x, y = row["at"]
    before = next(one for one in line.read_text().splitlines() if one.startswith("    {motif"))
    was = before.partition("at = [")[2].partition("]")[0].split(", ")
    assert abs(x - float(was[0]) - 10) < 1e-3, (x, was)
    line.write_text(line.read_text().replace(f"at = [{', '.join(was)}]", f"at = [{x:g}, {y:g}]", 1))
    same(recipe, line)
    ran("export", line, "-o", line.parent / "ten.png", "--dpi", "40")
    same(recipe.parent / "ten-files" / "ten.png", line.parent / "ten.png")


def from_a_second_device(chromium: Any, folder: Path) -> None:
    """A tablet pairs by the word, moves a motif with a finger, and saves."""
    recipe, line = twice(folder)
    address = "127.0.0.2"
    with board_of(recipe, "--share", "--address", address) as board:
        assert board.process.stdout is not None
        where = re.search(r"https://[\d.:]+/", board.process.stdout.readline())
        assert where is not None
        tablet = chromium.new_context(
            viewport={"width": 820, "height": 1180}, has_touch=True, ignore_https_errors=True
        ).new_page()
        tablet.goto(where[0])
        tablet.fill("#word", json.loads(board.ask("/api/sharing")[2])["word"])
        tablet.tap("#pair button")
        tablet.wait_for_selector("#shelf img", timeout=60_000)
        tablet.tap("[data-design='ten.toml']")
        tablet.wait_for_selector("body[data-ready] #cloth", timeout=60_000)
        at = tablet.evaluate("board.store.rows[0].at")
        tablet.touchscreen.tap(*tablet.evaluate("at => board.table.view.toPage(at)", at))
        tablet.wait_for_selector("#pickedname.one")
        x = round(at[0] + 10, 1)
        tablet.fill("#px", str(x))
        tablet.keyboard.press("Tab")
        tablet.wait_for_selector("#undo:not([disabled])")
        tablet.tap("#save")
        tablet.wait_for_selector("#standing:text-is('Saved')")
        tablet.context.close()
    first = read_recipe(line).placements[0]
    assert first.at == tuple(at)
    rows = [replace(first, at=(x, at[1])), *read_recipe(line).placements[1:]]
    line.write_text(with_placements(line.read_text(), rows))
    same(recipe, line)
    for one, out in ((recipe, "a.png"), (line, "b.png")):
        ran("export", one, "-o", folder / out, "--dpi", "40")
    same(folder / "a.png", folder / "b.png")


def press_to(page: Any, selector: str) -> None:
    """Press Tab until something has the focus."""
    for _ in range(200):
        page.keyboard.press("Tab")
        if page.evaluate("s => document.activeElement.matches(s)", selector):
            return
    raise AssertionError(f"no Tab leads to {selector}")


def nobody_is_shut_out(chromium: Any, folder: Path) -> None:
    """axe at three sizes, at every station; nothing too small, nothing that moves by itself."""
    recipe = design(folder / "page")
    with page_at(chromium, recipe, bypass_csp=True) as (page, _):
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            page.wait_for_timeout(300)
            if page.get_attribute("#cardfold", "aria-expanded") == "false":
                page.click("#cardfold")
            for name in page.eval_on_selector_all("[role=tab]", "tabs => tabs.map(t => t.id)"):
                station(page, name.removeprefix("to-"))
                if name == "to-arrange" and page.get_attribute("#arranging", "open") is None:
                    page.click("#arranging > summary")
                found = faults_of(page)
                assert found == {}, (width, name, found)
        page.emulate_media(reduced_motion="reduce")
        page.evaluate("board.store.notice('told')")
        page.evaluate("document.getElementById('trialsheet').showModal()")
        assert page.evaluate("document.getAnimations().length") == 0


TASKS: dict[str, Task] = {
    "two tabs": two_tabs,
    "from a second device": from_a_second_device,
    "without a pointer": without_a_pointer,
    "nobody is shut out, at three sizes": nobody_is_shut_out,
}
