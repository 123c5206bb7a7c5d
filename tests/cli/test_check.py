"""``vecrepeat check`` as it is called: exit codes, JSON, pictures and refusals."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from lxml import etree
from PIL import Image
from support import DEMO, svg, vecrepeat

EVEN = "".join(
    f'<g id="m{i}{j}"><circle cx="{10 + 20 * i}" cy="{10 + 20 * j}" r="6" fill="#205060"/></g>'
    for i in range(5)
    for j in range(5)
)
CLOSE = EVEN + '<g id="extra"><circle cx="20.1" cy="20" r="8.2" fill="#a04020"/></g>'


@pytest.fixture
def even(tmp_path: Path) -> Path:
    (tmp_path / "even.svg").write_text(svg(EVEN))
    return tmp_path / "even.svg"


@pytest.fixture
def close(tmp_path: Path) -> Path:
    (tmp_path / "close.svg").write_text(svg(CLOSE))
    return tmp_path / "close.svg"


def test_clean_repeat_exits_with_0(even: Path) -> None:
    run = vecrepeat("check", even)
    assert run.code == 0, run.out
    assert "nothing found" in run.out


def test_findings_exit_with_1_and_are_numbered(close: Path) -> None:
    run = vecrepeat("check", close, "--only", "collisions")
    assert run.code == 1
    assert run.out.startswith("  1  collisions: ")


def test_json_holds_findings_and_facts(close: Path) -> None:
    run = vecrepeat("check", close, "--json", "--only", "collisions,voids")
    report = json.loads(run.out)
    assert {f["question"] for f in report["findings"]} == {"collisions"}
    assert set(report["facts"]) == {"collisions", "voids"}
    assert report["findings"][0]["motifs"]


@pytest.mark.parametrize("suffix", [".svg", ".png"])
def test_picture_is_written(close: Path, tmp_path: Path, suffix: str) -> None:
    out = tmp_path / f"out{suffix}"
    assert vecrepeat("check", close, "--only", "collisions", "--picture", out).code == 1
    if suffix == ".png":
        with Image.open(out) as image:
            assert image.width > 1000
        return
    root = etree.parse(out).getroot()
    numbers = [e.text for e in root.iter("{*}text") if e.get("text-anchor") == "middle"]
    # Once on the plane and once in the legend.
    assert numbers.count("1") == 2


def test_print_width_scales_what_is_measured(close: Path) -> None:
    small = json.loads(vecrepeat("check", close, "--json", "--repeat-width", "50mm").out)
    assert small["tile_mm"] == [50.0, 50.0]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--only", "seams"), "“seams” is no question"),
        (("--profile", "mine"), "no profile “mine”"),
        (("--picture", "out.gif"), "SVG or PNG"),
    ],
)
def test_bad_options_exit_with_2(even: Path, arguments: tuple[str, ...], says: str) -> None:
    run = vecrepeat("check", even, *arguments)
    assert run.code == 2
    assert says in run.err


def test_missing_file_exits_with_2(tmp_path: Path) -> None:
    for name in ("none.svg", "none.png"):
        assert vecrepeat("check", tmp_path / name).code == 2


def test_demo_drawing_joins_and_lanes_are_clean() -> None:
    run = vecrepeat("check", DEMO / "night-garden.svg", "--only", "joins,voids,alleys")
    assert run.code == 0, run.out
