"""The file formats that print files are written in.

A format is one module and one line of :data:`FORMATS`. The module has

* ``TAKES``: the names of those :class:`Settings` that mean something to it;
* ``write(out, job, progress)``: writes the job to an open file, reports the rows (or copies)
  it has finished, and returns :class:`WrittenFile`.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field, fields
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, NamedTuple, Protocol, cast

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import Size
from vecrepeat.draw.sheet import Sheet
from vecrepeat.repeat.model import Repeat

if TYPE_CHECKING:
    from vecrepeat.write.icc import Conversion
    from vecrepeat.write.picture import Picture

FORMATS: Mapping[str, str] = {
    ".png": "vecrepeat.write.png",
    ".tif": "vecrepeat.write.tiff",
    ".tiff": "vecrepeat.write.tiff",
    ".jpg": "vecrepeat.write.lossy",
    ".jpeg": "vecrepeat.write.lossy",
    ".webp": "vecrepeat.write.lossy",
    ".pdf": "vecrepeat.write.pdf",
}
"""Which module writes files of which suffix."""

Progress = Callable[[int], None]
"""Called with the number of rows finished since the last call."""


class Part(NamedTuple):
    """What fills a sheet, or a strip of it from top to bottom.

    Attributes:
        repeat: what it is filled with, from the strip's upper left corner on.
        scale: mm of the sheet's drawing to the mm of this one's, across and down.
        span: from where to where across, in mm of the sheet's drawing; None for all of it.
    """

    repeat: Repeat
    scale: tuple[Fraction, Fraction] = (Fraction(1), Fraction(1))
    span: tuple[Fraction, Fraction] | None = None


@dataclass(frozen=True)
class Cut(Sheet):
    """A sheet together with its exact size, which formats without pixels go by.

    Attributes:
        size: in mm, before it is rounded to pixels.
        patterned: whether it is a sheet of the repeat rather than one tile or block of it.
        on_pixels: whether formats without pixels lay tiles out on whole ones too, as pictures do.
        parts: strips that are filled by themselves in formats without pixels, where all of it
            in one would not do.
    """

    size: Size
    patterned: bool
    on_pixels: bool = False
    parts: tuple[Part, ...] = ()

    @property
    def tile(self) -> Size:
        """The tile's print size in mm in formats without pixels."""
        return self.plan.actual if self.on_pixels else self.plan.printed


@dataclass(frozen=True)
class Settings:
    """What a format may be told beyond what to draw; each format takes some of them.

    Attributes:
        quality: 1 to 100, of lossy pictures; with ``max_bytes`` the best one tried.
        max_bytes: the largest file that will do.
        compression: how a TIFF is compressed: ``deflate`` (the default) or ``lzw``.
        colour: the conversion from sRGB to the printer's colours.
        bleed: how far the print runs on beyond the trimmed sheet, in mm.
        page_length: the longest page in mm; a longer sheet becomes several, each going on where
            the one before ends.
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
    page_length: Fraction | None = None
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
        if self.page_length is not None and self.page_length < 100:
            raise InputError("the page length is not usable", hint="10 cm or more, such as 5m")


_OPTIONS = {"max_bytes": "--max-bytes", "page_length": "--page-length", "colour": "--profile"}


@dataclass(frozen=True, eq=False)
class FileJob:
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
class WrittenFile:
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

    def write(self, out: BinaryIO, job: FileJob, progress: Progress | None) -> WrittenFile:
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
