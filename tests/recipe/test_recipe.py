"""The recipe's text: what it means, and how its errors are worded."""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
import tomlkit

from vecrepeat.core.errors import InputError
from vecrepeat.core.units import Size
from vecrepeat.recipe.keys import TABLES
from vecrepeat.recipe.model import Placed, Recipe, parse_prints, parse_recipe
from vecrepeat.repeat.layout import Layout

FILE = Path("design.toml")
WHOLE = """\
# the whole of it
name = "garden"
art = "flowers.svg"
loose = ["leaves", "bee.png"]
tile = "10x10in"
layout = "half-drop+turnover-across"
cut-to-region = true
ground = "#1B2A49"
selector = "g.m"
allow-dir = ["pictures"]
live-text = true
motif = [
    { name = "Moth", rank = "hero", width = "60mm" },  # the star
    { name = "Bud", rank = "filler" },
    { name = "card", backdrop = true, least-line = "0.3mm" },
]

[[placement]]
motif = "Moth"
at = [120.5, 80]
turn = -15
scale = 1.25
flip = true
pinned = true

[[placement]]
motif = "Bud"

[toss]
seed = 7
clearance = "3mm"
direction = "four-way"
sway = 12.5
flip = true
apart = "2in"
density = "airy"
heroes = 4
secondaries = 9
fillers = 0
hero-coverage = 0.2
secondary-coverage = 0.1
filler-coverage = 1
hero-scale = [0.9, 1.1]
secondary-scale = 1
filler-scale = [0.5, 1]
even = false

[fill]
seed = 1
count = 12
smallest = "8mm"
clearance = 0
scale = [0.4, 1]

[set]
columns = 4
rows = 3
stagger = "brick"
alike = false

[stripe]
way = "across"
order = ["hero", "filler"]
times = 2
stagger = true

[trail]
along = "Stem"
side = "left"
off = "2mm"
lean = -20
follow = false
spacing = "1cm"

[ditsy]
size = "12mm"
spacing = 0.9

[blender]
kind = "dots"
colours = ["#1b2a49", "none"]
size = "3mm"
spacing = 8.5
length = "6mm"
widths = ["6mm", 2]
order = "scattered"
way = "down"
marks = ["leaf", "star"]
uneven = 0.5
seed = 3

[palette]
"night sky" = "#1b2a49"
cream = "#f5ead3"

[[colourway]]
name = "dusk"
ground = "none"
colours = { cream = "#ffddcc", "#1b2a49" = "#402040" }

[[print]]
name = "cloth"
width = "12in"
dpi = 150
sheet = "54x36in"
format = "tif"

[[print]]
height = "64cm"
block = true

[[print]]
cloth = "fat-quarter"
bolt = "110cm"
profile = "mill.icc"
intent = "perceptual"
"""


def parsed(text: str) -> Recipe:
    return parse_recipe(text, FILE)


def test_every_key_is_read_in_our_own_terms() -> None:
    recipe = parsed(WHOLE)
    assert recipe.keys == {
        "name": "garden",
        "art": ("flowers.svg",),
        "loose": ("leaves", "bee.png"),
        "tile": Size(Fraction(254), Fraction(254)),
        "layout": Layout.parse("half-drop+turnover-across"),
        "cut-to-region": True,
        "ground": "#1b2a49",
        "selector": "g.m",
        "allow-dir": ("pictures",),
        "live-text": True,
    }
    assert recipe.motifs["Moth"] == {"name": "Moth", "rank": "hero", "width": Fraction(60)}
    assert recipe.placements == (
        Placed("Moth", (120.5, 80.0), -15.0, 1.25, True, True),
        Placed("Bud"),
    )
    assert recipe.arranged["toss"]["clearance"] == 3.0
    assert recipe.arranged["toss"]["apart"] == pytest.approx(50.8)
    assert recipe.arranged["toss"]["secondary-scale"] == (1.0, 1.0)
    assert recipe.arranged["fill"]["clearance"] == 0.0
    assert recipe.arranged["stripe"]["order"] == ("hero", "filler")
    assert recipe.arranged["trail"]["spacing"] == 10.0
    assert recipe.arranged["ditsy"]["size"] == 12
    assert recipe.palette == {"night sky": "#1b2a49", "cream": "#f5ead3"}
    assert recipe.colourways[0]["colours"] == {"cream": "#ffddcc", "#1b2a49": "#402040"}
    assert [row.get("width") for row in recipe.prints] == [Fraction(3048, 10), None, None]


def test_this_text_uses_every_key_there_is() -> None:
    used = set(re.findall(r"([a-z-]+) =", WHOLE))
    assert {key for keys in TABLES.values() for key in keys} <= used


