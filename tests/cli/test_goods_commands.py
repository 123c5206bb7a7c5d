"""The commands of goods and the formats of export, as they are typed."""

from __future__ import annotations

import json
from pathlib import Path

import pikepdf
import pytest
from PIL import Image
from support import needs_a_font, svg, vecrepeat

BODY = (
    '<rect width="100" height="100" fill="#f2ede0"/><circle cx="4" cy="30" r="17" fill="#00ff00"/>'
)
CMYK = "/usr/share/color/icc/ghostscript/default_cmyk.icc"


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "art.svg").write_text(svg(BODY))
    return tmp_path


def called(*arguments: str) -> str:
    run = vecrepeat(*arguments)
    assert run.code == 0, run.err
    return run.out


@pytest.mark.parametrize("suffix", ["png", "tif", "tiff", "jpg", "jpeg", "webp", "pdf"])
def test_every_format_takes_the_options_of_png(here: Path, suffix: str) -> None:
    called(
        *("export", "art.svg", "-o", f"{{name}}-{{layout}}-{{dpi}}.{suffix}", "--dpi", "40"),
        *("--layout", "half-drop", "--sheet", "20x30cm", "--repeat-width", "8cm", "--json"),
    )
    assert (here / f"art-half-drop-40.{suffix}").stat().st_size > 500


REFUSED = [
    (["-o", "a.gif"], "does not write “.gif” files"),
    (["-o", "a"], "the name has no ending"),
    (["-o", "a.png", "--quality", "3"], ".png files take no --quality (.jpg, .jpeg, .webp do)"),
    (["-o", "a.tif", "--max-bytes", "9kB"], ".tif files take no --max-bytes"),
    (["-o", "a.pdf", "--compression", "lzw"], ".pdf files take no --compression"),
    (["-o", "a.jpg", "--bleed", "3mm"], ".jpg files take no --bleed (.pdf do)"),
    (["-o", "a.webp", "--marks"], ".webp files take no --marks"),
    (["-o", "a.png", "--profile", CMYK], "PNG holds no CMYK, and Artifex CMYK SWOP Profile is"),
    (["-o", "a.png", "--profile", CMYK], "write .tif for these inks, or give an RGB or grey"),
    (["-o", "a.jpg", "--profile", CMYK], "are not written in CMYK"),
    (["-o", "a.tif", "--profile", "none.icc"], "none.icc: can't read the profile"),
    (["-o", "a.jpg", "--max-bytes", "lots"], "“lots” is not a file's size"),
    (["-o", "a.pdf", "--bleed", "1m"], "the bleed is not usable"),
]


@pytest.mark.parametrize(("arguments", "what"), REFUSED, ids=[" ".join(r[0]) for r in REFUSED])
def test_what_a_format_can_not_do_is_one_clear_line(
    here: Path, arguments: list[str], what: str
) -> None:
    run = vecrepeat("export", "art.svg", "--dpi", "30", *arguments)
    assert run.code == 2
    (line,) = run.err.splitlines()
    assert what in line
    assert sorted(p.name for p in here.iterdir()) == ["art.svg"], "nothing half-written"


def test_colours_out_of_gamut_are_told(here: Path) -> None:
    run = vecrepeat("export", "art.svg", "-o", "a.tif", "--dpi", "30", "--profile", CMYK)
    assert run.code == 0
    assert "out of the gamut of Artifex CMYK SWOP Profile, by ΔE2000: #00ff00 by " in run.err
    facts = json.loads(
        called("export", "art.svg", "-o", "a.tif", "--dpi", "30", "--profile", CMYK, "--json")
    )
    (moved,) = facts["files"][0]["out_of_gamut"]
    assert moved["colour"] == "#00ff00"
    assert moved["delta"] > 10


@needs_a_font
def test_cloth(here: Path) -> None:
    facts = json.loads(
        called(
            *("cloth", "art.svg", "--cut", "half-yard", "--bolt", "quilting", "--across", "10"),
            *("--selvedge", "1cm", "--one-way", "-o", "a.jpg", "--dpi", "20", "--json"),
        )
    )
    assert facts["tile_mm"] == [109.76, 109.76]  # (1117.6 − 20) ÷ 10
    assert facts["sheet_mm"] == [1117.6, 457.2]
    assert any(note.startswith("one way") for note in facts["notes"])
    with Image.open("a.jpg") as image:
        assert image.size == (880, 360)  # 44 in × 18 in


def test_roll(here: Path) -> None:
    out = called("roll", "art.svg", "--repeat-width", "53cm", "--wall", "4x2.5m")
    lines = out.splitlines()
    assert lines[0] == (
        "roll 530 mm × 10050 mm: straight match, repeat 530 mm, 18 whole repeats a roll"
    )
    assert "8 drops take 3 rolls" in lines
    facts = json.loads(
        called(
            *("roll", "art.svg", "--repeat-width", "53cm", "--layout", "half-drop"),
            *("--wall", "1x2m", "--wall", "1.2x2m", "--json"),
        )
    )
    assert facts["match"]["offset_mm"] == 265
    assert len(facts["drops"]) == 2 + 3
    assert any("one batch" in note for note in facts["notes"])
    assert any("fire" in note and "local codes" in note for note in facts["notes"])


