"""Motifs drawn once and turned: held to the same cloth drawn much finer, and to arithmetic."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from test_resvg_paint import FEATURES, motif, moved, planned, repeat_of

from vecrepeat.core.geometry import Affine
from vecrepeat.draw import fine
from vecrepeat.draw.cairo_library import NATIVE_ORDER
from vecrepeat.draw.fine import FINER, fine_picture, fine_scale
from vecrepeat.draw.mixed import OFTEN, MixedEngine
from vecrepeat.draw.paint import Window
from vecrepeat.draw.plan import PixelPlan
from vecrepeat.draw.resvg_paint import ResvgEngine, ResvgPainter
from vecrepeat.repeat.model import Motif, Placement, Repeat
from vecrepeat.repeat.wrap import Copy
from vecrepeat.util.kept import Kept

PLACES = tuple(
    Affine(c, s, -s, c, x, y)
    for k in range(OFTEN)
    for c, s in [(math.cos(0.8 * k) * 0.7, math.sin(0.8 * k) * 0.7)]
    for x, y in [(15.3 * (k % 4), 25.2 * (k // 4))]
)


def tossed(one: Motif, layout: str = "block") -> Repeat:
    placements = tuple(Placement(one, place) for place in PLACES)
    return replace(repeat_of([one], layout), placements=placements)


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[Copy]:
    """What the second engine was asked for."""
    asked: list[Copy] = []
    alone = ResvgPainter.paint_alone

    def counted(painter: ResvgPainter, copy: Copy, window: object) -> object:
        asked.append(copy)
        return alone(painter, copy, window)  # type: ignore[arg-type]

    monkeypatch.setattr(ResvgPainter, "paint_alone", counted)
    monkeypatch.setattr(fine, "_kept", Kept(1 << 26))
    return asked


def alone(repeat: Repeat, plan: PixelPlan, box: Window, times: int = 1) -> NDArray[np.float64]:
    """The first placement, drawn where it stands so many times as fine, each pixel a mean."""
    plan = PixelPlan(repeat, plan.dpi, plan.printed, plan.width * times, plan.height * times)
    window = Window(*(times * side for side in box))
    pixels = ResvgEngine(repeat).painter(plan).paint_alone(Copy(0, 0, 0), window)
    rows = pixels.reshape(box.height, times, box.width, times, 4)
    return np.asarray(rows.mean(axis=(1, 3)))


@pytest.mark.parametrize(("feature", "share"), [("blur", 0.7), ("mask", 1.0)])
def test_it_is_near_to_a_finer_drawing_in_place(feature: str, share: float) -> None:
    """Where there are filters it is nearer to that than one drawing in place is."""
    one = motif(feature, FEATURES[feature])
    turned = Placement(one, Affine(0.5, 0.3, -0.3, 0.5, 20.3, 20.6))
    repeat = replace(repeat_of([one], ground=None), placements=(turned,))
    plan = planned(repeat, 120)
    matrix = Affine.scaling(*plan.scale) @ turned.transform
    found = fine_picture(one, 3 * matrix.stretch).turned(matrix)
    box = Window(found.x, found.y, *found.pixels.shape[1::-1])
    truth = alone(repeat, plan, box, 6)
    ours = np.abs(found.pixels[..., list(NATIVE_ORDER)] - truth).mean()
    assert ours < 2.5
    assert ours < share * np.abs(alone(repeat, plan, box) - truth).mean()


@pytest.mark.parametrize("layout", ["block", "half-drop"])
def test_it_is_drawn_once_and_lies_alike_in_every_tile(layout: str, drawn: list[Copy]) -> None:
    repeat = tossed(motif("blur", FEATURES["blur"]), layout)
    plan = planned(repeat, 40)
    painter = MixedEngine(repeat, [repeat.placements[0].motif]).painter(plan)
    tile = painter.paint(moved(plan, 0, 0))
    assert len(drawn) == 1
    assert np.array_equal(tile, painter.paint(moved(plan, 3, -2)))


def test_a_shadow_turns_with_its_motif() -> None:
    """A filter works in user space (Filter Effects 1 §4): half a turn moves it to the other side.

    Its shadow lies 2 mm to the right; at a pixel to the mm a square of 4 mm is 16 px.
    """
    region = 'filterUnits="userSpaceOnUse" x="-5" y="-5" width="10" height="10"'
    one = motif(
        "shadow",
        f'<filter id="s" {region}><feOffset dx="2"/></filter>'
        '<rect x="-2" y="-2" width="4" height="4" filter="url(#s)"/>',
    )
    for turn, left in ((1, 10), (-1, 6)):
        matrix = Affine(turn, 0.0, 0.0, turn, 10.0, 10.0)
        found = fine_picture(one, 3.0).turned(matrix)
        assert (found.x, found.y, found.pixels.shape) == (left, 8, (4, 4, 4))
        assert (found.pixels[..., 3] == 255).all()


def test_a_much_smaller_one_is_a_mean_of_the_picture() -> None:
    """A quarter of the size: a disc of 9.3 mm has (9.3 / 4)² π mm² of ink."""
    one = motif("disc", '<circle r="9.3" fill="#a33"/>')
    found = fine_picture(one, 4.0).turned(Affine(1.0, 0.0, 0.0, 1.0, 0.3, 0.6))
    ink = found.pixels[..., 3].sum() / 255
    assert ink == pytest.approx(math.pi * 9.3**2, rel=0.005)


def test_what_keeps_to_pixels_is_drawn_where_it_stands(drawn: list[Copy]) -> None:
    """Light is reckoned from one pixel to the next (Filter Effects 1 §9.9), however large."""
    lit = (
        '<filter id="l" filterUnits="userSpaceOnUse" x="-9" y="-9" width="18" height="18">'
        '<feDiffuseLighting surfaceScale="3"><feDistantLight azimuth="30" elevation="40"/>'
        '</feDiffuseLighting></filter><circle r="6" filter="url(#l)"/>'
    )
    assert fine_scale(motif("lit", lit), 4.0) is None
    repeat = tossed(motif("blur", FEATURES["blur"]))
    flat = Placement(repeat.placements[0].motif, Affine(1.0, 0.0, 0.0, 0.1, 20.0, 20.0))
    repeat = replace(repeat, placements=(*repeat.placements, flat))
    plan = planned(repeat, 40)
    MixedEngine(repeat, [flat.motif]).painter(plan).paint(moved(plan, 0, 0))
    # Once for all that stand as they are, and once for the one that is squeezed.
    assert len(drawn) == 2


def test_a_large_one_is_less_fine() -> None:
    """A motif of 28 mm, its margin not counted, has 8 million pixels at 103 to the mm."""
    one = motif("blur", FEATURES["blur"])
    found = [fine_scale(one, scale) for scale in (34.0, 35.0, 51.0, 52.0, 69.0)]
    most, half, less = FINER
    assert found == [34 * most, 35 * half, 51 * half, 52 * less, None]
