"""The batch workflow: every colourway of every recipe in every size, in parallel, resumable.

A job is one file. What it depends on is hashed into its key: the recipe, the art, and this
program's version. A record of each finished file goes into a journal at once, so that a run
which was stopped, however rudely, goes on where it was; in the end the records make the
manifest.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack
from dataclasses import dataclass, field
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from vecrepeat.errors import InputError
from vecrepeat.files import write_whole
from vecrepeat.jobs import Job, Limits, run_job, sha256_of

JOURNAL = ".batch-journal.jsonl"
MANIFEST = "manifest.json"
PART = ".vecrepeat-*.part"
"""What :func:`vecrepeat.files.written_whole` leaves when it is killed."""

RESTARTS = 5
"""How often a pool whose process died is started again."""


@dataclass(frozen=True)
class Done:
    """What a batch came to.

    Attributes:
        folder: where everything is.
        records: one for each file, by file.
        written: how many files this run wrote.
        kept: how many were there already.
        failed: what could not be written: file and reason.
    """

    folder: Path
    records: Sequence[Mapping[str, Any]]
    written: int
    kept: int
    failed: Sequence[tuple[str, str]] = field(default_factory=tuple)

    def line(self) -> str:
        """Return the facts as one line."""
        bad = f", {len(self.failed)} failed" if self.failed else ""
        return (
            f"{self.folder}: {self.written} files written, {self.kept} there already{bad}; "
            f"{MANIFEST}"
        )


# --------------------------------------------------------------------------------- the journal


def _records(folder: Path) -> dict[str, dict[str, Any]]:
    """Return records of earlier runs, by key; a line that a kill cut short is none."""
    found: dict[str, dict[str, Any]] = {}
    manifest, journal = folder / MANIFEST, folder / JOURNAL
    if manifest.exists():
        for record in json.loads(manifest.read_text(encoding="utf-8"))["files"]:
            found[record["key"]] = record
    if journal.exists():
        for line in journal.read_text(encoding="utf-8", errors="replace").splitlines():
            try:
                record = json.loads(line)
            except json.JSONDecodeError:
                continue
            found[record["key"]] = record
    return found


def _is_there(job: Job, records: Mapping[str, Mapping[str, Any]]) -> bool:
    """Whether a job's file is there as it was recorded, to the byte."""
    record = records.get(job.key)
    file = Path(job.file)
    if record is None or record["file"] != job.file or not file.is_file():
        return False
    return bool(file.stat().st_size == record["bytes"] and sha256_of(file) == record["sha256"])


