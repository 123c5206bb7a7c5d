"""The demo collection: one colour changed and all line sheets; 300 files, killed five times.

Run by hand: ``python tests/benchmarks/collection.py [change] [killed] [--dpi N]``.

* ``change``: one colour of ten prints in three colourways is changed and all line sheets, with the
  story page, written as one PDF; wall and processor seconds beside the bar of 20 s on two cores;
* ``killed``: ten prints × three colourways × ten goods by batch, killed (-9) five times and started
  again; in the end all SHA-256 must be those of an undisturbed batch.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

DEMO = Path(__file__).resolve().parents[2] / "demo-svg" / "low-tide"
FILES, KILLS = 300, 5
GOODS = '\n[[goods]]\nname = "size {n}"\ndpi = {dpi}\n'


def call(*arguments: object) -> list[str]:
    """A call of our command line."""
    return [sys.executable, "-m", "vecrepeat", *map(str, arguments)]


def change(file: Path) -> None:
    """Time the line sheets after a colour is changed, what is kept of reading being there."""
    out = file.parent / "line.pdf"
    subprocess.run(call("linesheet", file, "-o", out), check=True, capture_output=True)
    for colour in ("#3f6fb5", "#8a4fa0", "#2f7f5f"):
        text = file.read_text(encoding="utf-8")
        file.write_text(text.replace('coral = "', f'coral = "{colour}"  # was "', 1), "utf-8")
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        begun = time.monotonic()
        subprocess.run(call("linesheet", file, "-o", out), check=True, capture_output=True)
        wall = time.monotonic() - begun
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        busy = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        load = os.getloadavg()[0]
        print(f"coral {colour}: {wall:.1f} s wall, {busy:.1f} s processor, load {load:.1f}; bar 20")


def hashes(folder: Path) -> dict[str, str]:
    """Return the SHA-256 of every picture by its name."""
    return {
        str(file.relative_to(folder)): hashlib.sha256(file.read_bytes()).hexdigest()
        for file in folder.rglob("*.png")
    }


def killed(file: Path, dpi: int) -> None:
    """Write all files undisturbed, then with kills, and compare."""
    with file.open("a", encoding="utf-8") as text:
        text.writelines(GOODS.format(n=n, dpi=dpi + 2 * n) for n in range(10))
    whole, broken = file.parent / "whole", file.parent / "broken"
    begun = time.monotonic()
    subprocess.run(call("batch", file, "-o", whole), check=True, capture_output=True)
    print(f"undisturbed: {time.monotonic() - begun:.1f} s")
    dice = random.Random(1)
    for kill in range(KILLS):
        # One in each sixth of the files.
        aim = FILES * (kill + dice.random()) / (KILLS + 1)
        job = subprocess.Popen(
            call("batch", file, "-o", broken),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        while len(list(broken.rglob("*.png"))) < aim:
            assert job.poll() is None, "it ended before it could be killed"
            time.sleep(0.05)
        os.killpg(job.pid, signal.SIGKILL)
        job.wait()
        print(f"killed at {len(list(broken.rglob('*.png')))} files")
    subprocess.run(call("batch", file, "-o", broken), check=True, capture_output=True)
    expected, found = hashes(whole), hashes(broken)
    same = sum(found.get(name) == value for name, value in expected.items())
    print(f"{same} of {len(expected)} alike, {len(found)} found, {FILES} wanted, {KILLS} kills")


def main() -> None:
    """Run the parts that are named, or both."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("parts", nargs="*", choices=["change", "killed", []], default=[])
    parser.add_argument("--dpi", type=int, default=60, help="of the smallest files")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "low-tide"
        shutil.copytree(DEMO, folder)
        file = folder / "collection.toml"
        if "change" in asked.parts or not asked.parts:
            change(file)
        if "killed" in asked.parts or not asked.parts:
            killed(file, asked.dpi)


if __name__ == "__main__":
    main()
