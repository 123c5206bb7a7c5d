"""A batch's jobs, run: each writes one file and returns its record."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vecrepeat.batch.jobs import ANY, DEFAULT_PRINT, Job, Limits, sha256_of
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import Size, format_bytes, format_mm
from vecrepeat.recipe.files import print_named, read_prints
from vecrepeat.recipe.model import AS_DRAWN
from vecrepeat.repeat.layout import Layout
from vecrepeat.sources.source import Source, open_source
from vecrepeat.write.estimating import estimate
from vecrepeat.write.exporting import Exporter
from vecrepeat.write.formats import Cut, Settings


def attempt(job: Job, limits: Limits) -> dict[str, Any] | str:
    """Run a job; return its record, or the one line that says why there is none."""
    try:
        return run_job(job, limits)
    except InputError as error:
        return str(error.of(job.source))
    except Exception as error:
        # A fault of ours in one job must not stop a thousand others.
        return f"{job.file}: {type(error).__name__}: {error}"


def attempt_all(jobs: Sequence[Job], limits: Limits) -> list[dict[str, Any] | str]:
    """Run jobs one after the other; return what :func:`attempt` does for each."""
    return [attempt(job, limits) for job in jobs]


def run_job(job: Job, limits: Limits = ANY) -> dict[str, Any]:
    """Write one job's file; return its record.

    Raises:
        InputError: it can't be written, or the receiver would not take it.
    """
    row = _row(job)
    exporter, cut = _cut(job, row)
    file = Path(job.file)
    width, height = _pixels(file, cut)
    if refused := limits.refusal(file, width, height):
        raise refused
    done = exporter.write(file, cut, settings=_settings(job, row))
    if refused := limits.refusal(file, width, height, done.size):
        file.unlink()
        raise refused
    collected = _source(job).collected
    return {
        "key": job.key,
        "source": job.source,
        **({} if collected is None else {"role": collected.one.role}),
        "colourway": job.colourway,
        **done.as_dict(),
        "sha256": sha256_of(file),
        "profile": done.facts.get("profile", "sRGB"),
    }


def _pixels(file: Path, cut: Cut) -> tuple[int, int] | tuple[None, None]:
    """Return a file's sides in pixels, if it has any."""
    return (None, None) if file.suffix.lower() == ".pdf" else (cut.width, cut.height)


def _cut(job: Job, row: Mapping[str, Any]) -> tuple[Exporter, Cut]:
    """Return what draws a job, and what of it."""
    exporter = _exporter(job)
    dpi, on_pixels = row.get("dpi", DEFAULT_PRINT["dpi"]), "dpi" in row
    if "cloth" in row:
        from vecrepeat.goods.cloth import plan_cloth
        from vecrepeat.goods.tables import read_tables

        tables = read_tables(None)
        bolt = tables.bolt(row.get("bolt", "140cm"))
        cloth = plan_cloth(
            exporter.repeat, tables.cut(row["cloth"]), bolt, repeat_width=row.get("width")
        )
        plan = exporter.plan(dpi, width=cloth.tile.width, height=cloth.tile.height)
        return exporter, exporter.sheet(plan, size=cloth.sheet, on_pixels=on_pixels)
    plan = exporter.plan(dpi, width=row.get("width"), height=row.get("height"))
    size, block = row.get("sheet"), row.get("block", False)
    return exporter, exporter.sheet(plan, size=size, block=block, on_pixels=on_pixels)


def _row(job: Job) -> Mapping[str, Any]:
    """Return the table of a job's print."""
    if job.number < 0:
        return DEFAULT_PRINT
    recipe = _source(job).recipe
    if recipe is not None and job.prints == job.source:
        return recipe.prints[job.number]
    return read_prints(Path(job.prints))[job.number]


def _settings(job: Job, row: Mapping[str, Any]) -> Settings:
    """Return what the format of a job is told."""
    if "profile" not in row:
        return Settings()
    from vecrepeat.write.icc import open_conversion

    prints = Path(job.prints)
    file, _ = print_named(prints) or (prints, None)
    path = file.parent / row["profile"]
    return Settings(colour=open_conversion(path, intent=row.get("intent", "relative")))


class _Last(threading.local):
    """What the job before was of, in each thread: jobs in a row are mostly of one recipe.

    By its content too, so that a recipe that has changed is read again.
    """

    source: tuple[tuple[str, str], Source] | None = None
    exporter: tuple[tuple[str, str, str], Exporter] | None = None


_last = _Last()


def _source(job: Job) -> Source:
    key = (job.source, job.content)
    if _last.source is None or _last.source[0] != key:
        layout = None if job.layout is None else Layout.parse(job.layout)
        _last.source = (key, open_source(job.source, layout=layout))
    return _last.source[1]


def _exporter(job: Job) -> Exporter:
    key = (job.source, job.content, job.colourway)
    if _last.exporter is None or _last.exporter[0] != key:
        # The one before goes first, so that its engine draws for this one too.
        _last.exporter = None
        source = _source(job)
        as_drawn = job.colourway == AS_DRAWN
        repeat = source.repeat if as_drawn else source.in_colourway(job.colourway)
        _last.exporter = (key, Exporter(repeat))
    return _last.exporter[1]


@dataclass(frozen=True)
class Planned:
    """A file that a batch would write.

    Attributes:
        file: its path.
        width: in pixels; None where it is not made of them.
        height: likewise.
        size: in mm.
        bytes: about how large it will be.
        refused: why the receiver would not take it, or None.
    """

    file: str
    width: int | None
    height: int | None
    size: Size
    bytes: int
    refused: str | None = None

    def line(self) -> str:
        """Return the facts as one line."""
        sides = " × ".join(format_mm(side) for side in self.size)
        if self.width is not None:
            sides = f"{self.width:,} × {self.height:,} px, {sides}"
        return f"{self.file}: {sides}, about {format_bytes(self.bytes)}"

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data, lengths in mm."""
        return {
            "file": self.file,
            "width_px": self.width,
            "height_px": self.height,
            "size_mm": [float(side) for side in self.size],
            "bytes": self.bytes,
            "refused": self.refused,
        }


def planned(jobs: Sequence[Job], limits: Limits = ANY) -> Iterator[Planned]:
    """Yield what each job would write, with an estimate of its size.

    The estimate is that of a print in its first colourway: the others have the same edges. See
    :func:`vecrepeat.write.estimating.estimate`.
    """
    known: dict[tuple[str, int], int] = {}
    for job in jobs:
        exporter, cut = _cut(job, _row(job))
        key = (job.source, job.number)
        if key not in known:
            known[key] = estimate(exporter, cut, Path(job.file).suffix)
        file, size = Path(job.file), known[key]
        width, height = _pixels(file, cut)
        refused = limits.refusal(file, width, height, size)
        yield Planned(job.file, width, height, cut.size, size, str(refused) if refused else None)
