"""Pictures that the second engine draws much smaller do not alias; others are left as they are."""

from __future__ import annotations

import base64
import io
import re
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from support import markup_of, scene_of, write_svg

from vecrepeat.art.read import read_art
from vecrepeat.draw.paint import Window
from vecrepeat.draw.resvg_scene import shrunk
from vecrepeat.write.exporting import Exporter


def image(side: int, drawn: float, more: str = "") -> str:
    """A picture of vertical stripes a pixel wide, drawn so many mm wide."""
    stripes = np.zeros((side, side, 4), np.uint8)
    stripes[..., 3] = 255
    stripes[:, ::2, :3] = 255
    stream = io.BytesIO()
    Image.fromarray(stripes).save(stream, "PNG")
    link = f"data:image/png;base64,{base64.b64encode(stream.getvalue()).decode()}"
    return f'<image width="{drawn}" height="{drawn}" {more} xlink:href="{link}"/>'


def sides(markup: str) -> list[tuple[int, int]]:
    found = re.findall(r'href="data:image/png;base64,([^"]*)"', markup)
    return [Image.open(io.BytesIO(base64.b64decode(link))).size for link in found]


@pytest.mark.parametrize(
    ("transform", "scale", "expected"),
    [
        # 100 px on 10 mm are 10 to the mm; a quarter more than is shown stays.
        pytest.param("translate(0 0)", 2.0, 25, id="shrunk to what is shown"),
        pytest.param("matrix(2 0 0 2 1 1)", 2.0, 50, id="drawn larger, shrunk less"),
        pytest.param("matrix(0 2 -2 0 1 1)", 2.0, 50, id="turned"),
        pytest.param("translate(0 0)", 10.0, 100, id="1:1 is left alone"),
        pytest.param("translate(0 0)", 30.0, 100, id="enlarging is left to resvg"),
    ],
)
def test_pixels_kept(transform: str, scale: float, expected: int) -> None:
    scene = scene_of(f'<g transform="{transform}">{image(100, 10)}</g>')
    after = shrunk(scene, scale)
    assert sides(markup_of(after)) == [(expected, expected)]
    assert (after == scene) == (expected == 100)


@pytest.mark.parametrize(
    "markup",
    [
        pytest.param('<path d="M0 0h9v9z"/>', id="no picture"),
        pytest.param(image(100, 10, 'image-rendering="optimizeSpeed"'), id="hard-edged on purpose"),
    ],
)
def test_left_alone(markup: str) -> None:
    scene = scene_of(markup)
    assert shrunk(scene, 1.0) == scene


def test_stripes_too_fine_for_the_print_are_even_grey(tmp_path: Path) -> None:
    """400 stripes on 93 px: by resvg alone they beat, black and white in turns."""
    art = read_art(write_svg(tmp_path, f'<g id="a">{image(400, 93)}</g>'))
    exporter = Exporter(art.repeat(), engine="resvg")
    plan = exporter.plan(Fraction(254, 10))
    pixels = exporter.painter(plan).paint(Window(4, 4, 84, 84))[..., 0]
    assert abs(float(pixels.mean()) - 127.5) < 2
    assert int(pixels.max()) - int(pixels.min()) < 8
