"""The page: its exact size in mm, and the map from user units to it.

Sources: SVG 2 §8.2 (viewBox to viewport) and §8.9 (units); CSS Values and Units 4 §6.2
(1in = 96px = 25.4mm).
"""

from __future__ import annotations

import math
from fractions import Fraction as F  # noqa: N817

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree
from support import by_resvg, svg

from vecrepeat.art.page import (
    Page,
    Viewport,
    parse_view_box,
    read_page,
    user_length,
)
from vecrepeat.core.errors import InputError
from vecrepeat.scene.fit import view_box_transform

INCH = F(254, 10)
PX = 25.4 / 96


def page(width: str | None, height: str | None, view_box: str | None, aspect: str = "") -> Page:
    attributes = f'preserveAspectRatio="{aspect}"' if aspect else ""
    text = svg(width=width, height=height, view_box=view_box, attributes=attributes)
    return read_page(etree.fromstring(text))


PAGES: list[tuple[str, str | None, str | None, str | None, F, F, float]] = [
    # (what it shows, width, height, viewBox, width in mm, height in mm, mm per user unit)
    ("mm with a viewBox", "100mm", "50mm", "0 0 100 50", F(100), F(50), 1.0),
    ("mm with a viewBox of other units", "100mm", "50mm", "0 0 1000 500", F(100), F(50), 0.1),
    ("inches", "10in", "10in", "0 0 1000 1000", F(254), F(254), 0.254),
    ("no unit is px, at 96 an inch", "96", "192", None, INCH, 2 * INCH, PX),
    ("px", "96px", "192px", None, INCH, 2 * INCH, PX),
    ("a page without viewBox still has px units", "1in", "1in", None, INCH, INCH, PX),
    ("points", "72pt", "36pt", "0 0 72 36", INCH, F(127, 10), 25.4 / 72),
    ("picas", "6pc", "3pc", "0 0 2 1", INCH, F(127, 10), 12.7),
    ("centimetres with decimals", "64.5cm", "10.05cm", "0 0 645 100.5", F(645), F(1005, 10), 1.0),
    ("a decimal that floats can't hold", "0.1cm", "0.3cm", "0 0 1 3", F(1), F(3), 1.0),
    ("only a viewBox: px", None, None, "0 0 96 192", INCH, 2 * INCH, PX),
    ("percentages are no size of their own", "100%", "100%", "0 0 96 192", INCH, 2 * INCH, PX),
    ("auto is no size of its own", "auto", "auto", "0 0 96 192", INCH, 2 * INCH, PX),
    ("the height from the viewBox's proportion", "100mm", None, "0 0 40 20", F(100), F(50), 2.5),
    ("the width from the viewBox's proportion", None, "100mm", "0 0 40 20", F(200), F(100), 5.0),
    ("a height in percent likewise", "100mm", "100%", "0 0 40 20", F(100), F(50), 2.5),
    ("spaces around a length", " 100mm ", "50mm", "0 0 100 50", F(100), F(50), 1.0),
    ("an exponent", "1e2mm", "5e1mm", "0 0 1e2 5e1", F(100), F(50), 1.0),
    ("capital units", "100MM", "50Mm", "0 0 100 50", F(100), F(50), 1.0),
    ("commas in the viewBox", "100mm", "50mm", "0,0,100,50", F(100), F(50), 1.0),
    ("the smallest page", "0.1mm", "0.1mm", "0 0 1 1", F(1, 10), F(1, 10), 0.1),
    ("the largest page", "100000mm", "100000mm", "0 0 1 1", F(100000), F(100000), 100000.0),
]  # fmt: skip


@pytest.mark.parametrize(
    ("width", "height", "view_box", "mm_width", "mm_height", "unit"),
    [p[1:] for p in PAGES],
    ids=[p[0] for p in PAGES],
)
def test_pages(
    width: str | None,
    height: str | None,
    view_box: str | None,
    mm_width: F,
    mm_height: F,
    unit: float,
) -> None:
    found = page(width, height, view_box)
    assert (found.width, found.height) == (mm_width, mm_height)
    assert found.to_mm == pytest.approx((unit, 0, 0, unit, 0, 0), rel=1e-15, abs=0)


