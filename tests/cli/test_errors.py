"""What goes wrong at the command line: one clear line, exit code 2, and nothing written."""

from __future__ import annotations

import gzip
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from support import Run, svg, vecrepeat

LEAF = '<rect id="leaf" x="10" y="10" width="20" height="20" fill="#336633"/>'
DRAWING = svg(LEAF)


def bomb(levels: int = 9) -> str:
    """The entity that expands to 10^9 times itself."""
    rows = ['<!ENTITY e0 "ha">']
    for k in range(1, levels + 1):
        ten = f"&e{k - 1};" * 10
        rows.append(f'<!ENTITY e{k} "{ten}">')
    return f"<!DOCTYPE svg [{''.join(rows)}]>{svg(f'<title>&e{levels};</title>{LEAF}')}"


def outside(system: str, kind: str = "") -> str:
    declared = f'<!DOCTYPE svg [<!ENTITY {kind}e SYSTEM "{system}">]>'
    return declared + svg(f"<title>{'' if kind else '&e;'}</title>{LEAF}")


DRAWINGS: list[tuple[str, bytes | str | None, str]] = [
    # (what is wrong, the drawing's bytes, a part of what the user is told)
    ("a PNG picture", b"\x89PNG\r\n\x1a\n" + bytes(100), "a PNG picture"),
    ("a JPEG picture", b"\xff\xd8\xff\xe0" + bytes(100), "a JPEG picture"),
    ("a PDF", b"%PDF-1.7\n", "a PDF"),
    ("a web page", "<html><body><svg/></body></html>", "<html>"),
    ("a web page that is no XML", "<!doctype html><p>hello<br>you", "well-formed"),
    ("plain text", "a leaf and a bud", "well-formed"),
    ("another XML", "<drawing><rect/></drawing>", "<drawing>"),
    ("nothing at all", b"", "well-formed"),
    ("white space", b"  \n", "well-formed"),
    ("random bytes", bytes(range(256)), "well-formed"),
    ("cut off in an element", DRAWING[:-30], "well-formed"),
    ("cut off before the end", DRAWING[:-6], "well-formed"),
    ("gzip that is cut off", gzip.compress(DRAWING.encode())[:-20], ""),
    ("gzip that is damaged", b"\x1f\x8b" + bytes(50), "gzip"),
    ("an entity bomb", bomb(), "entit"),
    ("a small entity bomb", bomb(2), "entit"),
    ("an external entity", outside("file:///etc/hostname"), "outside the file"),
    ("an entity of the net", outside("http://127.0.0.1:9/e"), "outside the file"),
    ("an external parameter entity", outside("file:///etc/hostname", "% "), "outside the file"),
    ("an entity bomb in UTF-16", bomb().encode("utf-16"), "entit"),
    ("elements far too deep", svg("<g>" * 300 + LEAF + "</g>" * 300), "deep"),
    ("no motifs", svg(""), "no motifs"),
    ("definitions only", svg(f"<defs>{LEAF}</defs>"), "no motifs"),
    ("a ground alone", svg('<rect width="100" height="100" fill="#fff"/>'), "no motifs"),
    ("hidden motifs only", svg('<rect width="9" height="9" display="none"/>'), "no motifs"),
    ("no size", svg(LEAF, width=None, height=None, view_box=None), "no size"),
    ("a zero width", svg(LEAF, width="0"), "width is zero"),
    ("a zero height", svg(LEAF, height="0mm"), "height is zero"),
    ("a negative width", svg(LEAF, width="-10mm"), "width is negative"),
    ("a negative height", svg(LEAF, height="-1"), "height is negative"),
    ("a width of 10^9 m", svg(LEAF, width="1e12mm", view_box=None), "absurd"),
    ("a width of 10^-9 mm", svg(LEAF, width="1e-9mm"), "absurd"),
    ("a height beyond all floats", svg(LEAF, height="1e999mm"), "height"),
    ("a height below all floats", svg(LEAF, height="1e-999mm"), "height"),
    ("an unknown unit in the page", svg(LEAF, width="10furlong"), "unit"),
    ("a width that is no length", svg(LEAF, width="wide"), "width"),
    ("a width of nan", svg(LEAF, width="nan"), "width"),
    ("a viewBox of three numbers", svg(LEAF, view_box="0 0 100"), "viewBox"),
    ("a viewBox without width", svg(LEAF, view_box="0 0 0 100"), "viewBox"),
    ("a negative viewBox", svg(LEAF, view_box="0 0 100 -100"), "viewBox"),
    ("a viewBox of nan", svg(LEAF, view_box="0 0 nan 100"), "viewBox"),
    ("a viewBox beyond all floats", svg(LEAF, view_box="0 0 1e999 1e999"), ""),
    ("a viewBox below all floats", svg(LEAF, view_box="0 0 1e-999 1e-999"), ""),
    ("no such file", None, "no such file"),
]


