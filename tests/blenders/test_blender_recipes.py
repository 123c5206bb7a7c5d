"""Blenders as recipes: written, opened, checked, and laid under motifs."""

from __future__ import annotations

from pathlib import Path

import pytest
from support import vecrepeat, write_svg

from vecrepeat.blenders.settings import KINDS, MARKS
from vecrepeat.check.checking import check_drawing
from vecrepeat.check.findings import QUESTIONS
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Rect
from vecrepeat.recipe.model import parse_recipe
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.wrap import copies
from vecrepeat.sources.blending import blender_text
from vecrepeat.sources.source import open_source

MOTIFS = """art = ["art.svg"]
layout = "half-drop"

[blender]
kind = "stripes"
colours = ["#aa0000"]
widths = ["5mm"]
"""


@pytest.fixture
def striped(tmp_path: Path) -> Path:
    """Two squares far apart, on stripes."""
    body = '<rect x="10" y="10" width="8" height="8"/><rect x="30" y="30" width="8" height="8"/>'
    write_svg(tmp_path, body, width="50mm", height="50mm", view_box="0 0 50 50")
    file = tmp_path / "striped.toml"
    file.write_text(MOTIFS, encoding="utf-8")
    return file


def test_it_lies_under_all_motifs_and_no_question_takes_it_for_one(striped: Path) -> None:
    source = open_source(striped)
    under, *motifs = source.repeat.placements
    assert under.motif.is_ground
    assert len(motifs) == 2
    assert [p.motif.is_ground for p in motifs] == [False, False]
    order = [copy.placement for copy in copies(source.repeat, Rect(0, 0, 50, 50))]
    assert order == sorted(order)
    assert source.page.placements == tuple(motifs) == source.repeat.motifs_alone.placements
    report = check_drawing(source, only=("collisions", "joins", "print"))
    assert not report.findings


def test_trials_are_shown_on_it(striped: Path) -> None:
    done = vecrepeat("trials", striped, "-n", "1", "--seeds", "1", "-o", striped.parent / "out")
    assert done.code == 0, done.err
    sheet = (striped.parent / "out" / "trials.svg").read_text(encoding="utf-8")
    assert sheet.count("#aa0000") == 1


def test_colourways_mix_gingham_anew(tmp_path: Path) -> None:
    file = tmp_path / "gingham.toml"
    text = blender_text("gingham", "gingham", {"colours": ["#aa0000"]}, ground="#ffffff")
    way = '[[colourway]]\nname = "black"\ncolours = {"#aa0000" = "#000000"}\n'
    file.write_text(text + way, encoding="utf-8")
    repeat = open_source(file, colourway="black").repeat
    assert [p.motif.colours for p in repeat.placements] == [
        ("#bcbcbc",),
        ("#bcbcbc",),
        ("#000000",),
    ]


def test_one_alone_is_asked_what_pixels_can_be(tmp_path: Path) -> None:
    file = tmp_path / "glaring.toml"
    told = {"colours": ["#000000"], "widths": ["2mm"]}
    text = blender_text("glaring", "stripes", told, ground="#ffffff")
    file.write_text(text, encoding="utf-8")
    report = check_drawing(open_source(file), only=QUESTIONS)
    assert list(report.answers) == ["print", "glare"]
    assert [found.kind for found in report.findings] == ["pattern glare"]
    assert any("not asked of a ground alone" in note for note in report.notes)


def test_it_goes_round_whatever_layout_is_asked_for(tmp_path: Path) -> None:
    file = tmp_path / "dots.toml"
    file.write_text(blender_text("dots", "dots", {}), encoding="utf-8")
    for name in ("block", "drop:1/3", "p4mm"):
        repeat = open_source(file, layout=Layout.parse(name)).repeat
        assert str(repeat.layout) == name
        assert repeat.symmetry is None
        assert len(repeat.placements) == 1


def test_the_command_writes_a_recipe_that_can_be_gone_on_from(tmp_path: Path) -> None:
    file = tmp_path / "pin.toml"
    asked = ("--colours", "#000000,none", "--widths", "1.5mm,2mm", "--ground", "#ffffff")
    done = vecrepeat("blender", "stripes", "-o", file, *asked)
    assert done.code == 0
    assert "may be uncomfortable" in done.err
    assert "codes that hold locally" in done.err
    recipe = parse_recipe(file.read_text(encoding="utf-8"), file)
    assert recipe.blender == {
        "kind": "stripes",
        "colours": ("#000000", "none"),
        "widths": (1.5, 2.0),
        "way": "down",
    }
    again = vecrepeat("blender", "dots", "-o", file)
    assert (again.code, again.err.count("\n")) == (2, 1)
    assert "it is there already" in again.err


def test_every_kind_is_in_the_help_and_the_page() -> None:
    page = Path(__file__).parents[2] / "docs" / "blenders.md"
    for text in (vecrepeat("blender", "--help").out, page.read_text(encoding="utf-8")):
        assert not [kind for kind in (*KINDS, *MARKS) if kind not in text]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('kind = "stripy"', "stripes?"),
        ('kind = "dots"\ncolours = ["red"]', "“red” is neither"),
        ('kind = "dots"\nsize = "-1mm"', "is negative"),
        ("size = 3", "kind: it is missing"),
    ],
)
def test_mistakes_are_told_by_line(tmp_path: Path, line: str, said: str) -> None:
    with pytest.raises(InputError, match=said.replace("?", r"\?")) as told:
        parse_recipe(f'tile = "5x5in"\n[blender]\n{line}\n', tmp_path / "dots.toml")
    assert "line " in str(told.value)