def run_batch(
    jobs: Sequence[Job],
    folder: Path,
    *,
    processes: int | None = None,
    scheduler: str | None = None,
    limits: Limits | None = None,
    progress: Callable[[int], None] | None = None,
) -> Done:
    """Write all files that are not there already, then the manifest.

    Args:
        jobs: from :func:`jobs_of`.
        folder: where the journal and the manifest go.
        processes: how many at once; by default one for each core.
        scheduler: address of a Dask scheduler to send the jobs to instead.
        limits: what the receiver takes.
        progress: called with files finished.

    Raises:
        InputError: the folder can't be written, or the scheduler can't be reached.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for place in {Path(job.file).parent for job in jobs}:
        # What a run that was killed was just writing.
        for part in place.glob(PART):
            part.unlink(missing_ok=True)
    records = _records(folder)
    rest = []
    for job in jobs:
        if _is_there(job, records):
            if progress is not None:
                progress(1)
        else:
            rest.append(job)
    failed: list[tuple[str, str]] = []
    with (folder / JOURNAL).open("a", encoding="utf-8") as journal:
        if journal.tell():
            # After a kill the last line may lack its end.
            journal.write("\n")
        runner = _on_cluster(rest, scheduler, limits) if scheduler else _here(
            rest, processes, limits
        )  # fmt: skip
        for job, result in runner:
            if isinstance(result, str):
                failed.append((job.file, result))
            else:
                records[job.key] = result
                journal.write(json.dumps(result, ensure_ascii=False) + "\n")
                journal.flush()
                os.fsync(journal.fileno())
            if progress is not None:
                progress(1)
    listed = [records[job.key] for job in jobs if job.key in records]
    listed.sort(key=lambda record: str(record["file"]))
    facts = {
        "program": f"vecrepeat {version('vecrepeat')}",
        "files": listed,
        "failed": [{"file": file, "reason": reason} for file, reason in failed],
    }
    text = json.dumps(facts, indent=1, ensure_ascii=False) + "\n"
    write_whole(folder / MANIFEST, text.encode())
    (folder / JOURNAL).unlink()
    return Done(folder, listed, len(rest) - len(failed), len(jobs) - len(rest), tuple(failed))


Result = tuple[Job, "dict[str, Any] | str"]


def _attempt(job: Job, limits: Limits | None) -> dict[str, Any] | str:
    """Run a job; return its record, or the one line that says why there is none."""
    try:
        return run_job(job, limits)
    except InputError as error:
        return str(error)


def _here(jobs: Sequence[Job], processes: int | None, limits: Limits | None) -> Iterator[Result]:
    """Yield jobs with their results as they finish, in processes of this machine."""
    count = max(1, min(processes or os.cpu_count() or 1, len(jobs)))
    rest = list(jobs)
    restarts = 0
    with ExitStack() as stack:
        # A pool for each process, so that it gets jobs like its last: what costs most is to read
        # a recipe, then to put it into a colourway.
        lanes = [stack.enter_context(_Lane()) for _ in range(count)]
        running: dict[Future[dict[str, Any] | str], _Lane] = {}
        while rest or running:
            idle = [lane for lane in lanes if lane not in running.values()]
            for lane in idle[: len(rest)]:
                job = rest.pop(_next(rest, lane.job, [one.job for one in lanes if one is not lane]))
                running[lane.start(job, limits)] = lane
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                lane = running.pop(future)
                assert lane.job is not None
                try:
                    yield lane.job, future.result()
                except BrokenProcessPool:
                    lane.renew()
                    restarts += 1
                    if restarts > RESTARTS:
                        yield lane.job, f"{lane.job.file}: the process that drew it ended"
                    else:
                        rest.insert(0, lane.job)


class _Lane:
    """A process that runs one job after another.

    Attributes:
        job: the one it is at, or was at last.
    """

    def __init__(self) -> None:
        self.job: Job | None = None
        self._pool = self._new()

    @staticmethod
    def _new() -> ProcessPoolExecutor:
        # Not forked: the children start threads and processes of their own.
        return ProcessPoolExecutor(1, mp_context=get_context("spawn"))

    def start(self, job: Job, limits: Limits | None) -> Future[dict[str, Any] | str]:
        self.job = job
        return self._pool.submit(_attempt, job, limits)

    def renew(self) -> None:
        """Start the process again after it has died."""
        self._pool.shutdown()
        self._pool = self._new()

    def __enter__(self) -> _Lane:
        return self

    def __exit__(self, *_: object) -> None:
        self._pool.shutdown(cancel_futures=True)


def _next(rest: Sequence[Job], last: Job | None, others: Sequence[Job | None]) -> int:
    """Return which job a process takes: one most like its last, and not like those of others."""

    def alike(job: Job, other: Job | None) -> int:
        if other is None or job.recipe != other.recipe:
            return 0
        return 2 if job.colourway == other.colourway else 1

    # Jobs come in order, so that one exactly alike is soon found.
    for k, job in enumerate(rest):
        if alike(job, last) == 2:
            return k

    def fitness(k: int) -> tuple[int, int]:
        return (alike(rest[k], last), -max((alike(rest[k], other) for other in others), default=0))

    return max(range(len(rest)), key=fitness)


def _on_cluster(
    jobs: Sequence[Job], address: str | None, limits: Limits | None
) -> Iterator[Result]:
    """Yield jobs with their results as they finish on a Dask cluster.

    The workers must see the same files under the same paths.
    """
    try:
        from distributed import Client
        from distributed import as_completed as finished
    except ImportError:
        raise InputError(
            "a cluster needs the extra “cluster”", hint="pip install 'vecrepeat[cluster]'"
        ) from None
    try:
        client: Any = Client(address, timeout="10s")  # type: ignore[no-untyped-call]
    except (OSError, TimeoutError) as error:
        raise InputError(f"the scheduler {address} can't be reached: {error}") from None
    with client:
        futures = {
            client.submit(_attempt, job, limits, key=f"vecrepeat-{job.key}", retries=RESTARTS): job
            for job in jobs
        }
        done: Any = finished(list(futures))  # type: ignore[no-untyped-call]
        for future in done:
            if future.status == "finished":
                yield futures[future], future.result()
            else:
                yield futures[future], f"{futures[future].file}: {future.exception()}"
