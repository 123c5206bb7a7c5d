"""Beginning a design, and what comes into it later."""

from __future__ import annotations

import contextlib
import shutil
from pathlib import Path
from typing import Any

from browsing import drop
from PIL import Image, ImageDraw
from support import DEMO, vecrepeat

from tasks.hands import (
    Task,
    begin,
    finished,
    page_at,
    ran,
    same,
    save,
    twice,
    write,
    write_motifs,
)
from vecrepeat.recipe.edit import with_motifs, with_placements
from vecrepeat.recipe.files import read_recipe
from vecrepeat.recipe.model import Placed


def ten_drawings(chromium: Any, folder: Path) -> None:
    files = write_motifs(folder / "mine")
    (folder / "work").mkdir()
    with page_at(chromium, folder / "work") as (page, _):
        begin(page, files, "Ten")
    shutil.copytree(folder / "mine", folder / "line" / "art")
    recipe = folder / "line" / "ten.toml"
    ran("recipe", folder / "line" / "art", "-o", recipe, "--density", "medium")
    ran("toss", recipe)
    same(folder / "work" / "ten" / "ten.toml", recipe)


def pixel_motifs(chromium: Any, folder: Path) -> None:
    (folder / "mine").mkdir()
    for k, colour in enumerate(("#c02020", "#1f6f3a", "#2040c0")):
        picture = Image.new("RGBA", (300, 300))
        ImageDraw.Draw(picture).ellipse((30 + 20 * k, 60, 260, 230), fill=colour)
        picture.save(folder / "mine" / f"p{k}.png", dpi=(300, 300))
    (folder / "work").mkdir()
    with page_at(chromium, folder / "work") as (page, _):
        begin(page, sorted((folder / "mine").iterdir()), "Pixels")
    shutil.copytree(folder / "mine", folder / "line" / "art")
    recipe = folder / "line" / "pixels.toml"
    ran("recipe", folder / "line" / "art", "-o", recipe, "--density", "medium")
    ran("toss", recipe)
    same(folder / "work" / "pixels" / "pixels.toml", recipe)


def drawn_page(chromium: Any, folder: Path) -> None:
    (folder / "work").mkdir()
    with page_at(chromium, folder / "work") as (page, _):
        begin(page, [DEMO / "night-garden.svg"], "Night garden")
    (folder / "line" / "art").mkdir(parents=True)
    art = folder / "line" / "art" / "night-garden.svg"
    shutil.copy(DEMO / art.name, art)
    recipe = folder / "line" / "night-garden.toml"
    ran("recipe", art, "-o", recipe)
    same(folder / "work" / "night-garden" / "night-garden.toml", recipe)


def finished_tile(chromium: Any, folder: Path) -> None:
    """A finished tile is checked, seen repeated, and written twice as large."""
    tile = Image.new("RGB", (400, 400), "#f4e8d0")
    # Runs over the right edge and does not come in again.
    ImageDraw.Draw(tile).ellipse((330, 100, 470, 240), fill="#c02020")
    tile.save(folder / "tile.png", dpi=(150, 150))
    (folder / "work").mkdir()
    with page_at(chromium, folder / "work") as (page, _):
        begin(page, [folder / "tile.png"], "Tile", "tile")
        page.wait_for_selector("#told:has-text('Checked')")
        told = page.locator("#jobs .result").first.inner_text()
        page.wait_for_selector("#found li")
        page.click("#repeated")
        page.wait_for_selector("body[data-ready] #cloth")
        page.click("#to-look")
        page.click("[data-size='2']")
        # A hand that slides the cloth leaves the tile where it is.
        page.mouse.move(500, 400)
        page.mouse.down()
        page.mouse.move(540, 430, steps=3)
        page.mouse.up()
        assert page.is_disabled("#undo")
        write(page, "tile", ending="png", across="800")
        finished(page)
    (folder / "line" / "tile" / "art").mkdir(parents=True)
    shutil.copy(folder / "tile.png", folder / "line" / "tile" / "art")
    marks = "tile/tile-files/findings.png"
    with contextlib.chdir(folder / "line"):
        done = vecrepeat("check", "tile/art/tile.png", "--finished", "--picture", marks)
    assert done.code == 1
    # The same findings in the same words, but for where the files lie.
    found = [line for line in done.out.splitlines() if str(folder) not in line]
    assert found
    told = " ".join(told.split())
    assert all(" ".join(line.split()) in told for line in found), (found, told)
    same(folder / "work" / marks, folder / "line" / marks)
    with contextlib.chdir(folder / "line"):
        ran("recipe", "tile/art/tile.png", "--finished", "-o", "tile/tile.toml")
        ran("export", "tile/tile.toml", "-o", "tile/tile-files/tile.png", "--dpi", "300")
    for name in ("tile.toml", "tile-files"):
        same(folder / "work" / "tile" / name, folder / "line" / "tile" / name)


