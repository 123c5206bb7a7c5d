"""Tracing: colours exact, edges near, nothing between neighbours; judged by drawing it again.

The pictures are drawn by Pillow from known shapes, so areas and edges are known by geometry.
"""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from support import by_resvg, vecrepeat

from vecrepeat.art.read import read_art
from vecrepeat.core.errors import InputError
from vecrepeat.sources.loose import read_loose
from vecrepeat.sources.reduced_colours import reduced
from vecrepeat.sources.tracing import Traced, trace_picture

INK = ["#d8456b", "#2f7d4f", "#f2c14e", "#5a3a23"]
PAPER = "#f7f1e3"


def picture(
    size: int = 200, ground: str | None = None, *, soft: bool = True
) -> tuple[Image.Image, list[shapely.Geometry]]:
    """Two halves of a disc, a ring on them and a bar: a picture, and its shapes in pixels."""
    by = 8 if soft else 1
    u = size * by / 200
    page = Image.new("RGBA", (size * by, size * by), ground or (0, 0, 0, 0))
    pen = ImageDraw.Draw(page)
    disc = (20 * u, 20 * u, 140 * u - 1, 140 * u - 1)
    pen.pieslice(disc, 0, 180, fill=INK[0])
    pen.pieslice(disc, 180, 360, fill=INK[1])
    pen.ellipse((60 * u, 60 * u, 100 * u - 1, 100 * u - 1), fill=INK[2])
    pen.rectangle((150 * u, 30 * u, 170 * u - 1, 180 * u - 1), fill=INK[3])
    k = size / 200
    around = shapely.Point(80 * k, 80 * k).buffer(60 * k, 90)
    below = shapely.intersection(around, shapely.box(0, 80 * k, size, size))
    ring = shapely.Point(80 * k, 80 * k).buffer(20 * k, 90)
    shapes = [
        shapely.difference(below, ring),
        shapely.difference(shapely.difference(around, below), ring),
        ring,
        shapely.box(150 * k, 30 * k, 170 * k, 180 * k),
    ]
    return page.resize((size, size), Image.Resampling.BOX) if soft else page, shapes


def traced(folder: Path, image: Image.Image, name: str = "motif.png", **how: Any) -> Traced:
    """Save a picture at 254 dpi, ten pixels to the mm, and trace it."""
    image.save(folder / name, dpi=(254, 254), quality=90)
    return trace_picture(folder / name, folder / "out.svg", **how)


def drawn(folder: Path, side: int) -> NDArray[np.uint8]:
    return by_resvg((folder / "out.svg").read_text(), side)


def area_of(pixels: NDArray[np.uint8], colour: str) -> int:
    rgb = [int(colour[k : k + 2], 16) for k in (1, 3, 5)]
    return int(((pixels[..., :3] == rgb).all(axis=2) & (pixels[..., 3] == 255)).sum())


@pytest.mark.parametrize("soft", [True, False], ids=["antialiased", "hard edges"])
def test_colours_are_exact_and_areas_those_of_the_shapes(tmp_path: Path, soft: bool) -> None:
    image, shapes = picture(soft=soft)
    done = traced(tmp_path, image)
    assert sorted(done.colours) == sorted(INK)
    assert [float(side) for side in done.size] == [20, 20]
    pixels = drawn(tmp_path, 1600)
    for colour, shape in zip(INK, shapes, strict=True):
        # In px² of 8 × 8 to the picture's pixel; a tenth of a pixel along each edge.
        allowed = 64 * shape.length * (0.1 if soft else 0.25)
        assert abs(area_of(pixels, colour) - 64 * shape.area) < allowed


def test_the_edge_error_is_what_geometry_says(tmp_path: Path) -> None:
    """The outer edges of what is drawn against the disc and the bar that the picture shows."""
    image, shapes = picture()
    done = traced(tmp_path, image)
    assert 0 < done.edge_mean <= done.edge_max < 0.1
    outer = shapely.union_all(shapes)
    [motif] = read_loose(tmp_path / "out.svg").motifs
    edge = shapely.transform(outer.boundary, lambda xy: xy / 10)
    ours = motif.outline.boundary
    largest = shapely.hausdorff_distance(shapely.segmentize(ours, 0.02), edge)
    # A corner is rounded by up to a pixel, 0.1 mm; what it states is against the pixels.
    assert largest < done.edge_max + 0.1
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(ours, 0.02)))
    assert shapely.distance(points, edge).mean() < done.edge_mean + 0.02


