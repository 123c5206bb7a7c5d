"""A hundred random repeats: every alley against the shadows of the ink's pixels.

By hand: ``python tests/benchmarks/alleys_by_raster.py``.
"""

from __future__ import annotations

import sys
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "check")]

import test_voids as cases  # noqa: E402

STEP = 0.05
NARROWEST = 0.5


def main() -> None:
    worst, count = 0.0, 0
    for seed in range(100):
        plane = cases.random_plane(seed)
        for width, by_raster in cases.alley_widths(plane, STEP, NARROWEST):
            count += 1
            worst = max(worst, abs(width - by_raster))
            if abs(width - by_raster) > STEP:
                print(f"repeat {seed}: {width:.3f} mm, by raster {by_raster:.3f} mm")
    print(f"100 repeats, {count} alleys, step {STEP} mm: largest difference {worst:.4f} mm")


if __name__ == "__main__":
    main()
