"""Colour, and what a check finds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from tasks.hands import Task, design, lay, page_at, ran, same, save, twice
from vecrepeat.recipe.edit import with_rows
from vecrepeat.recipe.files import read_recipe


def recolour(chromium: Any, folder: Path) -> None:
    """A main colour is changed by its code; the export in that colourway is the command's."""
    recipe, line = twice(folder)
    with page_at(chromium, recipe) as (page, _):
        page.click("#to-colour")
        page.click("#maincolours button >> nth=0")
        page.fill("#mixcode", "#108060")
        page.keyboard.press("Tab")
        page.wait_for_function("() => board.store.now.colourways.length === 1")
        save(page)
    (way,) = read_recipe(recipe).colourways
    assert "#108060" in way["colours"].values()
    line.write_text(with_rows(line.read_text(), "colourway", [way]))
    for one, out in ((recipe, "a.png"), (line, "b.png")):
        ran("export", one, "-o", folder / out, "--dpi", "30", "--colourway", way["name"])
    same(folder / "a.png", folder / "b.png")


def colourways_and_a_line_up(chromium: Any, folder: Path) -> None:
    recipe, line = twice(folder)
    with page_at(chromium, recipe) as (page, _):
        page.click("#to-colour")
        page.click("#suggest")
        for count in range(1, 4):
            page.locator("#suggestions button").nth(count).click()
            page.wait_for_function("n => board.store.now.colourways.length === n", arg=count)
        page.click("#lineup")
        page.wait_for_selector("#shownpicture:not([hidden])")
        page.keyboard.press("Escape")
        save(page)
    line.write_bytes(recipe.read_bytes())
    ran("colourways", line, "-o", line.parent / "ten-files" / "colourways")
    written = recipe.parent / "ten-files" / "colourways"
    names = sorted(p.name for p in written.iterdir() if p.suffix == ".png")
    assert names
    for name in names:
        same(written / name, line.parent / "ten-files" / "colourways" / name)


def mend_two_findings(chromium: Any, folder: Path) -> None:
    recipe = design(folder / "page")
    with page_at(chromium, recipe) as (page, _):
        # Few motifs leave voids.
        page.click("#arranging > summary")
        page.select_option("#way-density", "airy")
        lay(page)
        page.click("#to-look")
        for _ in range(2):
            page.click("#check")
            before = page.evaluate("board.store.history.states.length")
            page.locator("#findings button:has-text('Fill this void')").first.click()
            page.wait_for_function("was => board.store.history.states.length > was", arg=before)
        count = len(page.evaluate("board.store.rows"))
        page.click("#undo")
        assert len(page.evaluate("board.store.rows")) < count
        save(page)
    ran("export", recipe, "-o", folder / "a.png", "--dpi", "20")


TASKS: dict[str, Task] = {
    "recolour": recolour,
    "three colourways and a line-up": colourways_and_a_line_up,
    "mend two findings": mend_two_findings,
}
