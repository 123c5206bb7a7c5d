"""Scenes compare, hash and pickle by content, and are written as SVG that draws alike."""

from __future__ import annotations

import math
import pickle
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree
from support import DEMO, by_resvg, markup_of, mean_difference, scene_of, svg

from vecrepeat.art.read import read_art
from vecrepeat.core.geometry import Rect
from vecrepeat.scene.nodes import Box, Element, Fill, Group, Image, Text
from vecrepeat.scene.nodes import Path as Shape
from vecrepeat.scene.visit import repainted, walk
from vecrepeat.scene.write import NAMESPACES, Writer

SIDE = 300


@pytest.mark.parametrize("name", ["night-garden", "brook"])
def test_a_scene_is_its_content(name: str) -> None:
    """Read twice, and sent to another process and back, it is the same value."""
    one = [motif.scene for motif in read_art(DEMO / f"{name}.svg").motifs]
    other = [motif.scene for motif in read_art(DEMO / f"{name}.svg").motifs]
    sent = pickle.loads(pickle.dumps(one))
    assert one == other == sent
    assert [hash(scene) for scene in one] == [hash(scene) for scene in sent]
    assert len(set(one)) > 1


def test_what_a_drawing_calls_a_shape_is_no_part_of_it() -> None:
    assert scene_of('<rect id="a" width="9" height="9"/>') == scene_of(
        '<rect width="9" height="9"/>'
    )


def test_repainting_changes_paint_alone() -> None:
    scene = scene_of('<g opacity=".5"><rect width="9" height="9" fill="#f00"/></g>')
    blue = repainted(scene, lambda paint: "#0000ff" if paint == "#ff0000" else paint)
    assert blue == scene_of('<g opacity=".5"><rect width="9" height="9" fill="#00f"/></g>')
    assert repainted(scene, lambda paint: paint) is scene


@given(st.text(), st.text(), st.text())
def test_nothing_that_is_written_is_other_than_xml(name: str, word: str, link: str) -> None:
    """XML 1.0 §2.2 has no place for some characters; lxml judges."""
    text = Element("text", (("font-family", word),), (word, Element("tspan", (), (name,))))
    nodes = (Shape(Box(0, 0, 9, 9), Fill(), name=name), Text(text), Image(link, _box(), (1, 1)))
    writer = Writer("t")
    markup = writer.fragment(Group(nodes, name=name)).markup
    etree.fromstring(f"<svg {NAMESPACES}><defs>{writer.defined()}</defs>{markup}</svg>")


def _box() -> Rect:

    return Rect(0.0, 0.0, 1.0, 1.0)


TRIANGLE = '<path d="M0 0L6 3L0 6Z" fill="#c00"/>'
ZIGZAG = 'd="M20 70L40 20L60 70L85 30" fill="none" stroke="#060" stroke-width="3"'
RING = 'd="M20 70L50 20L80 70Z" fill="#fd9" stroke="#060" stroke-width="2"'


def marker(attributes: str = "", content: str = TRIANGLE) -> str:
    return f'<marker id="m" markerWidth="6" markerHeight="6" {attributes}>{content}</marker>'


ALL = 'marker-start="url(#m)" marker-mid="url(#m)" marker-end="url(#m)"'
MARKED = [
    # (what it shows, the drawing)
    ("at every vertex", marker('refX="3" refY="3"') + f"<path {ZIGZAG} {ALL}/>"),
    ("along the path", marker('refX="3" refY="3" orient="auto"') + f"<path {ZIGZAG} {ALL}/>"),
    ("turned by a number", marker('refX="3" refY="3" orient="40"') + f"<path {ZIGZAG} {ALL}/>"),
    (
        "in a viewBox",
        marker('viewBox="0 0 12 6" refX="3" orient="auto"') + f"<path {ZIGZAG} {ALL}/>",
    ),
    ("in user units", marker('markerUnits="userSpaceOnUse" refX="3"') + f"<path {ZIGZAG} {ALL}/>"),
    ("overflowing", marker('overflow="visible" refX="3" refY="9"') + f"<path {ZIGZAG} {ALL}/>"),
    (
        "cut at its edge",
        marker('refX="3" refY="3"', TRIANGLE.replace("6", "9")) + f"<path {ZIGZAG} {ALL}/>",
    ),
    ("on a closed path", marker('refX="3" refY="3"') + f"<path {RING} {ALL}/>"),
    (
        "on a polyline",
        marker('refX="3" refY="3"')
        + f'<polyline points="9,9 50,50 90,9" {ALL} fill="none" stroke="#000"/>',
    ),
    (
        "on curves",
        marker('refX="3" refY="3" orient="auto"')
        + f'<path d="M10 50C10 10 50 10 50 50S90 90 90 50" {ALL} fill="none" stroke="#000"/>',
    ),
    (
        "with opacity and a transform",
        marker('refX="3" refY="3"')
        + f'<g transform="rotate(9)"><path {ZIGZAG} {ALL} opacity=".5"/></g>',
    ),
    (
        "below the path",
        marker('refX="3" refY="3"') + f'<path {ZIGZAG} {ALL} paint-order="markers"/>',
    ),
    ("by its group", marker('refX="3" refY="3"') + f"<g {ALL}><path {ZIGZAG}/></g>"),
    (
        "on a circle",
        marker('refX="3" refY="3"') + f'<circle cx="50" cy="50" r="30" fill="none" {ALL}/>',
    ),
    ("on a rectangle", marker() + f'<rect x="20" y="20" width="50" height="50" {ALL}/>'),
]


