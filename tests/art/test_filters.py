"""What filters do to ink, told without drawing; SVG's definitions and resvg are the judges."""

from __future__ import annotations

import base64
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from support import root, scene_of, write_svg

from vecrepeat.art import ink, inker
from vecrepeat.art.filters import bound_octaves, ink_of
from vecrepeat.art.read import read_art
from vecrepeat.art.xml import SVG
from vecrepeat.draw.resvg import rasterise
from vecrepeat.scene.nodes import Element, Group

HARD = f'<feColorMatrix in="SourceAlpha" values="{"0 " * 18}127 0" result="h"/>'
CUT = '<feComposite in2="h" operator="arithmetic" k2="-1" k3="1"/>'
INNER = (
    f'{HARD}<feOffset dx="1"/><feGaussianBlur stdDeviation="2"/>{CUT}<feBlend in2="SourceGraphic"/>'
)

FILTERS = [
    # (what it is, its primitives, how far it reaches, whether it keeps all of the source)
    ("nothing", "", 0, True),
    ("a blur", '<feGaussianBlur stdDeviation="2"/>', 6, True),
    ("a blur both ways", '<feGaussianBlur stdDeviation="1 3"/>', 9, True),
    ("a move", '<feOffset dx="3" dy="4"/>', 5, False),
    ("a drop shadow", '<feDropShadow dx="3" dy="4" stdDeviation="1"/>', 8, True),
    ("an inner shadow", INNER, 0, True),
    ("a flood", "<feFlood/>", math.inf, False),
    ("a clear flood", '<feFlood flood-opacity="0"/>', 0, False),
    ("a flood in the source", '<feFlood/><feComposite in2="SourceAlpha" operator="in"/>', 0, False),
    ("alpha from nowhere", f'<feColorMatrix values="{"0 " * 19}1"/>', math.inf, False),
    ("a tint", '<feColorMatrix type="saturate" values=".2"/>', 0, True),
    ("noise", '<feTurbulence baseFrequency=".1"/>', math.inf, False),
    ("a merge", '<feOffset dx="2" result="o"/><feMerge><feMergeNode in="o"/><feMergeNode '
     'in="SourceGraphic"/></feMerge>', 2, True),
    ("a region of its own", '<feOffset x="5" width="9"/>', 0, False),
    ("an unknown input", '<feGaussianBlur in="other"/>', math.inf, False),
]  # fmt: skip


@pytest.mark.parametrize(
    ("primitives", "reach", "whole"), [pytest.param(*r[1:], id=r[0]) for r in FILTERS]
)
def test_where_a_filter_has_ink(primitives: str, reach: float, whole: bool) -> None:
    scene = scene_of(f'<filter id="f">{primitives}</filter><path d="M0 0h9" filter="url(#f)"/>')
    (group,) = scene.children
    assert isinstance(group, Group)
    assert group.filter is not None
    (definition,) = group.filter.steps
    assert isinstance(definition, Element)
    found = ink_of(definition)
    assert found.reach == pytest.approx(reach)
    assert found.whole == whole


@pytest.mark.parametrize(("asked", "kept"), [("3", "3"), ("2e9", "10"), ("x", "x")])
def test_octaves_nobody_sees_are_left_out(asked: str, kept: str) -> None:
    drawing = root(f'<filter><feTurbulence numOctaves="{asked}"/></filter>')
    bound_octaves(drawing)
    assert [e.get("numOctaves") for e in drawing.iter(f"{{{SVG}}}feTurbulence")] == [kept]


def test_octaves_left_out_change_no_pixel_by_more_than_two_levels() -> None:
    noise = '<feTurbulence type="{}" baseFrequency=".03" numOctaves="{}"/>'
    for kind in ("turbulence", "fractalNoise"):
        few, many = (
            rasterise(
                f'<svg xmlns="http://www.w3.org/2000/svg" width="60" height="60"><filter id="f" '
                f'color-interpolation-filters="sRGB">{noise.format(kind, octaves)}</filter>'
                '<rect width="60" height="60" filter="url(#f)"/></svg>',
                *(60, 60),
            ).astype(int)
            for octaves in (10, 24)
        )
        assert np.abs(few - many).max() <= 2


