"""The pattern file as other people's programs open it.

Judges: resvg, librsvg and Chromium, none of which shares code with our painter's own path
(librsvg and our painter both end in cairo, so resvg and Chromium weigh more).

Scales are a whole number of pixels a tile and, where the page allows, exact in binary: Chromium
computes a pattern's size in 32-bit floats, and a tile that comes out a hair above a whole pixel
is resampled. They are also large enough for fine drawing: where lines are a pixel or two wide,
two engines differ by how they weigh edges more than by what they draw (at 2 px/mm the night
garden's *expanded* plane, no pattern in it, lies 1.7 to 2 levels apart between any two).
"""

from __future__ import annotations

import re
from fractions import Fraction as F  # noqa: N817
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import numpy as np
import pytest
from judges import JUDGES, Judge, Pixels, difference, resvg
from lxml import etree
from support import ids_in, read, references_in, write_svg

from vecrepeat.art.read import Art, read_art
from vecrepeat.composing import compose
from vecrepeat.exporting import Exporter
from vecrepeat.raster.paint import Window
from vecrepeat.raster.sheet import straight
from vecrepeat.repeat import Repeat
from vecrepeat.units import MM_PER_INCH, Size
from vecrepeat.vector.sheet import expanded_svg

DEMO = Path(__file__).parents[2] / "demo-svg"
LINK = "{http://www.w3.org/1999/xlink}href"

# A page of 100 × 80 mm: a stem with round joins over both sides, a dashed line over the top, a
# flower with a gradient over a corner, a clipped leaf over the right bound, a translucent group
# over the bottom.
SMALL = (
    '<rect width="100" height="80" fill="#fec"/>'
    '<defs><linearGradient id="g" x1="-12" x2="16" y1="0" y2="4" gradientUnits="userSpaceOnUse">'
    '<stop stop-color="#c00"/><stop offset="1" stop-color="#00c"/></linearGradient>'
    '<radialGradient id="r"><stop stop-color="#ff6"/><stop offset="1" stop-color="#080"/>'
    '</radialGradient><clipPath id="k"><circle cx="98" cy="50" r="9"/></clipPath></defs>'
    '<path d="M-40 60C0 20 60 75 90 50L120 66" fill="none" stroke="#360" stroke-width="4"'
    ' stroke-linejoin="round" stroke-linecap="round"/>'
    '<path d="M20-5 45 9 70-8" fill="none" stroke="#630" stroke-width="2" stroke-dasharray="5 3"/>'
    '<g id="flower"><circle cx="2" cy="1" r="12" fill="url(#g)" stroke="#222"/>'
    '<circle cx="2" cy="1" r="4" fill="#fff"/></g>'
    '<rect x="85" y="40" width="30" height="20" fill="#080" clip-path="url(#k)"/>'
    '<g opacity=".5"><circle cx="46" cy="76" r="9" fill="#808"/>'
    '<circle cx="54" cy="76" r="9" fill="#088"/></g>'
    '<ellipse cx="60" cy="30" rx="10" ry="6" fill="url(#r)"/>'
)


class Case(NamedTuple):
    """A repeat, pixels per mm and the size of a sheet that ends within its blocks."""

    drawing: str
    layout: str
    scale: F
    sheet: Size


CASES = [
    Case("night-garden", "block", F(5), Size(F(600), F(360))),
    Case("night-garden", "half-drop", F(5), Size(F(600), F(360))),
    Case("brook", "half-drop", F(3, 2), Size(F(1320), F(960))),
    Case("brook", "drop:1/3", F(3, 2), Size(F(1320), F(960))),
    Case("small", "brick:1/2", F(4), Size(F(250), F(120))),
]
COARSE = F(1)
"""Pixels per mm where a picture is held against one that must be the same."""

each_case = pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c.drawing} {c.layout}")


@cache
def art(drawing: str) -> Art:
    if drawing != "small":
        return read_art(DEMO / f"{drawing}.svg")
    with TemporaryDirectory() as folder:
        return read_art(write_svg(Path(folder), SMALL, height="80mm", view_box="0 0 100 80"))


def extent(case: Case, of: str) -> Size:
    """What is drawn, in mm: the straight block or a sheet."""
    repeat = art(case.drawing).repeat(case.layout)
    return Size(*repeat.block_size) if of == "block" else case.sheet


def pixels_of(size: Size, scale: F) -> tuple[int, int]:
    width, height = size.width * scale, size.height * scale
    assert (width.denominator, height.denominator) == (1, 1), "choose a whole-pixel scale"
    return int(width), int(height)


@cache
def painted(case: Case, of: str) -> Pixels:
    """Our own raster of it."""
    exporter = Exporter(art(case.drawing).repeat(case.layout))
    plan = exporter.plan(case.scale * MM_PER_INCH)
    assert plan.is_exact
    width, height = pixels_of(extent(case, of), case.scale)
    return straight(exporter.painter(plan).paint(Window(0, 0, width, height)))


def composed(repeat: Repeat, folder: Path, **options: object) -> str:
    """The text of the file that compose writes."""
    file = folder / "out.svg"
    compose(repeat, file, **options)  # type: ignore[arg-type]
    return file.read_text(encoding="utf-8")