FITS = [
    # (what it shows, viewBox, preserveAspectRatio, matrix) for a page of 100 mm × 50 mm
    ("the viewBox's corner is the page's", "10 20 100 50", "", (1, 0, 0, 1, -10, -20)),
    ("none stretches", "0 0 10 10", "none", (10, 0, 0, 5, 0, 0)),
    ("none with a corner", "1 2 10 10", "none", (10, 0, 0, 5, -10, -10)),
    ("the default is xMidYMid meet", "0 0 10 10", "", (5, 0, 0, 5, 25, 0)),
    ("xMidYMid meet", "0 0 10 10", "xMidYMid meet", (5, 0, 0, 5, 25, 0)),
    ("xMinYMin meet", "0 0 10 10", "xMinYMin meet", (5, 0, 0, 5, 0, 0)),
    ("xMaxYMax meet", "0 0 10 10", "xMaxYMax meet", (5, 0, 0, 5, 50, 0)),
    ("xMidYMid slice", "0 0 10 10", "xMidYMid slice", (10, 0, 0, 10, 0, -25)),
    ("xMinYMin slice", "0 0 10 10", "xMinYMin slice", (10, 0, 0, 10, 0, 0)),
    ("xMaxYMax slice", "0 0 10 10", "xMaxYMax slice", (10, 0, 0, 10, 0, -50)),
    ("meet in a tall viewBox", "0 0 10 25", "xMaxYMin", (2, 0, 0, 2, 80, 0)),
    ("slice in a wide viewBox", "0 0 100 10", "xMaxYMid slice", (5, 0, 0, 5, -400, 0)),
    ("the old defer is ignored", "0 0 10 10", "defer xMinYMin meet", (5, 0, 0, 5, 0, 0)),
    ("a value in error is the default", "0 0 10 10", "xmidymid", (5, 0, 0, 5, 25, 0)),
]


@pytest.mark.parametrize(
    ("view_box", "aspect", "matrix"), [f[1:] for f in FITS], ids=[f[0] for f in FITS]
)
def test_fitting_a_view_box(view_box: str, aspect: str, matrix: tuple[float, ...]) -> None:
    assert page("100mm", "50mm", view_box, aspect).to_mm == pytest.approx(matrix, abs=1e-12)


@pytest.mark.parametrize(
    ("view_box", "aspect"), [f[1:3] for f in FITS[:-1]], ids=[f[0] for f in FITS[:-1]]
)
def test_fitting_is_as_resvg_does_it(view_box: str, aspect: str) -> None:
    """A rectangle of user units falls on the same pixels as one drawn through our matrix."""
    x, y, w, h = (float(v) for v in view_box.split())
    spot = (x + w / 8, y + h / 8, w * 3 / 4, h * 3 / 4)
    attributes = f'preserveAspectRatio="{aspect}"' if aspect else ""
    rect = "<rect x='{}' y='{}' width='{}' height='{}'/>".format(*spot)
    theirs = svg(rect, width="100mm", height="50mm", view_box=view_box, attributes=attributes)
    to_mm = page("100mm", "50mm", view_box, aspect).to_mm
    ours = svg(
        f'<g transform="{to_mm.svg()}">{rect}</g>',
        width="100mm", height="50mm", view_box="0 0 100 50",
    )  # fmt: skip
    one, other = by_resvg(theirs, 200, 100), by_resvg(ours, 200, 100)
    assert one[..., 3].any()
    assert np.abs(one.astype(int) - other).max() <= 1


@given(
    st.tuples(*[st.fractions(1, 1000, max_denominator=100)] * 4),
    st.fractions(-100, 100, max_denominator=100),
    st.sampled_from(["Min", "Mid", "Max"]),
    st.sampled_from(["Min", "Mid", "Max"]),
    st.sampled_from(["meet", "slice"]),
)
def test_meet_shows_all_and_slice_fills_all(
    sides: tuple[F, F, F, F], corner: F, x_align: str, y_align: str, how: str
) -> None:
    """SVG 2 §8.2 in words: the box touches the viewport on both sides of one axis."""
    width, height, w, h = sides
    fit = view_box_transform((corner, corner, w, h), width, height, f"x{x_align}Y{y_align} {how}")
    assert fit.a == fit.d
    x0, y0 = fit.a * float(corner) + fit.e, fit.d * float(corner) + fit.f
    gaps_x = (x0, float(width) - (x0 + fit.a * float(w)))
    gaps_y = (y0, float(height) - (y0 + fit.d * float(h)))
    near = 1e-6 * float(max(sides))
    sign = 1 if how == "meet" else -1
    assert all(sign * gap >= -near for gap in (*gaps_x, *gaps_y))
    assert min(abs(sum(gaps_x)), abs(sum(gaps_y))) <= near
    for (before, after), align in ((gaps_x, x_align), (gaps_y, y_align)):
        expected = {"Min": before, "Mid": before - after, "Max": after}[align]
        assert abs(expected) <= near


