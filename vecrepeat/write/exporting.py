"""The export workflow: a repeat to a print-ready file of any size."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from os import SEEK_END
from pathlib import Path
from string import Formatter
from typing import TYPE_CHECKING, Any

from vecrepeat.core.allowance import PIXELS, SHEET_PIXELS
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import listed, plain_name
from vecrepeat.core.units import (
    MM_PER_INCH,
    Size,
    format_bytes,
    format_mm,
    parse_length,
    parse_size,
)
from vecrepeat.draw.cairo_library import NO_CAIRO, has_cairo, usual_engine
from vecrepeat.draw.paint import CairoEngine, Painter
from vecrepeat.draw.plan import PixelPlan, plan_pixels, sheet_pixels, stretch_note
from vecrepeat.draw.sheet import Sheet
from vecrepeat.repeat.model import Drawn, Motif, Repeat
from vecrepeat.scene.kinds import cairo_draws
from vecrepeat.scene.visit import blends_below
from vecrepeat.util.files import written_whole
from vecrepeat.write.formats import Cut, FileJob, Progress, Settings, format_of
from vecrepeat.write.picture import Picture
from vecrepeat.write.pictures import coarse_pictures

if TYPE_CHECKING:
    from vecrepeat.draw.mixed import MixedEngine
    from vecrepeat.draw.resvg_paint import ResvgEngine

ENGINES = ("auto", "cairo", "resvg")

DPI = Fraction(300)
"""Pixels per inch where none are given (common practice for print, no source)."""

NO_SETTINGS = Settings()
"""What a format is told where nothing is asked for."""


@dataclass(frozen=True)
class Exported:
    """What was written.

    Attributes:
        file: the file.
        cut: what it shows.
        size: bytes of the file.
        in_pixels: whether the file is made of pixels.
        notes: what the receiver should know, a sentence each.
        facts: what its format adds, by name.
    """

    file: Path
    cut: Cut
    size: int
    in_pixels: bool = True
    notes: tuple[str, ...] = ()
    facts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def plan(self) -> PixelPlan:
        """The tile in whole pixels, its deviation included."""
        return self.cut.plan

    @property
    def width(self) -> int:
        """In pixels."""
        return self.cut.width

    @property
    def height(self) -> int:
        """In pixels."""
        return self.cut.height

    def line(self) -> str:
        """Return the facts as one line."""
        if not self.in_pixels:
            mm = " × ".join(format_mm(side) for side in self.cut.size)
            return f"{self.file}: {mm}, {format_bytes(self.size)}"
        dpi = self.plan.dpi
        mm = " × ".join(format_mm(px * MM_PER_INCH / dpi) for px in (self.width, self.height))
        return (
            f"{self.file}: {self.width:,} × {self.height:,} px at {float(dpi):g} dpi, {mm}, "
            f"{format_bytes(self.size)}"
        )

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data, lengths in mm."""
        plan = self.plan
        facts: dict[str, Any] = {"file": str(self.file)}
        if self.in_pixels:
            facts |= {"width_px": self.width, "height_px": self.height, "dpi": float(plan.dpi)}
        facts |= {
            "bytes": self.size,
            "layout": str(plan.repeat.layout),
            "size_mm": [float(side) for side in self.cut.size],
            "tile_mm": [float(v) for v in (plan.printed if self.in_pixels else self.cut.tile)],
        }
        if self.in_pixels:
            facts |= {
                "tile_px": [plan.width, plan.height],
                "straight_block_px": list(plan.block),
                "deviation_mm": list(plan.deviation_mm),
                "deviation_ppm": list(plan.deviation_ppm),
            }
        return {**facts, **self.facts, "notes": list(self.notes)}


