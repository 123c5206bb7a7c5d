"""The repeat as PDF: a true tiling pattern, vector, at any sheet size.

A sheet is two rectangles, the ground and one filled with a tiling pattern whose cell is the
straight block; so its size hardly depends on the sheet's. A tile or a block is a plain drawing.

Standard: ISO 32000-1 ("PDF" below), sections from memory: §8.7.3 tiling patterns, §14.11.2 page
boxes, §14.11.5 output intents, §8.3.2.3 and Annex C for the size of a page and UserUnit.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import BinaryIO

import numpy as np
from lxml import etree
from pikepdf import Array, Dictionary, Name, ObjectStreamMode, Page, Pdf, String

from vecrepeat.art.kinds import BLEND
from vecrepeat.art.normalform import elements_by_id
from vecrepeat.colour.icc import srgb_profile
from vecrepeat.formats import Job, Progress, Written
from vecrepeat.geometry import Affine, Rect
from vecrepeat.raster.plan import stretch_note
from vecrepeat.repeat import Motif
from vecrepeat.units import MM_PER_INCH
from vecrepeat.vector.pdf_features import VECTOR, is_vector
from vecrepeat.vector.pdf_marks import SLUG, marks
from vecrepeat.vector.pdf_motif import MotifWriter
from vecrepeat.vector.pdf_resources import Resources, decimal, matrix_text, numbers, tint
from vecrepeat.wrap import Copy, copies, placed

TAKES = frozenset(("colour", "bleed", "marks", "label", "joins"))

LONGEST_PAGE = 14_400
"""The longest side of a page in default user units (PDF Annex C.2)."""

CELL_UNITS = 100
"""Units of a pattern's cell to the mm of the drawing.

