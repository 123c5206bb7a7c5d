"""A collection's sheets as files: line sheets of every colourway, a story page, specs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from vecrepeat.collection.line import Line
from vecrepeat.collection.linesheet import sheet_svg
from vecrepeat.collection.story import story_svg
from vecrepeat.colour.paletting import palette_of
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import slug
from vecrepeat.core.units import counted
from vecrepeat.proof.proving import proof_of, refuse_early, write_sheets
from vecrepeat.proof.spec import spec_svg
from vecrepeat.recipe.collection import Collection
from vecrepeat.recipe.model import AS_DRAWN
from vecrepeat.util.files import write_whole

SUFFIXES = (".pdf", ".png", ".svg", ".html")

"""Endings of the files that a line sheet is written as."""


@dataclass(frozen=True)
class Shown:
    """What was written.

    Attributes:
        files: the sheets; as pictures, one for each page.
        prints: how many there are.
        ways: the colourways shown, the palette as it is first.
        notes: what was taken in a special way, a sentence each.
    """

    files: tuple[Path, ...]
    prints: int
    ways: tuple[str, ...]
    notes: tuple[str, ...]

    def line(self) -> str:
        """Return the facts as one line."""
        ways = counted(len(self.ways), "colourway")
        return f"{', '.join(map(str, self.files))}: {counted(self.prints, 'print')}, {ways}"

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data."""
        return {
            "files": [str(file) for file in self.files],
            "prints": self.prints,
            "colourways": list(self.ways),
        }


def show(
    shown: Line,
    path: Path,
    *,
    ways: Sequence[str] = (),
    paper: str = "a3",
    step: Callable[[int], None] | None = None,
) -> Shown:
    """Write a collection's line sheet, whole or not at all.

    A PDF has a page for each colourway and a story page in the first of them; pictures are a
    file each. HTML is one page for a browser.

    Args:
        shown: the collection, opened.
        path: the file: .pdf, .png, .svg or .html.
        ways: of the collection's ways; by default all.
        paper: one of :data:`vecrepeat.proof.papers.PAPERS`.
        step: called with 1 after each page.

    Raises:
        InputError: another ending, a colourway that is not known, or a file that can't be written.
    """
    kind = path.suffix.lower()
    if kind not in SUFFIXES:
        raise InputError(
            "a line sheet is PDF, PNG, SVG or HTML", file=path, hint="end the name in .pdf"
        )
    collection = shown.collection
    asked = tuple(dict.fromkeys(ways)) or collection.ways
    for way in asked:
        collection.palette_in(way)
    if kind == ".html":
        from vecrepeat.collection.buyers_page import page_html

        refuse_early(path)
        write_whole(path, page_html(shown, asked, step).encode())
        return Shown((path,), len(shown.prints), asked, tuple(shown.notes))
    parts = ["" if way == AS_DRAWN else slug(way) for way in asked]
    files = _pages(path, [*parts, "story"], collection)
    refuse_early(*files)
    sheets = []
    for way in asked:
        sheets.append(sheet_svg(shown, way, paper))
        if step is not None:
            step(1)
    sheets.append(story_svg(shown, asked[0], paper))
    if step is not None:
        step(1)
    write_sheets(files, sheets, f"{collection.name}: line sheet")
    return Shown(tuple(files), len(shown.prints), asked, tuple(shown.notes))


def specify_all(
    shown: Line,
    path: Path,
    *,
    ways: Sequence[str] = (),
    profile: str | None = None,
    step: Callable[[int], None] | None = None,
) -> Shown:
    """Write a spec sheet for every print in every colourway, a page each of a PDF or a file each.

    Args:
        shown: the collection, opened.
        path: the file: .pdf, .svg or .png.
        ways: of the collection's ways; by default all.
        profile: the check's limits, by name or file.
        step: called with 1 after each question of a print's check.

    Raises:
        InputError: another ending, a colourway that is not known, or a file that can't be written.
    """
    if path.suffix.lower() not in (".pdf", ".png", ".svg"):
        raise InputError("a spec sheet is PDF, PNG or SVG", file=path, hint="end the name in .pdf")
    collection = shown.collection
    asked = tuple(dict.fromkeys(ways)) or collection.ways
    for way in asked:
        collection.palette_in(way)
    pages = [(one, way) for one in shown.prints for way in asked]
    parts = [
        f"{collection.file_name(one)}-{'' if way == AS_DRAWN else slug(way)}".rstrip("-")
        for one, way in pages
    ]
    files = _pages(path, parts, collection)
    refuse_early(*files)
    sheets = []
    for one, source in zip(shown.prints, shown.sources, strict=True):
        # Its joins and gaps are the same in any colours.
        proof = proof_of(source, None, profile, step)
        for way in asked:
            repeat = source.in_colourway(way)
            names = {colour: name for name, colour in collection.palette_in(way).items()}
            title = one.name if way == AS_DRAWN else f"{one.name}, {way}"
            palette = palette_of(repeat, names=names)[1]
            sheets.append(spec_svg(replace(proof, title=title, repeat=repeat, palette=palette)))
    write_sheets(files, sheets, f"{collection.name}: specifications")
    return Shown(tuple(files), len(shown.prints), asked, tuple(shown.notes))


def _pages(path: Path, parts: Sequence[str], collection: Collection) -> list[Path]:
    """Return the files of pages: one PDF, or one file for each, named after it.

    Raises:
        InputError: two would have one name.
    """
    if path.suffix.lower() == ".pdf":
        return [path]
    files = [path.with_stem("-".join(filter(None, (path.stem, part)))) for part in parts]
    if len(set(files)) < len(files):
        raise InputError("two colourways would go to one file", file=collection.file)
    return files
