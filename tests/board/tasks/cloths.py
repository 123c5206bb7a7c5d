"""The tile and its arrangement, by hand."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Any

from browsing import carry, rested

from tasks.hands import Task, design, lay, page_at, ran, same, save, twice


def tile_and_ground(chromium: Any, folder: Path) -> None:
    recipe, line = twice(folder)
    with page_at(chromium, recipe) as (page, _):
        page.click("#to-tile")
        page.select_option("#units", "in")
        page.fill("#tilewidth", "9")
        page.keyboard.press("Tab")
        page.wait_for_function("() => Math.abs(board.table.lie.tile[0] - 228.6) < 1e-6")
        page.fill("#groundcode", "#102030")
        page.keyboard.press("Tab")
        page.wait_for_function("() => board.store.ground[0] === '#102030'")
        save(page)
    from vecrepeat.recipe.edit import with_keys

    said = recipe.read_text().partition('tile = "')[2].partition('"')[0]
    line.write_text(with_keys(line.read_text(), {"tile": said, "ground": "#102030"}))
    same(recipe, line)
    for one, out in ((recipe, "a.png"), (line, "b.png")):
        ran("export", one, "-o", folder / out, "--dpi", "30")
    same(folder / "a.png", folder / "b.png")


def whole_in_proportion(chromium: Any, folder: Path) -> None:
    """Twice as wide a print of the whole is the same cloth, to the byte of its pixels."""
    recipe = design(folder / "page")
    ran("export", recipe, "-o", folder / "before.png", "--dpi", "40")
    with page_at(chromium, recipe) as (page, _):
        page.click("#to-tile")
        was = float(page.input_value("#wholewidth"))
        page.fill("#wholewidth", str(2 * was))
        page.keyboard.press("Tab")
        page.wait_for_function("was => Math.abs(board.table.lie.tile[0] - 2 * was) < 1", arg=was)
        save(page)
    ran("export", recipe, "-o", folder / "after.png", "--dpi", "20")
    import numpy as np
    from PIL import Image

    one, other = (
        np.asarray(Image.open(folder / f"{n}.png").convert("RGB"), float)
        for n in ("before", "after")
    )
    assert one.shape == other.shape
    assert abs(one - other).mean() < 0.2, abs(one - other).mean()


def pin_and_toss_again(chromium: Any, folder: Path) -> None:
    recipe, line = twice(folder)
    with page_at(chromium, recipe) as (page, _):
        x, y = page.evaluate("board.store.rows[0].at")
        page.mouse.click(*page.evaluate("at => board.table.view.toPage(at)", [x, y]))
        page.wait_for_selector("#pickedname.one")
        page.click("[data-deed=pin]")
        lay(page, "#nextseed")
        lay(page, "#nextseed")
        page.click("#seeds button:has-text('Seed 2')")
        save(page)
    rows = line.read_text().splitlines()
    first = next(k for k, row in enumerate(rows) if row.startswith("    {motif"))
    rows[first] = rows[first].replace("}", ", pinned = true}")
    line.write_text("\n".join([*rows, ""]))
    ran("toss", line, "--seed", "2", "--again")
    same(recipe, line)


def choose_among_trials(chromium: Any, folder: Path) -> None:
    recipe, line = twice(folder)
    with page_at(chromium, recipe) as (page, _):
        page.click("#arranging > summary")
        page.click("#trials")
        page.fill("#trialseeds", "12")
        page.click("#trialbegin")
        page.wait_for_selector("#triallist button")
        chosen = page.locator("#triallist button").nth(2)
        seed = chosen.get_attribute("data-seed")
        before = page.evaluate("board.store.history.states.length")
        chosen.click()
        page.wait_for_function("was => board.store.history.states.length > was", arg=before)
        save(page)
    with contextlib.chdir(line.parent):
        ran("trials", "ten.toml", "-o", "ten-files/trials", "--seeds", "12")
    ran("toss", line, "--seed", str(seed), "--again")
    same(recipe, line)
    same(
        recipe.parent / "ten-files" / "trials" / "trials.png",
        line.parent / "ten-files" / "trials" / "trials.png",
    )


def every_way(chromium: Any, folder: Path) -> None:
    """Set, stripe and ditsy with a setting each are the commands' to the byte."""
    ways = {"set": ("columns", "3"), "stripe": ("times", "2"), "ditsy": ("count", "30")}
    recipe, line = twice(folder)
    with page_at(chromium, recipe) as (page, _):
        page.click("#arranging > summary")
        for way, (key, value) in ways.items():
            page.select_option("#way", way)
            page.fill(f"#way-{key}", value)
            lay(page)
        save(page)
    for way, (key, value) in ways.items():
        ran(way, line, f"--{key}", value, "--again")
    same(recipe, line)


def ranks_and_sizes(chromium: Any, folder: Path) -> None:
    recipe, line = twice(folder)
    with page_at(chromium, recipe) as (page, _):
        page.click("#traysizes")
        page.select_option("[aria-label='Rank of m5']", "hero")
        page.fill("[aria-label^='Printed width of m2']", "25")
        page.keyboard.press("Tab")
        lay(page, "#nextseed")
        save(page)
    from vecrepeat.recipe.edit import with_motifs

    text = with_motifs(line.read_text(), {"m5": {"rank": "hero"}, "m2": {"width": "25mm"}})
    line.write_text(text)
    ran("toss", line, "--seed", "2", "--again")
    same(recipe, line)


def undo_across_a_restart(chromium: Any, folder: Path) -> None:
    recipe = design(folder / "page")
    before = recipe.read_bytes()
    with page_at(chromium, recipe) as (page, board):
        at = page.evaluate("board.store.rows[0].at")
        carry(page, (at[0], at[1]), (at[0] + 12, at[1] + 5))
        page.mouse.up()
        rested(page)
        board.kill()
    with page_at(chromium, recipe) as (page, _):
        page.wait_for_selector("#undo:not([disabled])")
        assert page.evaluate("board.store.rows[0].at") != at
        page.click("#undo")
        page.wait_for_function("at => board.store.rows[0].at[0] === at[0]", arg=at)
        save(page)
    assert recipe.read_bytes() == before


TASKS: dict[str, Task] = {
    "change tile and ground": tile_and_ground,
    "print the whole in proportion": whole_in_proportion,
    "toss, pin, toss again, go back": pin_and_toss_again,
    "choose among trials": choose_among_trials,
    "set, stripe and ditsy": every_way,
    "ranks and sizes in the tray": ranks_and_sizes,
    "undo across a restart": undo_across_a_restart,
}