def changed_and_new_drawings(chromium: Any, folder: Path) -> None:
    files = write_motifs(folder / "mine", 4)
    shutil.copytree(folder / "mine", folder / "four")
    (folder / "work").mkdir()
    with page_at(chromium, folder / "work") as (page, _):
        begin(page, files, "Four")
        (folder / "mine" / "m0.svg").write_text(files[0].read_text().replace("c02020", "f08010"))
        shutil.copy(folder / "mine" / "m3.svg", folder / "mine" / "late.svg")
        for name in ("m0.svg", "late.svg"):
            drop(page, folder / "mine" / name)
            page.wait_for_function(
                "name => window.board?.store.data.motifs.some(one => one.name === name)"
                " && document.body.dataset.ready",
                arg=name.removesuffix(".svg"),
            )
        page.wait_for_function(
            "() => window.board?.store.data.pictures.motifs.m0.markup.includes('#f08010')"
        )
        page.click("#motifs [data-motif=late]")
        save(page)
        late = page.evaluate("board.store.rows.at(-1)")
        rank = page.evaluate("board.store.now.motifs.late.rank")
    own = folder / "work" / "four"
    # The command line's: the four begun, the same drawings in their folder then, and a line each
    # for the new one's rank and place.
    line = folder / "line"
    shutil.copytree(folder / "four", line / "art")
    recipe = line / "four.toml"
    ran("recipe", line / "art", "-o", recipe, "--density", "medium")
    ran("toss", recipe)
    for name in ("m0.svg", "late.svg"):
        shutil.copy(folder / "mine" / name, line / "art")
    same(own / "art" / "m0.svg", line / "art" / "m0.svg")
    same(own / "art" / "late.svg", line / "art" / "late.svg")
    assert rank in ("hero", "secondary", "filler")
    text = with_motifs(recipe.read_text(), {"late": {"rank": rank}})
    placed = (*read_recipe(recipe).placements, Placed("late", at=tuple(late["at"])))
    recipe.write_text(with_placements(text, placed))
    same(own / "four.toml", recipe)
    for one, out in ((own / "four.toml", "a.png"), (recipe, "b.png")):
        ran("export", one, "-o", folder / out, "--dpi", "40")
    same(folder / "a.png", folder / "b.png")


def changed_drawing_of_another_design(chromium: Any, folder: Path) -> None:
    """A design that was not begun on the page takes a changed drawing, and originals stay."""
    recipe, line = twice(folder)
    before = (recipe.parent / "art" / "m0.svg").read_bytes()
    changed = folder / "m0.svg"
    changed.write_text(before.decode().replace("c02020", "f08010"))
    with page_at(chromium, recipe) as (page, _):
        drop(page, changed)
        page.wait_for_function(
            "() => window.board?.store.data.pictures.motifs.m0?.markup.includes('#f08010')"
        )
    assert (recipe.parent / "art" / "m0.svg").read_bytes() == before
    shutil.copy(changed, line.parent / "art")
    for one, out in ((recipe, "a.png"), (line, "b.png")):
        ran("export", one, "-o", folder / out, "--dpi", "40")
    same(folder / "a.png", folder / "b.png")


TASKS: dict[str, Task] = {
    "begin from ten drawings": ten_drawings,
    "begin from pixel motifs": pixel_motifs,
    "begin from a drawn page": drawn_page,
    "check a finished tile": finished_tile,
    "a changed drawing, and a new one": changed_and_new_drawings,
    "a changed drawing of a design not begun here": changed_drawing_of_another_design,
}
