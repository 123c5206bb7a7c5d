"""The processes of this machine that a batch's jobs run in."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from contextlib import ExitStack, suppress
from typing import Any

from vecrepeat.batch.jobs import Job, Limits
from vecrepeat.util.worker import ENDING, Worker

RETRIES = 2
"""How often a job whose process has died is tried again."""

Result = tuple[Job, "dict[str, Any] | str"]
"""A job with its file's record, or with the one line that says why there is none."""

_ahead: list[Worker] = []


def _start() -> Worker:
    return Worker.of_module("vecrepeat.batch.lane_worker")


def places(count: int) -> list[set[int] | None]:
    """Return the cores that each of some processes keeps to, None for any.

    A process and its engines hand their work to each other all the time. Spread over cores they
    wait for one another and fill each other's caches anew: a thousand files took two cores a
    fifth more processor time, and a quarter longer. So every core gets as many to itself, where
    there are enough for all, and those left over go where there is room.
    """
    if not hasattr(os, "sched_setaffinity"):
        return [None] * count
    allowed = sorted(os.sched_getaffinity(0))
    kept = count - count % len(allowed)
    return [{allowed[k % len(allowed)]} if k < kept else None for k in range(count)]


def start_ahead(count: int) -> None:
    """Start processes now, for the next jobs: they get ready while these are listed."""
    while len(_ahead) < count:
        _ahead.append(_start())


def run_in_lanes(jobs: Sequence[Job], count: int, limits: Limits) -> Iterator[Result]:
    """Yield jobs with their results as they finish.

    Args:
        jobs: in the order of their recipes.
        count: how many processes run them.
        limits: what the receiver takes.
    """
    rest = list(jobs)
    tries: Counter[str] = Counter()
    count = min(count, len(jobs))
    if not count:
        return
    with ExitStack() as stack:
        threads = stack.enter_context(ThreadPoolExecutor(count))
        # A process keeps what it has read: what costs most is to read a recipe, then to put it
        # into a colourway. So each gets jobs like its last.
        lanes = [_Lane(place) for place in places(count)]
        # Before the threads that wait for them.
        for lane in lanes:
            stack.callback(lane.end)
        # More were started than there are jobs. One kept would look for the next batch's files
        # in the folder of this one.
        while _ahead:
            _ahead.pop().close(ENDING)
        running: dict[Future[dict[str, Any] | str], _Lane] = {}
        results: list[Result] = []
        while rest or running or results:
            idle = [lane for lane in lanes if lane not in running.values()]
            for lane in idle[: len(rest)]:
                others = [one.job for one in lanes if one is not lane]
                lane.job = rest.pop(_next(rest, lane.job, others))
                running[threads.submit(lane.run, lane.job, limits)] = lane
            # Only now that all are at work again: to note a result takes its time on the disk.
            yield from results
            results.clear()
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                lane = running.pop(future)
                assert lane.job is not None
                try:
                    results.append((lane.job, future.result()))
                except (EOFError, OSError):
                    lane.renew()
                    tries[lane.job.key] += 1
                    if tries[lane.job.key] > RETRIES:
                        told = f"{lane.job.file}: the process that drew it ended"
                        results.append((lane.job, told))
                    else:
                        rest.insert(0, lane.job)


class _Lane:
    """A process that runs one job after another.

    Args:
        place: the cores that it and what it starts keep to; None for any.

    Attributes:
        job: the one it is at, or was at last.
    """

    def __init__(self, place: set[int] | None) -> None:
        self.job: Job | None = None
        self._place = place
        self._take(_ahead.pop() if _ahead else _start())

    def _take(self, worker: Worker) -> None:
        self._worker = worker
        if self._place is not None:
            # It works anywhere; one that has died already is noticed when it is asked.
            with suppress(OSError):
                os.sched_setaffinity(worker.pid, self._place)

    def run(self, job: Job, limits: Limits) -> dict[str, Any] | str:
        """Return a job's result. Raises OSError or EOFError where the process has died."""
        result: dict[str, Any] | str = self._worker.exchange((job, limits))
        return result

    def renew(self) -> None:
        """Start the process again after it has died."""
        self._worker.close()
        self._take(_start())

    def end(self) -> None:
        """End the process, and with it whatever it is at."""
        self._worker.close(ENDING)


def _next(rest: Sequence[Job], last: Job | None, others: Sequence[Job | None]) -> int:
    """Return which job a process takes: one most like its last, and not like those of others."""

    def alike(job: Job, other: Job | None) -> int:
        if other is None or job.source != other.source:
            return 0
        return 2 if job.colourway == other.colourway else 1

    # Jobs come in order, so that one exactly alike is soon found.
    for k, job in enumerate(rest):
        if alike(job, last) == 2:
            return k

    def fitness(k: int) -> tuple[int, int]:
        return (alike(rest[k], last), -max((alike(rest[k], other) for other in others), default=0))

    return max(range(len(rest)), key=fitness)
