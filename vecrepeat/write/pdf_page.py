"""A page of a PDF at true size, and the file that holds it.

Standard: ISO 32000-1:2008 ("PDF" below), sections from memory: §14.11.2 page boxes, §8.3.2.3 and
Annex C for the size of a page and UserUnit.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import BinaryIO

import numpy as np
from pikepdf import Array, Dictionary, Name, Object, ObjectStreamMode, Page, Pdf, String

from vecrepeat.core.units import MM_PER_INCH
from vecrepeat.write.pdf_resources import Resources

LONGEST_PAGE = 14_400
"""The longest side of a page in default user units (PDF Annex C.2)."""

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


def add_page(pdf: Pdf, boxes: Frame, resources: Resources, content: bytes) -> Object:
    """Add a page and return it; its bleed is left to those that have one.

    Args:
        pdf: where to.
        boxes: the page's.
        resources: what its content refers to.
        content: operators.
    """
    page = Dictionary(
        Type=Name.Page,
        MediaBox=exact(boxes.media, boxes.unit),
        TrimBox=exact(boxes.trim, boxes.unit),
        Resources=resources.dictionary,
        Contents=pdf.make_stream(content),
    )
    if boxes.unit != 1:
        page.UserUnit = boxes.unit
    pdf.pages.append(Page(page))
    return pdf.pages[-1].obj


def save(pdf: Pdf, out: BinaryIO, title: str) -> None:
    """Write a PDF: the same pages are the same bytes, so that a manifest may hold their hash."""
    pdf.docinfo["/Title"] = String(title)
    pdf.docinfo["/Producer"] = String("vecrepeat")
    pdf.save(
        out,
        compress_streams=True,
        object_stream_mode=ObjectStreamMode.generate,
        deterministic_id=True,
        min_version="1.7",
    )
