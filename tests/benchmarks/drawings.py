"""Large drawings for the benchmarks: ``python drawings.py {flowers,emoji} FOLDER COUNT``.

Run as a process of its own, so that the process which measures stays small: on Linux a child
starts with the peak memory of the parent it was forked from.
"""

from __future__ import annotations

import math
import os
import random
import subprocess
import sys
from pathlib import Path

# Reading is a part of what is measured.
os.environ["VECREPEAT_CACHE"] = "off"

GARDEN = Path(__file__).resolve().parents[2] / "demo-svg" / "night-garden.svg"
SIDE = 1000
"""The page's sides in mm."""


def silently(*arguments: object) -> None:
    """Run our command line, which must succeed, without what it prints."""
    command = [sys.executable, "-m", "vecrepeat", *map(str, arguments)]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def big_garden(folder: Path) -> Path:
    """Write the recipe of the night garden's 24 motifs tossed to 200 on 28 × 28 in."""
    recipe = folder / "garden-200.toml"
    silently("recipe", GARDEN, "-o", recipe, "--tile", "28x28in")
    counts = ["--heroes", "40", "--secondaries", "80", "--fillers", "80"]
    silently("toss", recipe, "--again", *counts, "--direction", "free", "--clearance", "2mm")
    return recipe


def flower_page(folder: Path, count: int, *, seed: int = 11) -> Path:
    """Write a page of 1 m × 1 m with ``count`` small groups of leaf and flower, tossed evenly."""
    rng = random.Random(seed)
    columns = math.ceil(math.sqrt(count))
    step = SIDE / columns
    groups = []
    for n in range(count):
        x = (n % columns + rng.random()) * step
        y = (n // columns + rng.random()) * step
        size, turn = step / 14 * rng.uniform(0.7, 1.3), rng.uniform(0, 360)
        petals = "".join(
            f'<path d="M0 0C-3-2-3-6 0-7C3-6 3-2 0 0Z" fill="#c{k}{k}" '
            f'transform="rotate({k * 72})"/>'
            for k in range(5)
        )
        groups.append(
            f'<g id="spray-{n}" transform="translate({x:.3f} {y:.3f}) rotate({turn:.2f}) '
            f'scale({size:.4f})"><path d="M0 0C2 4 6 5 9 9C4 9 1 6 0 0Z" fill="#374" '
            f'stroke="#132" stroke-width=".4"/>{petals}<circle r="1.2" fill="#fd6"/></g>\n'
        )
    path = folder / f"flowers-{count}.svg"
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{SIDE}mm" height="{SIDE}mm" '
        f'viewBox="0 0 {SIDE} {SIDE}"><rect width="{SIDE}" height="{SIDE}" fill="#f6f1e4"/>\n'
        f"{''.join(groups)}</svg>\n",
        encoding="utf-8",
    )
    return path


def main() -> None:
    kind, folder, count = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])
    if kind == "flowers":
        print(flower_page(folder, count))
        return
    sys.path.insert(0, str(Path(__file__).parents[1]))
    from real_art import emoji_files, emoji_sheet

    print(emoji_sheet(folder, min(count, len(emoji_files()))))


if __name__ == "__main__":
    main()
