"""The tile and its arrangement, by hand."""

from __future__ import annotations

import contextlib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from browsing import carry, rested
from PIL import Image

from tasks.hands import Task, design, lay, page_at, ran, same, save, twice
from vecrepeat.recipe.edit import with_keys, with_motifs, with_placements
from vecrepeat.recipe.files import read_recipe
from vecrepeat.sources.source import open_source


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
    said = recipe.read_text().partition('tile = "')[2].partition('"')[0]
    line.write_text(with_keys(line.read_text(), {"tile": said, "ground": "#102030"}))
    same(recipe, line)
    for one, out in ((recipe, "a.png"), (line, "b.png")):
        ran("export", one, "-o", folder / out, "--dpi", "30")
    same(folder / "a.png", folder / "b.png")


def whole_in_proportion(chromium: Any, folder: Path) -> None:
    """Twice as wide a print of the whole is what the recipe says with all its numbers doubled."""
    recipe, line = twice(folder)
    with page_at(chromium, recipe) as (page, _):
        page.click("#to-tile")
        was = float(page.input_value("#wholewidth"))
        page.fill("#wholewidth", str(2 * was))
        page.keyboard.press("Tab")
        page.wait_for_function("was => Math.abs(board.table.lie.tile[0] - 2 * was) < 1", arg=was)
        save(page)
    ran("export", line, "-o", folder / "before.png", "--dpi", "40")
    text = line.read_text()
    said = read_recipe(line)
    assert f'tile = "{was:g}x{was:g}mm"' in text
    text = with_keys(text, {"tile": f"{2 * was:g}x{2 * was:g}mm"})
    rows = [replace(p, at=(2 * p.at[0], 2 * p.at[1])) for p in said.placements if p.at]
    text = with_placements(text, rows)
    motifs = open_source(line).pool.motifs
    widths = {name: f"{round(2 * motif.box.width, 4):g}mm" for name, motif in motifs.items()}
    line.write_text(with_motifs(text, {name: {"width": width} for name, width in widths.items()}))
    same(recipe, line)
    for file, out in ((recipe, "a.png"), (line, "b.png")):
        ran("export", file, "-o", folder / out, "--dpi", "20")
    same(folder / "a.png", folder / "b.png")
    one, other = (
        np.asarray(Image.open(folder / n).convert("RGB"), float) for n in ("before.png", "a.png")
    )
    # It is the same cloth, twice as large.
    assert one.shape == other.shape
    assert abs(one - other).mean() < 0.2, abs(one - other).mean()


def pull_the_basting(chromium: Any, folder: Path) -> None:
    """The tile grows under a hand, a finger and keys; each pull is a step, the motifs stay."""
    recipe, line = twice(folder)
    with page_at(chromium, recipe, has_touch=True) as (page, _):
        page.click("#to-tile")
        page.select_option("#units", "in")
        rows = page.evaluate("board.store.rows")
        # By hand: half an inch wider, seen before it is let go.
        x, y = page.evaluate("board.table.view.toPage([board.table.lie.tile[0], 127])")
        half = page.evaluate("12.7 * board.table.view.scale")
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + half / 2, y, steps=4)
        page.mouse.move(x + half, y, steps=4)
        page.wait_for_function("() => Math.abs(board.table.lie.tile[0] - 266.7) < 1e-6")
        assert page.evaluate("board.store.history.cursor") == 0
        assert page.text_content("#marks .size") == "10.5 × 10 in"
        page.mouse.up()
        page.wait_for_function("() => board.store.now.tile === '10.5x10in'")
        # By keys: three tenths of an inch higher; then an inch wider, given up.
        page.focus("#cloth")
        page.keyboard.press("t")
        for _ in range(3):
            page.keyboard.press("ArrowDown")
        page.keyboard.press("Enter")
        page.wait_for_function("() => board.store.now.tile === '10.5x10.3in'")
        page.keyboard.press("t")
        page.keyboard.press("Shift+ArrowRight")
        page.wait_for_function("() => board.table.lie.tile[0] > 290")
        page.keyboard.press("Escape")
        page.wait_for_function("() => Math.abs(board.table.lie.tile[0] - 266.7) < 1e-6")
        assert page.evaluate("board.store.history.cursor") == 2
        # By a finger, and taken back.
        fingers = page.context.new_cdp_session(page)
        box = page.locator("[data-knot] .head").nth(1).bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        inch = page.evaluate("25.4 * board.table.view.scale")
        for kind, down in (("touchStart", 0.0), ("touchMove", 0.4), ("touchMove", 0.7)):
            at = [{"x": x, "y": y + down * inch, "id": 1}]
            fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": at})
        fingers.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        page.wait_for_function("() => board.store.now.tile === '10.5x11in'")
        page.click("#undo")
        page.wait_for_function("() => board.table.lie.tile[1] < 262")
        assert page.evaluate("board.store.rows") == rows
        save(page)
    line.write_text(with_keys(line.read_text(), {"tile": "10.5x10.3in"}))
    same(recipe, line)
    for one, out in ((recipe, "a.png"), (line, "b.png")):
        ran("export", one, "-o", folder / out, "--dpi", "30")
    same(folder / "a.png", folder / "b.png")


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
    text = with_motifs(line.read_text(), {"m5": {"rank": "hero"}, "m2": {"width": "25mm"}})
    line.write_text(text)
    ran("toss", line, "--seed", "2", "--again")
    same(recipe, line)


def seeds_across_a_restart(chromium: Any, folder: Path) -> None:
    """Saved, ended and begun again, the page still goes back to a toss; it is the command's."""
    recipe, line = twice(folder)
    with page_at(chromium, recipe) as (page, _):
        lay(page, "#nextseed")
        lay(page, "#nextseed")
        save(page)
    with page_at(chromium, recipe) as (page, _):
        page.click("#arranging > summary")
        page.click("#seeds button:has-text('Seed 2')")
        page.wait_for_selector("#undo:not([disabled])")
        save(page)
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
    "pull the basting": pull_the_basting,
    "print the whole in proportion": whole_in_proportion,
    "toss, pin, toss again, go back": pin_and_toss_again,
    "choose among trials": choose_among_trials,
    "set, stripe and ditsy": every_way,
    "ranks and sizes in the tray": ranks_and_sizes,
    "seeds across a restart": seeds_across_a_restart,
    "undo across a restart": undo_across_a_restart,
}