def is_one_clear_line(run: Run, told: str) -> None:
    """The promise to the user; `told` is what the line must speak of."""
    assert run.code == 2
    assert run.out == ""
    assert run.err.startswith("vecrepeat: ")
    assert run.err.count("\n") == 1
    assert run.err.endswith("\n")
    assert len(run.err) < 600
    assert "Traceback" not in run.err
    assert told in run.err


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder, the current one."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(
    ("drawing", "told"), [d[1:] for d in DRAWINGS], ids=[d[0] for d in DRAWINGS]
)
@pytest.mark.parametrize(
    "command",
    [["motifs", "a.svg"], ["compose", "a.svg", "-o", "o.svg"], ["export", "a.svg", "-o", "o.png"]],
    ids=lambda c: c[0],
)
def test_drawings_that_can_not_be_read(
    here: Path, command: list[str], drawing: bytes | str | None, told: str
) -> None:
    if drawing is not None:
        data = drawing if isinstance(drawing, bytes) else drawing.encode()
        (here / "a.svg").write_bytes(data)
    before = os.listdir(here)
    is_one_clear_line(vecrepeat(*command), told)
    assert os.listdir(here) == before


def test_a_folder_as_drawing(here: Path) -> None:
    is_one_clear_line(vecrepeat("motifs", here), "folder")


@pytest.mark.skipif(not os.path.exists("/proc/self/mem"), reason="no file here that can't be read")
def test_a_file_that_can_not_be_read(here: Path) -> None:
    is_one_clear_line(vecrepeat("motifs", "/proc/self/mem"), "/proc/self/mem")


