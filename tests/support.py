"""Helpers that several test modules share: drawings, repeats, the command line, a judge."""

from __future__ import annotations

import contextlib
import io
import re
import sys
from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple
from unittest import mock

import numpy as np
import pytest
import resvg_py
import shapely
from lxml import etree
from numpy.typing import NDArray
from PIL import Image
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.build import Builder
from vecrepeat.art.normalform import elements_by_id
from vecrepeat.art.page import read_page
from vecrepeat.art.read import Art, read_art
from vecrepeat.art.structure import normalise
from vecrepeat.art.style import resolve_styles
from vecrepeat.art.xml import parse
from vecrepeat.cli import main
from vecrepeat.draw.cairo_library import has_cairo
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Motif, Placement, Repeat
from vecrepeat.repeat.wrap import copies, placed
from vecrepeat.scene.nodes import Group, Node
from vecrepeat.scene.write import Writer
from vecrepeat.util.fonts import installed_fonts

SVG = "http://www.w3.org/2000/svg"
NAMESPACES = (
    f'xmlns="{SVG}" xmlns:xlink="http://www.w3.org/1999/xlink" xmlns:tool="http://tool.example/ns"'
)
Pixels = NDArray[np.uint8]
needs_a_font = pytest.mark.skipif(not installed_fonts(), reason="no font is installed")
DEMO = Path(__file__).parent.parent / "demo-svg"
needs_cairo = pytest.mark.skipif(not has_cairo(), reason="there is no cairo library")
"""For what holds of cairo's own pixels alone."""
SPRIG = """<rect width="100" height="100" fill="#fdf6e3"/>
<g id="bloom"><circle cx="30" cy="30" r="11" fill="#c33"/></g>
<g id="leaf"><path d="M60 60c8-2 14 4 12 12-8 1-12-4-12-12z" fill="#284"/></g>
<g id="dot"><circle cx="80" cy="20" r="1.5" fill="#245"/></g>"""
"""What a small drawing of three motifs holds."""


def svg(
    body: str = "",
    *,
    width: str | None = "100mm",
    height: str | None = "100mm",
    view_box: str | None = "0 0 100 100",
    attributes: str = "",
) -> str:
    """A drawing; by default its page is 100 mm × 100 mm and its user unit the millimetre."""
    sides = (("width", width), ("height", height), ("viewBox", view_box))
    size = "".join(f' {name}="{value}"' for name, value in sides if value is not None)
    return f"<svg {NAMESPACES}{size} {attributes}>{body}</svg>"


def root(body: str = "", *, attributes: str = "") -> etree._Element:
    """The root of a 100 × 100 drawing, just parsed."""
    return etree.fromstring(svg(body, attributes=attributes))


def write_svg(
    folder: Path,
    body: str = "",
    *,
    name: str = "art.svg",
    width: str | None = "100mm",
    height: str | None = "100mm",
    view_box: str | None = "0 0 100 100",
    attributes: str = "",
) -> Path:
    """Write :func:`svg` to a file in a folder."""
    text = svg(body, width=width, height=height, view_box=view_box, attributes=attributes)
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def read(folder: Path, body: str, *, motifs: str | None = None, attributes: str = "") -> Art:
    """The art of a 100 mm × 100 mm drawing."""
    return read_art(write_svg(folder, body, attributes=attributes), motifs=motifs)


def motif(name: str, *outlines: BaseGeometry) -> Motif:
    """A motif that is known by its painted area alone, the union of its outlines."""
    parts = shapely.get_parts(np.array(outlines, dtype=object))
    return Motif(name, parts, Group(()))


def built(text: str) -> tuple[Builder, Group]:
    """A drawing as a scene in its root's user units, and what built it."""
    tree = parse(text.encode())
    page = read_page(tree)
    resolve_styles(tree)
    normalise(tree, page)
    builder = Builder(elements_by_id(tree))
    return builder, builder.root(tree)


def scene_of(body: str) -> Group:
    """What is drawn on a 100 × 100 page, as a scene in mm."""
    return built(svg(body))[1]


