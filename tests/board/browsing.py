"""Helpers for tests of the board: small art, a board at work, the browser that looks at it."""

from __future__ import annotations

import base64
import http.client
import importlib
import io
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, NoReturn

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from support import svg

from vecrepeat.sources.source import open_source
from vecrepeat.util.fonts import installed_fonts
from vecrepeat.write.exporting import Exporter

Pixels = NDArray[np.uint8]

DISC = '<circle id="disc" cx="20" cy="50" r="10" fill="#c02020"/>'
LEAF = (
    '<g id="leaf"><linearGradient id="green"><stop stop-color="#1f6f3a"/>'
    '<stop offset="1" stop-color="#9fcf70"/></linearGradient>'
    '<path d="M60 20C75 10 90 25 88 45C70 48 58 38 60 20Z" fill="url(#green)"/></g>'
)
SQUARE = '<rect id="square" x="40" y="70" width="16" height="16" fill="#2040c0"/>'
GROUND = '<rect width="100" height="100" fill="#f4e8d0"/>'

NO_FILES = [pytest.param(Path.mkdir, id="a folder")]
"""What makes another thing than a file of a path."""
if sys.platform != "win32":
    NO_FILES.append(pytest.param(os.mkfifo, id="a pipe"))

RECIPE = """# Drawn in May.
name = "three"   # for the shop
art = ["art.svg"]
tile = "100x100mm"
layout = "half-drop"  # as the client wants it

placement = [
    {motif = "disc", at = [20, 50]},  # stays near the middle
    {motif = "leaf", at = [74.2, 30.5]},
    {motif = "square", at = [48, 78]},
]

# Colours are to come.
"""


def write_art(
    folder: Path, recipe: str = RECIPE, body: str = GROUND + DISC + LEAF + SQUARE
) -> Path:
    """Write a drawing of three motifs and a recipe for it; return the recipe."""
    (folder / "art.svg").write_text(svg(body), encoding="utf-8")
    file = folder / "three.toml"
    file.write_bytes(recipe.encode())
    return file


@dataclass
class Board:
    """A board at work in a process of its own."""

    process: subprocess.Popen[str]
    address: str

    @property
    def port(self) -> int:
        return int(self.address.split(":")[2].partition("/")[0])

    @property
    def design(self) -> str:
        """The query that says which design the board was opened on."""
        return self.address.partition("#")[0].partition("?")[2]

    def at(self, path: str) -> str:
        """A path with the design in its query, where it is the server's to answer."""
        return f"{path}?{self.design}" if path.startswith("/api/") and "?" not in path else path

    @property
    def token(self) -> str:
        return self.address.partition("#")[2]

    def ask(
        self, path: str, body: Any = None, *, token: str | None = None, **headers: str
    ) -> tuple[int, dict[str, str], bytes]:
        """Send a request; return status, headers and body."""
        given = {"X-Board-Token": self.token if token is None else token}
        given |= {name.replace("_", "-"): value for name, value in headers.items()}
        data = None if body is None else json.dumps(body)
        with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)) as line:
            line.request("GET" if body is None else "POST", self.at(path), data, given)
            answer = line.getresponse()
            return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()

    def kill(self) -> None:
        """End it as a crash would."""
        self.process.kill()
        self.process.wait()


@contextmanager
def board_of(recipe: Path, *options: str) -> Iterator[Board]:
    """A board of a recipe, or of a drawing, while it is needed."""
    for needed in ("starlette", "uvicorn"):
        if importlib.util.find_spec(needed) is None:
            missing(needed)
    command = [sys.executable, "-m", "vecrepeat", "board", str(recipe), "--no-browser", *options]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        try:
            address = process.stdout.readline().strip()
            assert address, process.stderr.read() if process.stderr else ""
            yield Board(process, address)
        finally:
            process.kill()


def missing(what: str) -> NoReturn:
    """Skip a test for want of something, or fail it where judges are required."""
    if os.environ.get("VECREPEAT_JUDGES") == "required":
        pytest.fail(f"{what} is required and not installed")
    pytest.skip(f"{what} is not installed")


@contextmanager
def browser(*flags: str) -> Iterator[Any]:
    """Debian's Chromium, driven by playwright."""
    program = shutil.which("chromium") or missing("chromium")
    if not installed_fonts():
        missing("a font, without which the page has no words,")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing("playwright")
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(
            executable_path=program, args=["--no-sandbox", "--force-color-profile=srgb", *flags]
        )
        try:
            yield found
        finally:
            found.close()


def looked_at(tab: Any, board: Board) -> Any:
    """Open a board's page in a tab and wait until it is ready."""
    tab.goto(board.address)
    tab.wait_for_selector("body[data-ready]")
    return tab


def station(tab: Any, name: str) -> None:
    """Open a station of the card."""
    tab.click(f"#to-{name}")
    tab.wait_for_selector(f"#station-{name}:not([hidden])")


