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
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path
from typing import Any

from vecrepeat.batch.jobs import ANY, Job, Limits, program, sha256_of
from vecrepeat.batch.lanes import RETRIES, Result, run_in_lanes
from vecrepeat.core.errors import InputError, missing_package
from vecrepeat.util.cores import cores
from vecrepeat.util.files import read_file, write_whole

JOURNAL = ".batch-journal.jsonl"
MANIFEST = "manifest.json"
PART = ".vecrepeat-*.part"
"""What :func:`vecrepeat.util.files.written_whole` leaves when it is killed."""

MAX_MANIFEST = 1 << 30
"""The largest manifest read, in bytes: that of a million files."""

PATIENCE = 10.0
"""Seconds to reach a scheduler in."""


@dataclass(frozen=True)
class Done:
    """What a batch came to.

    Attributes:
        folder: where everything is.
        records: one for each file, by file; paths are relative to the folder.
        written: how many files this run wrote.
        kept: how many were there already.
        failed: what could not be written: file and reason.
    """

    folder: Path
    records: Sequence[Mapping[str, Any]]
    written: int
    kept: int
    failed: Sequence[tuple[str, str]]

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
        data = read_file(manifest, MAX_MANIFEST, "manifest")
        try:
            found = {record["key"]: record for record in json.loads(data)["files"]}
        except (ValueError, KeyError, TypeError):
            raise InputError(
                "it is no manifest of a batch", file=manifest, hint="choose another folder"
            ) from None
    if journal.exists():
        lines = read_file(journal, MAX_MANIFEST, "journal").decode(errors="replace")
        for line in lines.splitlines():
            try:
                record = json.loads(line)
            except json.JSONDecodeError:
                continue
            found[record["key"]] = record
    return found


def _within(path: str, folder: Path) -> str:
    """Return a path as seen from a folder, so that the two can be moved together."""
    try:
        return Path(os.path.relpath(path, folder.resolve())).as_posix()
    except ValueError:
        # There is no way from one drive of Windows to another.
        return path


def _reason_within(reason: str, job: Job, folder: Path) -> str:
    """Return why a job failed, its paths as seen from a folder."""
    for path in (job.file, job.source):
        reason = reason.replace(path, _within(path, folder))
    return reason


def _is_there(job: Job, records: Mapping[str, Mapping[str, Any]], folder: Path) -> bool:
    """Whether a job's file is there as it was recorded, to the byte."""
    record = records.get(job.key)
    file = Path(job.file)
    if record is None or record["file"] != _within(job.file, folder) or not file.is_file():
        return False
    return bool(file.stat().st_size == record["bytes"] and sha256_of(file) == record["sha256"])


def run_batch(
    jobs: Sequence[Job],
    folder: Path,
    *,
    processes: int | None = None,
    scheduler: str | None = None,
    limits: Limits = ANY,
    progress: Callable[[int], None] | None = None,
) -> Done:
    """Write all files that are not there already, then the manifest.

    Args:
        jobs: from :func:`jobs_of`.
        folder: where the journal and the manifest go.
        processes: how many at once; by default as many as keep all cores busy.
        scheduler: address of a Dask scheduler to send the jobs to instead.
        limits: what the receiver takes.
        progress: called with files finished.

    Raises:
        InputError: the folder can't be written, or the scheduler can't be reached.
    """
    # First, so that nothing is begun which can't be gone on with.
    client = _client(scheduler) if scheduler else None
    folder.mkdir(parents=True, exist_ok=True)
    for place in {Path(job.file).parent for job in jobs}:
        # What a run that was killed was just writing.
        for part in place.glob(PART):
            part.unlink(missing_ok=True)
    records = _records(folder)
    rest = []
    failed: list[tuple[Job, str]] = []
    kept = 0
    for job in jobs:
        if not _is_there(job, records, folder):
            rest.append(job)
            continue
        there = records[job.key]
        sides = (there.get("width_px"), there.get("height_px"))
        if refused := limits.refusal(Path(job.file), *sides, there["bytes"]):
            failed.append((job, str(refused)))
            del records[job.key]
        else:
            kept += 1
        if progress is not None:
            progress(1)
    written = 0
    with (folder / JOURNAL).open("a", encoding="utf-8") as journal:
        if journal.tell():
            # After a kill the last line may lack its end.
            journal.write("\n")
        results = (
            run_in_lanes(rest, processes or cores(), limits)
            if client is None
            else _on_cluster(rest, client, limits)
        )
        for job, result in results:
            if isinstance(result, str):
                failed.append((job, result))
            else:
                written += 1
                result |= {key: _within(result[key], folder) for key in ("file", "source")}
                records[job.key] = result
                journal.write(json.dumps(result, ensure_ascii=False) + "\n")
                journal.flush()
                os.fsync(journal.fileno())
            if progress is not None:
                progress(1)
    listed = [records[job.key] for job in jobs if job.key in records]
    listed.sort(key=lambda record: str(record["file"]))
    failed.sort(key=lambda one: (one[0].file, one[1]))
    facts = {
        "program": program(),
        "files": listed,
        "failed": [
            {"file": _within(job.file, folder), "reason": _reason_within(reason, job, folder)}
            for job, reason in failed
        ],
    }
    text = json.dumps(facts, indent=1, ensure_ascii=False) + "\n"
    write_whole(folder / MANIFEST, text.encode(), edits=folder / MANIFEST)
    (folder / JOURNAL).unlink()
    told = tuple((job.file, reason) for job, reason in failed)
    return Done(folder, listed, written, kept, told)


def _client(address: str) -> Any:
    """Return a connection to a Dask cluster.

    Raises:
        InputError: the package is not installed, or the scheduler can't be reached.
    """
    try:
        from distributed import Client
    except ImportError:
        raise missing_package("a cluster", "distributed") from None
    try:
        return Client(address, timeout=PATIENCE)  # type: ignore[no-untyped-call]
    except (OSError, TimeoutError) as error:
        raise InputError(f"the scheduler {address} can't be reached: {error}") from None


def _on_cluster(jobs: Sequence[Job], client: Any, limits: Limits) -> Iterator[Result]:
    """Yield jobs with their results as they finish on a Dask cluster.

    The workers must see the same files under the same paths.
    """
    from distributed import as_completed as finished

    from vecrepeat.batch.running import attempt_all

    def sent(chunk: Sequence[Job]) -> Any:
        # Their working directory is another one.
        chunk = [
            replace(
                job,
                source=str(Path(job.source).resolve()),
                prints=str(Path(job.prints).resolve()),
                file=str(Path(job.file).resolve()),
            )
            for job in chunk
        ]
        key = f"vecrepeat-{chunk[0].key}-{len(chunk)}"
        return client.submit(attempt_all, chunk, limits, key=key, retries=RETRIES)

    # A worker that runs what is of one recipe and colourway reads it once.
    alike = groupby(jobs, key=lambda job: (job.source, job.colourway))
    with client:
        chunks = {sent(chunk): chunk for chunk in (list(group) for _, group in alike)}
        done: Any = finished(list(chunks))  # type: ignore[no-untyped-call]
        for future in done:
            chunk = chunks.pop(future)
            if future.status == "finished":
                yield from zip(chunk, future.result(), strict=True)
            elif len(chunk) == 1:
                yield chunk[0], f"{chunk[0].file}: {future.exception()}"
            else:
                # One job that ends its workers must not take the others with it.
                alone = {sent([job]): [job] for job in chunk}
                chunks |= alone
                done.update(list(alone))