BAD = [
    # (what is wrong, width, height, viewBox, a part of what the user is told)
    ("no size at all", None, None, None, "no size"),
    ("percent without a viewBox", "100%", "100%", None, "no size"),
    ("one side without a viewBox", "100mm", None, None, "no size"),
    ("a zero width", "0", "10", None, "width is zero"),
    ("a negative height", "10", "-10", None, "height is negative"),
    ("too small", "0.09mm", "10mm", None, "absurd"),
    ("too large", "100001mm", "10mm", None, "absurd"),
    ("an unknown unit", "10furlong", "10mm", None, "unknown unit"),
    ("no length", "wide", "10mm", None, "not a length"),
    ("a viewBox of three numbers", "10mm", "10mm", "0 0 10", "viewBox"),
    ("a viewBox of words", "10mm", "10mm", "a b c d", "viewBox"),
    ("a viewBox without width", "10mm", "10mm", "0 0 0 10", "viewBox"),
    ("a viewBox of negative height", "10mm", "10mm", "0 0 10 -1", "viewBox"),
]


@pytest.mark.parametrize(
    ("width", "height", "view_box", "told"), [b[1:] for b in BAD], ids=[b[0] for b in BAD]
)
def test_pages_that_are_refused(
    width: str | None, height: str | None, view_box: str | None, told: str
) -> None:
    with pytest.raises(InputError, match=told):
        page(width, height, view_box)


LENGTHS: list[tuple[str, str | None, str, float | None]] = [
    # (what it shows, text, axis, user units) in a viewport of 300 × 400, a font of 20
    ("a plain number", "12", "x", 12),
    ("px", "12px", "x", 12),
    ("an inch", "1in", "x", 96),
    ("a centimetre", "2.54cm", "x", 96),
    ("a millimetre", "25.4mm", "x", 96),
    ("a point", "72pt", "x", 96),
    ("a pica", "6pc", "x", 96),
    ("a quarter-millimetre", "101.6Q", "x", 96),
    ("percent across", "50%", "x", 150),
    ("percent down", "50%", "y", 200),
    # SVG 2 §8.9: sqrt((width² + height²) / 2).
    ("percent of neither", "10%", "xy", 0.1 * math.sqrt((300**2 + 400**2) / 2)),
    ("em", "1.5em", "x", 30),
    ("ex, half an em where no font says more", "2ex", "x", 20),
    ("rem", "2rem", "x", 32),
    ("vw", "10vw", "x", 30),
    ("negative", "-3", "x", -3),
    ("an exponent", "1e-2", "x", 0.01),
    ("metres are no unit of CSS", "1m", "x", None),
    ("yards are no unit of CSS", "1yd", "x", None),
    ("a word", "wide", "x", None),
    ("nothing", "", "x", None),
    ("no attribute", None, "x", None),
    ("nan", "nan", "x", None),
]


@pytest.mark.parametrize(
    ("text", "axis", "units"), [r[1:] for r in LENGTHS], ids=[r[0] for r in LENGTHS]
)
def test_lengths_in_user_units(text: str | None, axis: str, units: float | None) -> None:
    found = user_length(text, axis, Viewport(300, 400), 20)
    assert found == (None if units is None else pytest.approx(units, rel=1e-12))


@pytest.mark.parametrize(
    ("text", "box"),
    [
        ("0 0 10 20", (F(0), F(0), F(10), F(20))),
        ("-1.5,2 , 1e2  .5", (F(-3, 2), F(2), F(100), F(1, 2))),
        ("0.1 0.2 0.3 0.4", (F(1, 10), F(1, 5), F(3, 10), F(2, 5))),
        ("0 0 10", None),
        ("0 0 10 20 30", None),
        ("0 0 10px 20px", None),
        ("0 0 inf 20", None),
        ("", None),
        (None, None),
    ],
    ids=str,
)
def test_view_boxes_are_read_exactly(text: str | None, box: tuple[F, F, F, F] | None) -> None:
    assert parse_view_box(text) == box
