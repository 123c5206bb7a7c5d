"""Settings of the whole test suite; helpers are in support.py."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings
from support import SPRIG, svg, vecrepeat, write_svg

from vecrepeat.art import shaping
from vecrepeat.draw.cairo_library import has_cairo
from vecrepeat.util import cache, fonts
from vecrepeat.util.cores import cores

# Machines that run tests are shared: a slow example is no failure.
settings.register_profile("vecrepeat", deadline=None)
settings.load_profile("vecrepeat")

# What was once worked out must not hide that it now comes out otherwise.
os.environ[cache.VARIABLE] = "off"

OF_CAIRO = [f"draw/test_{name}.py" for name in ("exactness", "cairo", "cairo_image", "cairo_pen")]
"""What is held against cairo itself, and can't even be imported where there is none."""

BANDS = """<rect width="100" height="100" fill="#102040"/>
<g id="band"><rect x="0" y="0" width="50" height="100" fill="#f0e0c0"/></g>"""
DOTS = """<rect width="20" height="20" fill="#f0e0c0"/>
<g id="dot"><circle cx="10" cy="10" r="5" fill="#c04030"/></g>"""
MEADOW = """name = "Meadow & co"
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


collect_ignore = [] if has_cairo() else OF_CAIRO


def pytest_report_header() -> str:
    """Say what is left out, as a module that isn't collected can't say so itself."""
    left_out = " ".join(collect_ignore)
    return f"no cairo library, so left out: {left_out}" if left_out else "cairo library: found"


def pytest_xdist_auto_num_workers() -> int:
    """One more than there are cores: tests wait for browsers, clusters and clocks now and then."""
    return cores() + 1


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a drawing and its recipe ``d.toml``, the current one."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "art.svg").write_text(svg(SPRIG))
    assert vecrepeat("recipe", "art.svg", "-o", "d.toml", "--layout", "half-drop").code == 0
    return tmp_path


@pytest.fixture
def no_fonts(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Path]:
    """A folder of fonts, at first empty, that are the only ones installed."""
    folder = tmp_path / "fonts"
    folder.mkdir()
    caches = [
        *(fonts.installed_fonts, fonts.find_font, fonts._by_name),
        *(shaping.fallback, shaping._opened),
    ]
    monkeypatch.setattr(fonts, "_folders", lambda: [folder])
    for known in caches:
        known.cache_clear()
    yield folder
    for known in caches:
        known.cache_clear()


@pytest.fixture
def meadow(tmp_path: Path) -> Path:
    """Stripes 50 mm wide and dots on a tile of 10 mm, printed half as large as drawn."""
    write_svg(tmp_path, BANDS, name="hero.svg")
    write_svg(tmp_path, DOTS, name="dots.svg", width="20mm", height="20mm", view_box="0 0 20 20")
    file = tmp_path / "meadow.toml"
    file.write_text(MEADOW)
    return file


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """A browser for each file of the board's tests."""
    from browsing import browser

    with browser() as found:
        yield found
