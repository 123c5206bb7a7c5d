"""Prints of a collection: one palette over recipes and drawings that stand alone too."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from support import vecrepeat, write_svg

from vecrepeat.core.errors import InputError
from vecrepeat.recipe.files import read_collection
from vecrepeat.repeat.model import Repeat
from vecrepeat.sources.source import open_source

DRAWING = """<rect width="100" height="100" fill="#f2e8d5"/>
<g id="bloom"><circle cx="30" cy="30" r="9" fill="#cc3333"/></g>
<g id="deep"><circle cx="60" cy="60" r="9" fill="#a32929"/></g>
<g id="leaf"><circle cx="80" cy="50" r="5" fill="#224455"/></g>"""
RECIPE = """art = "art.svg"
[palette]
poppy = "#cc3333"
paper = "#f2e8d5"
"""
COLLECTION = """# ours
name = "Meadow"
[palette]
paper = "#fff8e7"
poppy = "#3366cc"   # was red
ink = "#101830"
[printer]
ink = "N 12"
[[colourway]]
name = "dusk"
colours = { paper = "#222244", poppy = "#ffaa00" }
[[print]]
name = "Small one"
role = "blender"
from = "art.svg"
width = "50mm"
colours = ["paper", "ink"]
map = { ground = "ink", "#cc3333" = "paper" }
[[print]]
name = "Big"
role = "hero"
from = "big.toml"
[[goods]]
name = "cloth"
dpi = 72
"""


@pytest.fixture
def meadow(tmp_path: Path) -> Path:
    write_svg(tmp_path, DRAWING)
    (tmp_path / "big.toml").write_text(RECIPE)
    file = tmp_path / "meadow.toml"
    file.write_text(COLLECTION)
    return file


def colours(repeat: Repeat) -> list[str]:
    """The ground's colour, then each motif's."""
    ground = "none" if repeat.ground is None else repeat.ground.colour
    return [ground, *(p.motif.colours[0] for p in repeat.placements)]


def test_names_of_a_recipe_take_the_collections_colours_and_shades_follow(meadow: Path) -> None:
    big = open_source(meadow / "big").repeat
    ground, bloom, deep, leaf = colours(big)
    assert (ground, bloom, leaf) == ("#fff8e7", "#3366cc", "#224455")
    # A darker red goes to a darker blue; by how much is the colourways' own affair.
    red, green, blue = (int(deep[k : k + 2], 16) for k in (1, 3, 5))
    assert red < 0x33 < green + 0x33
    assert green < 0x66
    assert blue < 0xCC
    assert colours(open_source(meadow.parent / "big.toml").repeat)[1] == "#cc3333"
    assert colours(open_source(meadow / "big", colourway="dusk").repeat)[:2] == [
        "#222244",
        "#ffaa00",
    ]


def test_a_print_takes_only_the_colours_it_may_use_at_its_own_size(meadow: Path) -> None:
    small = open_source(meadow / "small-one")
    assert small.repeat.width == Fraction(50)
    assert small.name == "Small one"
    # The darker red is nearest to the red, which is paper here; the leaf to ink.
    assert colours(small.repeat) == ["#101830", "#fff8e7", "#fff8e7", "#101830"]
    assert colours(small.in_colourway("dusk")) == ["#101830", "#222244", "#222244", "#101830"]


def test_a_colour_changed_in_the_collection_changes_in_every_print(meadow: Path) -> None:
    meadow.write_text(meadow.read_text().replace("#fff8e7", "#00ff00"))
    assert colours(open_source(meadow / "Big").repeat)[0] == "#00ff00"
    assert colours(open_source(meadow / "Small one").repeat)[1] == "#00ff00"


def test_prints_stand_by_role_and_any_command_takes_them(meadow: Path) -> None:
    assert [one.name for one in read_collection(meadow).prints] == ["Big", "Small one"]
    told = vecrepeat("palette", meadow / "small-one", "--colourway", "dusk")
    assert "paper" in vecrepeat("palette", meadow / "big").out
    assert "#222244" in told.out
    refused = vecrepeat("toss", meadow / "big", "-o", meadow.parent / "x.toml")
    assert refused.code == 2
    assert "big.toml" in refused.err
    assert "meadow.toml/big" in vecrepeat("palette", meadow).err


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('role = "hero"', 'role = "heroine"', "line 21: print.role: expected one of hero"),
        ("big.toml", "bug.toml", "line 22: print.from: there is no file bug.toml"),
        ('"paper", "ink"]', '"paper", "inc"]', "line 17: print.colours: the palette has no “inc”"),
        ('ground = "ink"', 'ground = "inks"', "did you mean ink?"),
        ("#ffaa00", "orange", "colourway.colours: expected a colour"),
        ('ink = "N 12"', 'inky = "N 12"', "printer: the palette has no “inky”"),
        ("width =", "widht =", "print.widht: there is no such key; did you mean width?"),
        ('"Big"', '"small ONE"', "print.name: “small ONE” is taken already"),
        ('"dusk"', '"as drawn"', "“as drawn” is there already"),
    ],
)
def test_what_a_collection_can_not_say(meadow: Path, old: str, new: str, told: str) -> None:
    meadow.write_text(COLLECTION.replace(old, new, 1))
    with pytest.raises(InputError, match=r"^[^\n]*$") as caught:
        read_collection(meadow)
    assert told in str(caught.value)


def test_a_role_that_the_recipe_does_not_know(meadow: Path) -> None:
    meadow.write_text(COLLECTION.replace('"#cc3333" = "paper"', 'petal = "paper"'))
    with pytest.raises(InputError, match="its map names “petal”"):
        open_source(meadow / "small-one")