def markup_of(node: Node) -> str:
    """A scene as SVG, with the definitions it needs."""
    writer = Writer("t")
    markup = writer.fragment(node, named=False).markup
    return f"<defs>{writer.defined()}</defs>{markup}" if writer.definitions else markup


def repeat_of(
    outlines: Sequence[BaseGeometry],
    width: Fraction | int = 10,
    height: Fraction | int = 10,
    layout: str | Layout = "block",
) -> Repeat:
    """A repeat whose motifs are known by their outlines alone; they are called m0, m1 …"""
    placements = tuple(Placement(motif(f"m{k}", outline)) for k, outline in enumerate(outlines))
    lattice = Layout.parse(layout) if isinstance(layout, str) else layout
    return Repeat("art", Fraction(width), Fraction(height), placements, lattice)


@cache
def demo(name: str) -> Art:
    """A demo drawing, read once for all tests of a process."""
    return read_art(DEMO / f"{name}.svg")


class Run(NamedTuple):
    """What one call of the command line came to."""

    code: int
    out: str
    err: str


def vecrepeat(*arguments: str | Path) -> Run:
    """Run the command line in this process."""
    out, err = io.StringIO(), io.StringIO()
    code = 0
    with (
        mock.patch.object(sys, "argv", ["vecrepeat", *map(str, arguments)]),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        try:
            main()
        except SystemExit as leaving:
            code = leaving.code if isinstance(leaving.code, int) else 1
    return Run(code, out.getvalue(), err.getvalue())


def by_resvg(text: str, width: int, height: int | None = None) -> Pixels:
    """A drawing as resvg paints it, RGBA of shape (height, width, 4)."""
    height = height or width
    # resvg rounds a page to whole pixels before it scales it, so its page is made the picture.
    sized = re.sub(
        r' width="[^"]*mm" height="[^"]*mm"( viewBox=)',
        rf' width="{width}" height="{height}"\1',
        text,
        count=1,
    )
    data = resvg_py.svg_to_bytes(
        svg_string=sized,
        width=width,
        height=height,
        dpi=96,
        languages=["en"],
        skip_system_fonts=True,
    )
    with Image.open(io.BytesIO(data)) as image:
        return np.array(image.convert("RGBA"))


def on_white(pixels: Pixels) -> NDArray[np.float64]:
    """RGBA laid on white, as RGB."""
    alpha = pixels[..., 3:] / 255
    laid: NDArray[np.float64] = pixels[..., :3] * alpha + 255 * (1 - alpha)
    return laid


def mean_difference(one: Pixels, other: Pixels) -> float:
    """Mean difference of two pictures on white, in levels of 255."""
    assert one.shape == other.shape
    return float(np.abs(on_white(one) - on_white(other)).mean())


def ids_in(text: str) -> list[str]:
    """Every id of a document, in order, repeats included; the document must be well-formed."""
    tree = etree.fromstring(text.encode())
    return [str(e.get("id")) for e in tree.iter("*") if e.get("id") is not None]


def references_in(text: str) -> set[str]:
    """Every id that a document refers to within itself."""
    return set(re.findall(r'(?:url\(#|href="#)([^)"]+)', text))


def box(x0: float, y0: float, x1: float, y1: float) -> BaseGeometry:
    """A rectangle as an outline."""
    return shapely.box(x0, y0, x1, y1)


def areas_shown(repeat: Repeat) -> dict[str, float]:
    """What share of the cloth each colour is seen on, by the shapes as they are painted."""
    tile = shapely.box(*repeat.tile_rect)
    seen: dict[str, Any] = {}
    for copy in copies(repeat, repeat.tile_rect):
        one = placed(repeat, copy)
        area = shapely.intersection(one.outline, tile)
        seen = {colour: shapely.difference(under, area) for colour, under in seen.items()}
        (colour,) = one.motif.colours
        seen[colour] = shapely.union(seen.get(colour, shapely.Polygon()), area)
    return {colour: area.area / tile.area for colour, area in seen.items()}
