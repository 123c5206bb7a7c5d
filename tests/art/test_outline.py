"""Painted outlines, held against closed forms, dense sampling and a judge's pixels.

Sources: SVG 2 §13.4 (fill rules), §13.5 (caps, joins, miter limit), §9 and §10 (paths and
shapes), CSS Masking 1 §5 (clip paths).
"""

from __future__ import annotations

import base64
import io
import math
import random
import time
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image
from shapely.geometry.base import BaseGeometry
from support import by_resvg, read, svg, write_svg

from vecrepeat.art.read import read_art
from vecrepeat.core.errors import InputError
from vecrepeat.scene.areas import filled_area
from vecrepeat.scene.outline import DEFAULT_TOLERANCE
from vecrepeat.scene.segments import flatten, path_segments
from vecrepeat.scene.strokes import ARC_TOLERANCE
from vecrepeat.util.fonts import installed_fonts

PI = math.pi
NO_FILL = 'fill="none" stroke="#000"'


def outline(folder: Path, body: str, tolerance: float = 1e-4) -> BaseGeometry:
    """The painted outline of a drawing of one motif, in mm; one user unit is one mm."""
    art = read_art(write_svg(folder, body), tolerance=tolerance)
    (motif,) = art.motifs
    return motif.outline


def stroked(d: str, attributes: str = "", width: float = 10) -> str:
    return f'<path d="{d}" {NO_FILL} stroke-width="{width}" {attributes}/>'


def peak(angle: float) -> str:
    """Two legs that meet at (50, 30) under an angle in degrees, the legs downwards."""
    half = math.radians(angle / 2)
    x, y = 40 * math.sin(half), 40 * math.cos(half)
    return f"M{50 - x} {30 + y}L50 30L{50 + x} {30 + y}"


FILLS = [
    # (what it shows, content, area in mm², bounds)
    ("a rectangle", '<rect x="10" y="20" width="30" height="40"/>', 1200, (10, 20, 40, 60)),
    ("a circle", '<circle cx="50" cy="40" r="20"/>', PI * 400, (30, 20, 70, 60)),
    ("an ellipse", '<ellipse cx="50" cy="40" rx="20" ry="10"/>', PI * 200, (30, 30, 70, 50)),
    (
        "rounded corners",
        '<rect x="10" y="10" width="40" height="30" rx="10"/>',
        1200 - (4 - PI) * 100,
        (10, 10, 50, 40),
    ),
    (
        "rounded corners, cut down to half the sides",
        '<rect x="10" y="10" width="40" height="20" rx="99"/>',
        PI * 200,
        (10, 10, 50, 30),
    ),
    ("a polygon", '<polygon points="10,10 50,10 10,40"/>', 600, (10, 10, 50, 40)),
    (
        "a polyline is filled as if closed",
        '<polyline points="10,10 50,10 10,40"/>',
        600,
        (10, 10, 50, 40),
    ),
    ("an open path is filled as if closed", '<path d="M10 10H50L10 40"/>', 600, (10, 10, 50, 40)),
    (
        "a path of arcs",
        '<path d="M30 40A20 20 0 0 1 70 40A20 20 0 0 1 30 40Z"/>',
        PI * 400,
        (30, 20, 70, 60),
    ),
    ("a half disc", '<path d="M30 40A20 20 0 0 1 70 40Z"/>', PI * 200, (30, 20, 70, 40)),
    (
        "an arc too small for its ends grows",
        '<path d="M30 40A1 1 0 0 1 70 40Z"/>',
        PI * 200,
        (30, 20, 70, 40),
    ),
    # The area under B(t) from (0,0) by (0,a) (b,a) to (b,0) is 3/5·a·b … here 30 · 40 · 3/5.
    ("a cubic", '<path d="M10 50C10 20 50 20 50 50Z"/>', 720, (10, 27.5, 50, 50)),
    # A parabola over a chord of 40 with its control 40 below: 2/3 of 40 · 20.
    ("a quadratic", '<path d="M10 20Q30 60 50 20Z"/>', 1600 / 3, (10, 20, 50, 40)),
    ("two subpaths apart", '<path d="M10 10H20V20H10ZM30 30H50V50H30Z"/>', 500, (10, 10, 50, 50)),
    ("a scale", '<rect width="10" height="10" transform="scale(2 3)"/>', 600, (0, 0, 20, 30)),
    (
        "a rotation",
        '<rect x="30" y="30" width="20" height="20" transform="rotate(45 40 40)"/>',
        400,
        (40 - 200**0.5, 40 - 200**0.5, 40 + 200**0.5, 40 + 200**0.5),
    ),
    (
        "a skew",
        '<rect x="10" y="10" width="20" height="20" transform="skewX(45)"/>',
        400,
        (20, 10, 60, 30),
    ),
    (
        "a reflection",
        '<path d="M10 10H40L10 50Z" transform="matrix(-1 0 0 1 60 0)"/>',
        600,
        (20, 10, 50, 50),
    ),
    # Two triangles of 40 × 20 each; the crossing is at (30, 30).
    ("a bow tie", '<polygon points="10,10 50,10 10,50 50,50"/>', 800, (10, 10, 50, 50)),
    # Fill rules, SVG 2 §13.4.2.
    ("a hole by direction", '<path d="M10 10H50V50H10ZM20 20V40H40V20Z"/>', 1200, (10, 10, 50, 50)),
    (
        "no hole where the direction is the same",
        '<path d="M10 10H50V50H10ZM20 20H40V40H20Z"/>',
        1600,
        (10, 10, 50, 50),
    ),
    (
        "a hole by the even-odd rule",
        '<path fill-rule="evenodd" d="M10 10H50V50H10ZM20 20H40V40H20Z"/>',
        1200,
        (10, 10, 50, 50),
    ),
    (
        "an island in a hole",
        '<path fill-rule="evenodd" d="M10 10H50V50H10ZM20 20H40V40H20ZM25 25H35V35H25Z"/>',
        1300,
        (10, 10, 50, 50),
    ),
    (
        "overlap by the even-odd rule",
        '<path fill-rule="evenodd" d="M10 10H40V40H10ZM30 30H60V60H30Z"/>',
        1600,
        (10, 10, 60, 60),
    ),
    (
        "overlap by the nonzero rule",
        '<path d="M10 10H40V40H10ZM30 30H60V60H30Z"/>',
        1700,
        (10, 10, 60, 60),
    ),
    (
        "the fill rule of a group",
        '<g fill-rule="evenodd"><path d="M10 10H50V50H10ZM20 20H40V40H20Z"/></g>',
        1200,
        (10, 10, 50, 50),
    ),
    (
        "a style sheet's fill rule",
        '<style>path{fill-rule:evenodd}</style><path d="M10 10H50V50H10ZM20 20H40V40H20Z"/>',
        1200,
        (10, 10, 50, 50),
    ),
    (
        "the same ring twice is nothing by the even-odd rule but one ring more",
        '<path fill-rule="evenodd" d="M10 10H50V50H10ZM10 10H50V50H10ZM20 20H40V40H20Z"/>',
        400,
        (20, 20, 40, 40),
    ),
    (
        "path data up to its first error",
        '<path d="M10 10H50V50H10Z M20 x"/>',
        1600,
        (10, 10, 50, 50),
    ),
]