@pytest.mark.parametrize("judge", JUDGES.values(), ids=JUDGES)
@pytest.mark.parametrize("of", ["block", "sheet"])
@each_case
def test_other_renderers_see_our_raster(case: Case, of: str, judge: Judge, tmp_path: Path) -> None:
    """The pattern file, opened elsewhere, is the picture that we print."""
    repeat = art(case.drawing).repeat(case.layout)
    size = extent(case, of)
    text = composed(repeat, tmp_path, sheet=None if of == "block" else size)
    seen = judge(text, *pixels_of(size, case.scale))
    assert difference(painted(case, of), seen).mean() <= 1


@each_case
def test_inline_copies_are_the_same_picture(case: Case, tmp_path: Path) -> None:
    """Writing every copy out changes no pixel of what resvg draws."""
    repeat = art(case.drawing).repeat(case.layout)
    size = pixels_of(case.sheet, COARSE)
    used = resvg(composed(repeat, tmp_path, sheet=case.sheet), *size)
    inlined = resvg(composed(repeat, tmp_path, sheet=case.sheet, inline=True), *size)
    assert (used == inlined).all()


@each_case
def test_the_tile_is_the_pattern_s_first(case: Case, tmp_path: Path) -> None:
    """The finished tile and the corner of the pattern differ by no more than edge weights."""
    repeat = art(case.drawing).repeat(case.layout)
    width, height = pixels_of(Size(repeat.width, repeat.height), case.scale)
    tile = resvg(composed(repeat, tmp_path, tile_only=True), width, height)
    block = pixels_of(Size(*repeat.block_size), case.scale)
    pattern = resvg(composed(repeat, tmp_path), *block)
    assert difference(tile, pattern[:height, :width]).mean() <= 0.1


@pytest.mark.parametrize(
    "options", [{}, {"inline": True}, {"tile_only": True}], ids=["use", "inline", "tile"]
)
@each_case
def test_files_stand_alone(case: Case, options: dict[str, object], tmp_path: Path) -> None:
    """Well-formed, no id twice, nothing fetched: no reference leaves the file.

    Sources: XML 1.0 §3.3.1 (an ID is unique); SVG 2 §16.1, *URL reference attributes*.
    """
    text = composed(art(case.drawing).repeat(case.layout), tmp_path, **options)
    ids = ids_in(text)
    assert len(ids) == len(set(ids))
    assert references_in(text) <= set(ids)
    tree = etree.fromstring(text.encode())
    assert "<!DOCTYPE" not in text
    assert text.count("<?") == text.startswith("<?xml ")
    for element in tree.iter("*"):
        assert etree.QName(element).localname not in ("script", "foreignObject", "style")
        for name in ("href", LINK):
            assert element.get(name, "#").startswith(("#", "data:"))
        for value in element.attrib.values():
            assert all(t.startswith("#") for t in re.findall(r"url\(\s*[\"']?([^)]*)", str(value)))


# The leaf's control points lie outside it, so a box around them is not the leaf's own.
LEAF = "M30 20C30 20 90 50 30 80Z"
BOX_GRADIENT = (
    '<defs><linearGradient id="g"><stop stop-color="#f00"/><stop offset="1" stop-color="#00f"/>'
    "</linearGradient></defs>"
)


@pytest.mark.parametrize("name", ["resvg", "chromium"])
@pytest.mark.parametrize(
    "body",
    [
        f'{BOX_GRADIENT}<rect x="20" y="20" width="60" height="60" fill="url(#g)"/>',
        f'{BOX_GRADIENT}<circle cx="50" cy="50" r="30" fill="url(#g)"/>',
        f'{BOX_GRADIENT}<path d="M30 20A30 30 0 0 1 30 80Z" fill="url(#g)"/>',
        f'{BOX_GRADIENT}<path d="{LEAF}" fill="url(#g)"/>',
        f'{BOX_GRADIENT}<path d="M30 20Q90 50 30 80Z" fill="url(#g)"/>',
        f'{BOX_GRADIENT}<path d="{LEAF}" fill="none" stroke="url(#g)" stroke-width="8"/>',
        f'{BOX_GRADIENT}<path d="{LEAF}" fill="url(#g)" transform="rotate(30 50 50)"/>',
        f'{BOX_GRADIENT}<g fill="url(#g)"><circle cx="30" cy="50" r="20"/>'
        '<circle cx="72" cy="50" r="15"/></g>',
    ],
    ids=[
        "rectangle",
        "circle",
        "arc",
        "leaf",
        "quadratic leaf",
        "stroked leaf",
        "turned leaf",
        "inherited",
    ],
)
def test_gradients_fit_the_shape_s_own_box(body: str, name: str, tmp_path: Path) -> None:
    """A gradient in fractions of the box spans the curve, not its control points.

    Source: SVG 2 §8.10, *Bounding boxes* (the tightest box around the geometry).
    """
    exporter = Exporter(read(tmp_path, body).repeat())
    ours = exporter.painter(exporter.plan(2 * MM_PER_INCH)).paint(Window(0, 0, 200, 200))
    seen = JUDGES[name](expanded_svg(exporter.repeat, Size(F(100), F(100))), 200, 200)
    found = difference(straight(ours), seen)
    assert found.mean() <= 0.5
    # Within the shape, away from edges that every engine weighs in its own way.
    assert np.quantile(found, 0.97) <= 3
