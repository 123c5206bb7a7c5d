"""A collection of ten prints."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

from tasks.hands import Task, finished, page_at, ran, same

LOW_TIDE = Path(__file__).resolve().parents[3] / "demo-svg" / "low-tide"


def recolour_ten_prints(chromium: Any, folder: Path) -> None:
    """A palette colour is changed in all prints; the line sheet is the command's, to the byte."""
    page_side, line_side = folder / "page" / "tide", folder / "line" / "tide"
    for place in (page_side, line_side):
        shutil.copytree(LOW_TIDE, place)
    with page_at(chromium, page_side) as (page, _):
        page.click("#maincolours [data-key=coral]")
        page.wait_for_function("() => [...board.table.pieces.values()].some(piece => piece.tinted)")
        page.fill("#mixcode", "#b04a9a")
        page.keyboard.press("Tab")
        page.wait_for_function("() => board.store.standing.undo")
        page.keyboard.press("Control+z")
        page.wait_for_function("() => board.store.standing.redo")
        assert (page_side / "collection.toml").read_bytes() == (
            LOW_TIDE / "collection.toml"
        ).read_bytes()
        page.click("#redo")
        page.wait_for_function("() => board.store.standing.undo")
        page.click("#to-files")
        page.select_option("#filedeed", "line")
        page.select_option("#fileending", "svg")
        page.click("#write")
        finished(page)
        page.wait_for_selector("#filesaid code:has-text('line.svg')")
        said = page.inner_text("#filesaid code").split()
    line = line_side / "collection.toml"
    text = line.read_text()
    # The palette's line, which comes before those of colourways.
    line.write_text(text.replace('coral = "#dc6850"', 'coral = "#b04a9a"', 1))
    same(page_side / "collection.toml", line)
    ran(said[1], line, "-o", line_side / said[4])
    written = page_side / "collection-files"
    same(written, line_side / "collection-files")


TASKS: dict[str, Task] = {"recolour ten prints and write their line sheet": recolour_ten_prints}
