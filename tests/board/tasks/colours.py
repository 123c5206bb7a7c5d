"""Colour, and what a check finds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from support import svg, vecrepeat

from tasks.hands import Task, page_at, ran, same, save, twice, write_motifs
from vecrepeat.recipe.edit import with_colourways, with_motifs, with_placements, with_rows
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


def mend_findings(chromium: Any, folder: Path) -> None:
    """A void is filled, lines are thickened and near colours made one: the commands' results."""
    hair = '<circle cx="50" cy="50" r="30" fill="none" stroke="#2040c0" stroke-width="0.2"/>'
    recipes = []
    for place in ("page", "line"):
        art = folder / place / "art"
        write_motifs(art)
        (art / "m5.svg").write_text((art / "m5.svg").read_text().replace("c02020", "c02021"))
        (art / "m4.svg").write_text(svg(hair))
        recipes.append(folder / place / "ten.toml")
        ran("recipe", art, "-o", recipes[-1], "--density", "medium")
        ran("toss", recipes[-1])
    recipe, line = recipes
    with page_at(chromium, recipe) as (page, _):
        # What lies about the tile's middle is taken off by hand, which leaves a void.
        page.click("#several")
        page.mouse.move(*bare_spot(page, 50, 50))
        page.mouse.down()
        page.mouse.move(*page.evaluate("board.table.view.toPage([204, 204])"), steps=5)
        page.mouse.up()
        page.click("[data-deed=remove]")
        save(page)
        line.write_bytes(recipe.read_bytes())
        page.click("#to-look")
        page.select_option("#limits", "screen")
        for word in ("Fill this void", "Thicken m4", "Make #c020"):
            page.click("#check")
            mend = page.locator(f"#findings button:has-text('{word}')").first
            count = page.evaluate("board.store.history.states.length")
            mend.click()
            page.wait_for_function("was => board.store.history.states.length > was", arg=count)
            page.wait_for_selector("#check:not([disabled])")
            # It is one step, which can be undone.
            page.click("#undo")
            page.click("#redo")
        # Those two are not found any more.
        page.click("#check")
        page.wait_for_selector("#check:not([disabled])")
        assert not page.locator("#findings button:has-text('Thicken m4')").count()
        assert not page.locator("#findings button:has-text('Make #c020')").count()
        least = page.evaluate("board.store.now.motifs.m4['least-line']")
        save(page)
    before = read_recipe(line).placements
    ran("fill", line)
    filled = read_recipe(line).placements[len(before) :]
    mended = read_recipe(recipe).placements
    assert mended[: len(before)] == before
    # Of all that the command fills, what lies in this void.
    assert 0 < len(mended) - len(before) < len(filled)
    assert set(mended[len(before) :]) <= set(filled)
    (way,) = read_recipe(recipe).colourways
    assert set(way["colours"].values()) in ({"#c02020"}, {"#c02021"})
    text = with_placements(line.read_text(), mended)
    text = with_motifs(text, {"m4": {"least-line": f"{least:g}mm"}})
    line.write_text(with_colourways(text, [way]))
    same(recipe, line)
    for one, out in ((recipe, "a.png"), (line, "b.png")):
        ran("export", one, "-o", folder / out, "--dpi", "40", "--colourway", way["name"])
    same(folder / "a.png", folder / "b.png")
    told = vecrepeat(
        "check", line, "--only", "print", "--profile", "screen", "--colourway", way["name"]
    ).out
    assert "line is thinner" not in told
    assert "as good as one colour" not in told


def bare_spot(page: Any, x: float, y: float) -> list[float]:
    """A place on the page near one of the cloth on which nothing lies."""
    found: list[float] = page.evaluate(
        """([x, y]) => {
            const { table } = board;
            for (let r = 0; r < 60; r += 2) {
                for (let a = 0; a < 6.3; a += 0.3) {
                    const at = [x + r * Math.cos(a), y + r * Math.sin(a)];
                    const point = table.view.toPage(at);
                    if (!table.motifAt(point, 4)) return point;
                }
            }
        }""",
        [x, y],
    )
    return found


TASKS: dict[str, Task] = {
    "recolour": recolour,
    "three colourways and a line-up": colourways_and_a_line_up,
    "mend a void, thin lines and near colours": mend_findings,
}
