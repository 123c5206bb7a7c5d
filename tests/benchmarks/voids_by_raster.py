"""A hundred random repeats: the largest void against scipy's distance transform.

By hand: ``python tests/benchmarks/voids_by_raster.py``.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

STEP = 0.1


def main() -> None:
    tests = Path(__file__).parent.parent
    sys.path.insert(0, str(tests))
    spec = importlib.util.spec_from_file_location("test_voids", tests / "check" / "test_voids.py")
    assert spec is not None
    assert spec.loader is not None
    cases = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(cases)
    worst = 0.0
    for seed in range(100):
        plane = cases.random_plane(seed)
        found = cases.voids(plane)
        largest = found[0].radius if found else 0.0
        by_raster = cases.raster_radius(plane, STEP, largest * 1.3 + 1)
        worst = max(worst, abs(largest - by_raster))
        if abs(largest - by_raster) > STEP:
            print(f"repeat {seed}: {largest:.3f} mm, by raster {by_raster:.3f} mm")
    print(f"100 repeats, step {STEP} mm: largest difference {worst:.4f} mm")


if __name__ == "__main__":
    main()
