"""The proof workflow: a source to a strike-off sheet."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import pikepdf
from PIL import Image

from vecrepeat.check.checking import check_drawing
from vecrepeat.check.direction import direction
from vecrepeat.check.plane import Plane
from vecrepeat.check.profile import load_profile
from vecrepeat.colour.paletting import palette_of, recipe_names
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import number
from vecrepeat.core.units import MM_PER_INCH, counted, format_mm
from vecrepeat.draw.cairo_library import usual_engine
from vecrepeat.draw.pages import page_pixels
from vecrepeat.draw.paint import Pixels
from vecrepeat.proof.sheet import Proof, scenes_svg, sheet_svg
from vecrepeat.proof.spec import spec_svg
from vecrepeat.repeat.model import Repeat
from vecrepeat.sources.source import Source
from vecrepeat.util.files import final_place, write_together, write_whole
from vecrepeat.util.fonts import installed_fonts
from vecrepeat.util.imagefiles import png_of
from vecrepeat.write.pdf_image import picture
from vecrepeat.write.pdf_page import save

SUFFIXES = (".pdf", ".png", ".svg", ".html")

PNG_DPI = 200
"""Pixels per inch of a proof written as PNG."""

PIXELS_PER_MM = 10
"""Of a PDF's pages where they are pictures: papers have whole numbers of them, so scale is true."""


@dataclass(frozen=True)
class Proved:
    """What was written.

    Attributes:
        files: the proof; as pictures, a second file shows the design in use.
        findings: how many findings it shows.
        notes: what the reader should know, a sentence each.
    """

    files: tuple[Path, ...]
    findings: int
    notes: tuple[str, ...]

    def line(self) -> str:
        """Return the facts as one line."""
        found = counted(self.findings, "finding") if self.findings else "nothing found"
        return f"{' and '.join(map(str, self.files))}: {found}"

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data."""
        return {
            "files": [str(file) for file in self.files],
            "findings": self.findings,
            "notes": list(self.notes),
        }


def match_of(repeat: Repeat) -> str:
    """Return how lengths match side by side, in the trade's words (EN 235, from memory)."""
    layout = repeat.layout
    if layout.kind == "drop":
        drop = layout.shift * repeat.height
        return f"drop match: each next length hangs {format_mm(drop, 1)} lower"
    if layout.kind == "brick":
        return "straight match across whole rows; rows are moved against each other"
    return "straight match"


def facts_of(source: Source, repeat: Repeat) -> list[tuple[str, str]]:
    """Return what a sheet says of a design, as (label, value)."""
    inches = " × ".join(f"{float(side) / 25.4:.2f}" for side in (repeat.width, repeat.height))
    block = " × ".join(format_mm(side, 1) for side in repeat.block_size)
    return [
        (
            "repeat",
            f"{format_mm(repeat.width, 1)} × {format_mm(repeat.height, 1)}  ({inches} in)",
        ),
        ("layout", str(source.layout)),
        ("match", match_of(repeat)),
        ("straight block", block),
        ("direction", direction(Plane(repeat)).line()),
    ]


def prove(
    source: Source,
    path: str | Path,
    *,
    width: Fraction | None = None,
    paper: str = "a3",
    profile: str | None = None,
    step: Callable[[int], None] | None = None,
) -> Proved:
    """Write a proof sheet, whole or not at all.

    Args:
        source: what was read.
        path: the file: .pdf, .svg, .png or .html.
        width: print width of one tile in mm.
        paper: one of :data:`vecrepeat.proof.papers.PAPERS`.
        profile: the check's limits, by name or file.
        step: called with 1 after each question of the check.

    Raises:
        InputError: another ending, no font for its words, or a file that can't be written.
    """
    file = Path(path)
    kind = file.suffix.lower()
    if kind not in SUFFIXES:
        raise InputError(
            "a proof is PDF, PNG, SVG or HTML", file=file, hint="end the name in .pdf or .html"
        )
    files = (file, file.with_stem(f"{file.stem}-in-use")) if kind in (".png", ".svg") else (file,)
    refuse_early(*files)
    proof = proof_of(source, width, profile, step)
    if kind == ".html":
        from vecrepeat.proof.page import page_html

        write_whole(file, page_html(proof, source).encode())
    else:
        write_sheets(files, [sheet_svg(proof, paper), scenes_svg(proof, paper)], proof.title)
    return Proved(files, len(proof.findings), source.notes)


