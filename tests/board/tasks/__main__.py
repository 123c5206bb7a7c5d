"""Whole jobs on the board as a person does them: ``python tests/board/tasks [WORD …]``.

A real Chromium is driven by pointer, keys and touch, from a folder of drawings to the result on
the disk, which is compared with the command line's to the byte. Prints each task with ok or
failed and its seconds; with WORDs only the tasks whose names hold one of them. Fails where one
does. After them comes what axe finds, and what is too small for a finger, at three sizes.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
import traceback
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1])]

from browsing import browser  # noqa: E402

from tasks import beginnings, cloths, colours, outputs, sets, visits  # noqa: E402
from tasks.hands import Task  # noqa: E402

TASKS: dict[str, Task] = {
    **beginnings.TASKS,
    **cloths.TASKS,
    **sets.TASKS,
    **colours.TASKS,
    **outputs.TASKS,
    **visits.TASKS,
}


def main() -> int:
    """Do the tasks; return how many failed."""
    words = sys.argv[1:]
    chosen = {n: task for n, task in TASKS.items() if not words or any(w in n for w in words)}
    failed = 0
    print(f"load {os.getloadavg()[0]:.1f} at the start, {os.cpu_count()} processors")
    with browser() as chromium:
        for name, task in chosen.items():
            start = time.perf_counter()
            told = "ok"
            with tempfile.TemporaryDirectory() as folder:
                try:
                    task(chromium, Path(folder))
                except Exception as error:
                    failed += 1
                    where = traceback.extract_tb(error.__traceback__)
                    own = [one for one in where if "board/tasks" in one.filename][-1]
                    line = str(error).strip().partition("\n")[0][:160]
                    told = f"FAILED ({Path(own.filename).name}:{own.lineno}: {line})"
            for context in chromium.contexts:
                context.close()
            print(f"{time.perf_counter() - start:6.1f} s  {name}: {told}", flush=True)
    print(f"{len(chosen) - failed} of {len(chosen)} done, load {os.getloadavg()[0]:.1f}")
    return failed


if __name__ == "__main__":
    sys.exit(main() > 0)
