"""A finished tile of pixels as a design: as it is at its own size, and seamless at any other."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from vecrepeat.check.checking import check_drawing, check_picture
from vecrepeat.core.errors import InputError
from vecrepeat.repeat.layout import Layout
from vecrepeat.sources.first import start_recipe
from vecrepeat.sources.source import open_source
from vecrepeat.write.exporting import Exporter

SIDE = 120


def waves(side: int) -> NDArray[np.float64]:
    """Waves that go on over every edge, sampled in the middles of pixels."""
    y, x = (np.mgrid[0:side, 0:side] + 0.5) * 2 * np.pi / side
    three = (np.sin(3 * x + 2 * y), np.cos(2 * y - x), np.sin(2 * x) * np.cos(y))
    return 128 + 90 * np.stack(three, axis=-1)


@pytest.fixture
def tile(tmp_path: Path) -> Path:
    file = tmp_path / "tile.png"
    Image.fromarray(waves(SIDE).round().astype(np.uint8)).save(file, dpi=(150, 150))
    return file


@pytest.mark.parametrize(("dpi", "most"), [(150, 0), (300, 4.3), (75, 4.3)])
def test_a_tile_is_written_as_it_is_and_larger_without_joins(
    tile: Path, dpi: int, most: int
) -> None:
    recipe = tile.with_suffix(".toml")
    start_recipe([tile], recipe, layout=Layout(), finished=True)
    source = open_source(recipe)
    assert [p.motif.is_ground for p in source.repeat.placements] == [True]
    exporter, out = Exporter(source.repeat), tile.with_name("out.png")
    exporter.write(str(out), exporter.sheet(exporter.plan(Fraction(dpi))))
    side = SIDE * dpi // 150
    written = np.asarray(Image.open(out).convert("RGB"), float)
    assert written.shape == (side, side, 3)
    # The same waves on finer or coarser pixels, which are half a pixel of the tile from where it
    # ends at most: a quarter beside what is known, and 90 √13 2π / 120 levels a pixel is steepest.
    assert abs(written - waves(side)).max() <= most + 0.5


def test_its_joins_are_checked_on_the_layout_that_it_lies_on(tile: Path) -> None:
    """A disc goes on straight across; half-dropped, it is cut."""
    art = Image.new("RGB", (400, 400), "#f4e8d0")
    for x in (-70, 330):
        ImageDraw.Draw(art).ellipse((x, 100, x + 140, 240), fill="#c02020")
    art.save(tile, dpi=(150, 150))
    recipe = tile.with_suffix(".toml")
    start_recipe([tile], recipe, layout=Layout(), finished=True)
    assert check_drawing(open_source(recipe), only=("joins", "voids")).findings == ()
    dropped = check_drawing(open_source(recipe, layout=Layout.parse("half-drop")), only=("joins",))
    wanted = check_picture(tile, layout=Layout.parse("half-drop"), only=("joins",))
    assert [f.what for f in dropped.findings] == [f.what for f in wanted.findings] != []
    assert dropped.findings[0].at == pytest.approx(wanted.findings[0].at)


def test_a_finished_tile_is_one_file(tile: Path) -> None:
    for art in ([tile, tile], [tile.parent]):
        with pytest.raises(InputError, match="a finished tile is one file"):
            start_recipe(art, tile.with_suffix(".toml"), layout=Layout(), finished=True)
