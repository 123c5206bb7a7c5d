"""A small collection that the tests of this folder share."""

from __future__ import annotations

from pathlib import Path

import pytest
from support import write_svg

HERO = """<rect width="100" height="100" fill="#102040"/>
<g id="band"><rect x="0" y="0" width="50" height="100" fill="#f0e0c0"/></g>"""
DOTS = """<rect width="20" height="20" fill="#f0e0c0"/>
<g id="dot"><circle cx="10" cy="10" r="5" fill="#c04030"/></g>"""
COLLECTION = """name = "Meadow & co"
[palette]
ink = "#102040"
cream = "#f0e0c0"
poppy = "#c04030"
[printer]
poppy = "R 7"
[[colourway]]
name = "Dusk"
colours = { ink = "#403020", poppy = "#20a0a0" }
[[print]]
name = "Bands"
role = "hero"
from = "hero.svg"
colours = ["ink", "cream"]
[[print]]
name = "Dots"
role = "blender"
from = "dots.svg"
width = "10mm"
colours = ["poppy", "cream"]
"""


@pytest.fixture
def meadow(tmp_path: Path) -> Path:
    """Stripes 50 mm wide and dots on a tile of 10 mm, printed half as large as drawn."""
    write_svg(tmp_path, HERO, name="hero.svg")
    write_svg(tmp_path, DOTS, name="dots.svg", width="20mm", height="20mm", view_box="0 0 20 20")
    file = tmp_path / "meadow.toml"
    file.write_text(COLLECTION)
    return file
