"""The file formats that print files are written in.

A format is one module and one line of :data:`FORMATS`. The module has

* ``TAKES``: the names of those :class:`Settings` that mean something to it;
* ``write(out, job, progress)``: writes the job to an open file, reports the rows (or copies)
  it has finished, and returns :class:`Written`.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field, fields
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Protocol, cast

from vecrepeat.errors import InputError
from vecrepeat.raster.sheet import Sheet
from vecrepeat.repeat import Repeat
from vecrepeat.units import Size

if TYPE_CHECKING:
    from vecrepeat.colour.icc import Conversion
    from vecrepeat.raster.picture import Picture

FORMATS: Mapping[str, str] = {
    ".png": "vecrepeat.raster.png_sheet",
    ".tif": "vecrepeat.raster.tiff",
    ".tiff": "vecrepeat.raster.tiff",
    ".jpg": "vecrepeat.raster.lossy",
    ".jpeg": "vecrepeat.raster.lossy",
    ".webp": "vecrepeat.raster.lossy",
    ".pdf": "vecrepeat.vector.pdf",
}
"""Which module writes files of which suffix."""

Progress = Callable[[int], None]
"""Called with the number of rows finished since the last call."""


@dataclass(frozen=True)
class Cut(Sheet):
    """A sheet together with its exact size, which formats without pixels go by.

    Attributes:
        size: in mm, before it is rounded to pixels.
        patterned: whether it is a sheet of the repeat rather than one tile or block of it.
    """

    size: Size
    patterned: bool


@dataclass(frozen=True)
class Settings:
    """What a format may be told beyond what to draw; each format takes some of them.

    Attributes:
        quality: 1 to 100, of lossy pictures; with ``max_bytes`` the best one tried.
        max_bytes: the largest file that will do.
        compression: how a TIFF is compressed: ``deflate`` (the default) or ``lzw``.
        colour: the conversion from sRGB to the printer's colours.
        bleed: how far the print runs on beyond the trimmed sheet, in mm.
        marks: whether trim and registration marks are printed.
        label: a line of Latin text on the margin beside the marks.
        joins: where a neighbour's edge will lie, in mm from the left of the trimmed sheet: marked
            beside the trim marks.
    """

    quality: int | None = None
    max_bytes: int | None = None
    compression: str | None = None
    colour: Conversion | None = None
    bleed: Fraction = Fraction(0)
    marks: bool = False
    label: str = ""
    joins: tuple[Fraction, ...] = ()

    def __post_init__(self) -> None:
        """Hold the numbers to their ranges."""
        if self.quality is not None and not 1 <= self.quality <= 100:
            raise InputError(f"quality {self.quality} is not usable", hint="1 to 100")
        if self.max_bytes is not None and self.max_bytes < 1:
            raise InputError("no file is that small", hint="such as --max-bytes 2MB")
        if not 0 <= self.bleed <= 500:
            raise InputError("the bleed is not usable", hint="0 to 500 mm, such as 3mm")


_OPTIONS = {"max_bytes": "--max-bytes", "colour": "--profile"}


@dataclass(frozen=True, eq=False)
class Job:
    """One file to be written.

    Attributes:
        file: where it is going to be.
        repeat: the endless cloth.
        cut: the rectangle of it.
        transparent: leave the ground out.
        settings: see :class:`Settings`.
        picture: returns the cut as rows of samples.
        raster_notes: yields what the receiver of those rows should know.
    """

    file: Path
    repeat: Repeat
    cut: Cut
    transparent: bool
    settings: Settings
    picture: Callable[[], Picture]
    raster_notes: Callable[[], Iterator[str]]


@dataclass(frozen=True)
class Written:
    """What a format says about a file it has written.

    Attributes:
        notes: what the receiver should know, a sentence each.
        facts: for machines, by name.
        in_pixels: whether the file is made of pixels.
    """

    notes: tuple[str, ...] = ()
    facts: Mapping[str, Any] = field(default_factory=dict)
    in_pixels: bool = True


class Format(Protocol):
    """What the module of a format holds."""

    TAKES: Collection[str]

    def write(self, out: BinaryIO, job: Job, progress: Progress | None) -> Written:
        """Write a job to an open file."""


def known(file: Path) -> str:
    """Return the suffix of a file's format.

    Raises:
        InputError: no format has it.
    """
    suffix = file.suffix.lower()
    if suffix not in FORMATS:
        raise InputError(
            f"export does not write “{file.suffix}” files" if suffix else "the name has no ending",
            file=file,
            hint=f"end the name in {', '.join(FORMATS)}",
        )
    return suffix


def format_of(file: Path, settings: Settings) -> Format:
    """Return what writes a file of this name.

    Raises:
        InputError: no format has its suffix, or the format can't take one of the settings.
    """
    suffix = known(file)
    module = cast(Format, importlib.import_module(FORMATS[suffix]))
    given = [f.name for f in fields(settings) if getattr(settings, f.name) != f.default]
    for name in given:
        if name not in module.TAKES:
            option = _OPTIONS.get(name, f"--{name}")
            raise InputError(f"{suffix} files take no {option}", file=file, hint=_takers(name))
    return module


def _takers(name: str) -> str:
    able = [
        suffix
        for suffix, module in FORMATS.items()
        if name in cast(Format, importlib.import_module(module)).TAKES
    ]
    return f"{', '.join(able)} do"