@pytest.mark.parametrize(
    "arguments",
    [
        ["roll", "--repeat-width", "53cm", "--wall", "4x2.5m", "--trim", "0cm"],
        ["roll", "--wall", "1x1m", "--overlap", "0mm", "-o", "{number}.pdf", "--bleed", "0mm"],
        ["cloth", "--selvedge", "0mm"],
        ["separate", "--trap", "0mm", "-o", "plates"],
    ],
)
def test_none_at_all_is_a_length_where_it_means_something(here: Path, arguments: list[str]) -> None:
    called(arguments[0], "art.svg", *arguments[1:])


def test_roll_writes_drops(here: Path) -> None:
    called(
        *("roll", "art.svg", "--wall", "1.2x1m", "--roll", "50cmx10m", "--overlap", "1cm"),
        *("-o", "w-{number}.pdf", "--marks", "--bleed", "3mm"),
    )
    names = ["w-01.pdf", "w-02.pdf", "w-03.pdf"]
    assert sorted(p.name for p in here.glob("w-*")) == names
    widths = []
    for name in names:
        with pikepdf.open(name) as pdf:
            left, _, right, _ = (float(v) for v in pdf.pages[0].trimbox)
            widths.append((right - left) * 25.4 / 72)
    assert widths == pytest.approx([500, 500, 220], abs=1e-3)  # 1200 − 2 × (500 − 10)


def test_printed_drops_are_counted_with_their_overlap(here: Path) -> None:
    # 5.3 m is ten widths of 53 cm, but eleven that lie over each other by 1 cm: 5290 ÷ 520 = 10.2.
    # A roll of 10.05 m holds three of 2.6 m.
    arguments = ["roll", "art.svg", "--wall", "5.3x2.5m", "--overlap", "1cm", "--opening", "1x2m"]
    run = vecrepeat(*arguments, "-o", "w-{number}.jpg", "--dpi", "5")
    lines = run.out.splitlines()
    assert lines[0] == (
        "roll 530 mm × 10050 mm: 11 drops of 2600 mm, each printed for its own place on the wall "
        "and 10 mm over the one before"
    )
    assert lines[1] == "3 drops a roll: 4 rolls"
    assert len([line for line in lines if line.startswith("w-")]) == 11
    assert "openings are printed like the wall around them" in run.err
    facts = json.loads(called(*arguments, "-o", "w-{number}.jpg", "--dpi", "5", "--json"))
    assert (facts["rolls"], len(facts["printed_drops"])) == (4, 11)
    assert facts["printed_drops"][1] == {"left_mm": 520, "size_mm": [530, 2600]}


def test_a_sliver_at_the_end_is_told(here: Path) -> None:
    # 4 m on a web of 1.3 m, 2 cm over each other: 3 × 1.28 m, and 0.16 m are left;
    # (4000 + 3 × 20) ÷ 4 = 1015.
    arguments = ["roll", "art.svg", "--wall", "4x2.6m", "--overlap", "2cm", "-o", "w-{number}.jpg"]
    run = vecrepeat(*arguments, "--dpi", "5", "--roll", "1.3x50m")
    told = "the last drop is only 160 mm wide; 4 drops of 1015 mm would be alike (--roll 1015mmx"
    assert told in run.err
    run = vecrepeat(*arguments, "--dpi", "5", "--roll", "1015mmx50000mm")
    assert "the last drop is only" not in run.err
    with Image.open(here / "w-04.jpg") as image:
        assert image.width == 200  # 1015 mm at 5 dpi


def test_a_printed_drop_longer_than_its_roll_is_refused(here: Path) -> None:
    run = vecrepeat("roll", "art.svg", "--wall", "1x11m", "-o", "w-{number}.pdf")
    assert run.code == 2
    assert "a drop of 11100 mm is longer than a roll of 10050 mm" in run.err


def test_roll_refuses_what_does_not_join(here: Path) -> None:
    run = vecrepeat("roll", "art.svg", "--wall", "4x2.5m")
    assert run.code == 2
    assert "5.3 repeats wide, not a whole number" in run.err
    assert "print the repeat 106 mm wide" in run.err
    run = vecrepeat("roll", "art.svg", "--wall", "4x2.5m", "--wall", "1x1m", "--opening", "1x1m")
    assert "exactly one --wall" in run.err


def test_screen(here: Path) -> None:
    out = called("screen", "art.svg", "--repeat-height", "32cm")
    assert "fits: 2 repeats round" in out
    facts = json.loads(called("screen", "art.svg", "--json"))
    # 640 ÷ 100 = 6.4: six round, 106.67 mm each.
    assert (facts["fits"], facts["around"]) == (False, 6)
    assert facts["fitted_tile_mm"] == pytest.approx([640 / 6] * 2)