def faults_of(page: Any, within: str = "body") -> dict[str, Any]:
    """What axe finds on a page without our policy, and targets that are too small."""
    try:
        from axe_playwright_python.sync_playwright import Axe
    except ImportError:
        missing("axe-playwright-python")
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    # All that passes would be many times as long to send.
    options = {"runOnly": {"type": "tag", "values": tags}, "resultTypes": ["violations"]}
    # What is asked of a whole page is not asked of a part.
    found = Axe().run(page, context=None if within == "body" else within, options=options)
    faults: dict[str, Any] = {
        v["id"]: [n["html"][:120] for n in v["nodes"]] for v in found.response["violations"]
    }
    # WCAG 2.2 §2.5.5, Target Size (Enhanced): 44 by 44 CSS pixels.
    small = page.evaluate(
        """within => [...document.querySelector(within).querySelectorAll(
                'button, select, summary, input, [role=option], #marks .target'
            )]
            .filter(one => one.getClientRects().length)
            .map(one => {
                const { width, height } = (one.closest('.tick') ?? one).getBoundingClientRect();
                return [one.id || one.textContent, width, height];
            })
            .filter(([, width, height]) => width < 43.9 || height < 43.9)""",
        within,
    )
    return faults | ({"small": small} if small else {})


def rested(tab: Any) -> None:
    """Wait until the page's picture is that of what lies on the cloth, and all is kept."""
    tab.evaluate(
        """async () => {
            await board.store.send();
            await board.table.settle();
            await board.table.cloth.refresh();
        }"""
    )


def cloth_pixels(tab: Any) -> Pixels:
    """The page's own picture of the cloth, RGBA."""
    return canvas_pixels(tab, "document.getElementById('weave').toDataURL('image/png')")


def canvas_pixels(tab: Any, script: str) -> Pixels:
    """The picture whose data address a script returns, RGBA."""
    data = tab.evaluate(script)
    with Image.open(io.BytesIO(base64.b64decode(data.partition(",")[2]))) as image:
        return np.array(image.convert("RGBA"))


def on_page(tab: Any, x: float, y: float) -> tuple[int, int]:
    """Where a place of the cloth in mm is on the page."""
    px, py = tab.evaluate("point => board.table.view.toPage(point)", [x, y])
    return round(px), round(py)


def colour_at(tab: Any, x: float, y: float) -> tuple[int, int, int]:
    """The cloth's colour at a place in mm."""
    px, py = on_page(tab, x, y)
    r, g, b, _ = cloth_pixels(tab)[py, px].tolist()
    return r, g, b


def near(colour: tuple[int, int, int], wanted: str) -> bool:
    """Whether a colour is #rrggbb but for rounding."""
    value = int(wanted[1:], 16)
    parts = (value >> 16, value >> 8 & 255, value & 255)
    return all(abs(a - b) <= 3 for a, b in zip(colour, parts, strict=True))


def page_against_export(tab: Any, recipe: Path, folder: Path) -> float:
    """Mean difference in levels between the page's tile and the export's at the same size."""
    tab.evaluate(
        """async () => {
            const { table } = board;
            table.view.zx = table.view.zy = 5;
            table.view.settle(table.view.middle, table.lie);
            const [px, py] = table.view.toPage([0, 0]);
            table.view.slide(60 - px, 60 - py);
            table.view.square();
            await table.cloth.refresh();
        }"""
    )
    size, corner = tab.evaluate(
        "[board.table.cloth.cellPixels, board.table.view.toPage([0, 0]).map(Math.round)]"
    )
    assert size == [500, 500]
    x, y = corner
    seen = cloth_pixels(tab)[y : y + 500, x : x + 500, :3].astype(float)
    file = folder / "tile.png"
    exporter = Exporter(open_source(recipe).repeat)
    # 500 px over 100 mm.
    exporter.write(str(file), exporter.sheet(exporter.plan(Fraction(127))))
    with Image.open(file) as image:
        printed = np.array(image.convert("RGB")).astype(float)
    assert printed.shape == seen.shape
    return float(np.abs(seen - printed).mean())


def carry(tab: Any, start: tuple[float, float], end: tuple[float, float]) -> None:
    """Take hold at a place in mm, and move to another without letting go."""
    tab.mouse.move(*on_page(tab, *start))
    tab.mouse.down()
    x0, y0 = on_page(tab, *start)
    tab.mouse.move(x0 + 9, y0)
    tab.wait_for_function("() => board.table.carrying?.rows && board.table.cloth.layered")
    tab.mouse.move(*on_page(tab, *end), steps=3)
    tab.evaluate(
        "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"
    )


def thread_watch(page: Any) -> Callable[[], float]:
    """Return what tells how many seconds of the processor the page's thread has taken so far."""
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable", {"timeDomain": "threadTicks"})

    def busy() -> float:
        found = session.send("Performance.getMetrics")["metrics"]
        return next(float(one["value"]) for one in found if one["name"] == "TaskDuration")

    return busy


def drop(page: Any, file: Path) -> None:
    """Drop a file on a page as a hand does."""
    page.evaluate(
        """([name, text]) => {
            const transfer = new DataTransfer();
            transfer.items.add(new File([text], name, { type: 'image/svg+xml' }));
            const told = { bubbles: true, cancelable: true, dataTransfer: transfer };
            document.body.dispatchEvent(new DragEvent('drop', told));
        }""",
        [file.name, file.read_text()],
    )
