"""Voids and alleys against arithmetic and against scipy's distance transform."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from scipy import ndimage
from support import box, repeat_of

from vecrepeat.check.alleys import check_alleys, directions, find_lanes, find_near_empty
from vecrepeat.check.findings import Answer
from vecrepeat.check.plane import Plane
from vecrepeat.check.profile import AlleyLimits, VoidLimits
from vecrepeat.check.voids import check_voids, find_voids, typical_width
from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.wrap import offsets

LAYOUTS = ("block", "half-drop", "drop:1/3", "brick", "brick:2/5")


def dot(x: float, y: float, r: float) -> shapely.Polygon:
    """A disc as a polygon of 256 sides, its corners on the circle."""
    return shapely.Point(x, y).buffer(r, quad_segs=64)


def random_plane(seed: int) -> Plane:
    rng = np.random.default_rng(seed)
    width, height = (int(v) for v in rng.integers(16, 30, 2))
    shapes = []
    for _ in range(int(rng.integers(1, 14))):
        centre = rng.uniform((0, 0), (width, height))
        turn = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(3, 9))))
        radius = rng.uniform(1, 4, len(turn))
        spikes = shapely.Polygon(
            centre + np.stack([radius * np.cos(turn), radius * np.sin(turn)], 1)
        )
        shapes.append(
            [
                # No spike is finer than the judge's samples.
                spikes.buffer(0.15),
                shapely.Point(centre).buffer(rng.uniform(0.5, 3)),
                shapely.LineString(centre + rng.uniform(-width, width, (3, 2))).buffer(0.3),
            ][int(rng.choice(3, p=(0.6, 0.3, 0.1)))]
        )
    shapes = [s for s in shapes if not s.is_empty] or [dot(5, 5, 2)]
    return Plane(repeat_of(shapes, width, height, str(rng.choice(LAYOUTS))))


# Some of the random repeats here; a hundred by `python tests/benchmarks/voids_by_raster.py`.
@pytest.mark.parametrize("seed", range(6))
def test_largest_void_is_that_of_a_raster_distance_transform(seed: int) -> None:
    plane = random_plane(seed)
    largest = find_voids(plane)[0]
    step = 0.1
    found = raster_radius(plane, step, largest.radius * 1.3 + 1)
    assert largest.radius == pytest.approx(found, abs=step)


def raster_radius(plane: Plane, step: float, margin: float) -> float:
    """The radius of the largest empty circle centred on the tile, by scipy, in mm."""
    rect = plane.repeat.tile_rect
    region = rect.grown(margin)
    ink = raster_ink(plane, region, step)
    distance = ndimage.distance_transform_edt(~ink) * step
    edge = round(margin / step)
    return float(distance[edge:-edge, edge:-edge].max())


def raster_ink(
    plane: Plane, region: Rect, step: float
) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    across, down = round(region.width / step), round(region.height / step)
    x, y = np.meshgrid(
        region.x0 + (np.arange(across) + 0.5) * step, region.y0 + (np.arange(down) + 0.5) * step
    )
    union = shapely.union_all(plane.copies(region).shapes)
    shapely.prepare(union)
    ink = shapely.contains_xy(union, x.ravel(), y.ravel())
    return np.asarray(ink, bool).reshape(down, across)


def test_void_between_dots_of_a_square_lattice() -> None:
    # Four dots round the middle of a cell: half the diagonal less the radius.
    plane = Plane(repeat_of([dot(3, 4, 2)], 20, 20))
    (void,) = find_voids(plane)[:1]
    assert void.radius == pytest.approx(10 * math.sqrt(2) - 2, abs=2e-3)
    assert (void.x, void.y) == pytest.approx((13, 14), abs=5e-3)


def test_void_of_a_half_drop_is_the_triangles_circumcircle() -> None:
    # Dots at (0, 0), (0, 20), (20, 10): circumradius 12.5 by R = abc / 4A.
    plane = Plane(repeat_of([dot(0, 0, 1)], 20, 20, "half-drop"))
    assert find_voids(plane)[0].radius == pytest.approx(12.5 - 1, abs=2e-3)


def test_each_void_is_told_once_a_period() -> None:
    plane = Plane(repeat_of([box(0, 0, 4, 4), box(10, 10, 14, 14)], 20, 20))
    centres = [(v.x, v.y) for v in find_voids(plane)]
    assert len(centres) == len({(round(x) % 20, round(y) % 20) for x, y in centres})


def test_one_wide_void_among_even_ones_is_found_and_marked() -> None:
    dots = [dot(5 + 10 * i, 5 + 10 * j, 3) for i in range(6) for j in range(6)]
    gone = [d for d in dots if math.hypot(d.centroid.x - 25, d.centroid.y - 25) > 12]
    answer = checked_voids(gone)
    assert [f.kind for f in answer.findings] == ["void"]
    assert answer.findings[0].at == pytest.approx((25, 25), abs=0.1)
    assert checked_voids(dots).findings == ()


def checked_voids(shapes: list[shapely.Polygon]) -> Answer:
    plane = Plane(repeat_of(shapes, 60, 60))
    found = find_voids(plane)
    return check_voids(found, typical_width(plane, found), VoidLimits())


def test_alley_across_and_down_of_one_square() -> None:
    # A square of 4 in a cell of 10 × 16: lanes of 6 down and 12 across, by subtraction.
    plane = Plane(repeat_of([box(1, 1, 5, 5)], 10, 16))
    widths = {lane.steps: lane.width for lane in find_lanes(plane, 1)}
    assert widths[1, 0] == pytest.approx(12)
    assert widths[0, 1] == pytest.approx(6)


def test_alley_along_a_diagonal_of_the_lattice() -> None:
    # Lanes along (1, 1) of a square lattice of dots: spacing 10 / √2 less the diameter.
    plane = Plane(repeat_of([dot(0, 0, 1)], 10, 10))
    widths = {lane.steps: lane.width for lane in find_lanes(plane, 1)}
    assert widths[1, 1] == pytest.approx(10 / math.sqrt(2) - 2, abs=1e-3)


def test_lane_beside_a_motif_larger_than_the_tile() -> None:
    # A bar of 1 from (0, 0) to (25, 13) lies in lanes along (2, 1), which come again after
    # 100 / √500; across them it reaches |25 · 1 − 13 · 2| / √5 = 1 / √5, and its breadth.
    plane = Plane(repeat_of([shapely.LineString([(0, 0), (25, 13)]).buffer(0.5)], 10, 10))
    (lane,) = find_lanes(plane, 1)
    assert lane.steps == (2, 1)
    assert lane.width == pytest.approx(100 / math.sqrt(500) - 1 / math.sqrt(5) - 1, abs=0.005)


def test_motif_across_all_directions_leaves_no_alley() -> None:
    cross = shapely.union_all([box(0, 4, 11, 5), box(4, 0, 5, 11)])
    assert find_lanes(Plane(repeat_of([cross], 10, 10)), 0.5) == []


def test_directions_are_all_primitive_vectors_within_the_bound() -> None:
    plane = Plane(repeat_of([dot(0, 0, 1)], 10, 10))
    # Lanes at least 4 wide lie along vectors of at most 100 / 4 = 25 mm.
    expected = {
        (i, j)
        for i in range(0, 4)
        for j in range(-4, 5)
        if math.gcd(i, j) == 1 and 10 * math.hypot(i, j) <= 25 and (i > 0 or j > 0)
    }
    assert set(directions(plane, 4)) == expected


# Some of the random repeats here; a hundred by `python tests/benchmarks/alleys_by_raster.py`.
@pytest.mark.parametrize("seed", range(20, 24))
def test_alley_widths_are_those_of_the_inks_shadow_in_pixels(seed: int) -> None:
    plane = random_plane(seed)
    step = 0.1
    for width, by_raster in alley_widths(plane, step, 0.5):
        assert width == pytest.approx(by_raster, abs=step)


def alley_widths(plane: Plane, step: float, narrowest: float) -> list[tuple[float, float]]:
    """The widest alley along each lattice vector: ours, and between the ink's pixels, in mm.

    Every inked sample of one tile is laid onto the vector's normal, round the lanes' period.
    Samples lie half a step apart, or tips finer than a step are overlooked; they lie up to half
    their diagonal within the ink, at either side of a lane: half of that is taken off. Only the
    ink's rim is laid down: what it surrounds falls between its samples.
    """
    step /= 2
    ink = raster_ink(plane, plane.repeat.tile_rect, step)
    rim = ink & ~ndimage.binary_erosion(ink)
    y, x = (np.nonzero(rim)[k] * step + step / 2 for k in (0, 1))
    # Widest first: the first of each direction stands.
    found = {lane.steps: lane.width for lane in reversed(find_lanes(plane, narrowest))}
    pairs = []
    for steps in directions(plane, narrowest):
        vx, vy = offsets(plane.repeat.lattice, np.array([steps]))[0]
        length = math.hypot(vx, vy)
        period = plane.area / length
        shadow = np.sort((x * -vy + y * vx) / length % period)
        gap = float(np.diff(shadow, append=shadow[0] + period).max())
        by_raster = gap - step * math.sqrt(2) / 2
        if steps in found or by_raster > narrowest + step:
            pairs.append((found.get(steps, 0.0), by_raster))
    return pairs


def test_near_empty_lane_is_covered_by_what_arithmetic_says() -> None:
    # A bar of 1 × 0.2 within an otherwise empty lane 10 wide and 100 long covers 0.2 / 100 of
    # the lines it meets.
    plane = Plane(repeat_of([box(0, 0, 100, 10), box(40, 15, 40.2, 16)], 100, 20))
    scant = next(lane for lane in find_near_empty(plane, 5, 0.01) if lane.steps == (1, 0))
    assert scant.width == pytest.approx(10, abs=0.05)
    assert scant.coverage == pytest.approx(0.002 / 10, rel=0.05)


def test_alley_wider_than_the_typical_void_is_a_finding() -> None:
    dots = [dot(5 + 10 * i, 5 + 10 * j, 4) for i in range(6) for j in range(6) if j != 3]
    plane = Plane(repeat_of(dots, 60, 60))
    answer = check_alleys(plane, AlleyLimits(), typical_width(plane, find_voids(plane)))
    assert "alley" in {f.kind for f in answer.findings}
    assert answer.findings[0].value == pytest.approx(12, abs=0.01)
