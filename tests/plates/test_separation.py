"""Plates: what they hold, how they join, how far traps reach."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import scipy.ndimage
import shapely
from numpy.typing import NDArray
from plate_judges import are_valid, scanned
from real_art import emoji_sheet
from shapely.geometry.base import BaseGeometry
from support import by_resvg, demo, read

from vecrepeat.art.read import read_art
from vecrepeat.colour.gradients import banded, by_stops
from vecrepeat.colour.painted import PaintLayer, painted_layers
from vecrepeat.colour.plates.files import DrawnPlate, path_data, plate_svg
from vecrepeat.colour.plates.separation import APART, Separation, printing_order, separate
from vecrepeat.colour.reduce import Reduction, flat_areas, into_flats, reduced, reduction
from vecrepeat.colour.visible import Visible, visible
from vecrepeat.core.colours import rgb_of
from vecrepeat.core.geometry import Rect
from vecrepeat.draw.paint import Window
from vecrepeat.draw.sheet import opaque
from vecrepeat.repeat.model import Repeat
from vecrepeat.repeat.wrap import copies
from vecrepeat.write.exporting import Exporter

RED, BLUE, WHITE, DARK = "#ff0000", "#0000ff", "#ffffff", "#202020"
GROUND = f'<rect width="100" height="100" fill="{WHITE}"/>'


def _block(repeat: Repeat) -> Rect:
    return Rect(0.0, 0.0, *(float(side) for side in repeat.block_size))


def _separated(
    seen: Visible, count: int = 24, trap: float = 0.0, region: Rect | None = None
) -> tuple[Separation, Reduction]:
    choice = reduction(flat_areas(seen.banded(by_stops)), count)
    bands = seen.banded(into_flats(choice))
    region = region or _block(seen.repeat)
    return separate(bands, choice, region, names={}, trap=trap), choice


def _drawn(folder: Path, body: str, trap: float = 0.0) -> dict[str, shapely.Geometry]:
    seen = visible(read(folder, body).repeat())
    return {p.colour: p.printed for p in _separated(seen, trap=trap)[0].plates}


@cache
def _garden() -> Visible:
    return visible(demo("night-garden").repeat(), tolerance=0.01)


@cache
def _garden_separated() -> tuple[Separation, Reduction]:
    return _separated(_garden(), 6)


def _garden_plates() -> Separation:
    return _garden_separated()[0]


def test_plates_add_up_to_the_repeat_and_are_valid(tmp_path: Path) -> None:
    emoji = visible(read_art(emoji_sheet(tmp_path, 9)).repeat("half-drop"))
    for plates in (_garden_plates(), _separated(emoji, 30)[0]):
        region = plates.region
        total = sum(plate.area.area for plate in plates.plates) + plates.cloth.area
        assert total == pytest.approx(region.width * region.height, rel=1e-6)
        assert are_valid(plates)
        areas = [plate.area for plate in plates.plates]
        for n, one in enumerate(areas[1:], 1):
            assert shapely.intersection(one, areas[n - 1]).area < 1e-4


def test_plates_print_light_to_dark() -> None:
    # CIE L* by any account: white > yellow > red > blue > black.
    inks = ["#0000ff", "#ffff00", "#000000", "#ff0000", "#ffffff"]
    assert printing_order(inks) == ["#ffffff", "#ffff00", "#ff0000", "#0000ff", "#000000"]


@pytest.mark.parametrize("layout", ["half-drop", "brick:1/3"])
def test_plates_join_at_the_bounds(tmp_path: Path, layout: str) -> None:
    seen = visible(read_art(emoji_sheet(tmp_path, 4)).repeat(layout))
    width, height = (float(side) for side in seen.repeat.block_size)
    for trap in (0.0, 0.4):
        one, _ = _separated(seen, 12, trap)
        # Two blocks beside and below each other, cut out of the cloth in one go.
        four, _ = _separated(seen, 12, trap, Rect(0.0, 0.0, 2 * width, 2 * height))
        for plate, whole in zip(one.plates, four.plates, strict=True):
            laid = shapely.union_all(
                [
                    shapely.transform(plate.printed, lambda xy, by=(dx, dy): xy + np.array(by))
                    for dx in (0, width)
                    for dy in (0, height)
                ]
            )
            assert laid.symmetric_difference(whole.printed).area < 1e-3


def _edges(repeat: Repeat, scale: float, side: int) -> NDArray[np.bool_]:
    """Pixels that the edge of any shape passes, hidden or not, or comes near by a pixel."""
    marked = np.zeros((side, side), bool)
    for copy in copies(repeat, Rect(0, 0, side / scale, side / scale).grown(1)):
        motif = repeat.placements[copy.placement].motif
        offset = repeat.lattice.at(copy.i, copy.j)
        todo = list(painted_layers(motif, tolerance=0.01))
        while todo:
            layer = todo.pop()
            assert isinstance(layer, PaintLayer)
            lines = [area.boundary for area, _, _ in _bands(layer)]
            xy = shapely.get_coordinates(shapely.segmentize(lines, 0.4 / scale))
            cells = np.floor((xy + np.array(offset, float)) * scale).astype(int)
            cells = cells[((cells >= 0) & (cells < side)).all(axis=1)]
            marked[cells[:, 1], cells[:, 0]] = True
    return np.asarray(scipy.ndimage.binary_dilation(marked, np.ones((3, 3))), bool)


def _bands(layer: PaintLayer) -> list[tuple[BaseGeometry, str, float]]:
    if isinstance(layer.paint, str):
        return [(layer.area, layer.paint, 1.0)]
    return banded(layer.area, layer.paint, by_stops)


def test_recombined_plates_equal_the_flat_raster() -> None:
    side, fine = 1000, 4
    plates, choice = _garden_separated()
    flat = reduced(_garden().repeat, choice)
    plan = Exporter(flat).plan(Fraction(300))
    expected = opaque(Exporter(flat).painter(plan).paint(Window(0, 0, side, side)))
    # Sixteen pixel centres a pixel stand for coverage.
    total = np.zeros((side, side, 3))
    scale = (fine * plan.scale[0], fine * plan.scale[1])
    for plate in plates.plates:
        inside = scanned(plate.area, fine * side, fine * side, scale=scale)
        share = inside.reshape(side, fine, side, fine).mean(axis=(1, 3))
        total += share[..., None] * rgb_of(plate.colour)
    difference = np.abs(total - expected)
    inner = ~_edges(flat, plan.scale[0], side)
    assert inner.mean() > 0.5
    assert difference[inner].max() == 0
    assert difference.mean() <= 0.3


def test_pixels_of_all_plates_make_up_the_block_once() -> None:
    plates = _garden_plates()
    count = np.zeros((1000, 1000), int)
    for plate in plates.plates:
        count += scanned(plate.area, 1000, 1000, scale=(1000 / 254, 1000 / 254))
    assert (count == 1).all()


def test_svg_plates_hold_the_plates() -> None:
    plates = _garden_plates()
    text = plate_svg(
        plates, [DrawnPlate(p, path_data(p.area), p.colour) for p in plates.plates], "all"
    )
    drawn = by_resvg(text, 508)[..., :3].astype(int)
    for plate in plates.plates:
        value = int(plate.colour[1:], 16)
        inside = scanned(plate.area.simplify(0.1).buffer(-0.9), 508, 508, scale=(2, 2))
        assert inside.any()
        rgb = [value >> 16, value >> 8 & 255, value & 255]
        assert np.abs(drawn[inside] - rgb).max() == 0


class TestTraps:
    """The lighter ink goes under the darker, where they meet and no farther."""

    BODY = (
        f'{GROUND}<g><circle cx="50" cy="50" r="30" fill="{RED}"/>'
        f'<circle cx="50" cy="50" r="20" fill="{BLUE}"/></g>'
    )

    def test_a_trap_of_02_mm_is_02_mm_at_a_thousand_points(self, tmp_path: Path) -> None:
        seen = visible(read(tmp_path, self.BODY).repeat(), tolerance=0.001)
        plain, _ = _separated(seen)
        trapped, _ = _separated(seen, trap=0.2)
        area = {p.colour: p.area for p in plain.plates}
        for light, dark in ((RED, BLUE), (WHITE, RED)):
            spread = next(p.trap for p in trapped.plates if p.colour == light)
            rim = shapely.get_exterior_ring(
                shapely.Polygon(shapely.get_parts(area[dark])[0].exterior)
            )
            # The trap's inner edge: its boundary but for the line where the inks meet.
            edge = spread.boundary.difference(area[light].buffer(1e-3))
            points = shapely.line_interpolate_point(
                shapely.line_merge(edge), np.linspace(0.001, 0.999, 1000), normalized=True
            )
            away = shapely.distance(points, rim)
            assert away.min() >= 0.195
            assert away.max() <= 0.205

    def test_the_lighter_ink_spreads_and_the_darker_stays(self, tmp_path: Path) -> None:
        plain, trapped = _drawn(tmp_path, self.BODY), _drawn(tmp_path, self.BODY, 0.2)
        assert trapped[BLUE].area == pytest.approx(plain[BLUE].area)
        # A ring 0.2 mm wide inside a circle of 20 mm: π (20² − 19.8²); so the white's of 30 mm.
        assert trapped[RED].area - plain[RED].area == pytest.approx(np.pi * 7.96, abs=0.06)
        assert trapped[WHITE].area - plain[WHITE].area == pytest.approx(np.pi * 11.96, abs=0.06)

    def test_a_trap_never_comes_out_on_the_other_side(self, tmp_path: Path) -> None:
        line = (
            f'{GROUND}<g><rect x="10" y="10" width="20" height="20" fill="{RED}"/>'
            f'<rect x="30" y="10" width="0.1" height="20" fill="{DARK}"/></g>'
        )
        trapped = _drawn(tmp_path, line, 0.3)
        assert trapped[RED].bounds[2] <= 30.1 + 1e-6
        assert trapped[RED].within(shapely.box(10, 10, 30.1, 30).buffer(1e-6))

    def test_colours_that_do_not_meet_get_none(self, tmp_path: Path) -> None:
        # Blue lies 0.1 mm from red with dark between: the red goes under the dark alone.
        body = (
            f'{GROUND}<g><rect x="10" y="10" width="20" height="20" fill="{RED}"/>'
            f'<rect x="30" y="10" width="0.1" height="20" fill="{DARK}"/>'
            f'<rect x="30.1" y="10" width="20" height="20" fill="{BLUE}"/></g>'
        )
        trapped = _drawn(tmp_path, body, 0.3)
        assert trapped[RED].intersection(shapely.box(30.11, 11, 60, 29)).area < 1e-9

    @pytest.mark.parametrize("art", ["ogee", "pomegranate", "ticking-garden", "brook", "slivers"])
    def test_all_that_is_trapped_lies_beside_ink_that_prints(
        self, tmp_path: Path, art: str
    ) -> None:
        # Slits of a fiftieth of a millimetre, spikes, and a thin ring: no pixel shows them all.
        slivers = "".join(
            f'<path d="M{x} 10v80h{0.02 * n}v-80z M{x + 4} 90l{n} -80l{n} 80z" fill="{RED}"/>'
            for n, x in enumerate(range(5, 90, 12), 1)
        )
        slivers += (
            f'<circle cx="50" cy="50" r="40" fill="none" stroke="{WHITE}" stroke-width=".05"/>'
        )
        ground = GROUND.replace(WHITE, DARK)
        if art == "slivers":
            repeat = read(tmp_path, f"{ground}<g>{slivers}</g>").repeat()
        else:
            repeat = demo(art).repeat()
        trap, px = 0.3, 25.4 / 300
        seen = visible(repeat, tolerance=0.01, apart=APART * trap)
        side = min(60.0, *(float(v) for v in repeat.block_size))
        plates = _separated(seen, 6, trap, Rect(0.0, 0.0, side, side))[0].plates
        count, scale = round(side / px), (1 / px, 1 / px)
        found = 0
        for plate in plates:
            ink = scanned(plate.area, count, count, scale=scale)
            trapped = scanned(plate.printed, count, count, scale=scale) & ~ink
            # Ink beyond the region traps within it.
            inner = trapped[8:-8, 8:-8]
            far = scipy.ndimage.distance_transform_edt(~ink)[8:-8, 8:-8]
            # From an edge a pixel more; the ink's own pixel has its middle up to 0.71 px inside.
            assert not (inner & (far > trap / px + 1.71)).any(), plate.colour
            found += int(inner.sum())
        assert found > 1000, "there are traps"

    def test_real_art_stays_valid_with_traps(self, tmp_path: Path) -> None:
        plates, _ = _separated(visible(read_art(emoji_sheet(tmp_path, 9)).repeat()), 12, 0.2)
        assert are_valid(plates)
        for plate in plates.plates:
            darker = [p.area for p in plates.plates if p.order > plate.order]
            outside = (
                plate.trap.difference(shapely.union_all(darker).buffer(1e-5))
                if darker
                else plate.trap
            )
            assert outside.area < 1e-6


def test_bare_cloth_takes_no_ink(tmp_path: Path) -> None:
    seen = visible(
        read(tmp_path, f'<rect x="9" y="9" width="10" height="10" fill="{RED}"/>').repeat()
    )
    plates, _ = _separated(seen, trap=0.2)
    assert [(p.colour, round(p.printed.area, 6)) for p in plates.plates] == [(RED, 100)]
    assert plates.cloth.area == pytest.approx(9900)
    assert plates.coverage(plates.plates[0]) == pytest.approx(0.01)


def test_what_overprints_leaves_the_plates_below_whole(tmp_path: Path) -> None:
    body = (
        f'{GROUND}<rect id="a" x="10" y="10" width="20" height="20" fill="{RED}"/>'
        f'<rect id="b" x="15" y="15" width="5" height="5" fill="{DARK}"/>'
        f'<rect id="c" x="30" y="10" width="5" height="20" fill="{DARK}"/>'
    )
    seen = visible(read(tmp_path, body).repeat(), through=[DARK])
    choice = reduction({WHITE: 1, RED: 1, DARK: 1}, 3)
    plates = separate(seen, choice, _block(seen.repeat), names={}, trap=0.2).plates
    area = {plate.colour: plate for plate in plates}
    assert area[RED].area.area == pytest.approx(400)
    assert area[DARK].area.area == pytest.approx(25 + 100)
    assert area[DARK].overprints
    # Nothing need be trapped under what overprints, not even where it only meets red.
    assert area[RED].trap.is_empty