@pytest.mark.parametrize(
    ("body", "area", "bounds"), [f[1:] for f in FILLS], ids=[f[0] for f in FILLS]
)
def test_filled_areas(tmp_path: Path, body: str, area: float, bounds: tuple[float, ...]) -> None:
    found = outline(tmp_path, body)
    assert found.area == pytest.approx(area, rel=1e-4)
    assert found.bounds == pytest.approx(bounds, abs=1e-6)
    assert found.is_valid


@pytest.mark.parametrize("tolerance", [DEFAULT_TOLERANCE, 1.0, 1e-4])
@pytest.mark.parametrize(
    ("body", "bounds"),
    [
        ('<circle cx="50" cy="40" r="20"/>', (30, 20, 70, 60)),
        ('<ellipse cx="50" cy="40" rx="30" ry="1"/>', (20, 39, 80, 41)),
        ('<path d="M10 50C10 20 50 20 50 50Z"/>', (10, 27.5, 50, 50)),
        ('<path d="M10 20Q30 60 50 20Z"/>', (10, 20, 50, 40)),
        ('<rect x="10" y="10" width="40" height="30" rx="10"/>', (10, 10, 50, 40)),
    ],
    ids=["circle", "ellipse", "cubic", "quadratic", "rounded"],
)
def test_bounds_of_curves_are_exact_at_every_tolerance(
    tmp_path: Path, body: str, bounds: tuple[float, ...], tolerance: float
) -> None:
    """A motif that only touches the tile's bound must not cross it by a rounding error."""
    assert outline(tmp_path, body, tolerance).bounds == pytest.approx(bounds, abs=1e-9)


def test_a_pentagram_by_both_rules(tmp_path: Path) -> None:
    """Circumradius 40; inner pentagon's radius r = R·cos 72°/cos 36°."""
    points = " ".join(
        f"{50 + 40 * math.sin(k * 4 * PI / 5)},{50 - 40 * math.cos(k * 4 * PI / 5)}"
        for k in range(5)
    )
    r = 40 * math.cos(math.radians(72)) / math.cos(math.radians(36))
    star = 5 * 40 * r * math.sin(math.radians(36))
    pentagon = 5 / 2 * r * r * math.sin(math.radians(72))
    nonzero = outline(tmp_path, f'<polygon points="{points}"/>')
    evenodd = outline(tmp_path, f'<polygon points="{points}" fill-rule="evenodd"/>')
    assert nonzero.area == pytest.approx(star, rel=1e-9)
    assert evenodd.area == pytest.approx(star - pentagon, rel=1e-9)


def sin(degrees: float) -> float:
    return math.sin(math.radians(degrees))


def cos(degrees: float) -> float:
    return math.cos(math.radians(degrees))