poppler clips shadings in a cell to as many pixels as its box has units, so a unit is to be less
than a pixel.
"""

CELL_SHORT = 1e-8
"""By which share of itself a cell is short of its size; see :func:`_cell_matrix`. On fifty metres
it comes to half a micrometre."""

BOX_SHORT = Fraction(1, 1000)
"""The most by which a box may be short of its size, in points."""

POINTS_PER_MM = 72 / MM_PER_INCH


@dataclass(frozen=True)
class Frame:
    """A page's boxes.

    Attributes:
        unit: points to a user unit of the page (UserUnit), a whole number.
        media: the page, in its user units, from nought.
        bleed: how far print runs.
        trim: the sheet itself.
    """

    unit: int
    media: tuple[Fraction, ...]
    bleed: tuple[Fraction, ...]
    trim: tuple[Fraction, ...]


def frame(width: Fraction, height: Fraction, bleed: Fraction, slug: Fraction) -> Frame:
    """Return the boxes of a sheet.

    Args:
        width: of the trimmed sheet in mm.
        height: likewise.
        bleed: beyond it on every side, in mm.
        slug: beyond that, for marks, in mm.
    """
    room = bleed + slug
    longest = (max(width, height) + 2 * room) * POINTS_PER_MM
    unit = max(1, -(-longest // LONGEST_PAGE))
    scale = POINTS_PER_MM / unit

    def box(inset: Fraction) -> tuple[Fraction, ...]:
        right, top = width + 2 * room - inset, height + 2 * room - inset
        return tuple(v * scale for v in (inset, inset, right, top))

    return Frame(int(unit), box(Fraction(0)), box(slug), box(room))


def exact(box: Iterable[Fraction], unit: int) -> Array:
    """Return a box to a millionth of its unit, or a little less.

    Readers keep boxes in single precision and round a page's pixels up, so that a hair's breadth
    more adds one, over which the drawing is stretched. So each number is the next one below that
    single precision holds, unless that is :data:`BOX_SHORT` away, as on pages of many metres.

    Args:
        box: in user units.
        unit: points to a user unit.
    """
    return Array([Decimal(math.floor(_below(v, unit) * 1_000_000)) / 1_000_000 for v in box])


def _below(value: Fraction, unit: int) -> Fraction:
    near = np.float32(float(value))
    if Fraction(float(near)) > value:
        near = np.nextafter(near, np.float32(-np.inf))
    found = Fraction(float(near))
    return found if (value - found) * unit < BOX_SHORT else value


def write(out: BinaryIO, job: Job, progress: Progress | None) -> Written:
    """Write a job as PDF."""
    repeat, cut, settings = job.repeat, job.cut, job.settings
    slug = SLUG if settings.marks else Fraction(0)
    boxes = frame(*cut.size, settings.bleed, slug)
    printed = cut.plan.printed
    # mm of the drawing to user units of the page.
    across = float(printed.width / repeat.width * POINTS_PER_MM / boxes.unit)
    down = float(printed.height / repeat.height * POINTS_PER_MM / boxes.unit)
    with Pdf.new() as pdf:
        resources = Resources(pdf)
        motifs = _Motifs(job, resources)
        left, top = float(boxes.trim[0]), float(boxes.trim[3])
        x0, y0, x1, y1 = (float(v) for v in boxes.bleed)
        area = " ".join(decimal(v) for v in (x0, y0, x1 - x0, y1 - y0))
        content = [*_ground(job, resources, f"{area} re f")]
        if cut.patterned:
            width, height = (float(side) for side in repeat.block_size)
            found = copies(repeat, Rect(0.0, 0.0, width, height))
            # Its corner is the block's top left, yet upright: no reader has to turn a cell over.
            matrix = _cell_matrix(repeat.block_size, across, down, boxes)
            width, height = width * CELL_UNITS, height * CELL_UNITS
            box = " ".join(decimal(v) for v in (0.0, -height, width, height))
            cell = pdf.make_stream(
                "\n".join(
                    [
                        *_ground(job, resources, f"{box} re f") * motifs.blends,
                        f"{CELL_UNITS} 0 0 -{CELL_UNITS} 0 0 cm",
                        *motifs.drawn(found),
                    ]
                ).encode("ascii")
            )
            cell.Type, cell.PatternType, cell.PaintType, cell.TilingType = Name.Pattern, 1, 1, 1
            cell.BBox = numbers((0.0, -height, width, 0.0))
            cell.XStep, cell.YStep = numbers((width, height))
            cell.Matrix, cell.Resources = numbers(matrix), resources.dictionary
            name = resources.named("Pattern", cell)
            content += ["q", f"/Pattern cs /{name} scn", f"{area} re f", "Q"]
        else:
            region = Rect(
                (x0 - left) / across, (top - y1) / down, (x1 - left) / across, (top - y0) / down
            )
            found = copies(repeat, region)
            matrix = Affine(across, 0.0, 0.0, -down, left, top)
            content += ["q", f"{area} re W n", f"{matrix_text(matrix)} cm"]
            content += [*motifs.drawn(found), "Q"]
        if settings.marks:
            content += marks(pdf, resources, boxes, settings)
        _page(pdf, resources, boxes, content)
        _output_intent(pdf, job)
        pdf.docinfo["/Title"] = String(repeat.name)
        pdf.docinfo["/Producer"] = String("vecrepeat")
        # The same job is the same bytes, so that a manifest may hold its hash.
        pdf.save(
            out,
            compress_streams=True,
            object_stream_mode=ObjectStreamMode.generate,
            deterministic_id=True,
            min_version="1.7",
        )
    if progress is not None:
        progress(cut.height)
    facts = {
        "user_unit": boxes.unit,
        "copies": len(found),
        "rasterised": [motif.name for motif in motifs.rasterised],
        **{
            f"{name}_box_mm": [float(v / POINTS_PER_MM * boxes.unit) for v in box]
            for name, box in (("media", boxes.media), ("bleed", boxes.bleed), ("trim", boxes.trim))
        },
    }
    return Written(tuple(_notes(job, boxes, motifs.rasterised)), facts, in_pixels=False)


def _cell_matrix(
    block: tuple[Fraction, Fraction], across: float, down: float, boxes: Frame
) -> Affine:
    """Return the map from a pattern's cell to its page.

    Readers draw a cell as pixels and round its edges, some outwards: at a whole number of pixels
    no edge may be a hair beyond one. So cells are a hair short, and lie so far to the right and
    down that the first begins a hair after its place and the last ends a hair before. A larger
    hair would help pdfium, which reckons in single precision and rounds a cell's size up, and
    harm MuPDF, which does so too and cuts off each cell's distance from the first.

    Args:
        block: the straight block's width and height in mm of the drawing.
        across: user units of the page to the mm of the drawing.
        down: likewise.
        boxes: of the page.
    """
    left, bottom, right, top = (float(v) for v in boxes.trim)
    shifts = []
    for side, length in (
        (float(block[0]) * across, right - left),
        (float(block[1]) * down, top - bottom),
    ):
        count = math.ceil(length / side - 1e-6)
        shifts.append((count - 0.5) * side * CELL_SHORT)
    scale = (1 - CELL_SHORT) / CELL_UNITS
    return Affine(across * scale, 0.0, 0.0, down * scale, left + shifts[0], top - shifts[1])


class _Motifs:
    """The motifs of a job as forms and pictures, written when first drawn."""

    def __init__(self, job: Job, resources: Resources) -> None:
        repeat = job.repeat
        motifs = list(dict.fromkeys(p.motif for p in repeat.placements))
        tree = etree.fromstring(
            '<svg xmlns="http://www.w3.org/2000/svg" '
            'xmlns:xlink="http://www.w3.org/1999/xlink">'
            f"<defs>{''.join(repeat.resources.values())}</defs>"
            f"<g>{''.join(f'<g>{motif.markup}</g>' for motif in motifs)}</g></svg>",
            etree.XMLParser(huge_tree=True, resolve_entities=False, no_network=True),
        )
        self._job = job
        self._resources = resources
        self._markup = dict(zip(motifs, tree[1], strict=True))
        self._writer = MotifWriter(resources, elements_by_id(tree))
        self._names: dict[Motif, str] = {}
        self.rasterised: list[Motif] = []
        self.blends = any(f.kind == BLEND for motif in motifs for f in motif.features)
        """Whether motifs mix with what lies behind them, which must then be in the cell too."""

    def drawn(self, found: Sequence[Copy]) -> list[str]:
        """Return operators that draw copies, in mm of the drawing, y downwards."""
        repeat = self._job.repeat
        out: list[str] = []
        for copy in found:
            placement = placed(repeat, copy)
            matrix = matrix_text(placement.transform)
            out.append(f"q {matrix} cm /{self._name(placement.motif)} Do Q")
        return out

    def _name(self, motif: Motif) -> str:
        if motif not in self._names:
            if is_vector(motif):
                form = self._writer.form(motif, self._markup[motif])
            else:
                from vecrepeat.vector.pdf_raster import raster_form

                form = raster_form(self._job, self._resources, motif)
                self.rasterised.append(motif)
            self._names[motif] = self._resources.named("XObject", form)
        return self._names[motif]


def _ground(job: Job, resources: Resources, fill: str) -> list[str]:
    ground = None if job.transparent else job.repeat.ground
    if ground is None:
        return []
    red, green, blue = (tint(v / 255) for v in ground.rgb)
    state = ""
    if ground.opacity != 1:
        state = f"/{resources.state(ca=round(ground.opacity, 6))} gs "
    return [f"q {state}{red} {green} {blue} rg {fill} Q"]


def _page(pdf: Pdf, resources: Resources, boxes: Frame, content: Sequence[str]) -> None:
    page = Dictionary(
        Type=Name.Page,
        MediaBox=exact(boxes.media, boxes.unit),
        BleedBox=exact(boxes.bleed, boxes.unit),
        TrimBox=exact(boxes.trim, boxes.unit),
        Resources=resources.dictionary,
        Contents=pdf.make_stream("\n".join(content).encode("ascii")),
    )
    if boxes.unit != 1:
        page.UserUnit = boxes.unit
    pdf.pages.append(Page(page))


def _output_intent(pdf: Pdf, job: Job) -> None:
    """Name the colours that the print is meant for (PDF §14.11.5)."""
    colour = job.settings.colour
    data = srgb_profile() if colour is None else colour.icc
    mode = "RGB" if colour is None else colour.mode
    name = "sRGB IEC61966-2.1" if colour is None else colour.name
    profile = pdf.make_stream(data, N=len(mode))
    # PDF/X means a press, PDF/A any device.
    press = colour is not None and colour.is_printer
    pdf.Root.OutputIntents = Array(
        [
            Dictionary(
                Type=Name.OutputIntent,
                S=Name.GTS_PDFX if press else Name.GTS_PDFA1,
                OutputConditionIdentifier=String("Custom" if press else name),
                Info=String(name),
                DestOutputProfile=profile,
            )
        ]
    )


def _notes(job: Job, boxes: Frame, rasterised: Sequence[Motif]) -> Iterable[str]:
    if note := stretch_note(job.repeat, job.cut.plan.printed):
        yield note
    if boxes.unit != 1:
        yield (
            f"the page is longer than 200 in: it is written with a UserUnit of {boxes.unit}, which "
            "some programs do not heed (they show it that many times smaller)"
        )
    dpi = float(job.cut.plan.dpi)
    for motif in rasterised:
        kinds = dict.fromkeys(f.kind for f in motif.features if f.kind not in VECTOR)
        hint = "; without --live-text it stays vector" if list(kinds) == ["text"] else ""
        yield f"“{motif.name}” is a picture of {dpi:g} dpi for the sake of {', '.join(kinds)}{hint}"
