"""The proof page in a real browser."""

from __future__ import annotations

import importlib
import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from support import DEMO, vecrepeat

from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.wrap import copies
from vecrepeat.sources.source import open_source
from vecrepeat.util.fonts import installed_fonts

CHROMIUM = shutil.which("chromium")
if CHROMIUM is None and os.environ.get("VECREPEAT_JUDGES") != "required":
    pytest.skip("chromium is not installed", allow_module_level=True)
if not installed_fonts():
    pytest.skip("no font is installed, and the page has no words", allow_module_level=True)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    playwright = importlib.import_module("playwright.sync_api")
    with playwright.sync_playwright() as driver:
        launched = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield launched
        launched.close()


def opened(browser: Any, file: Path) -> Any:
    """A page opened from its file; what it complains of is in its `told`."""
    page = browser.new_page(viewport={"width": 1100, "height": 700})
    page.told = []
    page.on("console", lambda message: page.told.append(message.text))
    page.on("pageerror", lambda error: page.told.append(str(error)))
    page.on(
        "request",
        lambda request: (
            page.told.append(request.url)
            if not request.url.startswith(("file:", "blob:", "data:"))
            else None
        ),
    )
    page.goto(file.as_uri())
    settled(page)
    return page


@pytest.fixture(scope="module")
def page(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The page of the ogee."""
    file = tmp_path_factory.mktemp("page") / "ogee.html"
    run = vecrepeat("proof", DEMO / "ogee.svg", "-o", file, "--layout", "c2mm")
    assert run.code == 0, run.err
    return opened(browser, file)


def settled(page: Any) -> None:
    """Wait until the cloth is drawn sharply."""
    page.wait_for_selector("body[data-ready]", timeout=30_000)
    page.wait_for_timeout(400)


def cloth(page: Any, folder: Path) -> np.ndarray:
    page.locator("#cloth").screenshot(path=str(folder / "cloth.png"))
    with Image.open(folder / "cloth.png") as image:
        return np.asarray(image.convert("RGB")).astype(int)


def test_it_opens_without_a_word_and_asks_for_nothing(page: Any) -> None:
    assert page.told == []


def test_copies_in_view_are_those_that_python_finds(page: Any) -> None:
    repeat = open_source(DEMO / "ogee.svg").page.with_layout("c2mm")
    data = json.loads(page.evaluate("document.getElementById('data').textContent"))
    layout = data["layouts"][0]
    region = Rect(-37.0, 11.0, 260.0, 301.0)
    ours = {(c.placement, c.i, c.j) for c in copies(repeat, region)}
    boxes = np.array([p["box"] for p in layout["placements"]])
    assert boxes == pytest.approx(repeat.boxes, abs=1e-3)
    drawn = {tuple(copy) for copy in page.evaluate("copiesIn([-37, 11, 260, 301])")}
    # By their boxes: every copy whose box meets the region, over far more steps than needed.
    expected = set()
    for placement, (x0, y0, x1, y1) in enumerate(boxes.tolist()):
        for i in range(-12, 13):
            for j in range(-12, 13):
                dx, dy = (float(v) for v in repeat.lattice.at(i, j))
                across = x0 + dx < region.x1 and x1 + dx > region.x0
                if across and y0 + dy < region.y1 and y1 + dy > region.y0:
                    expected.add((placement, i, j))
    assert drawn == expected
    assert ours <= drawn


def test_true_size_is_a_card_wide_on_this_screen(page: Any) -> None:
    page.click("#true")
    settled(page)
    # What tells the scale neither reads nor looks like the button that sets it.
    words = [word.inner_text() for word in page.locator(".strip > *").all()]
    assert words.count("true size") == 1
    assert page.inner_text("#scale") == "1 : 1"
    edge = "getComputedStyle(document.getElementById('{}')).borderTopStyle"
    assert page.evaluate(edge.format("true")) == "solid"
    assert page.evaluate(edge.format("scale")) == "none"
    width = page.evaluate("document.getElementById('bar').getBoundingClientRect().width")
    # CSS Values: 96 px are an inch; ISO/IEC 7810 ID-1 is 85.60 mm wide (from memory).
    assert width == pytest.approx(85.6 * 96 / 25.4, abs=0.5)


def test_keys_move_and_change_the_size(page: Any, tmp_path: Path) -> None:
    page.click("#true")
    page.focus("#cloth")
    settled(page)
    before = cloth(page, tmp_path)
    page.keyboard.press("ArrowRight")
    settled(page)
    after = cloth(page, tmp_path)
    # 60 px to the right; ruler, buttons and marks stay where they are.
    band = slice(80, 560)
    assert np.abs(after[band, :-60] - before[band, 60:]).mean() < 2
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("-")
    settled(page)
    assert page.inner_text("#scale").startswith("1 : ")


def test_another_layout_is_drawn(page: Any, tmp_path: Path) -> None:
    page.click("#true")
    settled(page)
    before = cloth(page, tmp_path)
    page.select_option("#layout", label="half-drop")
    settled(page)
    assert np.abs(cloth(page, tmp_path) - before).mean() > 2
    page.select_option("#layout", index=0)
    settled(page)
    assert np.abs(cloth(page, tmp_path) - before).mean() < 0.5


RECIPE = """
name = "two ways"
art = ["page.svg"]

[[colourway]]
name = "night"
ground = "#203050"
colours = { "#cc2020" = "#ffd040" }
"""
PAGE = """
<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" viewBox="0 0 40 40">
<rect width="40" height="40" fill="#f4efe0"/>
<linearGradient id="g"><stop stop-color="#cc2020"/><stop offset="1" stop-color="#cc2020"/>
</linearGradient>
<rect id="flat" x="2" y="2" width="16" height="36" fill="#cc2020"/>
<rect id="shaded" x="22" y="2" width="16" height="36" fill="url(#g)"/>
</svg>"""


def test_another_colourway_is_worn_by_ground_paint_gradients_and_chips(
    browser: Any, tmp_path: Path
) -> None:
    (tmp_path / "page.svg").write_text(PAGE)
    (tmp_path / "two.toml").write_text(RECIPE)
    run = vecrepeat("proof", tmp_path / "two.toml", "-o", tmp_path / "two.html")
    assert run.code == 0, run.err
    page = opened(browser, tmp_path / "two.html")

    def shares(*wanted: tuple[int, int, int]) -> list[float]:
        pixels = cloth(page, tmp_path)
        return [float((np.abs(pixels - colour).max(axis=2) <= 1).mean()) for colour in wanted]

    drawn = ((0xF4, 0xEF, 0xE0), (0xCC, 0x20, 0x20))
    worn = ((0x20, 0x30, 0x50), (0xFF, 0xD0, 0x40))
    assert min(shares(*drawn)) > 0.15
    assert max(shares(*worn)) < 0.01
    page.select_option("#colourway", label="night")
    settled(page)
    # Of a tile 72 % is the two rectangles: half of that each.
    ground, paint = shares(*worn)
    assert ground == pytest.approx(0.28, abs=0.12)
    assert paint == pytest.approx(0.72, abs=0.15)
    assert max(shares(*drawn)) < 0.01
    assert "#ffd040" in page.inner_text("#palette")
    page.select_option("#colourway", index=0)
    settled(page)
    assert min(shares(*drawn)) > 0.15
    assert page.told == []


def test_across_the_room_repeats_the_block(page: Any, tmp_path: Path) -> None:
    page.click("#room")
    settled(page)
    page.wait_for_timeout(500)
    picture = cloth(page, tmp_path)[60:560]
    assert page.inner_text("#scale") == "1 : 10"
    assert picture.std() > 20
    page.click("#true")


@pytest.mark.parametrize(("width", "height"), [(390, 844), (820, 1180), (1280, 800)])
def test_everything_can_be_reached_and_hit_on_any_screen(
    page: Any, width: int, height: int
) -> None:
    page.set_viewport_size({"width": width, "height": height})
    small = page.evaluate(
        """[...document.querySelectorAll("button, select, input")].filter((e) => {
            const b = e.getBoundingClientRect();
            return b.width && (b.height < 44 || b.width < 44 || b.right > innerWidth + 1);
        }).map((e) => e.id || e.textContent)"""
    )
    assert small == []
    page.set_viewport_size({"width": 1100, "height": 700})


def test_axe_finds_nothing_serious(page: Any) -> None:
    axe = importlib.import_module("axe_playwright_python.sync_playwright").Axe()
    found = axe.run(page).response["violations"]
    assert [v["id"] for v in found if v["impact"] in ("serious", "critical")] == []
