"""What a batch is to write: every print of every recipe in every colourway, a job each."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

from vecrepeat.colour.colourway import AS_DRAWN
from vecrepeat.colourways import in_recipe_colourway
from vecrepeat.errors import InputError
from vecrepeat.estimating import estimate
from vecrepeat.exporting import Exporter
from vecrepeat.files import read_toml
from vecrepeat.formats import Cut, Settings
from vecrepeat.names import slug
from vecrepeat.recipe import Recipe
from vecrepeat.sources import Source, beside, open_source, read_recipe

DEFAULT_PRINT: Mapping[str, Any] = {"dpi": Fraction(300)}
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
    parts = [sha256_of(recipe.file)]
    for key in ("art", "loose"):
        for path in beside(recipe.file, recipe.keys.get(key)):
            # Drawings may link pictures beside them.
            folder = path if path.is_dir() else path.parent
            if folder not in hashes:
                hashes[folder] = _pictures(folder)
            parts.append(hashes[folder])
    for row in recipe.prints:
        profile = recipe.file.parent / row["profile"] if "profile" in row else None
        if profile is not None and profile.is_file():
            parts.append(sha256_of(profile))
    return _hash(*parts)


def _pictures(folder: Path) -> str:
    """Return a hash of a folder's drawings and pictures."""
    files = sorted(folder.iterdir()) if folder.is_dir() else []
    read = [f for f in files if f.suffix.lower() in READ_SUFFIXES and f.is_file()]
    return _hash(*(part for file in read for part in (file.name, sha256_of(file))))


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
    done = exporter.write(file, cut, settings=_settings(job))
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
        "sha256": sha256_of(file),
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
    row = _row(job)
    dpi = row.get("dpi", DEFAULT_PRINT["dpi"])
    if "cloth" in row:
        from vecrepeat.goods.cloth import plan_cloth
        from vecrepeat.goods.tables import read_tables

        tables = read_tables(None)
        bolt = tables.bolt(row.get("bolt", "140cm"))
        cloth = plan_cloth(
            exporter.repeat, tables.cut(row["cloth"]), bolt, repeat_width=row.get("width")
        )
        plan = exporter.plan(dpi, width=cloth.tile.width, height=cloth.tile.height)
        return exporter, exporter.sheet(plan, size=cloth.sheet)
    plan = exporter.plan(dpi, width=row.get("width"), height=row.get("height"))
    return exporter, exporter.sheet(plan, size=row.get("sheet"), block=row.get("block", False))


def _row(job: Job) -> Mapping[str, Any]:
    """Return the recipe's table of a job's print."""
    recipe = _source(job.recipe, job.content).recipe
    assert recipe is not None
    return DEFAULT_PRINT if job.number < 0 else recipe.prints[job.number]


def _settings(job: Job) -> Settings:
    """Return what the format of a job is told."""
    row = _row(job)
    if "profile" not in row:
        return Settings()
    from vecrepeat.colour.icc import open_conversion

    path = Path(job.recipe).parent / row["profile"]
    return Settings(colour=open_conversion(path, intent=row.get("intent", "relative")))


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


def sha256_of(file: Path) -> str:
    """Return a file's SHA-256 in hexadecimal."""
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


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
