"""The repeat as PDF: a true tiling pattern, vector, at any sheet size.

A sheet is two rectangles, the ground and one filled with a tiling pattern whose cell is the
straight block; so its size hardly depends on the sheet's. A tile or a block is a plain drawing.

Standard: ISO 32000-1 ("PDF" below), sections from memory: §8.7.3 tiling patterns, §7.11.4
embedded files.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import BinaryIO

from pikepdf import AttachedFileSpec, Name, Pdf

from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.core.names import slug
from vecrepeat.draw.plan import stretch_note
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.repeat.wrap import Copy, copies, placed
from vecrepeat.scene.kinds import BLEND
from vecrepeat.write.formats import Cut, FileJob, Part, Progress, Settings, WrittenFile
from vecrepeat.write.icc import Conversion
from vecrepeat.write.pdf_image import raster_form
from vecrepeat.write.pdf_marks import SLUG, marks
from vecrepeat.write.pdf_motif import BEYOND_PDF, MotifWriter
from vecrepeat.write.pdf_page import (
    LONGEST_PAGE,
    POINTS_PER_MM,
    Frame,
    add_page,
    exact,
    frame,
    save,
)
from vecrepeat.write.pdf_resources import Resources, decimal, matrix_text, numbers, tint

TAKES = frozenset(("colour", "bleed", "page_length", "marks", "label", "joins"))

MAX_PAGES = 1000
"""The most pages of one sheet."""

CELL_UNITS = 100
"""Units of a pattern's cell to the mm of the drawing.

