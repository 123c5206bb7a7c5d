"""Measure the board's frames while a colour is moved on a cloth of 467 motifs, by hand.

Usage: PYTHONPATH=tests python tests/board/recolour_frames.py [RECIPE]

By default it makes a half-drop of 467 motifs with gradients and blurred shadows. It moves the
hue of each of the three main colours seen most, and prints the times between animation frames;
headless Chromium without a graphics card paints and composes in software. On a busy machine a
frame comes late however short it is, so the processor's time of the page's thread is told too. It
also prints by how many levels of 255 the moved picture is off the exact one that comes after it.
"""

from __future__ import annotations

import random
import statistics
import sys
import tempfile
from pathlib import Path

import numpy as np
from browsing import board_of, browser, cloth_pixels, looked_at, station, thread_watch
from support import svg

from vecrepeat.board.desk import Desk
from vecrepeat.recipe.edit import with_placements
from vecrepeat.recipe.model import Placed
from vecrepeat.repeat.layout import Layout
from vecrepeat.sources.first import start_recipe

MOTIFS, FRAMES = 467, 180
COLOURS = ("#c0392b", "#e67e22", "#f1c40f", "#27ae60", "#16a085", "#2980b9", "#8e44ad", "#d35400")


def many(folder: Path) -> Path:
    """Write a half-drop recipe of 467 motifs, at random but always the same; return it."""
    body = '<rect width="100" height="100" fill="#1b2a49"/>'
    for k, colour in enumerate(COLOURS):
        x, y, other = 12 + 25 * (k % 4), 25 + 45 * (k // 4), COLOURS[(k + 3) % 8]
        body += (
            f'<g id="m{k}"><linearGradient id="g{k}"><stop stop-color="{colour}"/><stop offset="1" '
            f'stop-color="{other}"/></linearGradient><filter id="f{k}" x="-20%" y="-20%" '
            f'width="140%" height="140%"><feGaussianBlur stdDeviation="0.4"/></filter>'
            f'<circle cx="{x + 0.6}" cy="{y + 0.6}" r="6" fill="#0d1525" filter="url(#f{k})"/>'
            f'<circle cx="{x}" cy="{y}" r="6" fill="url(#g{k})"/>'
            f'<circle cx="{x}" cy="{y}" r="2" fill="#fdf6e3" opacity="0.8"/></g>'
        )
    (folder / "drawn.svg").write_text(svg(body))
    recipe = folder / "many.toml"
    start_recipe([folder / "drawn.svg"], recipe, layout=Layout.parse("half-drop"), as_drawn=True)
    dice = random.Random(7)
    names = list(Desk(recipe).source.pool.motifs)
    placed = [
        Placed(
            names[k % len(names)],
            (round(dice.uniform(0, 100), 2), round(dice.uniform(0, 100), 2)),
            float(dice.randrange(360)),
            round(dice.uniform(0.3, 0.6), 2),
        )
        for k in range(MOTIFS)
    ]
    recipe.write_text(with_placements(recipe.read_text(), placed))
    return recipe


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        recipe = Path(sys.argv[1]) if len(sys.argv) > 1 else many(Path(name))
        with board_of(recipe) as board, browser() as found:
            tab = looked_at(found.new_page(viewport={"width": 1280, "height": 800}), board)
            station(tab, "colour")
            tab.wait_for_selector("#maincolours button", timeout=200_000)
            busy = thread_watch(tab)
            for which in range(3):
                tab.click(f"#maincolours button >> nth={which}")
                title = tab.get_attribute(f"#maincolours button >> nth={which}", "title")
                ready = tab.evaluate(
                    """async () => {
                        const from = performance.now();
                        const hue = document.getElementById('mixhue');
                        while (!board.table.cloth.quick) {
                            hue.dispatchEvent(new Event('input'));
                            await new Promise(requestAnimationFrame);
                        }
                        return performance.now() - from;
                    }"""
                )
                before = busy()
                times = tab.evaluate(
                    """async frames => {
                        const hue = document.getElementById('mixhue');
                        const times = [];
                        let last = 0;
                        for (let k = 0; k < frames; k++) {
                            hue.value = (200 + k) % 360;
                            hue.dispatchEvent(new Event('input'));
                            const now = await new Promise(requestAnimationFrame);
                            if (last) times.push(now - last);
                            last = now;
                        }
                        return times;
                    }""",
                    FRAMES,
                )
                took = (busy() - before) / FRAMES * 1000
                moved = cloth_pixels(tab)[..., :3].astype(float)
                tab.evaluate("document.getElementById('mixhue').dispatchEvent(new Event('change'))")
                tab.wait_for_function("() => !board.table.cloth.quick", timeout=60_000)
                off = np.abs(cloth_pixels(tab)[..., :3].astype(float) - moved)
                times.sort()
                print(
                    f"{title}: ready after {ready:.0f} ms; median {statistics.median(times):.1f} "
                    f"ms a frame, 95th percentile {times[int(len(times) * 0.95)]:.1f} ms, worst "
                    f"{times[-1]:.1f} ms; {took:.1f} ms of the processor each; off the exact "
                    f"picture by {off.mean():.2f} levels, "
                    f"99th percentile {np.percentile(off, 99):.0f}"
                )


if __name__ == "__main__":
    main()
