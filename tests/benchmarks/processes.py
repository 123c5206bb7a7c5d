"""Whole processes, measured side by side: wall seconds and peak memory."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from statistics import median
from typing import NamedTuple

# Reading is a part of what is measured.
os.environ["VECREPEAT_CACHE"] = "off"
# An installed program is not compiled again each time that it starts.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

Command = Sequence[str]


class Cost(NamedTuple):
    """What one process took."""

    seconds: float
    """Wall seconds."""
    busy: float
    """Seconds of processor time over all threads: what a shared machine changes least."""
    peak: float
    """Largest resident set in MB (10^6 bytes)."""


class Costs(NamedTuple):
    """What one job took, over all rounds."""

    costs: tuple[Cost, ...]

    @property
    def seconds(self) -> float:
        """The median of wall seconds."""
        return median(c.seconds for c in self.costs)

    @property
    def busy(self) -> float:
        """The median of processor seconds."""
        return median(c.busy for c in self.costs)

    @property
    def spread(self) -> str:
        """The fastest and the slowest round."""
        seconds = [c.seconds for c in self.costs]
        return f"{min(seconds):.2f}–{max(seconds):.2f}"

    @property
    def peak(self) -> float:
        """The largest peak of memory in MB."""
        return max(c.peak for c in self.costs)


def run(command: Command) -> Cost:
    """Run one process to its end.

    Raises:
        RuntimeError: it failed.
    """
    start = time.perf_counter()
    child = subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    )
    assert child.stderr is not None
    with child.stderr as stream:
        told = stream.read()
    # wait4 gives the resources of this one child, where getrusage gives the most of all so far.
    _, status, usage = os.wait4(child.pid, 0)
    seconds = time.perf_counter() - start
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode != 0:
        text = told.decode(errors="replace").strip()[-600:]
        raise RuntimeError(f"{' '.join(command)[:200]} … left with {child.returncode}: {text}")
    # Linux counts in KiB, macOS in bytes (getrusage(2) of each).
    peak = usage.ru_maxrss * (1 if sys.platform == "darwin" else 1024) / 1e6
    return Cost(seconds, usage.ru_utime + usage.ru_stime, peak)


def side_by_side(
    jobs: Mapping[str, Command], rounds: int, *, warm_up: bool = False
) -> dict[str, Costs]:
    """Run all jobs in turn, round after round, every other round in reverse order.

    A job that fails is left out and its reason printed.
    """
    found: dict[str, list[Cost]] = {name: [] for name in jobs}
    failed: set[str] = set()
    for n in range(rounds + warm_up):
        order = list(jobs)[:: -1 if n % 2 else 1]
        for name in order:
            if name in failed:
                continue
            try:
                cost = run(jobs[name])
            except (RuntimeError, OSError) as error:
                print(f"  {name}: {error}")
                failed.add(name)
                continue
            if not warm_up or n:
                found[name].append(cost)
    return {name: Costs(tuple(costs)) for name, costs in found.items() if name not in failed}


def size_of(file: Path) -> float:
    """Megabytes (10^6 bytes) of a file."""
    return file.stat().st_size / 1e6
