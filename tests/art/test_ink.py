"""Measured ink holds all that is painted and little else; resvg at another size is the judge."""

from __future__ import annotations

import io

import numpy as np
import pytest
import resvg_py
import shapely
from numpy.typing import NDArray
from PIL import Image
from support import NAMESPACES

from vecrepeat.art.ink import measure
from vecrepeat.core.geometry import Rect
from vecrepeat.draw.resvg import ResvgError
from vecrepeat.util.fonts import generic_families

REGION = Rect(-100.0, -100.0, 200.0, 200.0)
FRAME = Rect(-20.0, -20.0, 140.0, 140.0)
SIDE = 2000
SQUARE = 'x="30" y="30" width="20" height="20"'
BLUR = '<filter id="f"><feGaussianBlur stdDeviation="{}"/></filter>'
SHADOW = (
    '<filter id="f" x="-1" y="-1" width="3" height="3">'
    '<feDropShadow dx="6" dy="4" stdDeviation="2"/></filter>'
)
AWAY = (
    '<filter id="f" filterUnits="userSpaceOnUse" x="0" y="0" width="140" height="140">'
    '<feOffset dx="60"/></filter>'
)
SPECKLES = (
    '<filter id="f"><feTurbulence type="fractalNoise" baseFrequency=".2"/><feColorMatrix '
    'values="0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 9 0 0 0 -4"/></filter>'
)
FADE = (
    '<linearGradient id="g"><stop stop-color="#fff"/><stop offset="1" stop-color="#000"/>'
    '</linearGradient><mask id="m"><circle cx="45" cy="45" r="9" fill="url(#g)"/></mask>'
)
ARROW = (
    '<marker id="a" viewBox="0 0 10 10" refX="5" refY="5" markerWidth="4" markerHeight="4" '
    'orient="auto"><path d="M0 0L10 5L0 10z"/></marker>'
)

INK = [
    # (what is measured, the fragment, its definitions, geometry's box where it is given)
    ("a shape", f"<rect {SQUARE}/>", "", None),
    ("a ring and its hole", '<circle cx="50" cy="50" r="30" fill="none" stroke="#000"/>', "", None),
    ("shapes far apart", f'<rect {SQUARE}/><circle cx="120" cy="110" r="3"/>', "", None),
    ("a blur", f'<rect {SQUARE} filter="url(#f)"/>', BLUR.format(2), Rect(30, 30, 50, 50)),
    ("a blur, its source unknown", f'<rect {SQUARE} filter="url(#f)"/>', BLUR.format(1), None),
    ("a drop shadow", f'<rect {SQUARE} filter="url(#f)"/>', SHADOW, Rect(30, 30, 50, 50)),
    ("ink moved off its source", f'<rect {SQUARE} filter="url(#f)"/>', AWAY, None),
    ("ink moved, source known", f'<rect {SQUARE} filter="url(#f)"/>', AWAY, Rect(30, 30, 50, 50)),
    ("speckles", f'<rect {SQUARE} filter="url(#f)"/>', SPECKLES, Rect(30, 30, 50, 50)),
    ("a mask", f'<rect {SQUARE} mask="url(#m)"/>', FADE, Rect(30, 30, 50, 50)),
    ("a marker", '<path d="M40 40h30" stroke="#000" marker-end="url(#a)"/>', ARROW, None),
    ("a hairline", '<path d="M10 10L110 30" stroke="#000" stroke-width=".02"/>', "", None),
    ("a small dot", '<circle cx="60" cy="60" r=".4"/>', "", None),
    ("a long thin strip", '<rect x="-10" y="50" width="140" height=".8"/>', "", None),
    ("faint ink", f'<rect {SQUARE} fill-opacity=".01"/>', "", None),
]  # fmt: skip


def painted(fragment: str, definitions: str, *, fonts: bool = False) -> NDArray[np.bool_]:
    """Which pixels of :data:`FRAME` are painted, by resvg itself."""
    frame = f"{FRAME.x0} {FRAME.y0} {FRAME.width} {FRAME.height}"
    text = (
        f'<svg {NAMESPACES} width="{SIDE}" height="{SIDE}" viewBox="{frame}">'
        f"<defs>{definitions}</defs>{fragment}</svg>"
    )
    data = resvg_py.svg_to_bytes(svg_string=text, dpi=96, skip_system_fonts=not fonts)
    with Image.open(io.BytesIO(data)) as image:
        return np.array(image.convert("RGBA"))[..., 3] > 0


def check(ink: NDArray[np.bool_], parts: NDArray[np.object_]) -> None:
    """Every painted pixel meets the area; the box is no more than 1 % or 0.1 mm larger."""
    pixel = FRAME.width / SIDE
    rows, columns = np.nonzero(ink)
    centres = np.stack([columns + 0.5, rows + 0.5], axis=1) * pixel + (FRAME.x0, FRAME.y0)
    area = shapely.union_all(parts)
    # A pixel that ink only touches has its centre up to half its diagonal away.
    near = shapely.buffer(area, 0.71 * pixel)
    shapely.prepare(near)
    assert bool(shapely.contains_xy(near, *centres.T).all())
    box = Rect(*area.bounds)
    low, high = centres.min(axis=0) - pixel / 2, centres.max(axis=0) + pixel / 2
    spare = max(0.1, 0.01 * float((high - low).max())) + pixel
    assert np.all(low - (box.x0, box.y0) <= spare)
    assert np.all((box.x1, box.y1) - high <= spare)


@pytest.mark.parametrize(
    ("fragment", "definitions", "near"),
    [pytest.param(*row[1:], id=row[0]) for row in INK],
)
def test_holds_all_ink_and_little_else(fragment: str, definitions: str, near: Rect | None) -> None:
    parts = measure(fragment, definitions, REGION, fonts=(), near=near)
    check(painted(fragment, definitions), parts)


def test_text() -> None:
    text = '<text x="10" y="60" font-family="DejaVu Sans" font-size="20">Äg, j.</text>'
    ink = painted(text, "", fonts=True)
    if not ink.any():
        pytest.skip("there are no fonts")
    check(ink, measure(text, "", REGION, fonts=generic_families()))


def test_text_without_fonts_paints_nothing() -> None:
    assert len(measure("<text y='50' font-size='20'>a</text>", "", REGION, fonts=())) == 0


def test_nothing_painted() -> None:
    assert len(measure("<g/>", "", REGION, fonts=())) == 0


def test_small_ink_in_a_large_region_is_found_near_its_geometry() -> None:
    fragment = '<circle cx="50" cy="50" r=".05"/>'
    wide, near = Rect(-5000, -5000, 5000, 5000), Rect(40, 40, 60, 60)
    parts = measure(fragment, "", wide, fonts=(), near=near)
    assert tuple(shapely.total_bounds(parts)) == pytest.approx(
        (49.95, 49.95, 50.05, 50.05), abs=0.01
    )


def test_ink_outside_the_region_is_cut() -> None:
    parts = measure('<rect width="900" height="9"/>', "", Rect(-50, -50, 50, 50), fonts=())
    assert shapely.total_bounds(parts)[2] <= 50.5


def test_what_cannot_be_drawn_raises() -> None:
    with pytest.raises(ResvgError):
        measure("<g", "", REGION, fonts=())
