"""What the tasks share: drawings, a page on a board, and the command line's own result."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from browsing import Board, board_of, looked_at
from support import svg, vecrepeat

Task = Callable[[Any, Path], None]
LONG = 120_000
"""The most milliseconds that anything is waited for: machines are busy."""

COLOURS = ("c02020", "2040c0", "1f6f3a", "d9a514", "7a2f8f")


def write_motifs(folder: Path, count: int = 10) -> list[Path]:
    """Write loose motifs: discs, squares and drops in several colours and sizes."""
    folder.mkdir(parents=True)
    for k in range(count):
        size = 36 - 3 * k
        shape = (
            f'<circle cx="50" cy="50" r="{size}"',
            f'<rect x="{50 - size}" y="30" width="{2 * size}" height="{size}"',
            f'<path d="M50 {50 - size}C80 50 70 {50 + size} 50 {50 + size}S20 50 50 {50 - size}Z"',
        )[k % 3]
        (folder / f"m{k}.svg").write_text(svg(f'{shape} fill="#{COLOURS[k % len(COLOURS)]}"/>'))
    return sorted(folder.iterdir())


@contextmanager
def page_at(chromium: Any, target: Path, **context: Any) -> Iterator[tuple[Any, Board]]:
    """A board's page, ready to be used."""
    with board_of(target) as board:
        page = chromium.new_context(
            **{"viewport": {"width": 1400, "height": 900}, **context}
        ).new_page()
        page.set_default_timeout(LONG)
        yield looked_at(page, board), board


def begin(page: Any, files: list[Path], title: str, what: str = "") -> None:
    """Lay files on the first page and begin a design, as far as its own page."""
    page.set_input_files("#files", [str(file) for file in files])
    if what:
        page.check(f"input[value={what}]")
    page.fill("#title", title)
    page.click("#begin")
    if what != "tile":
        page.wait_for_selector("body[data-ready] #cloth")


def ran(*words: str | Path) -> None:
    """Run a command, which must do."""
    done = vecrepeat(*words)
    assert done.code == 0, done.err


def save(page: Any) -> None:
    page.click("#save")
    page.wait_for_selector("#standing:text-is('Saved')")


def lay(page: Any, button: str = "#lay") -> None:
    """Lay all anew, and wait until that is done."""
    if page.get_attribute("#arranging", "open") is None:
        page.click("#arranging > summary")
    before = page.evaluate("board.store.history.states.length")
    page.click(button)
    page.wait_for_function("was => board.store.history.states.length > was", arg=before)
    page.wait_for_selector("#lay:not([disabled])")


def write(page: Any, deed: str, **fields: str) -> None:
    """Have a file written at the Files station, and wait until it is."""
    page.click("#to-files")
    page.select_option("#filedeed", deed)
    for name, value in fields.items():
        field = page.locator(f"#file-{name.replace('_', '-')}")
        if field.evaluate("field => field.tagName") == "SELECT":
            field.select_option(value)
        else:
            field.fill(value)
            field.press("Tab")
    count = page.locator("#jobs .job").count()
    page.click("#write")
    page.wait_for_function("n => document.querySelectorAll('#jobs .job').length > n", arg=count)


def finished(page: Any) -> None:
    """Wait for the newest job, which must do."""
    page.wait_for_selector("#jobs .job:first-child:is([data-state=done], [data-state=failed])")
    job = page.locator("#jobs .job").first
    assert job.get_attribute("data-state") == "done", job.inner_text()


def same(one: Path, other: Path) -> None:
    """Hold a file, or a folder's files, against others to the byte."""
    if one.is_dir():
        names = sorted(p.relative_to(one) for p in one.rglob("*") if p.is_file())
        assert names == sorted(p.relative_to(other) for p in other.rglob("*") if p.is_file())
        assert names
        for name in names:
            same(one / name, other / name)
        return
    assert one.read_bytes() == other.read_bytes(), f"{one.name} differs"


def design(folder: Path) -> Path:
    """A recipe of ten motifs, tossed; the same again in a folder beside, for the command line."""
    write_motifs(folder / "art")
    recipe = folder / "ten.toml"
    ran("recipe", folder / "art", "-o", recipe, "--density", "medium")
    ran("toss", recipe)
    return recipe


def twice(folder: Path) -> tuple[Path, Path]:
    """The same design in two folders: one for the page, one for the command line."""
    made = design(folder / "page")
    shutil.copytree(made.parent, folder / "line")
    return made, folder / "line" / made.name