L = "M20 50H60"
STROKES = [
    # (what it shows, content, area or None, bounds); strokes are 10 wide
    ("a butt cap", stroked(L), 400, (20, 45, 60, 55)),
    ("a square cap", stroked(L, 'stroke-linecap="square"'), 500, (15, 45, 65, 55)),
    ("a round cap", stroked(L, 'stroke-linecap="round"'), 400 + PI * 25, (15, 45, 65, 55)),
    (
        "a line element",
        f'<line x1="20" y1="50" x2="60" y2="50" {NO_FILL} stroke-width="10"/>',
        400,
        (20, 45, 60, 55),
    ),
    (
        "a slanting square cap",
        stroked("M20 20L50 50", 'stroke-linecap="square"'),
        None,
        (20 - 50**0.5, 20 - 50**0.5, 50 + 50**0.5, 50 + 50**0.5),
    ),
    # Subpaths of no length, SVG 2 §13.5.4.
    (
        "no length, round cap",
        stroked("M50 50h0", 'stroke-linecap="round"'),
        PI * 25,
        (45, 45, 55, 55),
    ),
    (
        "no length, square cap",
        stroked("M50 50h0", 'stroke-linecap="square"'),
        100,
        (45, 45, 55, 55),
    ),
    (
        "no length by closing, round cap",
        stroked("M50 50z", 'stroke-linecap="round"'),
        PI * 25,
        (45, 45, 55, 55),
    ),
    (
        "no length by a curve, round cap",
        stroked("M50 50C50 50 50 50 50 50", 'stroke-linecap="round"'),
        PI * 25,
        (45, 45, 55, 55),
    ),
    (
        "no length, square cap, turned",
        stroked("M0 0h0", 'stroke-linecap="square" transform="translate(50 50) rotate(45)"'),
        100,
        (50 - 50**0.5, 50 - 50**0.5, 50 + 50**0.5, 50 + 50**0.5),
    ),
    (
        "no length, round cap, stretched",
        stroked("M0 0h0", 'stroke-linecap="round" transform="translate(50 50) scale(2 1)"'),
        PI * 50,
        (40, 45, 60, 55),
    ),
    (
        "dots and a line",
        stroked("M20 20h0M20 50H60", 'stroke-linecap="round"'),
        400 + PI * 50,
        (15, 15, 65, 55),
    ),
    # Closed lines.
    (
        "a circle's ring",
        f'<circle cx="50" cy="50" r="20" {NO_FILL} stroke-width="10"/>',
        2 * PI * 20 * 10,
        (25, 25, 75, 75),
    ),
    (
        "fill and stroke",
        '<circle cx="50" cy="50" r="20" stroke="#000" stroke-width="10"/>',
        PI * 625,
        (25, 25, 75, 75),
    ),
    (
        "a square's frame, mitered",
        f'<rect x="30" y="30" width="40" height="40" {NO_FILL} stroke-width="10"/>',
        50**2 - 30**2,
        (25, 25, 75, 75),
    ),
    (
        "a square's frame, beveled",
        f'<rect x="30" y="30" width="40" height="40" {NO_FILL} stroke-width="10" '
        'stroke-linejoin="bevel"/>',
        50**2 - 30**2 - 4 * 12.5,
        (25, 25, 75, 75),
    ),
    (
        "a square's frame, rounded",
        f'<rect x="30" y="30" width="40" height="40" {NO_FILL} stroke-width="10" '
        'stroke-linejoin="round"/>',
        50**2 - 30**2 - (4 - PI) * 25,
        (25, 25, 75, 75),
    ),
    ("closed by z", stroked("M30 30H70V70H30Z"), 50**2 - 30**2, (25, 25, 75, 75)),
    ("closed by a line and z", stroked("M30 30H70V70H30V30Z"), 50**2 - 30**2, (25, 25, 75, 75)),
    (
        "closed by a line alone has caps at its start",
        stroked("M30 30H70V70H30V30"),
        50**2 - 30**2 - 25,
        (25, 25, 75, 75),
    ),
    (
        "a line there and back, closed",
        stroked("M20 50H60Z", 'stroke-linejoin="round"'),
        400 + PI * 25,
        (15, 45, 65, 55),
    ),
    # Joins, SVG 2 §13.5.5 and §13.5.6: miter length / width = 1 / sin(θ/2), the limit 4.
    ("a right angle", stroked("M10 50H50V10"), 800, (10, 45 - 35, 55, 55)),
    (
        "30°: 3.86 widths, a miter",
        stroked(peak(30)),
        None,
        (
            50 - 40 * sin(15) - 5 * cos(15),
            30 - 5 / sin(15),
            50 + 40 * sin(15) + 5 * cos(15),
            30 + 40 * cos(15) + 5 * sin(15),
        ),
    ),
    (
        "28°: 4.13 widths, a bevel",
        stroked(peak(28)),
        None,
        (
            50 - 40 * sin(14) - 5 * cos(14),
            30 - 5 * sin(14),
            50 + 40 * sin(14) + 5 * cos(14),
            30 + 40 * cos(14) + 5 * sin(14),
        ),
    ),
    (
        "28° under a limit of 5",
        stroked(peak(28), 'stroke-miterlimit="5"'),
        None,
        (
            50 - 40 * sin(14) - 5 * cos(14),
            30 - 5 / sin(14),
            50 + 40 * sin(14) + 5 * cos(14),
            30 + 40 * cos(14) + 5 * sin(14),
        ),
    ),
    (
        "90° over a limit of 1.4",
        stroked("M10 50H50V10", 'stroke-miterlimit="1.4"'),
        800 - 12.5,
        (10, 10, 55, 55),
    ),
    (
        "90° under a limit of 1.42",
        stroked("M10 50H50V10", 'stroke-miterlimit="1.42"'),
        800,
        (10, 10, 55, 55),
    ),
    (
        "a round join",
        stroked(peak(28), 'stroke-linejoin="round"'),
        None,
        (
            50 - 40 * sin(14) - 5 * cos(14),
            25,
            50 + 40 * sin(14) + 5 * cos(14),
            30 + 40 * cos(14) + 5 * sin(14),
        ),
    ),
    (
        "a bevel join",
        stroked("M10 50H50V10", 'stroke-linejoin="bevel"'),
        800 - 12.5,
        (10, 10, 55, 55),
    ),
    (
        "one join over the limit, one under it",
        stroked("M20 90L20 30L24 90L80 90L80 80"),
        None,
        (15, 30 - 20 / math.hypot(4, 60), 85, 95),
    ),
    ("back on itself: nothing beyond", stroked("M20 50H60H30"), 400, (20, 45, 60, 55)),
    (
        "back on itself, beveled: nothing beyond",
        stroked("M20 50H60H30", 'stroke-linejoin="bevel"'),
        400,
        (20, 45, 60, 55),
    ),
    (
        "back on itself, round: half a disc",
        stroked("M20 50H60H30", 'stroke-linejoin="round"'),
        400 + PI * 12.5,
        (20, 45, 65, 55),
    ),
    # Transforms.
    ("a stroke is scaled", stroked("M10 25H30", 'transform="scale(2)"', 5), 400, (20, 45, 60, 55)),
    (
        "a stroke is stretched",
        '<circle r="10" stroke="#000" stroke-width="4" fill="none" transform="translate(50 50) '
        'scale(2 1)"/>',
        PI * (24 * 12 - 16 * 8),
        (26, 38, 74, 62),
    ),
    (
        "a stroke is stretched the other way",
        '<circle r="10" stroke="#000" stroke-width="4" fill="none" transform="translate(50 50) '
        'scale(1 2)"/>',
        PI * (24 * 12 - 16 * 8),
        (38, 26, 62, 74),
    ),
    (
        "a miter is stretched",
        stroked("M10 25H25V5", 'transform="scale(2 1)"'),
        None,
        (20, 5, 60, 30),
    ),
    (
        "a reflected stroke",
        stroked("M10 50H50V10", 'transform="matrix(-1 0 0 1 60 0)"'),
        800,
        (5, 10, 50, 55),
    ),
    (
        "a reflected and turned stroke",
        stroked("M10 50H50V10", 'transform="matrix(0 1 1 0 0 0)"'),
        800,
        (10, 10, 55, 55),
    ),
    (
        "a skewed stroke",
        stroked("M0 0H40", 'transform="translate(20 50) skewX(45)"'),
        400,
        (15, 45, 65, 55),
    ),
    (
        "width inherited through groups",
        f'<g stroke-width="10">{stroked(L).replace("stroke-width", "data-x")}</g>',
        400,
        (20, 45, 60, 55),
    ),
    (
        "width by a style sheet",
        "<style>path{stroke-width:10}</style>" + stroked(L, "", 1),
        400,
        (20, 45, 60, 55),
    ),
    ("width in percent", stroked(L).replace('"10"', '"10%"'), 400, (20, 45, 60, 55)),
    (
        "a stroke of no width",
        '<rect x="20" y="20" width="20" height="20" stroke="#000" stroke-width="0"/>',
        400,
        (20, 20, 40, 40),
    ),
    (
        "a stroke of no opacity",
        '<rect x="20" y="20" width="20" height="20" stroke="#000" stroke-width="9" '
        'stroke-opacity="0"/>',
        400,
        (20, 20, 40, 40),
    ),
]


