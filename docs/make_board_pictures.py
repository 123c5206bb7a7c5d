"""Make the pictures of docs/board.md and docs/first-design.md: the board at work, in Chromium.

Usage: python docs/make_board_pictures.py [FOLDER]

Needs the extras `board` and `test`, and a chromium on the path.
"""

from __future__ import annotations

import io
import math
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import Page, sync_playwright

from vecrepeat.art.read import read_art
from vecrepeat.core.geometry import Affine
from vecrepeat.core.names import slug
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Repeat
from vecrepeat.sources.first import start_recipe
from vecrepeat.write.svg import tile_svg

DOCS = Path(__file__).parent
DEMO = DOCS.parent / "demo-svg"
LIMIT = 400_000
"""The most bytes a picture may have."""

SIZES = {"phone": (390, 844), "tablet": (820, 1180), "desktop": (1440, 900)}
"""A page's width and height in CSS pixels."""

STATIONS = ("arrange", "tile", "colour", "look", "files")

SHELF = {"night-garden": "half-drop", "pomegranate": "cm", "ogee": "c2mm"}
"""Designs on the shelf, by demo drawing, with their layouts."""

TALL, GAP = 480, 12
"""Pixels that pages side by side are high, and between them."""


@contextmanager
def board(name: str, layout: str) -> Iterator[str]:
    """Serve a demo drawing's board from a scratch folder, and give its address."""
    with tempfile.TemporaryDirectory() as folder:
        art = Path(folder) / f"{name}.svg"
        shutil.copy(DEMO / art.name, art)
        start_recipe([art], art.with_suffix(".toml"), layout=Layout.parse(layout))
        with served(art) as address:
            yield address


