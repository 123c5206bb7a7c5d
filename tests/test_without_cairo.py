"""A machine without the cairo library: every command works, through resvg, and says so once.

Figures are held against cairo's own pixels, which the same machine draws before it is hidden.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from support import needs_a_font, needs_cairo, vecrepeat

from vecrepeat.art.read import read_art
from vecrepeat.draw import cairo_library
from vecrepeat.draw.cairo_library import NO_CAIRO, usual_engine
from vecrepeat.draw.paint import Window
from vecrepeat.write.exporting import Exporter

NO_LIBRARY = Path(__file__).parent / "without_cairo"


@pytest.fixture
def hidden(here: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of ``here``, and no cairo library, in this process and in those it starts."""
    hide(monkeypatch)
    return here


def hide(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take the library away, as its binding and the loader tell it."""
    for name in list(sys.modules):
        if name.partition(".")[0] in ("cairocffi", "cairosvg"):
            monkeypatch.delitem(sys.modules, name)
    for names in ("_FILES", "_NAMES"):
        monkeypatch.setattr(f"vecrepeat.draw.cairo_library.{names}", ())
    monkeypatch.syspath_prepend(NO_LIBRARY)
    for answer in (cairo_library._found, usual_engine):
        answer.cache_clear()


@pytest.fixture(autouse=True)
def _forget() -> Iterator[None]:
    yield
    for answer in (cairo_library._found, usual_engine):
        answer.cache_clear()


DRAWING = [
    "export art.svg -o o.png --dpi 40",
    "export art.svg -o {dpi}.png --dpi 40 --dpi 30",
    "export art.svg -o o.tif --dpi 30 --sheet 25x25cm --layout half-drop",
    "check art.svg --picture o.png",
    "colourways art.svg --suggest 1 --format png --dpi 30 -o w",
    "separate art.svg -o plates --dpi 30 --soft tint",
    pytest.param("proof art.svg -o o.pdf --paper a4", marks=needs_a_font),
    pytest.param("spec art.svg -o o.png", marks=needs_a_font),
    "trials d.toml -n 1 --seeds 1 -o o",
    "cloth art.svg --cut fat-quarter -o o.png --dpi 20",
    "roll art.svg --wall 2x1m --repeat-width 53cm -o drop-{number}.png --dpi 10",
    "batch d.toml -o out",
]


@pytest.mark.parametrize("line", DRAWING)
def test_what_draws_draws_and_says_so_once(hidden: Path, line: str) -> None:
    run = vecrepeat(*line.split())
    assert run.code in (0, 1) if line.startswith("check") else run.code == 0, run.err
    assert run.err.count(NO_CAIRO) == 1, run.err


@pytest.mark.parametrize(
    "line",
    [
        "motifs art.svg",
        "compose art.svg -o o.svg",
        "export art.svg -o o.pdf",
        "palette art.svg",
        "toss d.toml --again",
        "screen art.svg",
    ],
)
def test_what_draws_nothing_says_nothing_of_it(hidden: Path, line: str) -> None:
    run = vecrepeat(*line.split())
    assert run.code == 0, run.err
    assert NO_CAIRO not in run.err


def test_an_error_after_drawing_stands_alone(hidden: Path) -> None:
    (hidden / "file").write_text("no folder")
    run = vecrepeat("spec", "art.svg", "-o", Path("file", "o.png"))
    assert run.code == 2
    assert NO_CAIRO not in run.err


def test_cairo_asked_for_by_name_is_refused_in_one_line(hidden: Path) -> None:
    run = vecrepeat(*["export", "art.svg", "-o", "o.png", "--engine", "cairo"])
    assert run.code == 2
    assert run.err.count("\n") == 1
    assert "--engine" in run.err
    assert not (hidden / "o.png").exists()


@needs_a_font
def test_a_proof_of_pictures_is_at_true_scale(hidden: Path) -> None:
    """By pdfium: ISO 216 has A4 as 297 × 210 mm, and a motif is as wide as drawn."""
    assert vecrepeat(*["proof", "art.svg", "-o", "o.pdf", "--paper", "a4"]).code == 0
    with pypdfium2.PdfDocument(hidden / "o.pdf") as proof:
        assert len(proof) == 2
        assert [side / 72 * 25.4 for side in proof[0].get_size()] == pytest.approx([297, 210])
        picture = np.asarray(proof[0].render(scale=4 / 72 * 25.4).to_pil().convert("RGB"))
    red = np.abs(picture.astype(int) - (0xCC, 0x33, 0x33)).max(axis=2) < 3
    runs = [len(run) for row in red for run in bytes(row).split(b"\0")]
    # The bloom is a disc of 22 mm, here 4 px to the mm.
    assert max(runs) / 4 == pytest.approx(22, abs=0.75)


@needs_cairo
def test_pixels_stay_near_cairo_s_and_meet_at_every_join(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The bounds are the figures that docs/how-it-works.md gives."""
    asked = ["export", "art.svg", "--dpi", "200", "--layout", "half-drop", "-o"]
    assert vecrepeat(*asked, "cairo.png").code == 0
    hide(monkeypatch)
    assert vecrepeat(*asked, "resvg.png").code == 0
    exporter = Exporter(read_art(here / "art.svg").repeat())
    assert exporter.engine == "resvg"
    one, other = (np.asarray(Image.open(n)).astype(int) for n in ("cairo.png", "resvg.png"))
    assert np.abs(one - other).mean() <= 0.5
    plan = exporter.plan(Fraction(200))
    painter, (width, height) = exporter.painter(plan), (plan.width, plan.height)
    tile = painter.paint(Window(0, 0, width, height)).astype(int)
    across, down = width // 2, height // 2
    moved = np.roll(painter.paint(Window(across, down, width, height)), (down, across), (0, 1))
    each = np.abs(moved - tile).max(axis=2)
    assert (each > 0).mean() <= 0.0005
    assert each.max() <= 45


def test_a_process_of_its_own_finds_none_either(here: Path) -> None:
    path = os.pathsep.join([str(NO_LIBRARY), *sys.path])
    command = [sys.executable, "-m", "vecrepeat", "export", "art.svg", "-o", "o.png", "--dpi", "30"]
    done = subprocess.run(
        command, env={**os.environ, "PYTHONPATH": path}, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr.count(NO_CAIRO) == 1
