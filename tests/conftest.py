"""Settings of the whole test suite; helpers are in support.py."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings
from support import SPRIG, svg, vecrepeat

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
