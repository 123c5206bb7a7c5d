"""Poses, the dice and the torus: the small parts that everything rests on."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely
from shapely import affinity
from support import box, motif, repeat_of

from vecrepeat.arrange.dice import Dice
from vecrepeat.arrange.torus import Torus
from vecrepeat.core.geometry import Affine
from vecrepeat.repeat.pose import Pose, anchor, cos_sin, cos_sin_of

FLAG = shapely.Polygon([(10, 20), (16, 20), (16, 23), (11, 23), (11, 30), (10, 30)])


@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize("turn", [0.0, 90.0, 137.25, 270.0])
def test_pose_flips_scales_turns_and_moves_about_the_box_centre(turn: float, flip: bool) -> None:
    pose = Pose(50.0, -7.0, turn, 1.5, flip)
    found = shapely.transform(FLAG, pose.affine(anchor(motif("flag", FLAG))).apply)
    laid = affinity.scale(FLAG, -1.5 if flip else 1.5, 1.5, origin=(13, 25))
    # With y downwards, shapely's positive angle is clockwise as seen.
    laid = affinity.translate(affinity.rotate(laid, turn, origin=(13, 25)), 37, -32)
    assert shapely.hausdorff_distance(found, laid) < 1e-9


def test_right_angles_are_exact() -> None:
    assert [cos_sin(d) for d in (0, 90, 180, 270, -90)] == [
        (1, 0),
        (0, 1),
        (-1, 0),
        (0, -1),
        (0, -1),
    ]


def test_no_turn_that_is_kept_depends_on_the_last_bits_of_a_library() -> None:
    # A cosine is rounded to 10 decimals; one that lies on the edge between two could go
    # either way. Libraries agree to about 1e-16, here a millionth.
    shares = np.cos(np.radians(np.arange(0, 9001) / 100)) * 1e10 % 1
    assert np.abs(shares - 0.5).min() > 1e-5


def test_many_cosines_are_those_of_one() -> None:
    degrees = np.array([0.0, 12.34, 359.99, 123.456789, 90.0])
    cos, sin = cos_sin_of(degrees)
    assert list(zip(cos.tolist(), sin.tolist(), strict=True)) == [cos_sin(d) for d in degrees]


def test_dice_are_made_of_the_words_of_pcg64() -> None:
    words = np.random.PCG64(np.random.SeedSequence([7, 2])).random_raw(3).tolist()
    dice = Dice(7, 2)
    assert dice.below(1000) == words[0] * 1000 // 2**64
    assert dice.unit() == (words[1] // 2**11) / 2**53
    assert dice.between(2.0, 2.0) == 2.0


def test_shuffling_loses_nothing_and_reaches_every_order() -> None:
    dice = Dice(1)
    assert {tuple(dice.shuffled("abc")) for _ in range(200)} == set(itertools.permutations("abc"))


@pytest.mark.parametrize("layout", ["block", "half-drop", "drop:2/7", "brick:1/3"])
def test_home_is_the_copy_in_the_tile(layout: str) -> None:
    repeat = repeat_of([], 30, 20, layout)
    rng = np.random.default_rng(1)
    x, y = rng.uniform(-200, 200, (2, 300))
    hx, hy = Torus(repeat).home(x, y)
    assert hx.min() >= 0
    assert hx.max() < 30
    assert hy.min() >= 0
    assert hy.max() < 20
    a, b = repeat.lattice.a, repeat.lattice.b
    basis = np.array([[float(a.x), float(b.x)], [float(a.y), float(b.y)]])
    steps = np.linalg.solve(basis, np.stack([hx - x, hy - y]))
    assert np.abs(steps - np.round(steps)).max() < 1e-9


@pytest.mark.parametrize("layout", ["block", "half-drop", "drop:3/8", "brick:2/5"])
def test_vectors_are_all_that_reach_so_far(layout: str) -> None:
    repeat = repeat_of([], 30, 20, layout)
    found = {tuple(np.round(v, 6)) for v in Torus(repeat).vectors(75.0)}
    lattice = repeat.lattice
    every = [lattice.at(i, j) for i in range(-40, 41) for j in range(-40, 41)]
    near = {(round(float(v.x), 6), round(float(v.y), 6)) for v in every if math.hypot(*v) <= 75}
    assert near <= found
    assert Torus(repeat).shortest == min(math.hypot(*v) for v in every if any(v))


def test_the_anchor_is_the_centre_of_the_painted_box() -> None:
    assert anchor(motif("two", box(0, 0, 1, 1), box(9, 3, 10, 5))) == (5.0, 2.5)


def test_affine_maps_are_what_matrices_of_three_rows_say() -> None:
    rng = np.random.default_rng(2)

    def matrix(map_: Affine) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
        a, b, c, d, e, f = map_
        return np.array([[a, c, e], [b, d, f], [0, 0, 1]])

    for one, other in rng.uniform(-9, 9, (20, 2, 6)):
        left, right = Affine(*one), Affine(*other)
        whole = matrix(left)
        assert matrix(left @ right) == pytest.approx(whole @ matrix(right))
        assert matrix(left.inverse()) == pytest.approx(np.linalg.inv(whole))
        points = rng.uniform(-9, 9, (5, 2))
        assert left.apply(points) == pytest.approx(points @ whole[:2, :2].T + whole[:2, 2])
        assert left.determinant == pytest.approx(np.linalg.det(whole))
        # How far a circle is drawn out: the singular values.
        longest, shortest = np.linalg.svd(whole[:2, :2], compute_uv=False)
        assert left.stretch == pytest.approx(longest)
        assert left.is_similarity() == bool(longest - shortest < 1e-9)
    for flip in (1.0, -1.0):
        assert Affine(3.0, 4.0, -4.0 * flip, 3.0 * flip, 1.0, 2.0).is_similarity()
    # A rhombus's sides are as long as each other, a rectangle's at right angles.
    assert not Affine(3.0, 4.0, 5.0, 0.0, 0.0, 0.0).is_similarity()
    assert not Affine(1.0, 0.0, 0.0, 2.0, 0.0, 0.0).is_similarity()