COMPOSE, EXPORT = "compose art.svg", "export art.svg"
CALLS = [
    # (what is wrong, the call, a part of what the user is told)
    ("no command", "", "Usage"),
    ("an unknown command", "weave art.svg", "weave"),
    ("an unknown option", "motifs art.svg --colour", "--colour"),
    ("no drawing", "motifs", "SRC"),
    ("two drawings", "motifs art.svg art.svg", "art.svg"),
    ("compose without -o", COMPOSE, "--output"),
    ("export without -o", EXPORT, "--output"),
    ("an option without its value", f"{EXPORT} -o o.png --dpi", "--dpi"),
    ("a layout that is none", f"{COMPOSE} -o o.svg --layout toss", "toss"),
    ("a layout that divides by zero", f"{EXPORT} -o o.png --layout drop:1/0", "zero"),
    ("a layout of too many steps", f"{EXPORT} -o o.png --layout drop:1/1001", "1001"),
    ("a selector that is none", "motifs art.svg --motifs g[", "selector"),
    ("a selector that matches nothing", "motifs art.svg --motifs .bud", ".bud"),
    ("an empty selector", "motifs art.svg --motifs=", "selector"),
    ("compose to another format", f"{COMPOSE} -o o.pdf", ".svg"),
    ("compose to a name without ending", f"{COMPOSE} -o o", ".svg"),
    ("export to another format", f"{EXPORT} -o o.gif", ".png"),
    ("export to a name without ending", f"{EXPORT} -o o", ".png"),
    ("compose into a file", f"{COMPOSE} -o art.svg/o.svg", "art.svg/o.svg"),
    ("export into a file", f"{EXPORT} -o art.svg/o.png", "art.svg/o.png"),
    ("compose onto a folder", f"{COMPOSE} -o folder.svg", "folder"),
    ("export onto a folder", f"{EXPORT} -o folder.png", "folder"),
    ("a name too long", f"{EXPORT} -o {'n' * 300}.png", "too long"),
    ("no dpi", f"{EXPORT} -o o.png --dpi 0", "--dpi"),
    ("a negative dpi", f"{EXPORT} -o o.png --dpi -5", "--dpi"),
    ("a dpi of nan", f"{EXPORT} -o o.png --dpi nan", "--dpi"),
    ("an endless dpi", f"{EXPORT} -o o.png --dpi inf", "--dpi"),
    ("a dpi that is no number", f"{EXPORT} -o o.png --dpi abc", "--dpi"),
    ("a dpi with an exponent", f"{EXPORT} -o o.png --dpi 1e9", "--dpi"),
    ("a dpi that divides by zero", f"{EXPORT} -o o.png --dpi 1/0", "--dpi"),
    ("an absurd dpi", f"{EXPORT} -o o.png --dpi 1000000", "--dpi"),
    ("one bad dpi of two", f"{EXPORT} -o {{dpi}}.png --dpi 30 --dpi x", "--dpi"),
    ("a sheet of 10^9 m to compose", f"{COMPOSE} -o o.svg --sheet 1e9x1m", "10 km"),
    ("a sheet of 10^9 m to export", f"{EXPORT} -o o.png --sheet 1e9x1m", "10 km"),
    ("a sheet beyond all floats to compose", f"{COMPOSE} -o o.svg --sheet 1e999x1m", ""),
    ("a sheet beyond all floats to export", f"{EXPORT} -o o.png --sheet 1e999x1m", ""),
    ("a sheet too long for a PNG", f"{EXPORT} -o o.png --sheet 1cmx9km --dpi 9999", "px"),
    ("a sheet less than a pixel", f"{EXPORT} -o o.png --sheet 0.01x5mm", "less than one pixel"),
    ("a sheet without unit", f"{EXPORT} -o o.png --sheet 54x36", "unit"),
    ("a sheet of an unknown unit", f"{EXPORT} -o o.png --sheet 1x1furlong", "--sheet"),
    ("a sheet of one length", f"{COMPOSE} -o o.svg --sheet 54in", "--sheet"),
    ("a zero sheet", f"{COMPOSE} -o o.svg --sheet 0x5in", "zero"),
    ("a negative sheet", f"{COMPOSE} -o o.svg --sheet -5x5in", "negative"),
    ("a width without unit", f"{EXPORT} -o o.png --repeat-width 12", "unit"),
    ("a width of an unknown unit", f"{EXPORT} -o o.png --repeat-width 1furlong", "furlong"),
    ("a zero width", f"{EXPORT} -o o.png --repeat-width 0in", "zero"),
    ("a negative width", f"{COMPOSE} -o o.svg --repeat-width=-1in", "negative"),
    ("a width that divides by zero", f"{COMPOSE} -o o.svg --repeat-width 1/0in", "zero"),
    ("a width under a pixel", f"{EXPORT} -o o.png --repeat-width 1e-9mm", "less than one pixel"),
    ("a width beyond any PNG", f"{EXPORT} -o o.png --repeat-width 9e9mm", "too large"),
    ("a width beyond all floats to export", f"{EXPORT} -o o.png --repeat-width 1e999mm", ""),
    ("a width beyond all floats to compose", f"{COMPOSE} -o o.svg --repeat-width 1e999mm", ""),
    ("a width below all floats to export", f"{EXPORT} -o o.png --repeat-width 1e-999mm", ""),
    ("a width below all floats to compose", f"{COMPOSE} -o o.svg --repeat-width 1e-999mm", ""),
    (
        "widths and heights that can't be paired",
        f"{EXPORT} -o o.png --repeat-width 1in --repeat-width 2in --repeat-height 1in",
        "paired",
    ),
    (
        "a width and a height that would stretch a vector file",
        f"{COMPOSE} -o o.svg --repeat-width 1in --repeat-height 2in",
        "stretch",
    ),
    # 100 mm at 300 dpi is 1181.10 px.
    ("--exact at a size that is not whole", f"{EXPORT} -o o.png --exact", "not whole"),
    ("--sheet with --block", f"{EXPORT} -o o.png --block --sheet 5x5in", "--block"),
    ("--sheet with --tile-only", f"{COMPOSE} -o o.svg --tile-only --sheet 5x5in", "one tile"),
    ("an unknown placeholder", f"{EXPORT} -o {{size}}.png", "{size}"),
    ("an empty placeholder", f"{EXPORT} -o {{}}.png", "{}"),
    ("a numbered placeholder", f"{EXPORT} -o {{0}}.png", "{0}"),
    ("a brace left open", f"{EXPORT} -o {{name.png", "{name"),
    ("an attribute in a placeholder", f"{EXPORT} -o {{name.__class__}}.png", "{name"),
    ("a conversion that is none", f"{EXPORT} -o {{name!x}}.png", "{name"),
    ("a format that does not fit", f"{EXPORT} -o {{name:d}}.png", "{name"),
    ("two sizes to one name", f"{EXPORT} -o o.png --dpi 30 --dpi 40", "o.png"),
    (
        "two widths to one name",
        f"{EXPORT} -o {{dpi}}.png --dpi 30 --repeat-width 1in --repeat-width 2in",
        "30.png",
    ),
]


