"""How long separating takes, and how exact it is: ``python tests/benchmarks/separations.py``.

Whole processes, in turn, RUNS rounds: the median and the best of wall and processor seconds; the
load is told beside them. Then the plates of the largest repeats are looked at: whether all are
valid, how far their areas are from the repeat's, and how far traps reach. Nothing here fails on
a time.

The 200-motif night garden is vecrepeat's own toss of the demo's 24 motifs, at their own size, on
a tile of 28 × 28 in.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from pathlib import Path
from resource import RUSAGE_CHILDREN, getrusage

import numpy as np
import shapely
from drawings import GARDEN, big_garden, silently

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))
from plate_judges import are_valid  # noqa: E402
from real_art import emoji_sheet  # noqa: E402

from vecrepeat.colour.gradients import by_stops  # noqa: E402
from vecrepeat.colour.plates.separation import APART, Separation, separate  # noqa: E402
from vecrepeat.colour.reduce import flat_areas, into_flats, reduction  # noqa: E402
from vecrepeat.colour.visible import visible  # noqa: E402
from vecrepeat.core.geometry import Rect  # noqa: E402
from vecrepeat.sources.source import open_source  # noqa: E402

RUNS = 3
TRAP = 0.2


def main() -> None:
    """Print the tables."""
    print(f"load {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores, {RUNS} runs")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        emoji, big = emoji_sheet(folder, 60), big_garden(folder)
        six = ["--colours", "6", "--soft", "flat"]
        trap = ["--trap", f"{TRAP}mm"]
        jobs: dict[str, tuple[list[object], int | None]] = {
            "night garden, 200 motifs, 6 plates": ([big, *six], 10),
            "… traps of 0.2 mm": ([big, *six, *trap], None),
            "… PDF": ([big, *six, "--format", "pdf"], None),
            "night garden as drawn, 6 plates": ([GARDEN, *six], 10),
            "… traps of 0.2 mm ": ([GARDEN, *six, *trap], None),
            "… TIFF at 300 dpi": ([GARDEN, *six, "--format", "tiff"], None),
            "60 colour emoji, 24 plates": ([emoji, "--colours", "24"], 20),
            "… traps of 0.2 mm  ": ([emoji, "--colours", "24", *trap], None),
        }
        took: dict[str, list[tuple[float, float]]] = {what: [] for what in jobs}
        for run in range(RUNS):
            for number, (what, (arguments, _)) in enumerate(jobs.items()):
                wall, before = time.monotonic(), getrusage(RUSAGE_CHILDREN)
                silently("separate", *arguments, "-o", folder / f"{run}-{number}")
                after = getrusage(RUSAGE_CHILDREN)
                busy = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
                took[what].append((time.monotonic() - wall, busy))
        print(f"{'seconds, median (best)':40}{'wall':>16}{'processor':>16}")
        for what, rows in took.items():
            cells = [f"{statistics.median(c):.2f} ({min(c):.2f})" for c in zip(*rows, strict=True)]
            bar = jobs[what][1]
            best = min(row[0] for row in rows)
            told = "" if bar is None else f"  bar {bar} s: {'met' if best <= bar else 'MISSED'}"
            print(f"{what:40}{cells[0]:>16}{cells[1]:>16}{told}")
        print(f"load now {os.getloadavg()[0]:.1f}")
        for art, count in ((big, 6), (GARDEN, 6), (emoji, 24)):
            _look_at(art, count)


def _look_at(art: Path, count: int) -> None:
    """Print how exact the plates of a repeat are."""
    repeat = open_source(art).repeat
    seen = visible(repeat, tolerance=0.01, apart=APART * TRAP)
    choice = reduction(flat_areas(seen.banded(by_stops)), count)
    bands = seen.banded(into_flats(choice))
    block = Rect(0.0, 0.0, *(float(side) for side in repeat.block_size))
    plain = separate(bands, choice, block, names={})
    trapped = separate(bands, choice, block, names={}, trap=TRAP)
    total = sum(plate.area.area for plate in plain.plates) + plain.cloth.area
    print(
        f"{repeat.name}: {len(seen.alone)} of {len(repeat.placements)} placements alone, "
        f"plates valid: {are_valid(plain)}, trapped: {are_valid(trapped)}, "
        f"areas off by {total / (block.width * block.height) - 1:.1e}, {_reach(trapped)}"
    )


def _reach(trapped: Separation) -> str:
    """Return how far traps reach under darker inks, at 1,000 points of their far edges.

    Points are left out that lie near the region's bounds, beyond which the light ink is cut
    off, or nearer than half a trap to any border: there a third ink or a thin line stops a trap.
    """
    rng, away = np.random.default_rng(1), []
    lines = [shapely.get_parts(plate.area.boundary) for plate in trapped.plates]
    edges = shapely.STRtree(np.concatenate(lines))
    inner = trapped.region.grown(-2 * TRAP)
    for plate, own in zip(trapped.plates, lines, strict=True):
        xy = rng.permutation(shapely.get_coordinates(plate.trap.boundary))[:4000]
        kept = (xy > (inner.x0, inner.y0)).all(axis=1) & (xy < (inner.x1, inner.y1)).all(axis=1)
        points = shapely.points(xy[kept])
        near = edges.query_nearest(points, return_distance=True, all_matches=False)[1]
        points = points[near > TRAP / 2]
        mine = shapely.STRtree(own)
        away.append(mine.query_nearest(points, return_distance=True, all_matches=False)[1])
    shown = np.sort(rng.permutation(np.concatenate(away))[:1000])
    close = np.abs(shown - TRAP) <= 0.005
    return (
        f"traps reach {shown[0]:.4f} to {shown[-1]:.4f} mm at {len(shown)} points, "
        f"{close.mean() * 100:.1f} % within 0.005 mm"
    )


if __name__ == "__main__":
    main()