@pytest.mark.parametrize(
    ("body", "area", "bounds"), [s[1:] for s in STROKES], ids=[s[0] for s in STROKES]
)
def test_strokes(tmp_path: Path, body: str, area: float | None, bounds: tuple[float, ...]) -> None:
    found = outline(tmp_path, body)
    assert found.bounds == pytest.approx(bounds, abs=2 * ARC_TOLERANCE)
    assert found.is_valid
    if area is not None:
        assert found.area == pytest.approx(area, rel=1e-3)


@pytest.mark.parametrize("join", ["miter", "round", "bevel"])
@pytest.mark.parametrize("radius", [0.2, 1, 5, 30])
def test_a_thick_stroke_round_a_circle(tmp_path: Path, radius: float, join: str) -> None:
    """The steps of a flattened curve are no corners, however thick the stroke."""
    circle = f'<circle cx="50" cy="50" r="{radius}" {NO_FILL} stroke-width="20" '
    found = outline(tmp_path, f'{circle} stroke-linejoin="{join}"/>', DEFAULT_TOLERANCE)
    edge = shapely.get_coordinates(shapely.segmentize(found.exterior, 0.05))
    reach = np.hypot(*(edge - 50).T)
    assert reach.max() <= radius + 10 + DEFAULT_TOLERANCE
    assert reach.min() >= radius + 10 - DEFAULT_TOLERANCE


@pytest.mark.parametrize("join", ["miter", "round", "bevel"])
def test_a_thick_stroke_of_a_tight_bend(tmp_path: Path, join: str) -> None:
    """A smooth hairpin of 1 mm: the stroke reaches half its width beyond it, whatever the join."""
    found = outline(
        tmp_path,
        stroked("M49.5 80V50A.5 .5 0 0 1 50.5 50V80", f'stroke-linejoin="{join}"', 20),
        DEFAULT_TOLERANCE,
    )
    assert found.bounds == pytest.approx((39.5, 39.5, 60.5, 80), abs=2 * DEFAULT_TOLERANCE)


@pytest.mark.parametrize("tolerance", [1e-4, DEFAULT_TOLERANCE, 0.5])
def test_a_miter_points_where_the_curve_ends_not_where_its_last_chord_does(
    tmp_path: Path, tolerance: float
) -> None:
    """Two arches meet at (50, 40) under 40° by their tangents, 2.92 widths: within the limit.

    Both lean over to the same side; between them, the chords of a coarse outline stand steeper
    than the tangents do, which turns the tip away and makes it longer or shorter.
    """
    x, y = 30 * sin(20), 30 * cos(20)
    d = f"M20 90Q{50 - x} {40 + y} 50 40Q{50 + x} {40 + y} 80 90"
    found = outline(tmp_path, stroked(d, "", 10), tolerance)
    assert found.bounds[1] == pytest.approx(40 - 5 / sin(20), abs=2 * DEFAULT_TOLERANCE)


SMOOTH = [
    # (what it shows, path data, the second segment's first control point)
    ("S after C reflects", "M0 0C0 10 10 20 20 20S40 10 40 0", (30, 20)),
    ("S after S reflects", "M0 0S10 20 20 20S40 10 40 0", (30, 20)),
    # SVG 2 §9.3.6: after another command it is the current point.
    ("S after L does not", "M0 0L20 20S40 10 40 0", (20, 20)),
    ("S after Q does not", "M0 0Q10 20 20 20S40 10 40 0", (20, 20)),
    ("S after T does not", "M0 0T20 20S40 10 40 0", (20, 20)),
    ("S after A does not", "M0 0A20 20 0 0 1 20 20S40 10 40 0", (20, 20)),
    # SVG 2 §9.3.7, likewise; a quadratic's cubic lies two thirds of the way to its control.
    ("T after Q reflects", "M0 0Q14 20 20 20T38 20", (24, 20)),
    ("T after L does not", "M0 0L20 20T38 20", (20, 20)),
    ("T after C does not", "M0 0C0 10 10 20 20 20T38 20", (20, 20)),
    ("T after S does not", "M0 0S10 20 20 20T38 20", (20, 20)),
    # An arc in the same path changes nothing of it.
    ("S after Q, beside an arc", "M0 0A1 1 0 0 1 2 0M0 0Q10 20 20 20S40 10 40 0", (20, 20)),
    ("T after C, beside an arc", "M0 0A1 1 0 0 1 2 0M0 0C0 10 10 20 20 20T38 20", (20, 20)),
]


@pytest.mark.parametrize(("d", "control"), [s[1:] for s in SMOOTH], ids=[s[0] for s in SMOOTH])
def test_smooth_curves_reflect_their_own_kind_only(d: str, control: tuple[float, float]) -> None:
    points = path_segments(d).points
    assert points[-1, 0].tolist() == pytest.approx([20, 20])
    assert points[-1, 1].tolist() == pytest.approx(control)