def test_no_ground_shows_between_neighbours(tmp_path: Path) -> None:
    """On loud blue, inside the disc and away from its rim, not a pixel has any blue to it."""
    image, _ = picture()
    traced(tmp_path, image)
    text = (tmp_path / "out.svg").read_text()
    text = text.replace("<g id", '<rect width="20" height="20" fill="#0000ff"/><g id', 1)
    for side in (77, 400, 1301):
        pixels = by_resvg(text, side).astype(np.int16)
        y, x = (np.mgrid[:side, :side] + 0.5) * 20 / side
        inside = np.hypot(x - 8, y - 8) < 5.8 - 20 / side
        # No ink is bluer than its red and green together.
        assert (pixels[..., 2] - pixels[..., 0] - pixels[..., 1] < 0)[inside].all()


def test_a_flat_ground_is_dropped(tmp_path: Path) -> None:
    image, _ = picture(ground=PAPER)
    done = traced(tmp_path, image)
    assert done.ground == PAPER
    assert sorted(done.colours) == sorted(INK)
    assert drawn(tmp_path, 200)[5, 5, 3] == 0


def test_a_flat_ground_is_kept_as_a_rectangle_where_asked(tmp_path: Path) -> None:
    image, _ = picture(ground=PAPER)
    done = traced(tmp_path, image, keep_ground=True)
    assert done.ground is None
    art = read_art(tmp_path / "out.svg")
    assert art.ground is not None
    assert art.ground.colour == PAPER
    assert set(drawn(tmp_path, 200)[..., 3].ravel().tolist()) == {255}


def test_paper_that_the_motif_encloses_stays_and_is_told(tmp_path: Path) -> None:
    image = Image.new("RGB", (120, 120), PAPER)
    ImageDraw.Draw(image).ellipse((20, 20, 100, 100), outline=INK[0], width=14)
    done = traced(tmp_path, image)
    assert done.colours == (INK[0], PAPER) or done.colours == (PAPER, INK[0])
    assert drawn(tmp_path, 120)[60, 60].tolist()[:3] == [0xF7, 0xF1, 0xE3]
    assert any("encloses its paper" in note for note in done.notes)


def test_specks_are_dropped_by_area(tmp_path: Path) -> None:
    """2 × 2 px at 254 dpi are 0.04 mm², 4 × 4 px are 0.16 mm²."""
    image, _ = picture(soft=False)
    pen = ImageDraw.Draw(image)
    for k in range(5):
        pen.rectangle((20 + 12 * k, 180, 21 + 12 * k, 181), fill=INK[0])
        pen.rectangle((20 + 12 * k, 190, 23 + 12 * k, 193), fill=INK[0])
        pen.rectangle((50 + 12 * k, 110, 51 + 12 * k, 111), fill=(0, 0, 0, 0))
    dots = [
        len(shapely.get_parts(read_loose(tmp_path / "out.svg").motifs[0].outline))
        for speck in ("0.001", "0.1", "0.3")
        if traced(tmp_path, image, speck=Fraction(speck))
    ]
    # The disc and the bar, and what is left of the dots.
    assert dots == [12, 7, 2]
    assert drawn(tmp_path, 200)[111, 51, 3] == 255


def test_thin_lines_of_a_jpeg_keep_their_colour(tmp_path: Path) -> None:
    """Chroma is halved in a JPEG, so that no pixel of a thin line is of a flat colour."""
    big = Image.new("RGB", (1200, 1200), PAPER)
    pen = ImageDraw.Draw(big)
    pen.ellipse((100, 100, 1100, 1100), fill=INK[0])
    for k in range(250, 1000, 150):
        pen.line((k, 250, 1200 - k, 950), fill="#5a1030", width=24)
    done = traced(tmp_path, big.resize((300, 300), Image.Resampling.BOX), "motif.jpg")
    assert len(done.colours) == 2
    red, dark = (int(c[1:3], 16) for c in done.colours)
    assert abs(red - 0xD8) < 8
    assert abs(dark - 0x5A) < 24


