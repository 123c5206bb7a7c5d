"""A hundred random repeats: the largest void against scipy's distance transform.

By hand: ``python tests/benchmarks/voids_by_raster.py``.
"""

from __future__ import annotations

import sys
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "check")]

import test_voids as cases  # noqa: E402

from vecrepeat.check.voids import find_voids  # noqa: E402

STEP = 0.1


def main() -> None:
    worst = 0.0
    for seed in range(100):
        plane = cases.random_plane(seed)
        found = find_voids(plane)
        largest = found[0].radius if found else 0.0
        by_raster = cases.raster_radius(plane, STEP, largest * 1.3 + 1)
        worst = max(worst, abs(largest - by_raster))
        if abs(largest - by_raster) > STEP:
            print(f"repeat {seed}: {largest:.3f} mm, by raster {by_raster:.3f} mm")
    print(f"100 repeats, step {STEP} mm: largest difference {worst:.4f} mm")


if __name__ == "__main__":
    main()
