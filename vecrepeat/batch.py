"""The batch workflow: every colourway of every recipe in every size, in parallel, resumable.

A job is one file. What it depends on is hashed into its key: the recipe, the art, and this
program's version. A record of each finished file goes into a journal at once, so that a run
which was stopped, however rudely, goes on where it was; in the end the records make the
manifest.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from vecrepeat.colour.colourway import AS_DRAWN
from vecrepeat.colourways import in_recipe_colourway
from vecrepeat.errors import InputError
from vecrepeat.estimating import estimate
from vecrepeat.exporting import Exporter
from vecrepeat.files import read_toml, write_whole
from vecrepeat.formats import Cut
from vecrepeat.names import slug
from vecrepeat.recipe import Recipe
from vecrepeat.sources import Source, beside, open_source, read_recipe

JOURNAL = ".batch-journal.jsonl"
MANIFEST = "manifest.json"
PART = ".vecrepeat-*.part"
"""What :func:`vecrepeat.files.written_whole` leaves when it is killed."""

DEFAULT_PRINT: Mapping[str, Any] = {"dpi": Fraction(300)}
RESTARTS = 5
"""How often a pool whose process died is started again."""

READ_SUFFIXES = (".svg", ".svgz", ".png", ".webp", ".tif", ".tiff", ".jpg", ".jpeg", ".gif")


@dataclass(frozen=True)
class Job:
    """One file to write, as plain data that can be sent to another machine.

    Attributes:
        recipe: path of the recipe.
        colourway: its name, or :data:`AS_DRAWN`.
        number: which of the recipe's prints; -1 where it has none.
        file: path of the file.
        content: hash of the recipe and its art.
        key: hash of all that the file depends on.
    """

    recipe: str
    colourway: str
    number: int
    file: str
    content: str
    key: str


@dataclass(frozen=True)
class Limits:
    """What a receiver takes.

    Attributes:
        formats: endings such as ``png``; empty for any.
        max_pixels: of the whole picture.
        max_side: of either side in pixels.
        max_bytes: of the file.
    """

    formats: tuple[str, ...] = ()
    max_pixels: int | None = None
    max_side: int | None = None
    max_bytes: int | None = None


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


def jobs_of(recipes: Sequence[Path], folder: Path, *, only: Sequence[str] = ()) -> list[Job]:
    """Return every file that recipes ask for, each one's prints in each colourway.

    Args:
        recipes: their files.
        folder: where the files go: ``NAME/NAME-COLOURWAY-PRINT.FORMAT``.
        only: names of the colourways to write; by default all, and as drawn.

    Raises:
        InputError: a recipe can't be read, two files would have one name, or a colourway is
            not known to any recipe.
    """
    found: dict[str, Job] = {}
    known = {AS_DRAWN}
    hashes: dict[Path, str] = {}
    for path in recipes:
        recipe = read_recipe(path)
        name = slug(recipe.keys.get("name", path.stem)) or "design"
        content = _content(recipe, hashes)
        ways = [AS_DRAWN, *(row["name"] for row in recipe.colourways)]
        known |= set(ways)
        for way in ways:
            if only and way not in only:
                continue
            for number, row in enumerate(recipe.prints) if recipe.prints else [(-1, DEFAULT_PRINT)]:
                file = folder / name / _file_name(name, way, row)
                if str(file) in found:
                    raise InputError(
                        f"two jobs would both write {file.name}",
                        file=path,
                        hint='give each [[print]], and each recipe, a name = "…" of its own',
                    )
                key = _hash(content, way, number, file.relative_to(folder))
                job = Job(str(path.resolve()), way, number, str(file.resolve()), content, key)
                found[str(file)] = job
    for way in only:
        if way not in known:
            raise InputError(
                f"no recipe has the colourway “{way}”", hint=f"they have {', '.join(sorted(known))}"
            )
    return list(found.values())


def _file_name(name: str, way: str, row: Mapping[str, Any]) -> str:
    parts = [name]
    if way != AS_DRAWN:
        parts.append(slug(way) or "colourway")
    if "name" in row:
        parts.append(slug(row["name"]) or "print")
    else:
        for key in ("width", "height"):
            if key in row:
                parts.append(f"{float(row[key]):g}mm")
        parts.append(f"{float(row.get('dpi', 300)):g}dpi")
    return f"{'-'.join(parts)}.{row.get('format', 'png').lstrip('.').lower()}"


def _content(recipe: Recipe, hashes: dict[Path, str]) -> str:
    """Return a hash of a recipe and of all files that its art may draw on.

    Args:
        recipe: the recipe.
        hashes: of folders that were looked through before; more are added.
    """
    parts = [_sha256(recipe.file)]
    for key in ("art", "loose"):
        for path in beside(recipe.file, recipe.keys.get(key)):
            # Drawings may link pictures beside them.
            folder = path if path.is_dir() else path.parent
            if folder not in hashes:
                hashes[folder] = _pictures(folder)
            parts.append(hashes[folder])
    return _hash(*parts)


def _pictures(folder: Path) -> str:
    """Return a hash of a folder's drawings and pictures."""
    files = sorted(folder.iterdir()) if folder.is_dir() else []
    read = [f for f in files if f.suffix.lower() in READ_SUFFIXES and f.is_file()]
    return _hash(*(part for file in read for part in (file.name, _sha256(file))))


