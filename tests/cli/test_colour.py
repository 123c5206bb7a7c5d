"""The commands about colour: what they print, write and refuse."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from PIL import Image
from support import vecrepeat, write_svg

RED, BLUE, WHITE = "#ff0000", "#0000ff", "#ffffff"
BODY = (
    f'<rect width="100" height="100" fill="{WHITE}"/><g id="m"><rect x="90" y="40" width="30" '
    f'height="20" fill="{RED}"/><rect x="95" y="45" width="10" height="10" fill="{BLUE}"/></g>'
)


@pytest.fixture
def art(tmp_path: Path) -> Path:
    return write_svg(tmp_path, BODY)


def test_palette_lists_and_writes(art: Path, tmp_path: Path) -> None:
    run = vecrepeat("palette", art, "-o", tmp_path / "p", "--name", f"{RED}=brick")
    assert (run.code, run.err) == (0, "")
    lines = run.out.splitlines()
    assert lines[1].split()[:3] == ["white", "(ground)", WHITE]
    assert lines[2].split() == ["brick", RED, "5.00", "cm²", "5.00", "%", "–"]
    names = {"css", "json", "csv", "toml", "svg", "png"}
    assert {file.suffix[1:] for file in (tmp_path / "p").iterdir()} == names


def test_palette_as_json(art: Path) -> None:
    data = json.loads(vecrepeat("palette", art, "--json").out)
    assert [(c["colour"], round(c["share"], 6)) for c in data["colours"]] == [
        (WHITE, 0.94), (RED, 0.05), (BLUE, 0.01),
    ]  # fmt: skip


def test_colourways_from_a_map_a_file_and_rules(art: Path, tmp_path: Path) -> None:
    file = tmp_path / "ways.toml"
    file.write_text(
        'name = "art"\nart = "art.svg"\n[[colourway]]\nname = "dawn"\nground = "#ffe0d0"\n'
        'colours = { red = "#ff7f50" }\n'
    )
    run = vecrepeat(
        "colourways", file, "-o", tmp_path / "w", "--map", f"{RED}=#00aa00",
        "--ground", "black", "--suggest", "1", "--dpi", "25.4", "--format", "png",
        "--format", "svg",
    )  # fmt: skip
    assert run.code == 0, run.err
    written = {path.name for path in (tmp_path / "w").iterdir()}
    names = {f"art-{n}.{k}" for n in ("dawn", "map", "dark-ground") for k in ("png", "svg")}
    assert written == {*names, "line-up.png"}
    with Image.open(tmp_path / "w" / "art-dawn.png") as image:
        # Blue is no shade of red and stays.
        assert image.getpixel((2, 50)) == (0, 0, 255)
        assert image.getpixel((15, 50)) == (0xFF, 0x7F, 0x50)
        assert image.getpixel((50, 10)) == (0xFF, 0xE0, 0xD0)


def test_colours_that_merge_are_noted(art: Path, tmp_path: Path) -> None:
    run = vecrepeat(
        "colourways", art, "-o", tmp_path / "w", "--map", "red=#0000fe", "--format", "none"
    )
    assert run.code == 0
    assert "note: map: red (#0000fe) and blue (#0000ff) have merged" in run.err


def test_reduce_writes_a_drawing_that_can_be_read_again(art: Path, tmp_path: Path) -> None:
    out = tmp_path / "flat.svg"
    run = vecrepeat("reduce", art, "-o", out, "--colours", "2")
    assert run.code == 0, run.err
    assert f"2 flat colours: {WHITE}, {RED}" in run.out
    assert f"{BLUE} → {RED}" in run.out
    data = json.loads(vecrepeat("palette", out, "--json").out)
    assert {c["colour"]: round(c["share"], 5) for c in data["colours"]} == {WHITE: 0.94, RED: 0.06}


def test_separate_writes_plates(art: Path, tmp_path: Path) -> None:
    run = vecrepeat("separate", art, "-o", tmp_path / "s", "--trap", "0.2mm", "--laydown", "30")
    assert run.code == 0
    (note,) = run.err.splitlines()
    assert note.startswith("note: white is a plate over 94 % of the cloth")
    assert run.out.splitlines()[0].startswith("plate 1: white #ffffff, 94")
    assert len(list((tmp_path / "s").glob("*.svg"))) == 4
    assert len(list((tmp_path / "s").glob("*.json"))) == 1


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["palette", "--name", "red"], "has no two sides"),
        (["palette", "--name", "reddish=x"], "“reddish” is not a colour"),
        (["colourways", "-o", "w"], "no colourway is asked for"),
        (["colourways", "-o", "w", "--map", "teal=red"], "the palette has no colour “teal”"),
        (["colourways", "-o", "w", "--colourway", "dawn"], "there is no colourway “dawn”"),
        (["reduce", "-o", "x.gif", "--colours", "2"], "reduce writes SVG or PNG"),
        (["separate", "-o", "s", "--trap", "0.2"], "has no unit"),
        (["separate", "-o", "s", "--cloth", "whitish"], "“whitish” is not a colour"),
        (["separate", "-o", "s", "--overprint", "teal"], "there is no ink “teal”"),
    ],
)
def test_mistakes_are_one_line_and_code_2(
    art: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, arguments: list[str], told: str
) -> None:
    monkeypatch.chdir(tmp_path)
    run = vecrepeat(arguments[0], art, *arguments[1:])
    assert run.code == 2
    assert run.err.count("\n") == 1
    assert told in run.err
    assert run.out == ""
    assert sorted(p.name for p in tmp_path.iterdir()) == ["art.svg"]


def test_the_drawing_itself_is_not_written_over(art: Path) -> None:
    before = art.read_bytes()
    run = vecrepeat("reduce", art, "-o", art, "--colours", "2")
    assert (run.code, art.read_bytes()) == (2, before)
