"""How soon the first cloth is seen, by hand.

Usage: PYTHONPATH=tests python tests/board/first_cloth.py

For the demo drawing, and for twenty rich motifs (the demo's, each a file of its own, taken in
turn until there are twenty): seconds from opening the address to the painted cloth, the first
time with nothing kept and the second time. Bars are shown beside; nothing fails on a time, since
machines are busy.
"""

from __future__ import annotations

import math
import os
import shutil
import sys
import tempfile
import time
from fractions import Fraction
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from browsing import board_of, browser  # noqa: E402
from support import DEMO, vecrepeat  # noqa: E402

PAINTED = "() => Boolean(window.board?.table.cloth.still)"
"""The cloth's own picture is there; motifs of the tray may follow."""


def rich_motifs(folder: Path) -> Path:
    """A tossed recipe of twenty motifs of the demo drawing, each in a file."""
    art = folder / "art"
    art.mkdir()
    from vecrepeat.art.read import read_art
    from vecrepeat.core.geometry import Affine
    from vecrepeat.repeat.model import Repeat
    from vecrepeat.write.svg import tile_svg

    drawing = read_art(DEMO / "night-garden.svg")
    for k, motif in enumerate(drawing.motifs[:20]):
        box = motif.box
        side = Fraction(math.ceil(max(box.width, box.height)) + 10)
        repeat = Repeat.alone(motif, side, Affine.translation(5 - box[0], 5 - box[1]))
        (art / f"m{k}.svg").write_text(tile_svg(repeat))
    recipe = folder / "rich.toml"
    for words in (("recipe", art, "-o", recipe), ("toss", recipe)):
        assert vecrepeat(*words).code == 0
    return recipe


def main() -> None:
    """Print the figures."""
    print(f"load {os.getloadavg()[0]:.1f}, {os.cpu_count()} processors")
    with tempfile.TemporaryDirectory() as folder, browser() as chromium:
        os.environ["XDG_CACHE_HOME"] = f"{folder}/cache"
        work = Path(folder)
        shutil.copy(DEMO / "night-garden.svg", work)
        recipe = work / "night-garden.toml"
        assert vecrepeat("recipe", work / "night-garden.svg", "-o", recipe).code == 0
        (work / "rich").mkdir()
        for name, design, bars in (
            ("the demo", recipe, (2, 2)),
            ("20 rich motifs", rich_motifs(work / "rich"), (4, 1)),
        ):
            shutil.rmtree(f"{folder}/cache", ignore_errors=True)
            for turn, bar in zip(("first", "second"), bars, strict=True):
                with board_of(design) as board:
                    page = chromium.new_context(viewport={"width": 1400, "height": 900}).new_page()
                    start = time.perf_counter()
                    # Not until all has been loaded: until the cloth is seen.
                    page.goto(board.address, wait_until="commit")
                    page.wait_for_function(PAINTED, polling=20)
                    took = time.perf_counter() - start
                    print(f"{name}, {turn} time: {took:.2f} s (bar {bar} s)", flush=True)
                    page.context.close()
    print(f"load {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
