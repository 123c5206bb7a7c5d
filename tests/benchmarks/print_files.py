"""A wallpaper roll of 0.53 m × 10.05 m in each format: seconds, bytes and memory.

Run by hand: ``python -m tests.benchmarks.print_files [DPI]`` (300 where not given).
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from processes import run

DEMO = Path(__file__).parents[2] / "demo-svg" / "brook.svg"


def main() -> None:
    """Print a row for each format."""
    dpi = sys.argv[1] if len(sys.argv) > 1 else "300"
    print("format   wall s  busy s  peak MB        bytes")
    with tempfile.TemporaryDirectory() as folder:
        for suffix in ("png", "tif", "pdf"):
            out = Path(folder) / f"roll.{suffix}"
            sheet = ["--sheet", "53cmx10.05m", "--dpi", dpi]
            command = [sys.executable, "-m", "vecrepeat", "export", str(DEMO), "-o", str(out)]
            cost = run([*command, *sheet])
            size = out.stat().st_size
            print(
                f"{suffix:6} {cost.seconds:8.2f}{cost.busy:8.2f}{cost.peak:9.0f}{size:14,}",
                flush=True,
            )
            out.unlink()


if __name__ == "__main__":
    main()