poppler clips shadings in a cell to as many pixels as its box has units, so a unit is to be less
than a pixel.
"""

CELL_SHORT = 1e-8
"""By which share of itself a cell is short of its size; see :func:`_cell_matrix`. On fifty metres
it comes to half a micrometre."""


def write(out: BinaryIO, job: FileJob, progress: Progress | None) -> WrittenFile:
    """Write a job as PDF."""
    cut, settings = job.cut, job.settings
    starts = _starts(cut, settings)
    with Pdf.new() as pdf:
        resources = Resources(pdf)
        motifs = _Motifs(job, resources)
        frames = []
        for number, start in enumerate(starts, 1):
            length = cut.size.height - start
            if settings.page_length is not None:
                length = min(length, settings.page_length)
            boxes = frame(cut.size.width, length, settings.bleed, SLUG * settings.marks)
            content = []
            for part in cut.parts or (Part(job.repeat),):
                content += _filled(part, start, boxes, motifs)
            if settings.marks:
                told = settings
                if len(starts) > 1:
                    label = f"{settings.label}  page {number} of {len(starts)}".strip()
                    told = replace(settings, label=label)
                content += marks(pdf, resources, boxes, told)
            page = add_page(pdf, boxes, resources, "\n".join(content).encode("ascii"))
            page.BleedBox = exact(boxes.bleed, boxes.unit)
            frames.append(boxes)
        if settings.colour is not None:
            _attach(pdf, settings.colour)
        save(pdf, out, job.repeat.name)
    if progress is not None:
        progress(cut.height)
    boxes = frames[0]
    facts = {
        "pages": len(frames),
        "user_unit": boxes.unit,
        "copies": motifs.copies,
        "rasterised": [motif.name for motif in motifs.rasterised],
        **{
            f"{name}_box_mm": [float(v / POINTS_PER_MM * boxes.unit) for v in box]
            for name, box in (("media", boxes.media), ("bleed", boxes.bleed), ("trim", boxes.trim))
        },
    }
    return WrittenFile(tuple(_notes(job, boxes, motifs.rasterised)), facts, in_pixels=False)


def _starts(cut: Cut, settings: Settings) -> list[Fraction]:
    """Return where each page begins, in mm from the top of the sheet."""
    longest = settings.page_length or cut.size.height
    count = math.ceil(cut.size.height / longest)
    if count > MAX_PAGES:
        raise InputError(
            f"the sheet takes {count:,} pages, more than {MAX_PAGES}", hint="take longer pages"
        )
    return [number * longest for number in range(count)]


def _filled(part: Part, start: Fraction, boxes: Frame, motifs: _Motifs) -> list[str]:
    """Return operators that fill a part of a page with its repeat.

    Args:
        part: of the sheet.
        start: where the page begins, in mm from the top of the sheet.
        boxes: the page's.
        motifs: of the job.
    """
    job, repeat, cut = motifs.job, part.repeat, motifs.job.cut
    # User units of the page to the mm of the sheet's drawing, and to the mm of the part's.
    unit = POINTS_PER_MM / boxes.unit
    wide = cut.tile.width / job.repeat.width * unit
    across = wide * part.scale[0]
    down = cut.tile.height / job.repeat.height * unit * part.scale[1]
    left, top = boxes.trim[0], boxes.trim[3]
    x0, y0, x1, y1 = boxes.bleed
    if part.span is not None:
        x0, x1 = (left + side * wide for side in part.span)
        left = x0
    area = " ".join(decimal(float(v)) for v in (x0, y0, x1 - x0, y1 - y0))
    ground = _ground(job, repeat, motifs.resources, f"{area} re f")
    if cut.patterned:
        # Where the block that the page begins in has its top.
        top += start * unit % (repeat.block_size[1] * down)
        ends = (boxes.trim[2] - left, top - boxes.trim[1])
        matrix = _cell_matrix(repeat.block_size, (across, down), ends, (left, top))
        name = _cell(motifs, repeat, matrix)
        return [*ground, "q", f"/Pattern cs /{name} scn", f"{area} re f", "Q"]
    top += start * unit
    ends_x, ends_y = ((x - left) / across for x in (x0, x1)), ((top - y) / down for y in (y1, y0))
    sides = zip(ends_x, ends_y, strict=True)
    region = Rect(*(float(v) for pair in sides for v in pair))
    matrix = Affine(*(float(v) for v in (across, 0, 0, -down, left, top)))
    drawn = motifs.drawn(repeat, copies(repeat, region))
    return [*ground, "q", f"{area} re W n", f"{matrix_text(matrix)} cm", *drawn, "Q"]


def _cell(motifs: _Motifs, repeat: Repeat, matrix: Affine) -> str:
    """Return the name of a tiling pattern (§8.7.3.1) whose cell is a repeat's straight block.

    Its corner is the block's top left, yet upright: no reader has to turn a cell over.
    """
    resources = motifs.resources
    width, height = (float(side) * CELL_UNITS for side in repeat.block_size)
    box = " ".join(decimal(v) for v in (0.0, -height, width, height))
    block = Rect(0.0, 0.0, *(float(side) for side in repeat.block_size))
    content = [
        *_ground(motifs.job, repeat, resources, f"{box} re f") * motifs.blends,
        f"{CELL_UNITS} 0 0 -{CELL_UNITS} 0 0 cm",
        *motifs.drawn(repeat, copies(repeat, block)),
    ]
    cell = resources.pdf.make_stream("\n".join(content).encode("ascii"))
    cell.Type, cell.PatternType, cell.PaintType, cell.TilingType = Name.Pattern, 1, 1, 1
    cell.BBox = numbers((0.0, -height, width, 0.0))
    cell.XStep, cell.YStep = numbers((width, height))
    cell.Matrix, cell.Resources = numbers(matrix), resources.dictionary
    return resources.named("Pattern", cell)


def _cell_matrix(
    block: tuple[Fraction, Fraction],
    scale: tuple[Fraction, Fraction],
    ends: tuple[Fraction, Fraction],
    corner: tuple[Fraction, Fraction],
) -> Affine:
    """Return the map from a pattern's cell to its page.

    Readers draw a cell as pixels and round its edges, some outwards: at a whole number of pixels
    no edge may be a hair beyond one. So cells are a hair short, and lie so far to the right and
    down that the first begins a hair after its place and the last ends a hair before. A larger
    hair would help pdfium, which reckons in single precision and rounds a cell's size up, and
    harm MuPDF, which does so too and cuts off each cell's distance from the first.

    Args:
        block: the straight block's width and height in mm of the drawing.
        scale: user units of the page to the mm of the drawing, across and down.
        ends: how far cells go from the first one's corner, right and down, in user units.
        corner: the first one's upper left.
    """
    shifts = []
    for side, each, length in zip(block, scale, ends, strict=True):
        count = math.ceil(float(length / (side * each)) - 1e-6)
        shifts.append((count - 0.5) * float(side * each) * CELL_SHORT)
    across, down = (float(each) * (1 - CELL_SHORT) / CELL_UNITS for each in scale)
    return Affine(
        across, 0.0, 0.0, down, float(corner[0]) + shifts[0], float(corner[1]) - shifts[1]
    )


class _Motifs:
    """The motifs of a job as forms and pictures, written when first drawn."""

    def __init__(self, job: FileJob, resources: Resources) -> None:
        repeats = [part.repeat for part in job.cut.parts] or [job.repeat]
        motifs = list(dict.fromkeys(p.motif for repeat in repeats for p in repeat.placements))
        self.job = job
        self.resources = resources
        self.copies = 0
        """Of motifs that were drawn."""
        self._writer = MotifWriter(resources)
        self._names: dict[Motif, str] = {}
        self.rasterised: list[Motif] = []
        self.blends = any(f.kind == BLEND for motif in motifs for f in motif.features)
        """Whether motifs mix with what lies behind them, which must then be in the cell too."""

    def drawn(self, repeat: Repeat, found: Sequence[Copy]) -> list[str]:
        """Return operators that draw copies, in mm of the drawing, y downwards."""
        self.copies += len(found)
        out: list[str] = []
        for copy in found:
            placement = placed(repeat, copy)
            matrix = matrix_text(placement.transform)
            out.append(f"q {matrix} cm /{self._name(placement.motif)} Do Q")
        return out

    def _name(self, motif: Motif) -> str:
        if motif not in self._names:
            if _beyond_pdf(motif):
                form = raster_form(self.job, self.resources, motif)
                self.rasterised.append(motif)
            else:
                form = self._writer.form(motif)
            self._names[motif] = self.resources.named("XObject", form)
        return self._names[motif]


def _beyond_pdf(motif: Motif) -> list[str]:
    """Return the kinds of what a motif uses that a PDF can't hold as it is drawn."""
    return list(dict.fromkeys(f.kind for f in motif.features if f.kind in BEYOND_PDF))


