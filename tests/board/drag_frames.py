"""Measure the board's frames while one of 200 motifs is dragged, by hand.

Usage: PYTHONPATH=tests python tests/board/drag_frames.py [RECIPE]

By default it makes a half-drop of 200 motifs out of the demo drawing night-garden, some 18 kB
of paths each. It prints the times between animation frames twice: held to the screen's 60 Hz,
where a frame that is in time takes 16.7 ms, and let run free, which is what a frame takes.
Headless Chromium without a graphics card paints and composes in software.
"""

from __future__ import annotations

import random
import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any

from browsing import Board, board_of, browser, looked_at
from support import DEMO

from vecrepeat.board.desk import Desk
from vecrepeat.recipe.edit import with_placements
from vecrepeat.recipe.model import Placed
from vecrepeat.repeat.layout import Layout
from vecrepeat.sources.first import start_recipe

MOTIFS, FRAMES = 200, 360
FREE = ("--disable-frame-rate-limit", "--disable-gpu-vsync")


def many(folder: Path) -> Path:
    """Write a half-drop recipe of 200 motifs, at random but always the same; return it."""
    (folder / "night-garden.svg").write_bytes((DEMO / "night-garden.svg").read_bytes())
    recipe = folder / "many.toml"
    start_recipe(
        [folder / "night-garden.svg"], recipe, layout=Layout.parse("half-drop"), as_drawn=True
    )
    dice = random.Random(7)
    names = list(Desk(recipe).source.pool.motifs)
    placed = [
        Placed(
            names[k % len(names)],
            (round(dice.uniform(0, 254), 2), round(dice.uniform(0, 254), 2)),
            float(dice.randrange(360)),
            round(dice.uniform(0.25, 0.5), 2),
        )
        for k in range(MOTIFS)
    ]
    recipe.write_text(with_placements(recipe.read_text(), placed))
    return recipe


def measured(board: Board, flags: tuple[str, ...]) -> dict[str, Any]:
    """Drag a motif by real pointer events over 360 frames; return the frames' times in ms."""
    with browser(*flags) as found:
        tab = looked_at(found.new_page(viewport={"width": 1280, "height": 800}), board)
        x, y = tab.evaluate(
            """() => {
                const [mx, my] = board.table.view.middle;
                for (let r = 0; r < 300; r += 3) {
                    if (board.table.motifAt([mx + r, my], 0)) return [mx + r, my];
                }
            }"""
        )
        tab.mouse.move(x, y)
        tab.mouse.down()
        tab.evaluate(
            """() => {
                const { table } = board;
                const { carry } = table;
                window.started = performance.now();
                table.carry = (...given) => {
                    carry.apply(table, given);
                    window.lifted ??= performance.now();
                };
            }"""
        )
        tab.mouse.move(x + 9, y)
        tab.wait_for_function("() => board.table.cloth.layered")
        lift, layered = tab.evaluate("[lifted - started, performance.now() - started]")
        # Pointer events made in the page: no other process has to keep up.
        times = tab.evaluate(
            """async ([x, y, frames]) => {
                const cloth = document.getElementById('cloth');
                const times = [];
                let last = 0;
                for (let k = 0; k < frames; k++) {
                    const now = await new Promise(requestAnimationFrame);
                    if (last) times.push(now - last);
                    last = now;
                    cloth.dispatchEvent(new PointerEvent('pointermove', {
                        pointerId: 1, pointerType: 'mouse', bubbles: true, buttons: 1,
                        clientX: x + 9 + k * 0.6, clientY: y + 60 * Math.sin(k / 40),
                    }));
                }
                return times;
            }""",
            [x, y, FRAMES],
        )
        moved = tab.evaluate("board.table.carrying.rows.size")
        tab.mouse.up()
        assert moved == 1
    times.sort()
    return {
        "median": statistics.median(times),
        "95th": times[int(len(times) * 0.95)],
        "worst": times[-1],
        "lift": lift,
        "layered": layered,
    }


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        recipe = Path(sys.argv[1]) if len(sys.argv) > 1 else many(Path(name))
        with board_of(recipe) as board:
            for title, flags in (("at 60 Hz", ()), ("let run free", FREE)):
                found = measured(board, flags)
                print(
                    f"{title}: median {found['median']:.1f} ms, 95th percentile "
                    f"{found['95th']:.1f} ms, worst {found['worst']:.1f} ms; from touch to "
                    f"lifted {found['lift']:.0f} ms, to layered {found['layered']:.0f} ms"
                )


if __name__ == "__main__":
    main()
