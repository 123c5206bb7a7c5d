"""The Python interface: whatever takes a repeat takes art as well, as a block of its page."""

from __future__ import annotations

import inspect
import subprocess
import sys
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from lxml import etree
from support import read, write_svg

import vecrepeat
from vecrepeat.core.geometry import Rect

BODY = '<g id="disc"><circle cx="2" cy="50" r="9" fill="#c33"/></g>'


def _written(design: Any, path: Path) -> bytes:
    exporter = vecrepeat.Exporter(design)
    plan = exporter.plan(Fraction(25))
    exporter.write(path, exporter.sheet(plan))
    return path.read_bytes()


def _exported(design: Any, path: Path) -> bytes:
    vecrepeat.export(design, path, dpi=25)
    return path.read_bytes()


def _composed(design: Any, path: Path) -> bytes:
    vecrepeat.compose(design, path.with_suffix(".svg"))
    return path.with_suffix(".svg").read_bytes()


def _copied(design: Any, _: Path) -> list[vecrepeat.Copy]:
    return vecrepeat.copies(design, Rect(0.0, 0.0, 100.0, 100.0))


TAKE: dict[str, Callable[[Any, Path], object]] = {
    "Exporter": _written,
    "export": _exported,
    "compose": _composed,
    "copies": _copied,
}


def test_all_that_takes_a_repeat_is_looked_at() -> None:
    public = {name: getattr(vecrepeat, name) for name in vecrepeat.__all__}
    taking = {
        name
        for name, value in public.items()
        if callable(value) and "repeat" in inspect.signature(value).parameters
    }
    assert taking == TAKE.keys()


@pytest.mark.parametrize("name", TAKE)
def test_art_is_taken_as_a_block_of_its_page(tmp_path: Path, name: str) -> None:
    art = read(tmp_path, BODY)
    of_art = TAKE[name](art, tmp_path / "out.png")
    assert of_art
    assert of_art == TAKE[name](art.repeat("block"), tmp_path / "out.png")


def test_a_notebook_shows_two_by_two_tiles(tmp_path: Path) -> None:
    file = write_svg(tmp_path, BODY)
    lines = f"import vecrepeat; print(vecrepeat.read_art({str(file)!r}).repeat()._repr_svg_())"
    # In a process that has imported no more of it than a notebook would.
    done = subprocess.run([sys.executable, "-c", lines], capture_output=True, text=True, check=True)
    tree = etree.fromstring(done.stdout.encode())
    assert (tree.get("width"), tree.get("height")) == ("200mm", "200mm")