def _ground(job: FileJob, repeat: Repeat, resources: Resources, fill: str) -> list[str]:
    ground = None if job.transparent else repeat.ground
    if ground is None:
        return []
    red, green, blue = (tint(v / 255) for v in ground.rgb)
    state = ""
    if ground.opacity != 1:
        state = f"/{resources.state(ca=round(ground.opacity, 6))} gs "
    return [f"q {state}{red} {green} {blue} rg {fill} Q"]


def _attach(pdf: Pdf, colour: Conversion) -> None:
    """Attach the profile that the print is meant for (PDF §7.11.4).

    It is no output intent: those say that the file is PDF/X or PDF/A (§14.11.5), and it is neither.
    """
    name = f"{slug(colour.name) or 'printer'}.icc"
    pdf.attachments[name] = AttachedFileSpec(
        pdf,
        colour.icc,
        filename=name,
        description=colour.name,
        mime_type="application/vnd.iccprofile",
    )


def _way_out(job: FileJob) -> str:
    """Return how a sheet comes out in pages that need no UserUnit."""
    size, settings = job.cut.size, job.settings
    room = LONGEST_PAGE / POINTS_PER_MM - 2 * (settings.bleed + SLUG * settings.marks)
    if size.width > room:
        return "a wall goes into pages as drops: see the command roll"
    count = math.ceil(size.height / room)
    length = f"{math.ceil(size.height / count)}mm"
    return f"--page-length {length} makes {count} pages of it that all show at true size"


def _notes(job: FileJob, boxes: Frame, rasterised: Sequence[Motif]) -> Iterable[str]:
    if note := stretch_note(job.repeat, job.cut.plan.printed):
        yield note
    if job.cut.on_pixels and (note := job.cut.plan.note()):
        yield note
    if boxes.unit != 1:
        yield (
            f"the page is longer than 200 in: it is written with a UserUnit of {boxes.unit}, which "
            f"some programs do not heed (they show it that many times smaller); {_way_out(job)}"
        )
    if job.settings.colour is not None:
        yield f"colours stay sRGB; {job.settings.colour.name} is attached, to convert them to"
    dpi = float(job.cut.plan.dpi)
    for motif in rasterised:
        kinds = _beyond_pdf(motif)
        hint = "; without --live-text it stays vector" if kinds == ["text"] else ""
        yield f"“{motif.name}” is a picture of {dpi:g} dpi for the sake of {', '.join(kinds)}{hint}"
