"""Shells never claim more room than there is, and fields of distance tell the truth nearly."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from strewing import garden, leaves, odd

from vecrepeat.arrange.shapes import Shape, Shapes, grown_by
from vecrepeat.repeat.model import Motif

MOTIFS = [m for m, _ in [*garden()[::4], *odd(), *leaves()[:1]]]


@pytest.mark.parametrize("clearance", [0.0, 3.0])
@pytest.mark.parametrize("motif", MOTIFS, ids=lambda m: m.name)
def test_a_shell_holds_the_outline_and_is_no_nearer_where_it_counts(
    motif: Motif, clearance: float
) -> None:
    shape = Shape.of(motif, clearance)
    assert shape.shell.contains(shape.outline)
    rng = np.random.default_rng(3)
    points = shapely.points(rng.uniform(-1.5, 1.5, (600, 2)) * shape.radius)
    true, told = shape.outline.distance(points), shape.shell.distance(points)
    far = true >= clearance + shape.slack
    assert far.sum() > 100
    assert np.all(told <= true + 1e-9)
    assert np.all(told[far] >= true[far] - shape.slack)


@pytest.mark.parametrize("motif", MOTIFS, ids=lambda m: m.name)
def test_fields_tell_distances_from_the_shell(motif: Motif) -> None:
    shape = Shape.of(motif, 2.0)
    rng = np.random.default_rng(4)
    for reach, allowed in ((1.2, 0.02), (4.5, 0.05), (12.0, 0.4)):
        x, y = rng.uniform(-reach, reach, (2, 500)) * shape.radius
        told, _, _ = Shapes([shape]).distance(np.zeros(500, dtype=np.int64), x, y)
        points = shapely.points(x, y)
        inside = shape.shell.contains(points)
        true = shape.shell.boundary.distance(points) * np.where(inside, -1, 1)
        # In radii: a field is as fine as the motif is large.
        assert np.abs(told - true).max() < allowed * shape.radius


def test_depths_are_of_the_samples() -> None:
    shape = Shape.of(odd()[0][0], 2.0)
    deep = shape.shell.boundary.distance(shapely.points(shape.samples))
    assert np.abs(deep - shape.depth).max() < 0.001
    assert abs(shape.weight.sum() - shape.shell.length) < 0.001 * shape.shell.length


def test_an_outline_of_thousands_of_points_is_grown_as_it_is_whole() -> None:
    # GEOS grows it whole in seconds; a few points less, and the two can be held together.
    turn = np.linspace(0, 2 * np.pi, 1200, endpoint=False)
    out = 30 + 2 * np.sin(90 * turn)
    wavy = shapely.Polygon(np.stack([out * np.cos(turn), out * np.sin(turn)], axis=1))
    outline = shapely.union_all([wavy, shapely.Point(50, 0).buffer(3)])
    whole = outline.buffer(4.0, quad_segs=6)
    assert grown_by(outline, 4.0).symmetric_difference(whole).area < 2e-4 * whole.area