@pytest.mark.parametrize("body", [row[1] for row in MARKED], ids=[row[0] for row in MARKED])
def test_markers_drawn_out_look_the_same(body: str) -> None:
    ours = svg(markup_of(scene_of(body)))
    assert "<marker" not in ours
    assert mean_difference(by_resvg(svg(body), SIDE), by_resvg(ours, SIDE)) <= 0.5


def test_an_arc_has_a_vertex_at_each_end_and_none_within() -> None:
    """So librsvg and Chromium have it, to the pixel; resvg marks the curves it makes of it."""
    arcs = '<path d="M20 50A30 20 0 0 1 80 50A9 30 20 1 0 50 90" fill="none" stroke="#000" '
    scene = scene_of(marker() + f"{arcs} {ALL}/>")
    filled = [node for node, _ in walk(scene) if isinstance(node, Shape) and node.fill is not None]
    assert len(filled) == 3


def test_a_closed_path_s_first_marker_lies_between_its_last_and_first_direction() -> None:
    """SVG 2 §13.7.4; resvg goes by the first direction alone, Chromium as the standard says."""
    right = '<path d="M10 10H50V50H10Z" marker-start="url(#m)" fill="none" stroke="#000"/>'
    scene = scene_of(marker('markerUnits="userSpaceOnUse" orient="auto"') + right)
    (frame,) = [m for n, m in walk(scene) if isinstance(n, Shape) and n.fill is not None]
    # Upwards at the end and to the right at the start: halfway is 45 degrees up.
    assert math.degrees(math.atan2(frame.b, frame.a)) == pytest.approx(-45)


STOPS = '<stop stop-color="#c00"/><stop offset="1" stop-color="#00c" stop-opacity=".4"/>'
LINEAR = f'<linearGradient id="g" {{}}>{STOPS}</linearGradient>'
RADIAL = f'<radialGradient id="g" {{}}>{STOPS}</radialGradient>'
PETAL = '<path d="M50 10C95 10 95 60 50 90C5 60 5 10 50 10Z" fill="url(#g)"/>'
PAINTED = [
    ("in units of the box", LINEAR.format("") + PETAL),
    ("turned in units of the box", LINEAR.format('gradientTransform="rotate(40 .5 .5)"') + PETAL),
    ("round in units of the box", RADIAL.format('fx=".3"') + PETAL),
    ("repeated", LINEAR.format('x2=".2" spreadMethod="reflect"') + PETAL),
    (
        "on a stroke",
        LINEAR.format("") + PETAL.replace("fill", 'fill="none" stroke-width="9" stroke'),
    ),
    ("without extent", LINEAR.format('x2="0"') + PETAL),
    ("of one stop", LINEAR.format("").replace('<stop stop-color="#c00"/>', "") + PETAL),
    (
        "clipped by its box",
        '<clipPath id="k" clipPathUnits="objectBoundingBox">'
        f'<circle cx=".5" cy=".5" r=".4"/></clipPath>{LINEAR.format("")}'
        + PETAL.replace("<path", '<path clip-path="url(#k)"'),
    ),
    (
        "masked by its box",
        '<mask id="k" maskContentUnits="objectBoundingBox">'
        f'<circle cx=".5" cy=".5" r=".4" fill="#fff"/></mask>{LINEAR.format("")}'
        + PETAL.replace("<path", '<path mask="url(#k)"'),
    ),
]


@pytest.mark.parametrize("body", [row[1] for row in PAINTED], ids=[row[0] for row in PAINTED])
def test_what_goes_by_a_box_stands_in_user_space(body: str) -> None:
    ours = svg(markup_of(scene_of(body)))
    assert "objectBoundingBox" not in ours
    assert mean_difference(by_resvg(svg(body), SIDE), by_resvg(ours, SIDE)) <= 0.5


def test_a_walk_tells_the_frame_of_each_node(tmp_path: Path) -> None:
    scene = scene_of(
        '<g transform="translate(3 4)"><rect transform="scale(2)" width="5" height="5"/></g>'
    )
    (frame,) = [matrix for node, matrix in walk(scene) if isinstance(node, Shape)]
    assert tuple(frame) == (2, 0, 0, 2, 3, 4)


def test_a_link_that_is_there_twice_is_written_once() -> None:
    """Each attribute once (XML 1.0 §3.1), and of two links the plain one (SVG 2 §16.1.6)."""
    twice = '<filter id="f" href="#a" xlink:href="data:,"><feFlood/></filter>'
    drawn = f'{twice}<rect width="9" height="9" filter="url(#f)"/>'
    written = markup_of(scene_of(drawn))
    etree.fromstring(f"<svg {NAMESPACES}>{written}</svg>")
    assert "data:," not in written