def _hash(*parts: object) -> str:
    told = json.dumps([version("vecrepeat"), *map(str, parts)])
    return hashlib.sha256(told.encode()).hexdigest()


def run_job(job: Job, limits: Limits | None = None) -> dict[str, Any]:
    """Write one job's file; return its record.

    Raises:
        InputError: it can't be written, or the receiver would not take it.
    """
    exporter, cut = _cut(job)
    file = Path(job.file)
    if limits is not None:
        _hold(file, limits, cut.width, cut.height)
    done = exporter.write(file, cut)
    if limits is not None and limits.max_bytes is not None and done.size > limits.max_bytes:
        file.unlink()
        raise InputError(
            f"it has {done.size:,} bytes, the receiver takes {limits.max_bytes:,}",
            file=file,
            hint="lower the dpi or the size, or choose another format",
        )
    return {
        "key": job.key,
        "recipe": job.recipe,
        "colourway": job.colourway,
        **done.as_dict(),
        "sha256": _sha256(file),
        "profile": done.facts.get("profile", "sRGB"),
    }


def _hold(file: Path, limits: Limits, width: int, height: int) -> None:
    ending = file.suffix.lstrip(".").lower()
    if limits.formats and ending not in limits.formats:
        raise InputError(
            f"the receiver takes no .{ending}", file=file, hint=f"use {', '.join(limits.formats)}"
        )
    if ending == "pdf":
        return
    if limits.max_side is not None and max(width, height) > limits.max_side:
        raise InputError(
            f"{width:,} × {height:,} px is longer than the receiver's {limits.max_side:,} px",
            file=file,
            hint="lower the dpi or the size",
        )
    if limits.max_pixels is not None and width * height > limits.max_pixels:
        raise InputError(
            f"{width * height:,} px are more than the receiver's {limits.max_pixels:,}",
            file=file,
            hint="lower the dpi or the size",
        )


def _cut(job: Job) -> tuple[Exporter, Cut]:
    """Return what draws a job, and what of it."""
    exporter = _exporter(job.recipe, job.content, job.colourway)
    recipe = _source(job.recipe, job.content).recipe
    assert recipe is not None
    row = DEFAULT_PRINT if job.number < 0 else recipe.prints[job.number]
    dpi = row.get("dpi", DEFAULT_PRINT["dpi"])
    plan = exporter.plan(dpi, width=row.get("width"), height=row.get("height"))
    return exporter, exporter.sheet(plan, size=row.get("sheet"), block=row.get("block", False))


# Jobs in a row are mostly of one recipe. By its content too, so that a changed one is read again.
@lru_cache(maxsize=2)
def _source(recipe: str, content: str) -> Source:
    return open_source(recipe)


@lru_cache(maxsize=2)
def _exporter(recipe: str, content: str, colourway: str) -> Exporter:
    source = _source(recipe, content)
    if colourway == AS_DRAWN:
        return Exporter(source.repeat)
    return Exporter(in_recipe_colourway(source, colourway))


def _sha256(file: Path) -> str:
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


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
    return bool(file.stat().st_size == record["bytes"] and _sha256(file) == record["sha256"])


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


# ------------------------------------------------------------------------------------ dry runs


@dataclass(frozen=True)
class Planned:
    """A file that a batch would write.

    Attributes:
        file: its path.
        width: in pixels.
        height: in pixels.
        bytes: about how large it will be.
    """

    file: str
    width: int
    height: int
    bytes: int


def planned(jobs: Sequence[Job]) -> Iterator[Planned]:
    """Yield what each job would write, with an estimate of its size.

    The estimate is that of a print in its first colourway: the others have the same edges. See
    :func:`vecrepeat.estimating.estimate`.
    """
    known: dict[tuple[str, int], int] = {}
    for job in jobs:
        exporter, cut = _cut(job)
        key = (job.recipe, job.number)
        if key not in known:
            known[key] = estimate(exporter, cut, Path(job.file).suffix)
        yield Planned(job.file, cut.width, cut.height, known[key])


def read_limits(path: Path) -> Limits:
    """Read a receiver's limits from a TOML file.

    Keys: ``formats``, ``max-pixels``, ``max-side``, ``max-bytes``.

    Raises:
        InputError: it can't be read, or has another key or a value that does not suit.
    """
    data = read_toml(path, "can't read the limits", "the limits are not TOML")
    limits = Limits()
    for key, value in data.items():
        name = key.replace("-", "_")
        if key == "formats" and isinstance(value, list) and all(isinstance(v, str) for v in value):
            limits = replace(limits, formats=tuple(v.lstrip(".").lower() for v in value))
        elif key in ("max-pixels", "max-side", "max-bytes") and type(value) is int and value > 0:
            limits = replace(limits, **{name: value})  # type: ignore[arg-type]
        else:
            raise InputError(
                f"{key} = {value!r} is no limit",
                file=path,
                hint="known are formats, max-pixels, max-side and max-bytes",
            )
    return limits
