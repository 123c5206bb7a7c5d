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
from vecrepeat.core.geometry import Affine, Rect
from vecrepeat.core.units import Size
from vecrepeat.write.pdf_page import POINTS_PER_MM, add_page, frame, save
from vecrepeat.write.pdf_resources import Resources, decimal, matrix_text, numbers, tint

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
        page = _PlatePage(pdf, separation.region, size, marked=marks is not None)
        page.content.append(b"0 g")
        if marks is None:
            page.fill(path)
        else:
            page.fill(path, path_operators(marks.area))
            page.letter(marks.label)
        added = page.add()
        added.SeparationInfo = Dictionary(
            Pages=Array([added]),
            DeviceColorant=colorant(plate.name),
            ColorSpace=_space(page.resources, plate),
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
        page = _PlatePage(pdf, separation.region, size, marked=marked)
        head, names = together(separation, design)
        page.content.append(f"/{page.resources.state(OP=True, op=True)} gs".encode())
        for plate, path, words in zip(separation.plates, paths, names, strict=True):
            space = page.resources.named("ColorSpace", _space(page.resources, plate))
            page.content.append(f"/{space} cs 1 scn".encode())
            if marked:
                page.letter(words)
                page.fill(path, path_operators(patch(separation, plate)))
            else:
                page.fill(path)
        if marked:
            page.content.append(f"/{page.resources.on_every_plate()} cs 1 scn".encode())
            page.fill(path_operators(registration(separation.region)))
            page.letter(head)
        page.add()
        return _saved(pdf, design)


class _PlatePage:
    """A page under way, drawn on in mm of the separation's region, y downwards."""

    def __init__(self, pdf: Pdf, region: Rect, size: Size, *, marked: bool) -> None:
        self.resources = Resources(pdf)
        self.content: list[bytes] = []
        self._boxes = frame(*size, Fraction(0), Fraction(MARGIN if marked else 0))
        self._mm = float(POINTS_PER_MM / self._boxes.unit)
        self._left = float(self._boxes.trim[0]) - region.x0 * self._mm
        self._top = float(self._boxes.trim[3]) + region.y0 * self._mm

    def fill(self, *paths: bytes) -> None:
        """Fill areas given by :func:`path_operators`."""
        scale = self._mm / UNITS
        matrix = matrix_text(Affine(scale, 0, 0, -scale, self._left, self._top))
        self.content += [f"q {matrix} cm".encode(), *(path for path in paths if path), b"Q"]

    def letter(self, words: Words) -> None:
        """Write words in Helvetica, which every reader has (§9.6.2.2)."""
        resources = self.resources
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
        x, y = self._left + words.at[0] * self._mm, self._top - words.at[1] * self._mm
        text = words.text.encode("cp1252", "replace").hex()
        self.content.append(
            f"BT /{font} {decimal(words.size * self._mm)} Tf {decimal(x)} {decimal(y)} Td "
            f"<{text}> Tj ET".encode()
        )

    def add(self) -> Object:
        """Add the page to its PDF and return it."""
        return add_page(self.resources.pdf, self._boxes, self.resources, b"\n".join(self.content))


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


def _space(resources: Resources, plate: Plate) -> Object:
    """Return an ink's colour space (§8.6.6.4), its look given in sRGB."""
    look = [float(tint(value / 255)) for value in rgb_of(plate.colour).tolist()]
    function = Dictionary(
        FunctionType=2, Domain=Array([0, 1]), N=1, C0=numbers([1.0] * 3), C1=numbers(look)
    )
    srgb = Array([Name.ICCBased, resources.srgb])
    return resources.pdf.make_indirect(
        Array([Name.Separation, colorant(plate.name), srgb, function])
    )


def _saved(pdf: Pdf, title: str) -> bytes:
    out = io.BytesIO()
    save(pdf, out, title)
    return out.getvalue()
