"""The command line on machines with one font, and with none at all."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from lxml import etree
from PIL import Image
from plain_font import plain_font
from support import SPRIG, SVG, vecrepeat, write_svg

WORDS = '<text id="word" x="10" y="50" font-size="9" font-family="Georgia, serif">Fern</text>'
STANDS_IN = "note: the font “Georgia” is not installed: “Only” stands in\n"


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (
            ("compose", "words.svg", "-o", "out.svg"),
            "element “word”: text can't be drawn: no font ",
        ),
        (("motifs", "words.svg", "--live-text"), "element “word”: text can't be drawn: no font "),
        (("proof", "plain.svg", "-o", "out.pdf"), "out.pdf: no font is installed, and the sheet"),
        (("spec", "plain.svg", "-o", "out.png"), "out.png: no font is installed, and the sheet"),
        (
            ("cloth", "plain.svg", "--selvedge", "15mm", "-o", "out.png", "--dpi", "5"),
            "the selvedge's text can't be drawn: no font is installed",
        ),
    ],
)
def test_without_any_font_what_has_words_is_refused_by_name(
    no_fonts: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], told: str
) -> None:
    write_svg(tmp_path, SPRIG + WORDS, name="words.svg")
    write_svg(tmp_path, SPRIG, name="plain.svg")
    monkeypatch.chdir(tmp_path)
    run = vecrepeat(*arguments)
    assert (run.code, run.out) == (2, ""), run.err
    (line,) = run.err.splitlines()
    assert told in line
    assert "(install one, or " in line
    assert {file.suffix for file in tmp_path.iterdir() if file.is_file()} == {".svg"}
    assert len(list(tmp_path.glob("*.svg"))) == 2


def test_without_any_font_art_without_words_is_as_ever(no_fonts: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.png"
    run = vecrepeat("export", write_svg(tmp_path, SPRIG), "-o", out, "--dpi", "25.4")
    assert (run.code, run.err) == (0, "")


def test_what_stands_in_is_named_once(no_fonts: Path, tmp_path: Path) -> None:
    only_font(no_fonts)
    out = tmp_path / "out.svg"
    run = vecrepeat("compose", write_svg(tmp_path, WORDS + WORDS.replace("50", "80")), "-o", out)
    assert (run.code, run.err) == (0, STANDS_IN)
    assert not list(etree.parse(out).iter(f"{{{SVG}}}text"))


@pytest.mark.parametrize("live", [(), ("--live-text",)])
def test_fontconfig_says_where_fonts_are_and_what_stands_in_is_drawn(
    tmp_path: Path, live: tuple[str, ...]
) -> None:
    only_font(tmp_path)
    config = tmp_path / "fonts.conf"
    config.write_text(f"<fontconfig><dir>{tmp_path}</dir></fontconfig>")
    arguments = ("export", write_svg(tmp_path, WORDS), "-o", "out.png", "--dpi", "50.8")
    # In a process of its own: the second engine's keeps the fonts that it has loaded.
    run = subprocess.run(
        [sys.executable, "-m", "vecrepeat", *arguments, *live],
        env={**os.environ, "FONTCONFIG_FILE": str(config)},
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    assert STANDS_IN in run.stderr
    with Image.open(tmp_path / "out.png") as image:
        dark = np.argwhere(np.asarray(image.convert("L")) < 128)
    # Four boxes 4.5 mm wide, 0.9 mm apart, from 10 mm on, 6.3 mm high, at 2 px to the mm.
    assert dark.min(axis=0) == pytest.approx((87, 20), abs=1)
    assert dark.max(axis=0) == pytest.approx((99, 61), abs=1)


def only_font(folder: Path) -> None:
    """A font of boxes for letters, called Only."""
    plain_font("Only", dict.fromkeys("Fern", (500, 700))).save(str(folder / "only.ttf"))
