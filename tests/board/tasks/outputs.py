"""Files, as the printer wants them."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

from tasks.hands import LONG, Task, design, finished, page_at, ran, same, twice, write


def proof(chromium: Any, folder: Path) -> None:
    recipe, line = twice(folder)
    with page_at(chromium, recipe) as (page, _):
        write(page, "proof", ending="pdf", paper="a4")
        finished(page)
    out = line.parent / "ten-proof.pdf"
    ran("proof", line, "-o", out, "--paper", "a4")
    same(recipe.parent / "ten-files" / out.name, out)


def tile_1500(chromium: Any, folder: Path) -> None:
    recipe, line = twice(folder)
    with page_at(chromium, recipe) as (page, _):
        write(page, "tile", ending="png", across="1500")
        finished(page)
        said = page.inner_text("#filesaid code")
    out = line.parent / "ten.png"
    dpi = said.split("--dpi ")[1].split()[0]
    ran("export", line, "-o", out, "--dpi", dpi)
    written = recipe.parent / "ten-files" / "ten.png"
    same(written, out)
    from PIL import Image

    assert Image.open(written).width == 1500


def sheet_stopped_and_begun_again(chromium: Any, folder: Path) -> None:
    recipe, line = twice(folder)
    output = recipe.parent / "ten-files"
    with page_at(chromium, recipe) as (page, _):
        # 11 thousand million pixels take minutes.
        write(page, "sheet", sheet="54x36in", dpi="2400", ending="tif")
        until = time.monotonic() + LONG / 1000
        while not list(output.glob(".vecrepeat-*")):
            assert time.monotonic() < until, "nothing is being written"
            page.wait_for_timeout(200)
        page.click("#jobs .job .stop")
        page.wait_for_selector("#jobs .job[data-state=stopped]")
        page.wait_for_timeout(1500)
        assert not output.exists() or not any(output.iterdir()), list(output.iterdir())
        write(page, "sheet", sheet="54x36in", dpi="75", ending="tif")
        finished(page)
    out = line.parent / "ten.tif"
    ran("export", line, "-o", out, "--sheet", "54x36in", "--dpi", "75")
    same(output / "ten.tif", out)


def plates(chromium: Any, folder: Path) -> None:
    recipe, line = twice(folder)
    with page_at(chromium, recipe) as (page, _):
        write(page, "plates", format="svg")
        finished(page)
    out = line.parent / "ten-files" / "plates"
    ran("separate", line, "-o", out, "--format", "svg")
    same(recipe.parent / "ten-files" / "plates", out)


def plates_in_a_colourway(chromium: Any, folder: Path) -> None:
    """What the cloth wears is what plates, cuts and drops are written in."""
    recipe, line = twice(folder)
    for one in (recipe, line):
        with one.open("a") as file:
            file.write('\n[[colourway]]\nname = "Night sky"\nground = "#102040"\ncolours = {}\n')
    with page_at(chromium, recipe) as (page, _):
        page.click("#to-colour")
        page.click("[data-way='Night sky']")
        page.wait_for_function("() => board.store.ground[0] === '#102040'")
        for deed, fields in (
            ("plates", {"format": "svg"}),
            ("cloth", {"cut": "fat-quarter", "dpi": "20", "ending": "png"}),
            ("roll", {"wall": "1x1m", "dpi": "20", "ending": "png"}),
        ):
            write(page, deed, **fields)
            finished(page)
    out, worn = line.parent / "ten-files", ("--colourway", "Night sky")
    ran("separate", line, "-o", out / "plates-night-sky", "--format", "svg", *worn)
    cut = out / "ten-night-sky-cloth.png"
    ran("cloth", line, "-o", cut, "--cut", "fat-quarter", "--bolt", "140cm", "--dpi", "20", *worn)
    drops = out / "ten-night-sky-drop-{number}.png"
    roll = ("--wall", "1x1m", "--roll", "53cmx10.05m", "--dpi", "20")
    ran("roll", line, "-o", drops, *roll, *worn)
    same(recipe.parent / "ten-files", out)


def drops_of_a_wall(chromium: Any, folder: Path) -> None:
    recipe, line = twice(folder)
    with page_at(chromium, recipe) as (page, _):
        write(page, "roll", wall="1.2x1m", dpi="30", ending="png")
        finished(page)
        said = page.inner_text("#filesaid code")
    import shlex

    words = shlex.split(said)[2:]
    words[0] = str(line)
    words[words.index("-o") + 1] = str(line.parent / "ten-files" / "ten-drop-{number}.png")
    ran("roll", *words)
    same(recipe.parent / "ten-files", line.parent / "ten-files")


def whole_folder(chromium: Any, folder: Path) -> None:
    for place in ("page", "line"):
        recipe = design(folder / place)
        second = recipe.with_name("second.toml")
        second.write_text(recipe.read_text().replace('name = "ten"', 'name = "second"'))
        for one in (recipe, second):
            with one.open("a") as file:
                file.write('\n[[print]]\nname = "swatch"\ndpi = 40\n')
    with page_at(chromium, folder / "page") as (page, _):
        page.wait_for_selector("#shelf img")
        page.click("#batch")
        finished(page)
        said = page.inner_text("#batchsaid code")
    recipes = [folder / "line" / word for word in said.split() if word.endswith(".toml")]
    assert len(recipes) == 2, said
    ran("batch", *recipes, "-o", folder / "line" / "batch")
    for one in (folder / "line" / "batch").rglob("*.png"):
        same(folder / "page" / "batch" / one.relative_to(folder / "line" / "batch"), one)
    assert list((folder / "page" / "batch").rglob("*.png"))


TASKS: dict[str, Task] = {
    "a proof as PDF": proof,
    "a tile of 1,500 px": tile_1500,
    "a sheet of 54 × 36 in, stopped and begun again": sheet_stopped_and_begun_again,
    "plates": plates,
    "plates, a cut and drops in the worn colourway": plates_in_a_colourway,
    "a wall's drops": drops_of_a_wall,
    "the whole folder in batch": whole_folder,
}
