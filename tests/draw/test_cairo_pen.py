"""What the pen draws is the same wherever on the canvas it is drawn."""

from __future__ import annotations

import math
from dataclasses import replace

import cairocffi
import numpy as np
import pytest
from support import Pixels

from vecrepeat.core.geometry import Affine
from vecrepeat.draw.cairo_pen import Pen
from vecrepeat.scene.nodes import Gradient, Stop, Stroke

WIDTH, HEIGHT = 220, 160
STOPS = [(0.0, (230, 77, 26)), (0.6, (51, 204, 77)), (1.0, (26, 102, 204))]
OFFSETS = [1, 137, 450, 999, 1777, 2050]


def picture(pen: Pen) -> Pixels:
    """What a pen has drawn, in cairo's words."""
    pen.check()
    data, stride = pen.pixels()
    return np.frombuffer(data, np.uint8).reshape(pen.height, stride // 4, 4).copy()


def closed_stroke(x: int, y: int) -> Pixels:
    """A flower's eye of the night garden, its round join's mitre tip on an edge, moved."""
    # In cairo's own steps of 1/256 px, so that nothing is rounded on the way in.
    points = np.array(
        [
            [(34620, 96876), (34608, 97020), (34296, 97128), (33912, 97116)],
            [(33912, 97116), (33528, 97092), (33228, 96948), (33228, 96804)],
            [(33228, 96804), (33240, 96648), (33552, 96540), (33936, 96564)],
            [(33936, 96564), (34320, 96576), (34620, 96720), (34620, 96876)],
        ]
    )
    points = points / 256 - (110, 360) + (x, y)
    with Pen(40 + x, 40 + y) as pen:
        lib, context = pen.lib, pen.context
        lib.cairo_move_to(context, *points[0, 0])
        for curve in points:
            lib.cairo_curve_to(context, *curve[1:].ravel())
        lib.cairo_close_path(context)
        pen.transform(Affine.scaling(-0.46875))
        pen.colour("#000000", 1)
        pen.style(Stroke("#000000", 2.2, join="round"), smooth=False)
        lib.cairo_stroke_preserve(context)
        return picture(pen)[y:, x:]


def test_a_closed_stroke_with_round_joins_is_the_same_on_every_row() -> None:
    first = closed_stroke(0, 0)
    assert first.any()
    # cairo's own context draws 85 of these 1,000 otherwise.
    assert all(np.array_equal(closed_stroke(0, y), first) for y in range(1000))


def gradient(kind: str, width: float, height: float) -> Gradient:
    """A gradient over the box of a shape, as `objectBoundingBox` has it."""
    line = (0, 0, 1, 0.3) if kind == "linear" else (0.5, 0.5, 0, 0.5, 0.5, 0.5)
    stops = tuple(Stop(at, f"#{bytes(colour).hex()}") for at, colour in STOPS)
    return Gradient(kind == "radial", line, Affine.scaling(width, height), "pad", stops)


def shape(kind: str, x: int, y: int, cut: tuple[int, int] = (0, 0)) -> Pixels:
    """A sheared shape of about 150 × 100 px, moved; ``cut`` rows of the canvas are missing."""
    with Pen(WIDTH + x, HEIGHT - sum(cut) + y) as pen:
        lib, context = pen.lib, pen.context
        pen.matrix = (1.3, 0.2, -0.3, 1.1, 60 + x, 20.3 + y - cut[0])
        pen.gradient(gradient(kind, 100, 60), 1)
        lib.cairo_move_to(context, 0, 0)
        lib.cairo_curve_to(context, 30, -20, 80, -10, 100, 10)
        lib.cairo_curve_to(context, 130, 60, 80, 80, 0, 60)
        lib.cairo_fill_preserve(context)
        return picture(pen)[y:, x:]


@pytest.mark.parametrize("kind", ["linear", "radial"])
def test_a_gradient_is_the_same_wherever_it_is_drawn(kind: str) -> None:
    first = shape(kind, 0, 0)
    for offset in OFFSETS:
        assert np.array_equal(shape(kind, 0, offset), first)
        assert np.array_equal(shape(kind, offset, 0), first)


@pytest.mark.parametrize("kind", ["linear", "radial"])
def test_a_gradient_is_the_same_where_the_canvas_cuts_its_shape(kind: str) -> None:
    first = shape(kind, 0, 0)
    for rows in (31, 40, 57):
        assert np.array_equal(shape(kind, 0, 0, (rows, 0)), first[rows:])
        assert np.array_equal(shape(kind, 0, 0, (0, rows)), first[:-rows])


@pytest.mark.parametrize(
    ("kind", "width", "height", "allowed"),
    [
        ("linear", 100, 60, 0.6),
        ("linear", 3, 300, 0.6),
        ("linear", 800, 700, 0.6),
        ("radial", 100, 60, 0.6),
        ("radial", 800, 700, 0.6),
        # Its map differs a hundredfold across and down; 16.16 holds less of the smaller.
        ("radial", 300, 3, 1.3),
    ],
)
def test_a_gradient_is_the_colour_that_the_standard_gives(
    kind: str, width: float, height: float, allowed: float
) -> None:
    """Colour by arithmetic at the middle of each pixel: half a level of rounding, little more.

    Source: SVG 1.1 §13.2, *Gradients*.
    """
    matrix = Affine(1.3, 0.2, -0.3, 1.1, 10 + 0.3 * height, 5.3)
    size = (math.ceil(1.3 * width + 0.3 * height) + 20, math.ceil(1.1 * height + 0.2 * width) + 20)
    with Pen(*size) as pen:
        pen.matrix = matrix
        pen.gradient(gradient(kind, width, height), 1)
        pen.lib.cairo_paint(pen.context)
        drawn = picture(pen)[..., 2::-1]
    back = matrix.inverse()
    y, x = np.mgrid[: size[1], : size[0]] + 0.5
    u = (back.a * x + back.c * y + back.e) / width
    v = (back.b * x + back.d * y + back.f) / height
    t = (u + 0.3 * v) / 1.09 if kind == "linear" else np.hypot(u - 0.5, v - 0.5) / 0.5
    inside = (u > 0) & (u < 1) & (v > 0) & (v < 1)
    assert inside.sum() > 500
    for channel in range(3):
        levels = [colour[channel] for _, colour in STOPS]
        expected = np.interp(t, [offset for offset, _ in STOPS], levels)
        assert np.abs(drawn[..., channel] - expected)[inside].max() <= allowed


@pytest.mark.parametrize("line", [(1, 1, 1, 1), (1, 1, 0, 1, 1, 0)], ids=["linear", "radial"])
def test_a_gradient_without_length_is_left_to_cairo(line: tuple[float, ...]) -> None:
    found = replace(gradient("linear", 1, 1), radial=len(line) == 6, line=line)
    with Pen(3, 3) as pen:
        pen.gradient(found, 1)
        pen.lib.cairo_paint(pen.context)
        ours = picture(pen).tobytes()
    kind = cairocffi.RadialGradient if found.radial else cairocffi.LinearGradient
    source = kind(*line)
    for offset, colour in STOPS:
        source.add_color_stop_rgb(offset, *(level / 255 for level in colour))
    image = cairocffi.ImageSurface(cairocffi.FORMAT_ARGB32, 3, 3)
    context = cairocffi.Context(image)
    context.set_source(source)
    context.paint()
    image.flush()
    assert ours == bytes(image.get_data())