@pytest.mark.parametrize(("call", "told"), [c[1:] for c in CALLS], ids=[c[0] for c in CALLS])
def test_calls_that_can_not_be_followed(here: Path, call: str, told: str) -> None:
    (here / "art.svg").write_text(DRAWING)
    (here / "folder.svg").mkdir()
    (here / "folder.png").mkdir()
    before = sorted(here.rglob("*"))
    run = vecrepeat(*call.split())
    if call == "":
        # Called with nothing at all it shows how it is called.
        assert run.code == 2
        assert told in run.out + run.err
    else:
        is_one_clear_line(run, told)
    assert sorted(here.rglob("*")) == before
    assert (here / "art.svg").read_text() == DRAWING


def test_the_same_size_twice_is_not_two_files(here: Path) -> None:
    """Two different sizes whose fields are rounded alike must not overwrite each other."""
    (here / "art.svg").write_text(DRAWING)
    run = vecrepeat("export", "art.svg", "-o", "{dpi}.png", "--dpi", "30.0000001", "--dpi", "30")
    is_one_clear_line(run, "30.png")


def test_an_output_that_is_the_drawing_itself_is_refused(here: Path) -> None:
    """Composing onto the drawing would replace the artist's only original."""
    (here / "art.svg").write_text(DRAWING)
    is_one_clear_line(vecrepeat("compose", "art.svg", "-o", "art.svg"), "art.svg")
    assert (here / "art.svg").read_text() == DRAWING


def test_a_bomb_in_uses_is_refused(here: Path) -> None:
    """Ten uses of ten uses of ten …: 10^8 leaves from 1 kB."""
    levels = "".join(
        f'<g id="l{k}">' + f'<use href="#l{k - 1}"/>' * 10 + "</g>" for k in range(1, 9)
    )
    (here / "a.svg").write_text(svg(f'<defs><g id="l0">{LEAF}</g>{levels}</defs><use href="#l8"/>'))
    is_one_clear_line(vecrepeat("motifs", "a.svg"), "<use>")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["motifs", "none.svg"], "none.svg"),
        (["export", "art.svg", "-o", "o.png", "--dpi", "0"], "--dpi"),
        (["compose", "art.svg", "-o", "o.svg", "--layout", "toss"], "toss"),
    ],
    ids=["motifs", "export", "compose"],
)
def test_the_same_holds_for_the_installed_program(
    here: Path, arguments: list[str], told: str
) -> None:
    """A whole process, as the shell starts it."""
    (here / "art.svg").write_text(DRAWING)
    done = subprocess.run(
        [sys.executable, "-m", "vecrepeat", *arguments], capture_output=True, text=True, check=False
    )
    # On a busy machine it takes over a second to start, which the bar then says.
    lines = done.stderr.splitlines(keepends=True)
    said = "".join(line for line in lines if not re.fullmatch(r"vecrepeat \w+: \d+ s\n", line))
    is_one_clear_line(Run(done.returncode, done.stdout, said), told)
    assert os.listdir(here) == ["art.svg"]


def test_a_reader_that_goes_away_is_no_traceback(here: Path) -> None:
    """`vecrepeat motifs … | head -1` with more lines than a pipe holds."""
    body = "".join(
        f'<g id="motif-{k}-{"x" * 60}"><rect x="{k % 90}" y="{k // 90}" width="1" height="1"/></g>'
        for k in range(2000)
    )
    (here / "art.svg").write_text(svg(body))
    with subprocess.Popen(
        [sys.executable, "-m", "vecrepeat", "motifs", "art.svg", "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        said = process.stderr.read()
    assert "Traceback" not in said
    assert "Exception ignored" not in said