@pytest.mark.parametrize(
    "body",
    [
        stroked("M50 50h0"),
        stroked("M50 50"),
        stroked("M50 50", 'stroke-linecap="round"'),
        stroked("M50 50M60 60", 'stroke-linecap="square"'),
        '<path d=""/>',
        '<path d="x"/>',
        '<path d="M10 10H50"/>',
        '<rect x="10" y="10" width="-5" height="9"/>',
        '<circle cx="50" cy="50" r="-5"/>',
        '<polygon points="10,10"/>',
        '<rect width="9" height="9" transform="scale(0)"/>',
        '<rect width="9" height="9" fill="none"/>',
        '<rect width="9" height="9" fill-opacity="0"/>',
        '<rect width="9" height="9" clip-path="url(#k)"/><clipPath id="k"/>',
        '<rect width="9" height="9" clip-path="url(#k)"/><clipPath id="k">'
        '<rect x="50" width="9" height="9"/></clipPath>',
        '<path d="M0 0H1e30V9Z"/>',
        '<path d="M0 0HnanV9Z"/>',
    ],
)
def test_what_paints_nothing_has_no_outline(tmp_path: Path, body: str) -> None:
    with pytest.raises(InputError, match="no motifs"):
        outline(tmp_path, body)


RECT = '<rect x="10" y="10" width="80" height="60" {}/>'
CIRCLE = '<circle cx="50" cy="40" r="20"/>'


def clip(body: str, attributes: str = "", key: str = "k") -> str:
    return f'<clipPath id="{key}" {attributes}>{body}</clipPath>'


CLIPPED = RECT.format('clip-path="url(#k)"')
CLIPS = [
    # (what it shows, content, area in mm², bounds)
    ("a circle", clip(CIRCLE) + CLIPPED, PI * 400, (30, 20, 70, 60)),
    (
        "larger than what it cuts",
        clip('<rect width="99" height="99"/>') + CLIPPED,
        4800,
        (10, 10, 90, 70),
    ),
    (
        "two shapes",
        clip(
            '<rect x="10" y="10" width="10" height="10"/>'
            '<rect x="40" y="40" width="10" height="10"/>'
        )
        + CLIPPED,
        200,
        (10, 10, 50, 50),
    ),
    (
        "shapes that overlap",
        clip(
            '<rect x="10" y="10" width="30" height="10"/>'
            '<rect x="20" y="10" width="30" height="10"/>'
        )
        + CLIPPED,
        400,
        (10, 10, 50, 20),
    ),
    (
        "the clip rule",
        clip('<path clip-rule="evenodd" d="M10 10H50V50H10ZM20 20H40V40H20Z"/>') + CLIPPED,
        1200,
        (10, 10, 50, 50),
    ),
    (
        "a fill rule is no clip rule",
        clip('<path fill-rule="evenodd" d="M10 10H50V50H10ZM20 20H40V40H20Z"/>') + CLIPPED,
        1600,
        (10, 10, 50, 50),
    ),
    (
        "a fill of none still clips",
        clip(CIRCLE.replace("cx", 'fill="none" cx')) + CLIPPED,
        PI * 400,
        (30, 20, 70, 60),
    ),
    (
        "a stroke does not clip",
        clip(CIRCLE.replace("cx", 'stroke="#000" stroke-width="9" cx')) + CLIPPED,
        PI * 400,
        (30, 20, 70, 60),
    ),
    (
        "a transform on the clip's shape",
        clip('<rect width="10" height="10" transform="translate(20 30)"/>') + CLIPPED,
        100,
        (20, 30, 30, 40),
    ),
    (
        "a transform on the clip path",
        clip('<rect width="10" height="10"/>', 'transform="translate(20 30)"') + CLIPPED,
        100,
        (20, 30, 30, 40),
    ),
    (
        "a transform on what is cut carries the clip along",
        clip('<rect x="10" y="10" width="10" height="10"/>')
        + RECT.format('clip-path="url(#k)" transform="translate(5 7)"'),
        100,
        (15, 17, 25, 27),
    ),
    (
        "on a group",
        clip(CIRCLE) + f'<g clip-path="url(#k)">{RECT.format("")}</g>',
        PI * 400,
        (30, 20, 70, 60),
    ),
    (
        "on a group and on its shape",
        clip('<rect x="10" y="10" width="30" height="30"/>')
        + clip('<rect x="20" y="20" width="30" height="30"/>', "", "j")
        + f'<g clip-path="url(#j)">{CLIPPED}</g>',
        400,
        (20, 20, 40, 40),
    ),
    (
        "a clip path that is clipped",
        clip('<rect x="10" y="10" width="30" height="30"/>', 'clip-path="url(#j)"')
        + clip('<rect x="20" y="20" width="30" height="30"/>', "", "j")
        + CLIPPED,
        400,
        (20, 20, 40, 40),
    ),
    (
        "a shape in it that is clipped",
        clip('<rect x="10" y="10" width="30" height="30" clip-path="url(#j)"/>')
        + clip('<rect x="20" y="20" width="30" height="30"/>', "", "j")
        + CLIPPED,
        400,
        (20, 20, 40, 40),
    ),
    (
        "in units of the box",
        clip('<rect width=".5" height=".5"/>', 'clipPathUnits="objectBoundingBox"') + CLIPPED,
        1200,
        (10, 10, 50, 40),
    ),
    # The box is that of the geometry, without the stroke: SVG 2 §8.10.
    (
        "in units of the box, which has no stroke",
        clip('<rect x="-1" y="-1" width="3" height="3"/>', 'clipPathUnits="objectBoundingBox"')
        + RECT.format('stroke="#000" stroke-width="4" clip-path="url(#k)"'),
        84 * 64,
        (8, 8, 92, 72),
    ),
    (
        "in units of a group's box",
        clip('<rect width=".5" height="1"/>', 'clipPathUnits="objectBoundingBox"')
        + '<g id="m" clip-path="url(#k)"><rect x="10" y="10" width="10" height="10"/>'
        '<rect x="40" y="10" width="10" height="10"/></g>',
        100,
        (10, 10, 20, 20),
    ),
    (
        "in units of the box, of a circle",
        clip('<circle cx=".5" cy=".5" r=".5"/>', 'clipPathUnits="objectBoundingBox"') + CLIPPED,
        PI * 40 * 30,
        (10, 10, 90, 70),
    ),
    # CSS Masking 1 §5.1: a reference to nothing does not clip.
    (
        "a clip path that is not there",
        RECT.format('clip-path="url(#none)"'),
        4800,
        (10, 10, 90, 70),
    ),
    (
        "a stroke is cut too",
        clip('<rect width="50" height="99"/>')
        + '<circle cx="50" cy="50" r="20" stroke="#000" stroke-width="10" clip-path="url(#k)"/>',
        PI * 625 / 2,
        (25, 25, 50, 75),
    ),
    (
        "a clip path by use",
        '<defs><circle id="c" cx="50" cy="40" r="20"/></defs>' + clip('<use href="#c"/>') + CLIPPED,
        PI * 400,
        (30, 20, 70, 60),
    ),
    (
        "a hidden shape does not clip",
        clip(CIRCLE + '<rect x="10" y="10" width="9" height="9" display="none"/>') + CLIPPED,
        PI * 400,
        (30, 20, 70, 60),
    ),
]