def test_lines_of_tables_are_known_in_either_way_of_writing() -> None:
    lines = parsed(WHOLE).lines
    assert (
        lines["motif", 1] == WHOLE.splitlines().index('    { name = "Bud", rank = "filler" },') + 1
    )
    assert WHOLE.splitlines()[lines["placement", 1] - 1] == "[[placement]]"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('art = "a.svg"\nlayuot = "block"', "line 2: layuot: .* did you mean layout?"),
        ('art = "a.svg"\nqqq = 1', "line 2: qqq: there is no such key; known are name, art"),
        ("art = 3", "line 1: art: expected a text, or a list such as .*, not “3”"),
        ('art = "a.svg"\ntile = "big"', "line 2: tile: size “big” is not"),
        ('art = "a.svg"\ntile = "0x3in"', "line 2: tile: .*zero"),
        ('art = "a.svg"\nlayout = "drop:1/0"', "line 2: layout: .*divides by zero"),
        ('art = "a.svg"\nground = "navy"', "line 2: ground: expected a colour such as “#1b2a49”"),
        ('art = "a.svg"\ncut-to-region = 1', "line 2: cut-to-region: expected true or false"),
        ('art = "a.svg"\n[toss]\nseed = -1', "line 3: toss.seed: expected a whole number from 0"),
        ('art = "a.svg"\n[toss]\nsede = 1', "line 3: toss.sede: .* did you mean seed?"),
        ('art = "a.svg"\n[toss]\ndirection = "fourway"', r".*four-way, free \(four-way\?\), not"),
        ('art = "a.svg"\n[toss]\nhero-scale = [2, 1]', "line 3: .*the smaller number first"),
        ('art = "a.svg"\n[toss]\nclearance = "-1mm"', "line 3: toss.clearance: .*negative"),
        ('art = "a.svg"\n[[placement]]\nat = [1, 2]', "line 2: placement.motif: it is missing"),
        ('art = "a.svg"\n[[placement]]\nmotif = "a"\nat = 3', "line 4: .*two numbers in mm"),
        (
            'art = "a.svg"\n[placement]\nmotif = "a"',
            r"line 2: placement: write it as \[\[placement",
        ),
        ('art = "a.svg"\n[[toss]]\nseed = 1', r"line 2: toss: write it as a table \[toss\]"),
        ('art = "a.svg"\n[palette]\nsky = "blue"', "line 3: palette.sky: expected a colour"),
        ('art = "a.svg"\n[[motif]]\nname = "a"\n[[motif]]\nname = "a"', "line 5: .*there twice"),
        ('name = "x"', "it names no art"),
        ('art = "a.svg', "line 1: not TOML"),
        ('art = "a.svg"\nart = "b.svg"', "line 2: not TOML: cannot overwrite a value"),
        ('art = "a.svg"\n[[placement]]\nmotif = "a"\nscale = nan', "line 4: placement.scale"),
    ],
)
def test_errors_name_line_key_and_what_is_expected(text: str, told: str) -> None:
    with pytest.raises(InputError, match=f"(?i)^design.toml: {told}"):
        parsed(text)


@pytest.mark.parametrize("value", ["true", '"x"', "[1]", "[1, 2, 3]", "{a = 1}"])
@pytest.mark.parametrize("table", [name for name in TABLES if name != "palette"])
def test_no_kind_of_value_breaks_a_key(table: str, value: str) -> None:
    """It is taken only where the whole recipe above has that kind, else refused by name."""
    whole: dict[str, Any] = tomlkit.parse(WHOLE).unwrap()
    kind = type(tomlkit.value(value).unwrap())
    rows = whole.get(table)
    header = f"[{table}]\n" if isinstance(rows, dict) else f"[[{table}]]\n" if rows else ""
    for key in TABLES[table]:
        required = [k for k, of in TABLES[table].items() if of.required and k != key]
        needed = [f'{k} = "{"dots" if k == "kind" else "x"}"' for k in required]
        own = "\n".join((*needed, f"{key} = {value}"))
        name = re.escape(f"{table}.{key}" if table else key)
        told = ""
        try:
            parsed(own if key == "art" else f'art = "a.svg"\n{header}{own}')
        except InputError as error:
            told = str(error)
        if told or kind not in kinds_of(whole, key):
            assert re.search(rf"line \d+: {name}: ", told), (key, told)


def kinds_of(values: Any, key: str) -> set[type]:
    """Which kinds of value a key has, in whatever tables it stands; a list may be one text."""
    if isinstance(values, list):
        return set().union(*(kinds_of(value, key) for value in values))
    if not isinstance(values, dict):
        return set()
    own = {type(values[key])} if key in values else set()
    texts = {str} if list in own and isinstance(values[key][0], str) else set()
    return (own | texts).union(*(kinds_of(value, key) for value in values.values()))


def test_prints_may_stand_in_a_file_of_their_own() -> None:
    (row,) = parse_prints('[[print]]\nname = "shop"\nwidth = "10in"\n', FILE)
    assert row == {"name": "shop", "width": Fraction(254)}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "no prints"),
        ('art = "a.svg"\n', "line 1: art: there is no such key; known are print"),
        ("[print]\ndpi = 3\n", r"write it as \[\[print\]\]"),
        ("\n[[print]]\nwidht = 3\n", "line 3: print.widht: .* did you mean width"),
        ('[[print]]\ndpi = "x"\n', "line 2: print.dpi: expected a number"),
        ("[[print\n", "not TOML"),
    ],
)
def test_what_is_wrong_with_prints_is_said(text: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        parse_prints(text, FILE)