def test_reduced_to_so_many_colours_of_its_own(tmp_path: Path) -> None:
    """Two reds and two greens, a hair apart: two colours are one of each."""
    image = Image.new("RGBA", (80, 80))
    pen = ImageDraw.Draw(image)
    for k, colour in enumerate(["#c83232", "#c23838", "#2f7d4f", "#35834f"]):
        pen.rectangle((4, 4 + 18 * k, 75, 21 + 18 * k), fill=colour)
    assert len(traced(tmp_path, image).colours) == 4
    two = traced(tmp_path, image, colours=2).colours
    assert len(set(two) & {"#c83232", "#c23838"}) == 1
    assert len(set(two) & {"#2f7d4f", "#35834f"}) == 1


def test_the_palette_is_of_colours_that_the_picture_has() -> None:
    rng = np.random.default_rng(5)
    rgb = rng.integers(0, 256, (64, 64, 3), np.uint8)
    every = {f"#{r:02x}{g:02x}{b:02x}" for r, g, b in rgb.reshape(-1, 3).tolist()}
    for wanted in (1, 7, 40):
        found = reduced(rgb, np.ones((64, 64), bool), wanted)
        assert len(set(found)) == len(found) == wanted
        assert set(found) <= every


def test_shades_are_told(tmp_path: Path) -> None:
    y, x = np.mgrid[:120, :120]
    shade = np.dstack([x * 2, y * 2, 255 - x, np.full_like(x, 255)]).astype(np.uint8)
    shade[:10] = shade[-10:] = shade[:, :10] = shade[:, -10:] = 0
    with pytest.raises(InputError, match="not flat-coloured"):
        traced(tmp_path, Image.fromarray(shade))
    done = traced(tmp_path, Image.fromarray(shade), colours=5)
    assert len(done.colours) == 5


def test_the_path_stays_light(tmp_path: Path) -> None:
    """A disc of 1,000 px around needs no node for each pixel."""
    image, _ = picture()
    assert traced(tmp_path, image).nodes < 400


REFUSED = [
    ("nothing in it", Image.new("RGBA", (30, 30)), {}, "the picture is empty"),
    ("paper alone", Image.new("RGB", (30, 30), PAPER), {}, "nothing in it but its ground"),
    ("specks alone", picture()[0], {"speck": Fraction(10**6)}, "nothing is left to trace"),
]


@pytest.mark.parametrize(
    ("image", "how", "words"), [pytest.param(*row[1:], id=row[0]) for row in REFUSED]
)
def test_refused(tmp_path: Path, image: Image.Image, how: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        traced(tmp_path, image, **how)
    assert not (tmp_path / "out.svg").exists()


def test_the_command_writes_one_file_or_a_folder_of_them(tmp_path: Path) -> None:
    image, _ = picture()
    for name in ("a.png", "b.webp"):
        image.save(tmp_path / name, dpi=(254, 254), lossless=True)
    one = vecrepeat("trace", tmp_path / "a.png", "-o", tmp_path / "x.svg", "--width", "3cm")
    assert one.code == 0
    assert re.search(r"x\.svg: 30 mm × 30 mm, 4 colours, .* on average and .* mm at most", one.out)
    assert read_art(tmp_path / "x.svg").width == 30
    both = vecrepeat("trace", tmp_path / "a.png", tmp_path / "b.webp", "-o", tmp_path / "f")
    assert both.code == 0
    assert sorted(path.name for path in (tmp_path / "f").iterdir()) == ["a.svg", "b.svg"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["a.png", "b.png", "-o", "x.svg"], "can't be written to one file"),
        (["a.png", "-o", "x.png"], "tracing writes SVG"),
        (["a.png", "sub/a.png", "-o", "f"], "two pictures would be written"),
        (["none.png", "-o", "x.svg"], "can't read the file"),
    ],
)
def test_refused_by_the_command(tmp_path: Path, arguments: list[str], words: str) -> None:
    image, _ = picture(40)
    image.save(tmp_path / "a.png")
    run = vecrepeat("trace", *(a if a == "-o" else tmp_path / a for a in arguments))
    assert run.code == 2
    assert words in run.err
    assert len(run.err.splitlines()) == 1