@pytest.mark.parametrize(
    ("body", "area", "bounds"), [c[1:] for c in CLIPS], ids=[c[0] for c in CLIPS]
)
def test_clip_paths(tmp_path: Path, body: str, area: float, bounds: tuple[float, ...]) -> None:
    found = outline(tmp_path, body)
    assert found.area == pytest.approx(area, rel=1e-3)
    assert found.bounds == pytest.approx(bounds, abs=2 * ARC_TOLERANCE)


@pytest.mark.parametrize(
    "body",
    [
        clip(CIRCLE, 'clip-path="url(#k)"') + CLIPPED,
        clip(CIRCLE, 'clip-path="url(#j)"') + clip(CIRCLE, 'clip-path="url(#k)"', "j") + CLIPPED,
        clip(CIRCLE.replace("cx", 'clip-path="url(#k)" cx')) + CLIPPED,
    ],
    ids=["itself", "each other", "a shape within"],
)
def test_clip_paths_in_a_circle_end(tmp_path: Path, body: str) -> None:
    """An error by CSS Masking 1; whatever is drawn, reading it must end."""
    try:
        found = [m.outline for m in read_art(write_svg(tmp_path, body)).motifs]
    except InputError:
        return
    assert all(o.area <= 4800 for o in found)


# --- curves

COORDINATES = st.floats(-50, 50, allow_subnormal=False).map(lambda v: round(v, 6))
CUBICS = st.lists(COORDINATES, min_size=8, max_size=8)


def bezier(p: NDArray[np.float64], t: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points of a cubic by de Casteljau's construction."""
    level = [np.repeat(q[None], len(t), axis=0) for q in p]
    while len(level) > 1:
        level = [a + (b - a) * t[:, None] for a, b in pairwise(level)]
    return level[0]


def true_bounds(p: NDArray[np.float64]) -> NDArray[np.float64]:
    """A cubic's bounds, the roots of its derivative by the companion matrix."""
    values = []
    for axis in p.T:
        a, b, c, d = axis
        polynomial = [d - 3 * c + 3 * b - a, 2 * (c - 2 * b + a), b - a]
        with np.errstate(all="ignore"):
            roots = np.roots(polynomial) if np.any(polynomial) else np.empty(0)
        inside = np.clip(np.real(roots), 0, 1)
        values.append([*bezier(axis[:, None].astype(float), np.array([0, 1, *inside]))[:, 0]])
    return np.array([min(values[0]), min(values[1]), max(values[0]), max(values[1])])


@settings(max_examples=200)
@given(CUBICS, st.sampled_from([0.5, 0.02, 0.001]))
def test_a_flattened_cubic_stays_within_the_tolerance(
    values: list[float], tolerance: float
) -> None:
    """Both ways: no point of the curve is farther from the chords, and every joint is on it."""
    p = np.array(values).reshape(4, 2)
    chords, owner = flatten(p[None], np.array([False]), tolerance)
    assert (owner == 0).all()
    assert chords[-1].tolist() == p[3].tolist()
    line = shapely.LineString([p[0], *chords])
    curve = bezier(p, np.linspace(0, 1, 4001))
    assert shapely.distance(shapely.points(curve), line).max() <= tolerance
    joints = shapely.distance(shapely.points(chords), shapely.LineString(curve))
    assert joints.max() <= 1e-3


@settings(max_examples=200)
@given(CUBICS)
def test_a_flattened_cubic_has_the_curves_own_bounds(values: list[float]) -> None:
    p = np.array(values).reshape(4, 2)
    chords, _ = flatten(p[None], np.array([False]), 1.0)
    xy = np.array([p[0], *chords])
    found = np.concatenate([xy.min(axis=0), xy.max(axis=0)])
    assert found == pytest.approx(true_bounds(p), abs=1e-9)


@pytest.mark.parametrize(
    "points",
    [
        # A cusp, a loop, a straight line, a line that doubles back, a point, a flat S.
        [0, 0, 30, 30, 0, 30, 30, 0],
        [0, 0, 60, 40, -30, 40, 30, 0],
        [0, 0, 10, 10, 20, 20, 30, 30],
        [0, 0, 40, 0, -10, 0, 30, 0],
        [5, 5, 5, 5, 5, 5, 5, 5],
        [0, 0, 0, 1e-9, 30, 1e-9, 30, 0],
        [0, 0, 0, 0, 30, 30, 30, 30],
    ],
    ids=["cusp", "loop", "line", "double back", "point", "nearly flat", "ends held"],
)
def test_degenerate_cubics(points: list[float]) -> None:
    p = np.array(points, float).reshape(4, 2)
    chords, _ = flatten(p[None], np.array([False]), 0.02)
    assert np.isfinite(chords).all()
    line = shapely.LineString([p[0], *chords])
    assert shapely.distance(shapely.points(bezier(p, np.linspace(0, 1, 999))), line).max() <= 0.02
    xy = np.array([p[0], *chords])
    assert [*xy.min(axis=0), *xy.max(axis=0)] == pytest.approx(true_bounds(p), abs=1e-9)


@settings(max_examples=100)
@given(
    st.tuples(st.floats(1, 40), st.floats(1, 40)),
    st.floats(-180, 180),
    st.tuples(st.floats(0, 6.2), st.floats(0.1, 6.1)),
)
def test_elliptical_arcs_lie_on_their_ellipse(
    radii: tuple[float, float], turn: float, angles: tuple[float, float]
) -> None:
    """From centre and angles to path data by SVG 2 §B.2.3, and back through the reader."""
    (rx, ry), (start, sweep) = radii, angles
    c, s = cos(turn), sin(turn)

    def at(angle: float) -> tuple[float, float]:
        x, y = rx * math.cos(angle), ry * math.sin(angle)
        return (50 + c * x - s * y, 50 + s * x + c * y)

    (x0, y0), (x1, y1) = at(start), at(start + sweep)
    large = int(sweep > PI)
    found = path_segments(f"M{x0!r} {y0!r}A{rx!r} {ry!r} {turn!r} {large} 1 {x1!r} {y1!r}")
    t = np.linspace(0, 1, 20)
    points = np.concatenate([bezier(segment, t) for segment in found.points]) - 50
    local = points @ np.array([[c, -s], [s, c]]) / (rx, ry)
    # Ends given in 16 digits leave the centre open by the square root of their rounding where
    # the arc is nearly a whole turn.
    assert np.abs(np.hypot(*local.T) - 1).max() < 1e-5
    assert found.points[0, 0].tolist() == pytest.approx([x0, y0])
    assert found.points[-1, 3].tolist() == pytest.approx([x1, y1])


@settings(max_examples=100)
@given(
    st.lists(
        st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=3, max_size=7),
        min_size=1,
        max_size=3,
    ),
    st.booleans(),
)
def test_fill_rules_by_the_winding_number(
    rings: list[list[tuple[int, int]]], even_odd: bool
) -> None:
    """Probes off the grid, each judged by the sum of the angles under which it sees the rings."""
    lines = [shapely.LinearRing(r) for r in rings if len(set(r)) > 1]
    if not lines:
        return
    area = filled_area(np.array(lines, dtype=object), even_odd)
    for k in range(60):
        x, y = 0.137 + k * 7 % 12 + 0.0101 * k, 0.259 + k * 5 % 12 + 0.0007 * k
        if any(line.distance(shapely.Point(x, y)) < 1e-3 for line in lines):
            continue
        turns = 0.0
        for line in lines:
            seen = np.unwrap(np.arctan2(*(shapely.get_coordinates(line) - (x, y)).T[::-1]))
            turns += (seen[-1] - seen[0]) / (2 * PI)
        winding = round(turns)
        assert area.contains(shapely.Point(x, y)) == bool(winding % 2 if even_odd else winding)


