"""Blenders: seamless in every layout, without hairlines, as large as they are told."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from support import areas_shown

from vecrepeat.blenders.cloth import arc
from vecrepeat.blenders.crossing import woven
from vecrepeat.blenders.grounds import on_blender
from vecrepeat.blenders.settings import KINDS, Blender
from vecrepeat.core.errors import InputError
from vecrepeat.draw.paint import CairoEngine, Window
from vecrepeat.draw.plan import PixelPlan, plan_pixels
from vecrepeat.repeat.model import Ground, Repeat
from vecrepeat.repeat.wrap import copies, placed

LAYOUTS = ("block", "half-drop", "brick", "drop:1/3", "half-drop+turnover-across")

SMALL: dict[str, dict[str, Any]] = {
    "stripes": {"widths": (2.0, 1.0), "colours": ("#202020", "#909090"), "way": "diagonal"},
    "gingham": {"size": 3.0},
    "windowpane": {"spacing": 8.0, "size": 1.0, "colours": ("#202020", "#909090")},
    "chevron": {"spacing": 8.0, "widths": (2.0,), "colours": ("#202020", "#909090")},
    "lattice": {"spacing": 8.0, "size": 1.0},
    "trellis": {"spacing": 9.0, "size": 1.0},
    "scallops": {"spacing": 8.0, "size": 1.0, "colours": ("#202020", "#909090", "#d0d0d0")},
    "crosshatch": {"spacing": 5.0, "size": 0.8, "length": 9.0},
    "scatter": {"colours": ("#202020", "#909090")},
}
"""What goes round a tile of a few centimetres."""


def cloth(
    kind: str, layout: str = "block", *, width: int = 31, height: int = 37, **told: Any
) -> Repeat:
    told = {"kind": kind, "colours": ("#202020",), **SMALL.get(kind, {}), **told}
    ground = Ground(told.pop("ground", "#ffffff"))
    bare = Repeat("blender", Fraction(width), Fraction(height), (), ground=ground)
    return on_blender(bare.with_layout(layout), Blender.of(told)).repeat


def planned(repeat: Repeat, across: int) -> PixelPlan:
    return plan_pixels(repeat, Fraction(254, 10) * across / repeat.width)


def drawn(engine: CairoEngine, plan: PixelPlan, x: int = 0, y: int = 0) -> NDArray[np.uint8]:
    return engine.painter(plan).paint(Window(x, y, *plan.block))[..., :3]


def blurred(engine: CairoEngine, plan: PixelPlan, by: int = 4) -> NDArray[np.float64]:
    """The block drawn so many times as large, and brought down to its pixels again."""
    larger = replace(plan, width=plan.width * by, height=plan.height * by)
    width, height = plan.block
    fine = drawn(engine, larger).reshape(height, by, width, by, 3).astype(np.float64)
    return np.asarray(fine.mean(axis=(1, 3)))


@pytest.mark.parametrize("kind", KINDS)
def test_it_goes_round_every_layout_without_a_line(kind: str) -> None:
    for number, layout in enumerate(LAYOUTS):
        repeat = cloth(kind, layout, width=23, height=25)
        engine, plan = CairoEngine(repeat), planned(repeat, 41 + 6 * number)
        block = drawn(engine, plan)
        x, y = plan.block[0] * 3 // 7, plan.block[1] * 2 // 5
        assert (drawn(engine, plan, x, y) == np.roll(block, (-y, -x), (0, 1))).all(), layout
        if layout not in ("brick", "drop:1/3"):
            continue
        # A line would stand out from the same drawn finely along a row or a column of pixels.
        off = np.abs(block - blurred(engine, plan)).max(axis=2)
        assert max(off.mean(axis=0).max(), off.mean(axis=1).max()) < 12, layout


@pytest.mark.parametrize("kind", ["stripes", "chevron", "checks", "scallops"])
def test_no_ground_shows_where_areas_meet(kind: str) -> None:
    for layout in LAYOUTS:
        greys = ("#202020", "#d0d0d0", "#909090")[: 3 if kind == "scallops" else 2]
        repeat = cloth(kind, layout, width=23, height=25, ground="#00ff00", colours=greys)
        engine = CairoEngine(repeat)
        for per_mm in (1.33, 2.1):
            plan = planned(repeat, round(float(repeat.width) * per_mm))
            rgb = drawn(engine, plan).astype(int)
            assert np.abs(rgb[..., 1] - rgb[..., 0]).max() <= 1, (layout, per_mm)


def test_stripes_run_on_alike_at_odd_sizes() -> None:
    repeat = cloth("stripes", "drop:1/3", way="down", width=23, height=11)
    engine = CairoEngine(repeat)
    for across in (*range(41, 81, 2), 231):
        rows = drawn(engine, planned(repeat, across)).astype(int)
        # Where a stripe is two or three pixels wide, its tongues reach its edge's pixels.
        assert np.abs(rows - rows[:1]).max() <= (2 if across < 100 else 0)


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("way", ["down", "across", "diagonal"])
def test_stripes_are_as_wide_as_told(way: str, layout: str) -> None:
    colours = ("#202020", "none", "#909090", "#d0d0d0")
    repeat = cloth("stripes", layout, way=way, widths=(3.0, 1.0, 2.0, 0.5), colours=colours)
    found = areas_shown(repeat)
    for colour, width in (("#202020", 3), ("#909090", 2), ("#d0d0d0", 0.5)):
        assert found[colour] == pytest.approx(width / 6.5, abs=1e-9)


def test_lines_cross_as_chance_has_it() -> None:
    # Two families of lines that each cover a share s leave (1 − s)² open, on any lattice.
    told = {"spacing": 10.0, "size": 1.0}
    for layout in ("block", "brick", "drop:1/3"):
        repeat = cloth("lattice", layout, width=60, height=80, **told)
        share = math.hypot(1, (80 / 6) / 10) / (80 / 6)
        assert areas_shown(repeat)["#202020"] == pytest.approx(1 - (1 - share) ** 2, abs=1e-9)


@pytest.mark.parametrize("order", ["grid", "half-drop", "scattered"])
def test_dots_are_exact_circles_that_keep_apart(order: str) -> None:
    repeat = cloth("dots", "drop:1/3", order=order, size=4.0, spacing=8.0, width=48, height=48)
    circles = [path.outline for path in repeat.placements[0].motif.scene.children]  # type: ignore[union-attr]
    radii = {(circle.rx, circle.ry) for circle in circles}  # type: ignore[union-attr]
    assert radii == {(2.0, 2.0)}
    count = {"grid": 36, "half-drop": 8 * 3, "scattered": 36}[order]
    area = sum(math.pi * rx * ry for rx, ry in [(2.0, 2.0)] * len(circles))
    assert area == pytest.approx(count * math.pi * 4, abs=1e-9)
    region = repeat.tile_rect.grown(10)
    boxes = [placed(repeat, copy).outline for copy in copies(repeat, region)]
    dots = shapely.get_parts(shapely.union_all(boxes))
    # Outlines are chords: a dot that touches another would be one with it.
    assert (shapely.area(dots) < 1.02 * math.pi * 4).all()


def test_arcs_are_round_to_millionths() -> None:
    start, points = (1.0, 0.0), arc(0.0, 0.0, 1.0, 0.0, 4.0)
    off = []
    for first, second, end in points:
        for t in np.linspace(0, 1, 21):
            p = [
                (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t * t * (1 - t) * c + t**3 * d
                for a, b, c, d in zip(start, first, second, end, strict=True)
            ]
            off.append(abs(math.hypot(*p) - 1))
        start = end
    assert max(off) < 5e-6
    assert start == pytest.approx((math.cos(4.0), math.sin(4.0)))


def test_gingham_mixes_light() -> None:
    # Half the light of white is 0.735 of full on sRGB's curve (IEC 61966-2-1).
    assert woven("#000000", "#ffffff") == "#bcbcbc"
    found = areas_shown(cloth("gingham", colours=("#000000",), width=48, height=60))
    assert found["#000000"] == pytest.approx(1 / 4)
    assert found["#bcbcbc"] == pytest.approx(1 / 2)


def test_seeds_draw_the_same_again_and_others_otherwise() -> None:
    for kind in ("crosshatch", "dashes", "scatter"):
        one, same, other = (cloth(kind, seed=seed).placements[0] for seed in (3, 3, 4))
        assert one.motif.scene == same.motif.scene != other.motif.scene


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"kind": "chevron", "order": "grid"}, "a chevron has no order"),
        ({"kind": "checks", "colours": ("#000000",) * 3}, "at most 2"),
        ({"kind": "dots", "colours": ("none",)}, "“none” is for stripes"),
        ({"kind": "stripes", "colours": ("#000000",) * 2}, "are a ground"),
        ({"kind": "dots", "size": 9.0, "spacing": 9.0}, "run into each other"),
        ({"kind": "trellis", "spacing": 90.0}, "too small for trellis"),
        ({"kind": "scatter", "size": 0.1, "spacing": 0.2}, "are strewn at most"),
        ({"kind": "windowpane", "size": 0.0001, "spacing": 0.0005}, "more than 20,000 marks"),
    ],
)
def test_what_does_not_go_together_is_told(told: dict[str, Any], said: str) -> None:
    bare = Repeat("blender", Fraction(31), Fraction(37), (), ground=Ground("#ffffff"))
    with pytest.raises(InputError, match=said):
        on_blender(bare, Blender.of({"colours": ("#000000",), **told}))


def test_gingham_needs_a_ground_to_mix_with() -> None:
    with pytest.raises(InputError, match="and there is none"):
        on_blender(
            Repeat("blender", Fraction(31), Fraction(37), ()), Blender.of({"kind": "gingham"})
        )