class Exporter:
    """Exports one repeat any number of times from one reading of its art.

    Args:
        repeat: the endless cloth, or art to be laid as a block.
        engine: ``cairo``, ``resvg``, or ``auto``: each motif by cairo unless it uses what that
            does not draw faithfully; all by resvg where a motif blends with what lies below it,
            or the library is not on this machine.

    Raises:
        InputError: another engine, or cairo where it is not on this machine.
    """

    def __init__(self, repeat: Repeat | Drawn, *, engine: str = "auto") -> None:
        if engine not in ENGINES:
            raise InputError(f"engine “{engine}” is not known", hint="use auto, cairo or resvg")
        self.repeat = repeat = Repeat.of(repeat)
        self.beyond_cairo = [
            (motif.name, feature)
            for motif in dict.fromkeys(placement.motif for placement in repeat.placements)
            for feature in motif.features
            if not cairo_draws([feature])
        ]
        if engine == "cairo" and not has_cairo():
            raise InputError(
                "the cairo library is not on this machine", hint="leave --engine to auto"
            )
        self._engine = engine
        self._drawer: CairoEngine | MixedEngine | ResvgEngine | None = None

    @cached_property
    def engine(self) -> str:
        """What draws the pixels: ``cairo``, ``resvg`` or ``both``."""
        if self._engine != "auto":
            return self._engine
        if not self.beyond_cairo or usual_engine() == "resvg":
            return usual_engine()
        return "resvg" if any(blends_below(motif.scene) for motif in self._beyond) else "both"

    @cached_property
    def _beyond(self) -> list[Motif]:
        """The motifs that cairo does not draw faithfully."""
        motifs = dict.fromkeys(placement.motif for placement in self.repeat.placements)
        return [motif for motif in motifs if not cairo_draws(motif.features)]

    def plan(
        self,
        dpi: Fraction,
        *,
        width: Fraction | None = None,
        height: Fraction | None = None,
        exact: bool = False,
    ) -> PixelPlan:
        """Plan one tile in whole pixels; see :func:`vecrepeat.draw.plan.plan_pixels`."""
        return plan_pixels(self.repeat, dpi, width=width, height=height, exact=exact)

    def painter(self, plan: PixelPlan, *, ground: bool = True) -> Painter:
        """Return what draws windows of the plane at ``plan``'s size."""
        if self._drawer is None:
            if self.engine == "cairo":
                self._drawer = CairoEngine(self.repeat)
            elif self.engine == "both":
                from vecrepeat.draw.mixed import MixedEngine

                self._drawer = MixedEngine(self.repeat, self._beyond)
            else:
                from vecrepeat.draw.resvg_paint import ResvgEngine

                self._drawer = ResvgEngine(self.repeat)
        painter = self._drawer.painter(plan, ground=ground)
        if self.repeat.symmetry is None:
            return painter
        from vecrepeat.draw.mirrored import mirrored

        return mirrored(painter, plan)

    def engine_note(self) -> str | None:
        """Return why the second engine draws, or what the first will not draw faithfully."""
        if not self.beyond_cairo:
            replaced = self._engine == "auto" and self.engine == "resvg"
            return NO_CAIRO if replaced else None
        shown = [f"“{name}” ({feature.kind})" for name, feature in self.beyond_cairo]
        names = listed(list(dict.fromkeys(shown)))
        if self.engine == "cairo":
            return f"the cairo engine does not draw faithfully: {names}"
        if self.engine == "both":
            return f"resvg draws {names}"
        return f"all is drawn by resvg, for the sake of {names}"

    def sheet(
        self,
        plan: PixelPlan,
        *,
        size: Size | None = None,
        block: bool = False,
        on_pixels: bool = False,
    ) -> Cut:
        """Return the rectangle to write: a sheet of ``size``, a straight block or one tile.

        With ``on_pixels`` vectors too are laid out on whole pixels of the plan's dpi, so that
        they lie where a picture has them; otherwise they are of the exact size.
        """
        if size is not None:
            sides = sheet_pixels(size, plan.dpi)
            return Cut(plan, *sides, size=size, patterned=True, on_pixels=on_pixels)
        width, height = plan.block if block else (plan.width, plan.height)
        tile = plan.actual if on_pixels else plan.printed
        exact = Size(tile.width * width / plan.width, tile.height * height / plan.height)
        return Cut(plan, width, height, size=exact, patterned=False, on_pixels=on_pixels)

    def write(
        self,
        path: str | Path,
        cut: Cut,
        *,
        transparent: bool = False,
        settings: Settings = NO_SETTINGS,
        progress: Progress | None = None,
    ) -> Exported:
        """Write a file in the format of its suffix, whole or not at all.

        Args:
            path: the file to write; :data:`vecrepeat.write.formats.FORMATS` lists the suffixes.
            cut: from :meth:`sheet`.
            transparent: leave the ground out; pictures get an alpha channel. Otherwise bare
                cloth is white.
            settings: what else the format is told.
            progress: called with rows finished.

        Raises:
            InputError: another suffix, settings the format can't take, a sheet it can't hold, or
                a file that can't be written.
        """
        file = Path(path)
        writer = format_of(file, settings)

        def picture() -> Picture:
            painter = self.painter(cut.plan, ground=not transparent)
            return Picture(cut, painter, transparent, settings.colour)

        job = FileJob(
            file, self.repeat, cut, transparent, settings, picture, lambda: self.notes(cut)
        )
        for (across, down), most, what in (
            (cut.needed, PIXELS, "to be drawn"),
            ((cut.width, cut.height), SHEET_PIXELS, "to be written"),
        ):
            if file.suffix.lower() != ".pdf" and across * down > most:
                raise InputError(
                    f"{across:,} × {down:,} px are too many {what} for one file",
                    file=file,
                    hint="lower the dpi or the size",
                )
        with written_whole(file) as out:
            written = writer.write(out, job, progress)
            out.seek(0, SEEK_END)
            size = out.tell()
        notes, facts = list(written.notes), dict(written.facts)
        if (colour := settings.colour) is not None:
            palette = self.palette()
            facts |= {
                "profile": colour.name,
                "intent": colour.intent,
                "black_point_compensation": colour.black_point,
                "out_of_gamut": [m._asdict() for m in colour.moved(palette)],
            }
            notes += [note] if (note := colour.note(palette)) else []
        return Exported(file, cut, size, written.in_pixels, tuple(notes), facts)

    def palette(self) -> list[str]:
        """Return the colours of the ground and of all motifs, as ``#rrggbb``."""
        ground = [] if self.repeat.ground is None else [self.repeat.ground.colour]
        motifs = [c for placement in self.repeat.placements for c in placement.motif.colours]
        return list(dict.fromkeys([*ground, *motifs]))

    def notes(self, sheet: Sheet) -> Iterator[str]:
        """Yield what the receiver of a sheet should know."""
        plan = sheet.plan
        if note := self.engine_note():
            yield note
        if note := stretch_note(self.repeat, plan.printed):
            yield note
        yield from coarse_pictures(
            self.repeat,
            max(plan.printed.width / plan.repeat.width, plan.printed.height / plan.repeat.height),
        )
        if note := plan.note():
            yield note
        one_tile = (sheet.width, sheet.height) == (plan.width, plan.height)
        if one_tile and not plan.has_whole_shift:
            side = "height" if self.repeat.layout.kind == "drop" else "width"
            yield (
                f"the tile's {side} does not divide by {self.repeat.layout.steps} in pixels, so "
                f"this {self.repeat.layout} tile can't be laid out in whole pixels: send the "
                "straight block (--block) or choose another size"
            )


