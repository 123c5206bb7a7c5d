"""The check workflow: a source and its limits to a report of findings."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from vecrepeat.check.findings import LOOKING, QUESTIONS, Answer, Finding
from vecrepeat.check.glare import check_glare, small_block
from vecrepeat.check.picture import PlanePicture, picture_svg
from vecrepeat.check.pixels import lay_tiles, read_tile
from vecrepeat.check.plane import Plane
from vecrepeat.check.printing import screen_findings
from vecrepeat.check.profile import DEFAULT, Profile, load_profile
from vecrepeat.check.rasterjoins import check_raster_joins
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import MM_PER_INCH, Size, counted, format_mm
from vecrepeat.recipe.files import beside
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Repeat
from vecrepeat.sources.source import Source
from vecrepeat.util.files import write_whole
from vecrepeat.util.imagefiles import png_of

PICTURES = frozenset((".png", ".tif", ".tiff", ".jpg", ".jpeg"))
"""File name endings of finished tiles that are pixels."""

OF_GROUND = ("print", "glare")
"""The questions that a blender without motifs can be asked."""

OF_PIXELS = ("joins", "print", "glare")
"""The questions that a picture of pixels can be asked."""

LOOK = 480
"""The longer side in pixels of the picture that shares of colours and glare are judged on."""

Step = Callable[[int], None]


@dataclass(frozen=True, eq=False)
class Report:
    """What a check came to.

    Attributes:
        file: what was checked.
        kind: ``drawing`` (motifs wrap by themselves), ``finished tile`` or ``picture``.
        layout: the layout it was checked under.
        size: the tile's print size in mm.
        profile: the limits' name.
        answers: by question, in the order they were asked.
        notes: what was taken in a special way, a sentence each.
        drawn: the repeat, at print size, of a drawing or finished tile.
        pixels: of a picture, RGB.
    """

    file: Path
    kind: str
    layout: Layout
    size: Size
    profile: str
    answers: Mapping[str, Answer]
    notes: tuple[str, ...]
    drawn: Repeat | None = None
    pixels: NDArray[np.uint8] | None = None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, in the order of the questions."""
        return tuple(f for answer in self.answers.values() for f in answer.findings)

    def line(self) -> str:
        """Return the outcome as one line."""
        count = len(self.findings)
        found = counted(count, "finding") if count else "nothing found"
        return (
            f"{self.file}: {found} in a {self.layout} {self.kind}, "
            f"{format_mm(self.size.width)} × {format_mm(self.size.height)}, "
            f"held to {self.profile} ({', '.join(self.answers)})"
        )

    def as_dict(self) -> dict[str, Any]:
        """Return the report as plain data, lengths in mm."""
        return {
            "file": str(self.file),
            "kind": self.kind,
            "layout": str(self.layout),
            "tile_mm": [float(side) for side in self.size],
            "profile": self.profile,
            "findings": [f.as_dict() for f in self.findings],
            "facts": {name: dict(answer.facts) for name, answer in self.answers.items()},
            "notes": list(self.notes),
        }


def parse_questions(only: str | None) -> tuple[str, ...]:
    """Return the questions named, in their order; all where none is.

    Raises:
        InputError: a question that is not known.
    """
    if only is None:
        return QUESTIONS
    names = [name.strip().lower() for name in only.split(",") if name.strip()]
    for name in names:
        if name not in QUESTIONS:
            raise InputError(f"“{name}” is no question", hint=f"ask {', '.join(QUESTIONS)}")
    if not names:
        raise InputError("no question is asked", hint=f"ask {', '.join(QUESTIONS)}")
    return tuple(q for q in QUESTIONS if q in names)


