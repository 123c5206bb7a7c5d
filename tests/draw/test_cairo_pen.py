"""What the pen draws is the same wherever on the canvas it is drawn."""

from __future__ import annotations

import math

import cairocffi
import numpy as np
import pytest
from cairocffi import LinearGradient, Matrix, RadialGradient
from support import Pixels

from vecrepeat.draw.cairo_pen import Pen

WIDTH, HEIGHT = 220, 160
STOPS = [(0.0, (0.9, 0.3, 0.1)), (0.6, (0.2, 0.8, 0.3)), (1.0, (0.1, 0.4, 0.8))]
OFFSETS = [1, 137, 450, 999, 1777, 2050]


def closed_stroke(x: int, y: int) -> Pixels:
    """A flower's eye of the night garden, its round join's mitre tip on an edge, moved."""
    image = cairocffi.ImageSurface(cairocffi.FORMAT_ARGB32, 40 + x, 40 + y)
    pen = Pen(image)
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
    pen.move_to(*points[0, 0])
    for curve in points:
        pen.curve_to(*curve[1:].ravel())
    pen.close_path()
    pen.scale(-0.46875, -0.46875)
    pen.set_line_width(2.2)
    pen.set_line_join(cairocffi.LINE_JOIN_ROUND)
    pen.set_miter_limit(4)
    pen.stroke()
    image.flush()
    return np.frombuffer(image.get_data(), np.uint8).reshape(40 + y, -1, 4)[y:, x:].copy()


def test_a_closed_stroke_with_round_joins_is_the_same_on_every_row() -> None:
    first = closed_stroke(0, 0)
    assert first.any()
    # cairo's own context draws 85 of these 1,000 otherwise.
    assert all(np.array_equal(closed_stroke(0, y), first) for y in range(1000))


def gradient(kind: str, width: float, height: float) -> cairocffi.Gradient:
    """A gradient over the box of a shape, as `objectBoundingBox` has it."""
    found = (
        LinearGradient(0, 0, 1, 0.3)
        if kind == "linear"
        else RadialGradient(0.5, 0.5, 0, 0.5, 0.5, 0.5)
    )
    for offset, colour in STOPS:
        found.add_color_stop_rgb(offset, *colour)
    found.set_matrix(Matrix(1 / width, 0, 0, 1 / height, 0, 0))
    return found


def shape(kind: str, x: int, y: int, cut: tuple[int, int] = (0, 0)) -> Pixels:
    """A sheared shape of about 150 × 100 px, moved; ``cut`` rows of the canvas are missing."""
    height = HEIGHT - sum(cut)
    image = cairocffi.ImageSurface(cairocffi.FORMAT_ARGB32, WIDTH + x, height + y)
    pen = Pen(image)
    pen.set_matrix(Matrix(1.3, 0.2, -0.3, 1.1, 60 + x, 20.3 + y - cut[0]))
    pen.set_source(gradient(kind, 100, 60))
    pen.move_to(0, 0)
    pen.curve_to(30, -20, 80, -10, 100, 10)
    pen.curve_to(130, 60, 80, 80, 0, 60)
    pen.fill()
    image.flush()
    return np.frombuffer(image.get_data(), np.uint8).reshape(height + y, -1, 4)[y:, x:].copy()


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
    matrix = Matrix(1.3, 0.2, -0.3, 1.1, 10 + 0.3 * height, 5.3)
    size = (math.ceil(1.3 * width + 0.3 * height) + 20, math.ceil(1.1 * height + 0.2 * width) + 20)
    image = cairocffi.ImageSurface(cairocffi.FORMAT_RGB24, *size)
    pen = Pen(image)
    pen.set_matrix(matrix)
    pen.set_source(gradient(kind, width, height))
    pen.paint()
    image.flush()
    drawn = np.frombuffer(image.get_data(), np.uint8).reshape(size[1], -1, 4)[..., 2::-1]
    back = matrix.inverted()
    y, x = np.mgrid[: size[1], : size[0]] + 0.5
    u = (back.xx * x + back.xy * y + back.x0) / width
    v = (back.yx * x + back.yy * y + back.y0) / height
    t = (u + 0.3 * v) / 1.09 if kind == "linear" else np.hypot(u - 0.5, v - 0.5) / 0.5
    inside = (u > 0) & (u < 1) & (v > 0) & (v < 1)
    assert inside.sum() > 500
    for channel in range(3):
        levels = [colour[channel] * 255 for _, colour in STOPS]
        expected = np.interp(t, [offset for offset, _ in STOPS], levels)
        assert np.abs(drawn[..., channel] - expected)[inside].max() <= allowed


@pytest.mark.parametrize("source", [LinearGradient(1, 1, 1, 1), RadialGradient(1, 1, 0, 1, 1, 0)])
def test_a_gradient_without_length_is_left_to_cairo(source: cairocffi.Gradient) -> None:
    for offset, colour in STOPS:
        source.add_color_stop_rgb(offset, *colour)
    painted = []
    for kind in (Pen, cairocffi.Context):
        image = cairocffi.ImageSurface(cairocffi.FORMAT_RGB24, 3, 3)
        context = kind(image)
        context.set_source(source)
        context.paint()
        image.flush()
        painted.append(bytes(image.get_data()))
    assert painted[0] == painted[1]