# --- a judge's pixels

SIDE, SCALE = 20, 20
"""A page of 20 mm, drawn at 20 px a mm."""


def random_path(seed: int) -> str:
    """A path with all that bends and ends an outline, well inside a page of 20 mm."""
    rng = random.Random(seed)

    def point() -> str:
        return f"{rng.uniform(5, 15):.3f} {rng.uniform(5, 15):.3f}"

    d = f"M{point()}"
    for _ in range(rng.randint(1, 5)):
        kind = rng.choice("LLCCQSTAM")
        if kind == "A":
            d += f"A{rng.uniform(1, 5):.3f} {rng.uniform(1, 5):.3f} {rng.randint(0, 180)} "
            d += f"{rng.randint(0, 1)} {rng.randint(0, 1)} {point()}"
        else:
            d += kind + " ".join(point() for _ in range({"C": 3, "Q": 2, "S": 2}.get(kind, 1)))
    d += f"L{point()}" + rng.choice(["", "Z"])
    fill = rng.choice(["none", "#000"])
    stroke = "#000" if fill == "none" else rng.choice(["none", "#000"])
    transform = rng.choice(
        ["", "", "translate(10 10) rotate(33) translate(-10 -10)",
         "translate(10 10) scale(1.2 .5) translate(-10 -10)",
         "translate(10 10) matrix(-.8 .2 .3 .9 0 0) translate(-10 -10)"]
    )  # fmt: skip
    return (
        f'<path d="{d}" fill="{fill}" fill-rule="{rng.choice(["nonzero", "evenodd"])}" '
        f'stroke="{stroke}" stroke-width="{rng.choice([0.2, 0.7, 2, 3])}" '
        f'stroke-linecap="{rng.choice(["butt", "round", "square"])}" '
        f'stroke-linejoin="{rng.choice(["miter", "round", "bevel"])}" '
        f'stroke-miterlimit="{rng.choice([1, 2, 4, 10])}" transform="{transform}"/>'
    )


def judged(folder: Path, body: str) -> tuple[BaseGeometry, NDArray[np.float64], NDArray[np.uint8]]:
    """The outline of all motifs, every pixel's centre in mm, and every pixel's alpha."""
    view_box = f"0 0 {SIDE} {SIDE}"
    size = f"{SIDE}mm"
    art = read_art(write_svg(folder, body, width=size, height=size, view_box=view_box))
    drawn = svg(body, width=size, height=size, view_box=view_box)
    alpha = by_resvg(drawn, SIDE * SCALE)[..., 3]
    y, x = np.mgrid[: SIDE * SCALE, : SIDE * SCALE]
    centres = np.stack([x.ravel() + 0.5, y.ravel() + 0.5], axis=1) / SCALE
    return shapely.union_all([m.outline for m in art.motifs]), centres, alpha.ravel()


@pytest.mark.parametrize("seed", range(30))
def test_random_paths_paint_just_their_outline(tmp_path: Path, seed: int) -> None:
    """No painted pixel lies half a pixel outside, no bare one half a pixel inside.

    Both beside the tolerance of curves.
    """
    area, centres, alpha = judged(tmp_path, random_path(seed))
    assert (alpha > 127).sum() > 20
    slack = 0.5 / SCALE + DEFAULT_TOLERANCE
    painted, bare = centres[alpha > 127], centres[alpha <= 127]
    assert shapely.contains_xy(area.buffer(slack), painted).all()
    assert not shapely.contains_xy(area.buffer(-slack), bare).any()


def data_link() -> str:
    """A black picture of 4 × 4 pixels as a data link."""
    out = io.BytesIO()
    Image.new("RGB", (4, 4)).save(out, "PNG")
    return f"data:image/png;base64,{base64.b64encode(out.getvalue()).decode()}"


