"""How long separating takes, and how exact it is: ``python tests/benchmarks/separations.py``.

Whole processes, medians of wall and processor seconds of RUNS rounds in turn; the load is told
beside them. Nothing here fails on a time.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from resource import RUSAGE_CHILDREN, getrusage

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))
from real_art import emoji_sheet  # noqa: E402

RUNS = 3
GARDEN = HERE.parents[1] / "demo-svg" / "night-garden.svg"


def main() -> None:
    """Print the table."""
    print(f"load {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores, median of {RUNS} (range)")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        emoji = emoji_sheet(folder, 60)
        six = ["--colours", "6", "--soft", "flat"]
        jobs = {
            "night garden, 6 plates": ([GARDEN, *six], 10),
            "night garden, 6 plates, traps of 0.2 mm": ([GARDEN, *six, "--trap", "0.2mm"], None),
            "night garden, 6 plates as TIFF at 300 dpi": ([GARDEN, *six, "--format", "tiff"], None),
            "60 colour emoji": ([emoji, "--colours", "24"], 20),
            "60 colour emoji, traps of 0.2 mm": (
                [emoji, "--colours", "24", "--trap", "0.2mm"],
                None,
            ),
        }
        took: dict[str, list[tuple[float, float]]] = {what: [] for what in jobs}
        for run in range(RUNS):
            for what, (arguments, _) in jobs.items():
                out = folder / f"{run}-{len(took[what])}-{what[:5]}"
                command = [sys.executable, "-m", "vecrepeat", "separate", *map(str, arguments)]
                wall, before = time.monotonic(), getrusage(RUSAGE_CHILDREN)
                subprocess.run([*command, "-o", str(out)], check=True, stdout=subprocess.DEVNULL)
                after = getrusage(RUSAGE_CHILDREN)
                busy = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
                took[what].append((time.monotonic() - wall, busy))
        for what, rows in took.items():
            wall_s, busy_s = (statistics.median(row[k] for row in rows) for k in (0, 1))
            low, high = min(row[0] for row in rows), max(row[0] for row in rows)
            bar = jobs[what][1]
            told = "" if bar is None else f"  bar {bar} s: {'met' if wall_s <= bar else 'MISSED'}"
            print(f"{what:44}{wall_s:7.2f} s ({low:.2f}–{high:.2f}){busy_s:8.2f} s cpu{told}")
    print(f"load now {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
