"""How long the page's thread is held while a job runs and the cloth is slid about, by hand.

Usage: PYTHONPATH=tests python tests/board/long_tasks.py

For the demo drawing, twenty rich motifs and 467 motifs with gradients and blurred shadows: a
sheet is written, then a proof, and the cloth is slid all the while. It prints the browser's own
longtask entries, those of 50 ms and more by the clock, and how much of the processor's time the
page's thread took of it. On a busy machine a short task takes long by the clock.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from browsing import board_of, browser, looked_at, station, thread_watch  # noqa: E402
from first_cloth import rich_motifs  # noqa: E402
from recolour_frames import many  # noqa: E402
from support import DEMO, vecrepeat  # noqa: E402

SECONDS = 6


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder, browser() as chromium:
        places = {name: Path(folder) / name for name in ("demo", "rich", "many")}
        for place in places.values():
            place.mkdir()
        shutil.copy(DEMO / "night-garden.svg", places["demo"])
        demo = places["demo"] / "night-garden.toml"
        assert vecrepeat("recipe", demo.with_suffix(".svg"), "-o", demo).code == 0
        designs = {
            "the demo": demo,
            "20 rich motifs": rich_motifs(places["rich"]),
            "467 motifs": many(places["many"]),
        }
        for name, design in designs.items():
            with board_of(design) as board:
                page = chromium.new_page(viewport={"width": 1280, "height": 800})
                looked_at(page, board)
                for deed in ("sheet", "proof"):
                    hold(page, name, deed)
                page.close()


def hold(page: Any, name: str, deed: str) -> None:
    """Print the longest tasks while a job runs and the cloth is slid."""
    station(page, "files")
    page.select_option("#filedeed", deed)
    page.evaluate(
        """() => {
            window.long = [];
            window.watching ??= new PerformanceObserver(list => {
                for (const one of list.getEntries()) window.long.push(Math.round(one.duration));
            });
            window.watching.observe({ type: 'longtask' });
        }"""
    )
    busy = thread_watch(page)
    page.click("#write")
    page.wait_for_selector("#jobs .job[data-state=working]")
    page.mouse.move(500, 400)
    before, end, slides = busy(), time.perf_counter() + SECONDS, 0
    while time.perf_counter() < end:
        page.mouse.wheel(30, 20)
        page.wait_for_timeout(30)
        slides += 1
    state = page.get_attribute("#jobs .job", "data-state")
    page.wait_for_timeout(300)
    long = sorted(page.evaluate("window.long"), reverse=True)
    print(
        f"{name}, {deed} ({state}): tasks over 50 ms: {long[:8] or 'none'} (bar none); "
        f"{(busy() - before) / slides * 1000:.1f} ms of the processor a slide; "
        f"load {os.getloadavg()[0]:.1f}",
        flush=True,
    )
    if state == "working":
        page.click("#jobs .job button:has-text('Stop')")
        page.wait_for_selector("#jobs .job:first-child[data-state=stopped]")


if __name__ == "__main__":
    main()