def specify(
    source: Source,
    path: str | Path,
    *,
    width: Fraction | None = None,
    profile: str | None = None,
    step: Callable[[int], None] | None = None,
) -> Proved:
    """Write a spec sheet as PDF, SVG or PNG; arguments and errors are those of :func:`prove`."""
    file = Path(path)
    if file.suffix.lower() not in (".pdf", ".png", ".svg"):
        raise InputError("a spec sheet is PDF, PNG or SVG", file=file, hint="end the name in .pdf")
    refuse_early(file)
    proof = proof_of(source, width, profile, step)
    write_sheets((file,), [spec_svg(proof)], f"{proof.title}: specification")
    return Proved((file,), len(proof.findings), source.notes)


def refuse_early(*files: Path) -> None:
    """Refuse files that can't be written, before seconds of work rather than after them.

    Raises:
        InputError: there is no such place, or no font for words that are drawn here.
    """
    if files[0].suffix.lower() in (".pdf", ".png") and not installed_fonts():
        raise InputError(
            "no font is installed, and the sheet is full of words",
            file=files[0],
            hint="install one, or write SVG, whose words are set where it is read",
        )
    for file in files:
        final_place(file)


def proof_of(
    source: Source,
    width: Fraction | None,
    profile: str | None,
    step: Callable[[int], None] | None,
) -> Proof:
    """Return what a proof tells of a source; the arguments are those of :func:`prove`."""
    repeat = source.repeat
    if width is not None:
        repeat = repeat.scaled(width / repeat.width)
    report = check_drawing(
        source,
        profile=load_profile(profile) if profile else None,
        finished=False,
        width=width,
        step=step,
    )
    return Proof(
        title=source.name,
        repeat=repeat,
        facts=facts_of(source, repeat),
        palette=palette_of(repeat, names=recipe_names(source))[1],
        findings=report.findings,
    )


def write_sheets(files: Sequence[Path], sheets: Sequence[str], title: str) -> None:
    """Write sheets in SVG as pages of one PDF, or a file each of another kind."""
    kind = files[0].suffix.lower()
    if kind == ".pdf":
        data = [_pdf(sheets, title)]
    elif kind == ".svg":
        data = [svg.encode() for svg in sheets]
    else:
        pixels = (page_pixels(svg, PNG_DPI / float(MM_PER_INCH)) for svg in sheets)
        data = [png_of(Image.fromarray(page)) for page in pixels]
    write_together(dict(zip(files, data, strict=True)))


def _pdf(sheets: Sequence[str], title: str) -> bytes:
    """Return sheets in SVG as the pages of one PDF."""
    joined = pikepdf.new()
    for svg in sheets:
        if usual_engine() == "resvg":
            _add_picture(joined, page_pixels(svg, PIXELS_PER_MM))
            continue
        import cairosvg

        # CairoSVG counts 96 px to the inch and writes 72 pt for them: true size.
        page = io.BytesIO(cairosvg.svg2pdf(bytestring=svg.encode(), dpi=96))
        with pikepdf.open(page) as single:
            joined.pages.extend(single.pages)
    data = io.BytesIO()
    save(joined, data, title)
    return data.getvalue()


def _add_picture(pdf: pikepdf.Pdf, pixels: Pixels) -> None:
    """Add a page at true size that is one picture of :data:`PIXELS_PER_MM`."""
    side = 72 / (PIXELS_PER_MM * float(MM_PER_INCH))
    height, width = (number(count * side) for count in pixels.shape[:2])
    page = pdf.add_blank_page(page_size=(float(width), float(height)))
    name = page.add_resource(picture(pdf, pixels), pikepdf.Name.XObject)
    page.Contents = pdf.make_stream(f"{width} 0 0 {height} 0 0 cm {name} Do".encode())