def check_drawing(
    source: Source,
    *,
    profile: Profile | None = None,
    only: Collection[str] = QUESTIONS,
    finished: bool | None = None,
    width: Fraction | None = None,
    step: Step | None = None,
) -> Report:
    """Check a drawing, or a finished tile in SVG.

    Args:
        source: what was read.
        profile: the limits.
        only: the questions to ask.
        finished: whether the page is a finished tile, whose own drawing must go on over every
            bound; by default that is seen from whether any of it does.
        width: print width of one tile in mm.
        step: called with 1 after each question.
    """
    from vecrepeat.check.asking import Asked, ask
    from vecrepeat.check.joins import check_joins

    profile = profile or load_profile()
    repeat = source.repeat
    if width is not None:
        repeat = repeat.scaled(width / repeat.width)
    motifs = repeat.motifs_alone
    notes = list(source.notes)
    pixels = _finished_pixels(source, repeat)
    if not motifs.placements:
        asked = OF_GROUND if pixels is None else OF_PIXELS
        passed = [q for q in only if q not in asked]
        only = [q for q in only if q in asked]
        if passed:
            notes.append(f"{', '.join(passed)} need motifs and are not asked of a ground alone")
    with ThreadPoolExecutor(1) as thread:
        # Another process draws it, which may as well begin while joins are looked at.
        look = thread.submit(draw_look, repeat) if LOOKING & set(only) else None
        joined = check_joins(motifs, profile.joins, profile.print.dpi, finished=finished)
        joins = joined.answer
        if pixels is not None:
            tile = read_tile(pixels)
            joins, _ = check_raster_joins(tile, repeat.layout, float(repeat.width / tile.width))
        plane = Plane(joined.repeat)
        printed = plane if motifs is repeat else Plane(repeat)
        draw = partial(draw_look, repeat) if look is None else look.result
        asked_of = Asked(plane, printed, profile, joins, draw)
        found: dict[str, Answer] = {}
        notes += joins.notes
        for question, answer in ask(asked_of, tuple(only)):
            found[question] = answer
            if question != "joins":
                notes += answer.notes
            if step is not None:
                step(1)
    kind = "finished tile" if joined.finished else "drawing"
    size = Size(repeat.width, repeat.height)
    return Report(source.file, kind, repeat.layout, size, profile.name, found, tuple(notes), repeat)


def _finished_pixels(source: Source, repeat: Repeat) -> Path | None:
    """Return the picture that is all of a cloth, its edges those of the tile, or None."""
    recipe, placed = source.recipe, repeat.placements
    art = beside(recipe.file, recipe.keys.get("art")) if recipe else []
    files = [file for file in art if is_picture(file)]
    if len(files) != 1 or len(placed) != 1 or repeat.symmetry is not None:
        return None
    fills = np.allclose(repeat.boxes[0], repeat.tile_rect, atol=1e-3)
    return files[0] if fills else None


def draw_look(repeat: Repeat, longest: int = LOOK) -> tuple[NDArray[np.uint8], tuple[float, float]]:
    """Return a small RGB picture of one straight block on white, and its pixel's size in mm."""
    pixels = _draw(repeat, longest, block=True)
    (width, height), (down, across) = repeat.block_size, pixels.shape[:2]
    return pixels, (float(width) / across, float(height) / down)


def _draw(repeat: Repeat, longest: int, *, block: bool) -> NDArray[np.uint8]:
    """Return an RGB picture of one tile or straight block on white, its longer side in pixels."""
    from vecrepeat.draw.plan import plan_pixels
    from vecrepeat.draw.sheet import Sheet, opaque
    from vecrepeat.write.exporting import Exporter

    size = repeat.block_size if block else (repeat.width, repeat.height)
    plan = plan_pixels(repeat, longest * MM_PER_INCH / max(size))
    sides = plan.block if block else (plan.width, plan.height)
    strips = Sheet(plan, *sides).strips(Exporter(repeat).painter(plan))
    return np.concatenate([opaque(strip) for strip in strips])