def export(
    repeat: Repeat | Drawn,
    path: str | Path,
    *,
    dpi: Fraction | int | float | str | None = None,
    width: Fraction | str | None = None,
    height: Fraction | str | None = None,
    sheet: Size | str | None = None,
    block: bool = False,
    exact: bool = False,
    transparent: bool = False,
    engine: str = "auto",
    settings: Settings = NO_SETTINGS,
    progress: Progress | None = None,
) -> Exported:
    """Write one tile, a straight block or a sheet of a repeat in the format of the file's suffix.

    For several sizes of one repeat keep an :class:`Exporter`.

    Args:
        repeat: the endless cloth, or art to be laid as a block.
        path: the file to write.
        dpi: pixels per inch; 300 where not given. Where it is given a PDF's tiles are laid out on
            whole pixels too, and lie where a picture has them; otherwise they are exact.
        width: one tile's print width, in mm or as text such as ``"12in"``.
        height: one tile's print height, likewise.
        sheet: fill a sheet of this size, in mm or as text such as ``"54x36in"``.
        block: write the straight block instead of one tile.
        exact: refuse a tile that is not a whole number of pixels.
        transparent: leave the ground out; pictures get an alpha channel.
        engine: ``auto``, ``cairo`` or ``resvg``; see :class:`Exporter`.
        settings: what else the format is told.
        progress: called with rows finished.

    Raises:
        InputError: a size that can't be used, or a file that can't be written.
    """
    if sheet is not None and block:
        raise InputError("a sheet and a block exclude each other", hint="give one of them")
    exporter = Exporter(repeat, engine=engine)
    plan = exporter.plan(
        DPI if dpi is None else Fraction(dpi),
        width=parse_length(width, "width") if isinstance(width, str) else width,
        height=parse_length(height, "height") if isinstance(height, str) else height,
        exact=exact,
    )
    size = parse_size(sheet, "sheet") if isinstance(sheet, str) else sheet
    planned = exporter.sheet(plan, size=size, block=block, on_pixels=dpi is not None)
    return exporter.write(
        path, planned, transparent=transparent, settings=settings, progress=progress
    )


def file_name(template: str, fields: dict[str, str]) -> str:
    """Fill a file-name template such as ``out/{name}-{width}-{dpi}.png``.

    What is filled in becomes a part of a name: no field leads to another folder.

    Raises:
        InputError: a placeholder that is not known, or braces that don't match.
    """
    hint = f"known are {', '.join(f'{{{key}}}' for key in fields)}; write a brace as {{{{"
    try:
        parts = list(Formatter().parse(template))
    except ValueError:
        raise InputError(
            f"the output name “{template}” is not a usable template", hint=hint
        ) from None
    name = ""
    for text, placeholder, spec, conversion in parts:
        name += text
        if placeholder is None:
            continue
        if placeholder not in fields or spec or conversion:
            raise InputError(
                f"the output name “{template}” has the unknown placeholder {{{placeholder}}}",
                hint=hint,
            )
        name += plain_name(fields[placeholder])
    return name