@contextmanager
def served(target: Path) -> Iterator[str]:
    """Serve a board, and give its address."""
    command = [sys.executable, "-m", "vecrepeat", "board", str(target), "--no-browser"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as process:
        assert process.stdout is not None
        try:
            yield process.stdout.readline().strip()
        finally:
            process.kill()


def write_motifs(folder: Path) -> list[Path]:
    """Write ten motifs of a demo drawing, each in a file of its own."""
    drawing = read_art(DEMO / "night-garden.svg")
    folder.mkdir()
    files = []
    for motif in drawing.motifs[:10]:
        box = motif.box
        side = Fraction(math.ceil(max(box.width, box.height)) + 10)
        alone = Repeat.alone(motif, side, Affine.translation(5 - box[0], 5 - box[1]))
        files.append(folder / f"{slug(motif.name)}.svg")
        files[-1].write_text(tile_svg(alone), encoding="utf-8")
    return files


def first_design(browser: Any, folder: Path) -> None:
    """Go from ten drawings to a file, and keep a picture of each stage."""
    with tempfile.TemporaryDirectory() as place:
        files = write_motifs(Path(place) / "mine")
        work = Path(place) / "designs"
        work.mkdir()
        with served(work) as address:
            page = browser.new_context(viewport={"width": 1280, "height": 800}).new_page()
            page.set_default_timeout(240_000)
            page.goto(address)
            page.wait_for_selector("body[data-ready]")
            page.set_input_files("#files", [str(file) for file in files])
            page.fill("#title", "Moth garden")
            keep(page, "first-begin", folder, 900)
            page.click("#begin")
            page.wait_for_selector("body[data-ready] #cloth")
            page.wait_for_timeout(4500)
            keep(page, "first-cloth", folder, 900)
            page.click("#to-tile")
            page.click("#kinds [data-kind=drop]")
            page.fill("#groundcode", "#141e3c")
            page.keyboard.press("Tab")
            page.locator("#kinds").scroll_into_view_if_needed()
            page.wait_for_timeout(4500)
            keep(page, "first-tile", folder, 900)
            page.click("#to-arrange")
            page.click("#arranging > summary")
            page.click("#trials")
            page.fill("#trialseeds", "12")
            page.click("#trialbegin")
            page.wait_for_selector("#triallist button")
            keep(page, "first-trials", folder, 900)
            page.locator("#triallist button").first.click()
            page.wait_for_selector("#lay:not([disabled])")
            page.click("#to-colour")
            page.click("#maincolours button >> nth=1")
            # A finger's way along the slider, and its end.
            page.evaluate(
                """() => {
                    const hue = document.getElementById('mixhue');
                    hue.value = 20;
                    hue.dispatchEvent(new Event('input'));
                    hue.dispatchEvent(new Event('change'));
                }"""
            )
            page.wait_for_selector("#ways [aria-pressed=true]:has-text('my colours')")
            page.wait_for_timeout(4500)
            keep(page, "first-colour", folder, 900)
            page.click("#to-look")
            page.check("#seeclearance")
            page.click("#check")
            page.wait_for_selector("#findings li")
            page.locator("#check").scroll_into_view_if_needed()
            page.wait_for_timeout(4500)
            keep(page, "first-look", folder, 900)
            page.click("#to-files")
            page.select_option("#filegoods", "cloth")
            page.click("#write")
            page.wait_for_selector("#jobs .job:first-child[data-state=done]")
            page.wait_for_timeout(4500)
            page.locator("#written").scroll_into_view_if_needed()
            keep(page, "first-files", folder, 900)


def opened(browser: Any, address: str, size: str) -> Page:
    """Open a page of the board at a size."""
    width, height = SIZES[size]
    page: Page = browser.new_context(viewport={"width": width, "height": height}).new_page()
    page.set_default_timeout(240_000)
    page.goto(address)
    page.wait_for_selector("body[data-ready]")
    return page


def at_three_sizes(browser: Any, folder: Path) -> None:
    """Keep a picture of the first page and of each station: phone, tablet and desktop."""
    seen: dict[str, list[Image.Image]] = {}
    with tempfile.TemporaryDirectory() as place:
        work = Path(place) / "prints"
        work.mkdir()
        for name, layout in SHELF.items():
            art = work / f"{name}.svg"
            shutil.copy(DEMO / art.name, art)
            start_recipe([art], art.with_suffix(".toml"), layout=Layout.parse(layout))
        with served(work) as address:
            for size in SIZES:
                page = opened(browser, address, size)
                page.wait_for_function(
                    "count => document.querySelectorAll('#shelf img').length === count",
                    arg=len(SHELF),
                )
                seen.setdefault("shelf", []).append(shot(page))
                page.click("[data-design='night-garden.toml']")
                page.wait_for_selector("body[data-ready] #cloth")
                page.locator("#cloth").focus()
                for _ in range(3):
                    page.keyboard.press("n")
                page.wait_for_timeout(4500)
                if page.get_attribute("#cardfold", "aria-expanded") == "false":
                    page.click("#cardfold")
                for station in STATIONS:
                    page.click(f"#to-{station}")
                    prepare(page, station)
                    seen.setdefault(station, []).append(shot(page))
                page.context.close()
    for name, pages in seen.items():
        save(side_by_side(pages), f"three-{name}", folder, 200)


def on_the_table(browser: Any, folder: Path) -> None:
    """Keep pictures of a collection: one of its colours moved, a blender beside the hero."""
    seen = []
    with tempfile.TemporaryDirectory() as place:
        work = Path(place) / "low-tide"
        shutil.copytree(DEMO / "low-tide", work)
        with served(work) as address:
            for size in SIZES:
                page = opened(browser, address, size)
                page.click("#newblender")
                page.wait_for_selector("#keep:not([disabled])")
                page.click("#maincolours [data-key=lagoon]")
                page.wait_for_function("() => board.table.pieces.get('rock-pool').tinted")
                page.wait_for_function("() => board.table.pieces.get('shell-cabinet').tinted")
                page.evaluate(
                    """() => {
                        for (const [id, value] of [['mixhue', 320], ['mixlight', 48]]) {
                            document.getElementById(id).value = value;
                            document.getElementById(id).dispatchEvent(new Event('input'));
                        }
                    }"""
                )
                page.wait_for_timeout(3000)
                if size == "desktop":
                    keep(page, "collection", folder, 1280)
                seen.append(shot(page))
                page.context.close()
    save(side_by_side(seen), "three-collection", folder, 160)


def prepare(page: Page, station: str) -> None:
    """Wait until a station shows what it is for."""
    if station == "colour":
        page.wait_for_selector("#maincolours button")
        page.wait_for_selector("#alike li")
    if station == "look":
        page.check("#seeclearance")
        page.wait_for_selector("#seen:has-text('clearance')")
        page.evaluate("document.getElementById('cardbody').scrollTop = 0")
    if station == "files":
        page.select_option("#filegoods", "cloth")
        page.wait_for_selector("#foreseen:has-text('px')")


def shot(page: Page) -> Image.Image:
    """Return what is seen."""
    page.wait_for_timeout(400)
    with Image.open(io.BytesIO(page.screenshot())) as found:
        return found.convert("RGB")


def side_by_side(pages: list[Image.Image]) -> Image.Image:
    """Return pages beside each other, all as high."""
    small = [
        one.resize((round(one.width * TALL / one.height), TALL), Image.Resampling.LANCZOS)
        for one in pages
    ]
    width = sum(one.width for one in small) + GAP * (len(small) - 1)
    whole, x = Image.new("RGB", (width, TALL), "white"), 0
    for one in small:
        whole.paste(one, (x, 0))
        x += one.width + GAP
    return whole


def keep(page: Page, name: str, folder: Path, width: int) -> None:
    """Save what is seen, reduced to a width and to few colours."""
    found = shot(page)
    height = round(found.height * width / found.width)
    save(found.resize((width, height), Image.Resampling.LANCZOS), name, folder, 200)


def save(picture: Image.Image, name: str, folder: Path, colours: int) -> None:
    """Save a picture in few colours."""
    few = picture.quantize(colours, dither=Image.Dither.NONE)
    file = folder / f"board-{name}.png"
    few.save(file, optimize=True)
    size = file.stat().st_size
    assert size <= LIMIT, f"{file} has {size:,} bytes"
    print(f"{file} {few.width} × {few.height}, {size:,} bytes")


def hold(page: Page, name: str, by: tuple[float, float]) -> None:
    """Take hold of a motif's middle, and carry it by so many pixels."""
    x, y = page.evaluate(
        """async name => {
            const { table, store } = board;
            const key = store.now.order.find(one => store.now.rows.get(one).motif === name);
            table.pick(key, table.nearestCopy(key));
            const [[a], , [c]] = [table.frames()[0], 0, table.frames()[0].slice(2)];
            const middle = table.view.toPage([(a[0] + c[0]) / 2, (a[1] + c[1]) / 2]);
            for (let r = 0; r < 40; r += 2) {
                const point = [middle[0] - r, middle[1]];
                if (table.motifAt(point, 0)?.key === key) return point;
            }
        }""",
        name,
    )
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 8, y)
    page.wait_for_function("() => board.table.cloth.layered")
    page.mouse.move(x + by[0], y + by[1], steps=4)


def main() -> None:
    """Make every picture."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else DOCS / "pictures"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        first_design(browser, folder)
        at_three_sizes(browser, folder)
        on_the_table(browser, folder)
        with board("night-garden", "half-drop") as address:
            page = opened(browser, address, "desktop")
            hold(page, "Emperor moth", (212, 74))
            keep(page, "desktop", folder, 1000)
        browser.close()


if __name__ == "__main__":
    main()