def check_picture(
    file: Path,
    *,
    layout: Layout | None = None,
    profile: Profile | None = None,
    only: Collection[str] = QUESTIONS,
    width: Fraction | None = None,
    step: Step | None = None,
) -> Report:
    """Check a finished tile of pixels: its joins, its resolution and height, and glare.

    Args:
        file: a PNG, TIFF or JPEG of one tile.
        layout: how tiles tessellate; the one that fits best where it is not given.
        profile: the limits.
        only: the questions to ask; those that need motifs are passed over with a note.
        width: print width of one tile in mm; by default what the file's resolution says, or
            the profile's.
        step: called with 1 after each question.

    Raises:
        InputError: the file can't be read, or none of the questions can be asked of pixels.
    """
    profile = profile or load_profile()
    asked_for = [q for q in only if q in OF_PIXELS]
    if not asked_for:
        raise InputError(
            "these questions are about motifs, and pixels have none",
            file=file,
            hint=f"ask {', '.join(OF_PIXELS)}, or give the drawing",
        )
    tile = read_tile(file)
    dpi = Fraction(tile.dpi or profile.print.dpi).limit_denominator(1000)
    printed = tile.width * MM_PER_INCH / dpi if width is None else width
    pixel = printed / tile.width
    size, print_dpi = Size(printed, pixel * tile.height), float(MM_PER_INCH / pixel)
    joins, judged = check_raster_joins(tile, layout, float(pixel))
    answers: dict[str, Answer] = {}
    notes: list[str] = []
    if len(asked_for) < len(only):
        passed = [q for q in only if q not in OF_PIXELS]
        notes.append(f"{', '.join(passed)} need motifs and are not asked of pixels")
    for question in asked_for:
        if question == "joins":
            answers[question] = joins
            notes += joins.notes
        elif question == "print":
            answers[question] = _printed_pixels(size, judged, print_dpi, profile)
        else:
            small = small_block(tile.rgb, judged, float(pixel), LOOK)
            answers[question] = check_glare(*small, profile.glare)
        if step is not None:
            step(1)
    return Report(
        file, "picture", judged, size, profile.name, answers, tuple(notes), None, tile.rgb
    )


def _printed_pixels(size: Size, layout: Layout, dpi: float, profile: Profile) -> Answer:
    """Hold a picture's resolution and height at print size to the limits."""
    block = size.height * layout.straight_block[1]
    findings = list(screen_findings(block, profile.print))
    if dpi < profile.print.image_dpi:
        said = "the picture is coarse at this size"
        advice, least = "make it larger, or print the repeat smaller", profile.print.image_dpi
        findings.append(Finding("coarse picture", said, dpi, least, advice=advice))
    return Answer(tuple(findings), {"dpi": dpi})


def limits_for(name: str | None, dpi: Fraction | None) -> Profile:
    """Return a profile by name or file, at another resolution where one is given.

    Raises:
        InputError: there is no such profile, or it can't be used.
    """
    profile = load_profile(name or DEFAULT)
    if dpi is None:
        return profile
    return replace(profile, print=replace(profile.print, dpi=float(dpi)))


def is_picture(file: Path) -> bool:
    """Whether a source is a finished tile of pixels, by its name."""
    return file.suffix.lower() in PICTURES


def require_picture_name(file: Path | None) -> None:
    """Hold the annotated picture's name to what can be written.

    Raises:
        InputError: it ends in neither .svg nor .png.
    """
    if file is not None and file.suffix.lower() not in (".svg", ".png"):
        raise InputError(
            "the picture is SVG or PNG", file=file, hint="end the name in .svg or .png"
        )


def write_picture(report: Report, file: Path) -> None:
    """Write the annotated picture of a report: the plane, numbered marks and their legend.

    Raises:
        InputError: the file can't be written, or its name ends in neither .svg nor .png.
    """
    require_picture_name(file)
    text = picture_svg(_draw_plane(report), report.findings, report.line())
    data = text.encode()
    if file.suffix.lower() == ".png":
        from vecrepeat.draw.pages import page_pixels

        data = png_of(Image.fromarray(page_pixels(text, 1)))
    write_whole(file, data)


def _draw_plane(report: Report) -> PlanePicture:
    """Return the plane a report's marks are laid on: a tile and half of the next ones."""
    width, height = (float(side) for side in report.size)
    lattice = report.layout.lattice(report.size.width, report.size.height)
    if report.pixels is not None:
        image = Image.fromarray(report.pixels)
        image.thumbnail((900, 900))
        tile = np.asarray(image)
    else:
        assert report.drawn is not None
        tile = _draw(report.drawn, 900, block=False)
    down, across = tile.shape[:2]
    plane = lay_tiles(tile, report.layout, 2, 2)[: round(down * 1.5), : round(across * 1.5)]
    corners = [lattice.at(i, j) for i in range(-1, 3) for j in range(-3, 4)]
    seen = tuple(
        (float(x), float(y))
        for x, y in corners
        if -width < x < 1.5 * width and -height < y < 1.5 * height
    )
    return PlanePicture(plane, width * 1.5, height * 1.5, (width, height), seen)
