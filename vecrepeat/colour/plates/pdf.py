"""Plates as PDF: vector, true size; a film for each plate, and all plates in one as spot inks.

Standard: ISO 32000-1:2008 ("PDF" below), sections from memory: §8.6.6.4 separation colour
spaces, §8.6.7 overprint control, §14.11.2 page boxes, §14.11.4 separation dictionaries.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from fractions import Fraction

import numpy as np
import shapely
from pikepdf import Array, Dictionary, Name, Object, Pdf
from shapely.geometry.base import BaseGeometry

from vecrepeat.colour.plates.marks import MARGIN, Marks, Words, patch, registration, together
from vecrepeat.colour.plates.separation import Plate, Separation
from vecrepeat.core.colours import rgb_of
from vecrepeat.core.units import Size
from vecrepeat.write.pdf_page import POINTS_PER_MM, Frame, add_page, frame, save
from vecrepeat.write.pdf_resources import Resources, decimal, numbers, tint

UNITS = 10_000
"""Units of a plate's path to the mm, whole numbers: a tenth of a micrometre. Readers keep 24
bits of a number, which is as fine on plates up to 1.6 m."""

RESERVED = ("All", "None")
"""Names of colorants that mean no single ink (§8.6.6.4)."""

LONGEST_NAME = 127
"""Bytes of a name (§7.5.2, Annex C.2)."""


def plate_pdf(
    separation: Separation, plate: Plate, path: bytes, size: Size, marks: Marks | None, title: str
) -> bytes:
    """Return one plate as a PDF in black, for film or screen.

    It says which ink it is the plate of by a separation dictionary (§14.11.4).

    Args:
        separation: the plates.
        plate: one of them.
        path: its :func:`path_operators`.
        size: of the repeat in mm.
        marks: to draw round it, or None for the repeat alone.
        title: what the file shows.
    """
    with Pdf.new() as pdf:
        resources = Resources(pdf)
        paths = [path]
        lines = []
        if marks is not None:
            paths.append(path_operators(marks.area))
            lines.append(marks.label)
        boxes = _frame(size, marks is not None)
        content = [
            b"0 g",
            *_drawn(separation, boxes, paths),
            *_lettered(separation, boxes, resources, lines),
        ]
        page = add_page(pdf, boxes, resources, b"\n".join(content))
        page.SeparationInfo = Dictionary(
            Pages=Array([page]),
            DeviceColorant=colorant(plate.name),
            ColorSpace=_space(resources, plate),
        )
        return _saved(pdf, title)


def plates_pdf(
    separation: Separation, paths: Sequence[bytes], size: Size, design: str, *, marked: bool
) -> bytes:
    """Return all plates in one PDF, each in a separation colour space named after its ink.

    Everything overprints (§8.6.7): plates are knocked out already, and a darker ink must not
    knock out the trap below it. So what a program takes off as one ink's separation is that
    ink's plate.

    Args:
        separation: the plates.
        paths: each one's :func:`path_operators`.
        size: of the repeat in mm.
        design: its name.
        marked: whether to put marks round it.
    """
    with Pdf.new() as pdf:
        resources = Resources(pdf)
        boxes = _frame(size, marked)
        head, names = together(separation, design)
        state = resources.state(OP=True, op=True)
        content = [f"/{state} gs".encode()]
        for plate, path, line in zip(separation.plates, paths, names, strict=True):
            space = resources.named("ColorSpace", _space(resources, plate))
            content.append(f"/{space} cs 1 scn".encode())
            drawn = [path]
            if marked:
                drawn.append(path_operators(patch(separation, plate)))
                content += _lettered(separation, boxes, resources, [line])
            content += _drawn(separation, boxes, drawn)
        if marked:
            every = resources.on_every_plate()
            content.append(f"/{every} cs 1 scn".encode())
            content += _drawn(separation, boxes, [path_operators(registration(separation.region))])
            content += _lettered(separation, boxes, resources, [head])
        add_page(pdf, boxes, resources, b"\n".join(content))
        return _saved(pdf, design)


def colorant(name: str) -> Name:
    """Return an ink's name as a colorant's; names that are reserved get a word more."""
    text = f"{name} ink" if name in RESERVED else name
    return Name("/" + text.encode()[:LONGEST_NAME].decode(errors="ignore"))


def path_operators(area: BaseGeometry) -> bytes:
    """Return an area as operators that fill it (§8.5.2, §8.5.3.3.3 even-odd), in whole units."""
    rings = shapely.get_rings(shapely.get_parts(np.array([area], dtype=object)))
    coords, ring = shapely.get_coordinates(rings, return_index=True)
    if not len(coords):
        return b""
    xy = np.round(coords * UNITS).astype(np.int64)
    # The last point of a ring is its first again: closing draws that side.
    cuts = np.flatnonzero(np.diff(ring)) + 1
    written = []
    for one in np.split(xy, cuts):
        rest = one[1:-1]
        side = "%d %d l\n" * len(rest) % tuple(rest.ravel().tolist())
        written.append(f"{one[0, 0]} {one[0, 1]} m\n{side}h\n")
    return ("".join(written) + "f*").encode("ascii")


def _drawn(separation: Separation, boxes: Frame, paths: list[bytes]) -> list[bytes]:
    """Return operators that fill paths given in units of the plate, y downwards."""
    region = separation.region
    scale = float(POINTS_PER_MM / boxes.unit) / UNITS
    x = float(boxes.trim[0]) - region.x0 * UNITS * scale
    y = float(boxes.trim[3]) + region.y0 * UNITS * scale
    matrix = " ".join(decimal(value) for value in (scale, 0, 0, -scale, x, y))
    return [f"q {matrix} cm".encode("ascii"), *(path for path in paths if path), b"Q"]


def _lettered(
    separation: Separation, boxes: Frame, resources: Resources, lines: list[Words]
) -> list[bytes]:
    """Return operators that write lines in Helvetica, which every reader has (§9.6.2.2)."""
    if not lines:
        return []
    font = resources.known("Font", "Helvetica") or resources.named(
        "Font",
        resources.pdf.make_indirect(
            Dictionary(
                Type=Name.Font,
                Subtype=Name.Type1,
                BaseFont=Name.Helvetica,
                Encoding=Name.WinAnsiEncoding,
            )
        ),
        "Helvetica",
    )
    mm = float(POINTS_PER_MM / boxes.unit)
    left, top = float(boxes.trim[0]), float(boxes.trim[3])
    region = separation.region
    out = []
    for line in lines:
        x, y = left + (line.at[0] - region.x0) * mm, top - (line.at[1] - region.y0) * mm
        text = line.text.encode("cp1252", "replace").hex()
        out.append(
            f"BT /{font} {decimal(line.size * mm)} Tf {decimal(x)} {decimal(y)} Td "
            f"<{text}> Tj ET".encode("ascii")
        )
    return out


def _space(resources: Resources, plate: Plate) -> Object:
    """Return an ink's colour space (§8.6.6.4), its look given in sRGB."""
    look = [float(tint(value / 255)) for value in rgb_of(plate.colour).tolist()]
    function = Dictionary(
        FunctionType=2,
        Domain=Array([0, 1]),
        N=1,
        C0=numbers([1.0] * 3),
        C1=numbers(look),
    )
    srgb = Array([Name.ICCBased, resources.srgb])
    return resources.pdf.make_indirect(
        Array([Name.Separation, colorant(plate.name), srgb, function])
    )


def _frame(size: Size, marked: bool) -> Frame:
    return frame(size.width, size.height, Fraction(0), Fraction(MARGIN if marked else 0))


def _saved(pdf: Pdf, title: str) -> bytes:
    out = io.BytesIO()
    save(pdf, out, title)
    return out.getvalue()