PIXEL = (
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJg"
    "gg=="
)
LIT = (
    f'<filter id="i">{INNER}</filter><filter id="b"><feGaussianBlur stdDeviation="1"/></filter>'
    '<g id="leaf"><path d="M20 20h40v40h-40z" fill="#383" filter="url(#i)"/>'
    '<path d="M35 35h9v9z" fill="#fff" filter="url(#b)"/></g><circle id="bud" cx="9" cy="9" r="5"/>'
)


def test_filters_within_a_motif_need_no_drawing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A shadow inside the shape and a soft light on it leave its bounds as they are.
    monkeypatch.setattr("vecrepeat.art.ink.measure", None)
    motif, _ = read_art(write_svg(tmp_path, LIT)).motifs
    assert tuple(motif.box) == pytest.approx((20, 20, 60, 60), abs=0.05)


def test_a_shadow_beyond_the_shape_is_measured(tmp_path: Path) -> None:
    body = (
        '<filter id="f" x="-1" y="-1" width="3" height="3"><feDropShadow dx="9" stdDeviation="1"/>'
        '</filter><path id="a" d="M20 20h40v40h-40z" filter="url(#f)"/>'
    )
    (motif,) = read_art(write_svg(tmp_path, body)).motifs
    x0, _, x1, _ = motif.box
    assert x0 == pytest.approx(20, abs=0.5)
    assert 60 + 9 + 2 < x1 < 60 + 9 + 3 + 0.5


LIGHT = '<ellipse cx="{}" cy="50" rx="8" ry="4" fill="#fff" filter="url(#l)"/>'
LEAF = (
    '<defs><filter id="l" x="-2" y="-2" width="5" height="5">'
    '<feGaussianBlur stdDeviation="2"/></filter></defs>'
    '<rect x="20" y="20" width="60" height="60" fill="#456"/>'
)


@pytest.mark.parametrize(
    ("at", "pictures", "right"),
    [
        pytest.param(50, 0, 80.0, id="a light on a leaf"),
        # By resvg, 3,200 px a side.
        pytest.param(78, 2, 90.97, id="a light over its edge"),
    ],
)
def test_of_a_loose_drawing_only_what_reaches_beyond_is_drawn(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int, pictures: int, right: float
) -> None:
    drawn: list[int] = []

    def counted(svg: str, width: int, height: int, **how: Any) -> Any:
        drawn.append(width * height)
        return rasterise(svg, width, height, **how)

    monkeypatch.setattr(ink, "rasterise", counted)
    body = LEAF + LIGHT.format(at)
    [motif] = read_art(write_svg(tmp_path, body), loose=True, backdrop=True).motifs
    assert len(drawn) == pictures
    assert sum(drawn) < 160**2 + 360**2
    assert right - 0.02 <= motif.box.x1 <= right + 0.7
    assert (motif.box.x0, motif.box.y0) == pytest.approx((20, 20), abs=0.02)


def test_what_filters_work_on_is_known_of_pictures_too(tmp_path: Path) -> None:
    # A picture's box is its rectangle (SVG 2 §8.10); regions here are 1.5 and 1.2 times the box.
    (tmp_path / "p.png").write_bytes(base64.b64decode(PIXEL))
    body = (
        '<filter id="f" x="-.25" y="-.25" width="1.5" height="1.5"><feOffset/></filter>'
        '<filter id="g"><feOffset/></filter><g id="a">'
        '<image x="20" y="30" width="8" height="4" preserveAspectRatio="none" href="p.png" '
        'filter="url(#f)"/><rect x="50" y="60" width="20" height="10" filter="url(#g)"/></g>'
    )
    (motif,) = read_art(write_svg(tmp_path, body), motifs="#a").motifs
    assert [tuple(region) for region in motif.regions] == [
        pytest.approx((18, 29, 30, 35)),
        pytest.approx((48, 59, 72, 71)),
    ]


def test_drawings_whose_filters_take_too_long_are_refused_by_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(inker, "MEASURING_SECONDS", 0.0)
    body = '<filter id="f"><feTurbulence baseFrequency=".1"/></filter>' + (
        '<path id="mist" d="M20 20h40v40h-40z" filter="url(#f)"/>'
    )
    with pytest.raises(ValueError, match="“mist”: its filters, masks or text take too long"):
        read_art(write_svg(tmp_path, body))