PICTURE = data_link()
ARROW = (
    '<marker id="m" markerWidth="4" markerHeight="4" refY="2" orient="auto">'
    '<path d="M0 0L4 2L0 4Z"/></marker>'
)
WIDE = 'x="-1" y="-1" width="3" height="3"'
BLUR = f'<filter id="f" {WIDE}><feGaussianBlur stdDeviation="1"/></filter>'
SHADOW = f'<filter id="f" {WIDE}><feDropShadow dx="3" dy="3" stdDeviation="0"/></filter>'

COVERED = [
    # (what could reach beyond the outline of its path, content)
    (
        "dashes with square caps round a circle",
        '<circle cx="10" cy="10" r="5" fill="none" stroke="#000" stroke-width="4" '
        'stroke-linecap="square" stroke-dasharray="5"/>',
    ),
    (
        "dashes with square caps at round corners",
        '<rect x="5" y="5" width="10" height="10" fill="none" stroke="#000" stroke-width="4" '
        'stroke-linecap="square" stroke-linejoin="round" stroke-dasharray="10"/>',
    ),
    (
        "dashes with round caps",
        '<circle cx="10" cy="10" r="5" fill="none" stroke="#000" stroke-width="4" '
        'stroke-linecap="round" stroke-dasharray="5"/>',
    ),
    (
        "dashes of no length",
        '<path d="M5 10H15" stroke="#000" stroke-width="4" stroke-linecap="round" '
        'stroke-dasharray="0 5"/>',
    ),
    (
        "a marker",
        ARROW + '<path d="M5 10H10" stroke="#000" stroke-width="1" marker-end="url(#m)"/>',
    ),
    ("a blur", BLUR + '<rect x="8" y="8" width="4" height="4" filter="url(#f)"/>'),
    ("a shadow", SHADOW + '<rect x="8" y="8" width="4" height="4" filter="url(#f)"/>'),
    (
        "a pattern fill",
        '<pattern id="p" width="1" height="1" patternUnits="userSpaceOnUse">'
        '<rect width="9" height="9"/></pattern><circle cx="10" cy="10" r="5" fill="url(#p)"/>',
    ),
    (
        "a mask",
        '<mask id="m" x="-1" y="-1" width="3" height="3">'
        '<rect width="20" height="20" fill="#fff"/></mask>'
        '<circle cx="10" cy="10" r="5" mask="url(#m)"/>',
    ),
    (
        "an image",
        f'<image x="5" y="5" width="8" height="6" preserveAspectRatio="none" href="{PICTURE}"/>',
    ),
]


@pytest.mark.parametrize("body", [c[1] for c in COVERED], ids=[c[0] for c in COVERED])
def test_nothing_is_painted_outside_the_outline(tmp_path: Path, body: str) -> None:
    """An outline too small is the dangerous side: a copy would go missing."""
    area, centres, alpha = judged(tmp_path, body)
    painted = centres[alpha > 127 if "filter" not in body else alpha > 8]
    assert len(painted) > 100
    assert shapely.contains_xy(area.buffer(0.5 / SCALE), painted).all()


@pytest.mark.parametrize(
    "body",
    ['<text x="10" y="50" font-size="20">leaf</text>', '<g><text x="10" y="50">leaf</text></g>'],
    ids=["text", "text in a group"],
)
def test_text_is_never_lost_without_a_word(tmp_path: Path, body: str) -> None:
    """What is not drawn must be told, with or without an id to tell it by."""
    beside = '<rect id="a" x="80" y="80" width="9" height="9"/>'
    path = write_svg(tmp_path, body + beside)
    for live in (False, True):
        if installed_fonts():
            assert len(read_art(path, live_text=live).motifs) == 2
        else:
            with pytest.raises(InputError, match=r"“leaf”.* no font is installed"):
                read_art(path, live_text=live)


def test_long_lines_are_outlined_in_stretches(tmp_path: Path) -> None:
    # A spiral of 4,000 steps under a stroke ten turns wide: widened at once it takes minutes.
    turns = np.linspace(0, 80 * np.pi, 4000)
    points = " ".join(f"{50 + t / 7 * np.cos(t):.3f},{50 + t / 7 * np.sin(t):.3f}" for t in turns)
    style = 'fill="none" stroke="red" stroke-width="6" stroke-linejoin="round"'
    start = time.process_time()
    (motif,) = read(tmp_path, f'<polyline points="{points}" {style}/>').motifs
    assert time.process_time() - start < 5
    # The turns overlap: all but nothing within the outermost is bare.
    radius = turns[-1] / 7
    assert motif.outline.area == pytest.approx(np.pi * radius**2, rel=0.2)
    assert motif.box.x1 == pytest.approx(50 + radius + 3, abs=0.05)


@pytest.mark.parametrize("cap", ["butt", "round", "square"])
def test_stretches_cover_what_the_whole_line_does(tmp_path: Path, cap: str) -> None:
    # A straight line in 600 steps: arithmetic says what its stroke covers.
    points = " ".join(f"{20 + k / 10:.1f},50" for k in range(601))
    body = f'<polyline points="{points}" fill="none" stroke="red" stroke-width="4" '
    (motif,) = read(tmp_path, body + f'stroke-linecap="{cap}"/>').motifs
    area = 60 * 4 + {"butt": 0.0, "round": np.pi * 4, "square": 4.0 * 4}[cap]
    assert motif.outline.area == pytest.approx(area, rel=1e-3)
    reach = 0 if cap == "butt" else 2
    assert tuple(motif.box) == pytest.approx((20 - reach, 48, 80 + reach, 52), abs=0.01)


def test_what_crosses_itself_too_often_is_outlined_by_its_hull() -> None:
    # A scribble of 2,000 random lines crosses itself several hundred thousand times.
    points = np.random.default_rng(3).random((2000, 2)) * 100
    rings = np.array([shapely.LinearRing(points)], dtype=object)
    start = time.process_time()
    area = filled_area(rings, even_odd=False)
    assert time.process_time() - start < 2
    assert area.equals(shapely.MultiPoint(points).convex_hull)
