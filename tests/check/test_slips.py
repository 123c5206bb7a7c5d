"""Parts a pixel out of place that an edge or two tell."""

from __future__ import annotations

import numpy as np
import pytest

from vecrepeat.check.edges import DEPTH, trace
from vecrepeat.check.nudges import find_slips
from vecrepeat.check.pixels import Levels
from vecrepeat.repeat.wrap import Floats

SIDE = 400


def band(across: float = 0, along: float = 0) -> Levels:
    """A dark band over the tile; only its upper edge is out of place right of the join.

    The offset fades to nothing over half the tile. Pixels are shares of their area to within
    what an edge bends within a column.
    """
    x = np.arange(SIDE) + 0.5
    turn = 2 * np.pi / SIDE
    fade = np.clip(1 - x / (SIDE / 2), 0, 1) ** 2
    upper = 120 + 30 * np.sin(turn * (x - across * fade)) + along * fade
    lower = 280 + 25 * np.cos(turn * x)
    y = np.arange(SIDE)[:, None]

    def below(edge: Floats) -> Floats:
        result: Floats = np.clip(y + 1 - edge[None], 0, 1)
        return result

    return (230 - 180 * (below(upper) - below(lower))).astype(np.float32)


@pytest.mark.parametrize("offset", [(0, 1), (0, -1), (1, 0), (-1, 0), (1, -1)])
def test_one_edge_tells_where_the_drawing_has_none_that_jump(offset: tuple[int, int]) -> None:
    # The edge runs down by 30 · 2π / 400 = 0.47 px a pixel: it jumps by dy − 0.47 dx.
    (nudge,) = find_slips(band(*offset), 0)
    assert (nudge.across, nudge.along) == offset
    assert 110 < nudge.first == nudge.last < 130


def test_an_edge_that_goes_on_is_none() -> None:
    assert find_slips(band(), 0) == []


def test_less_than_renderers_err_by_is_none() -> None:
    assert find_slips(band(along=0.25), 0) == []


def test_edges_are_traced_to_hundredths_of_a_pixel() -> None:
    tile = band(along=1)
    (edges,) = trace(np.concatenate([tile[:, -DEPTH:], tile[:, :DEPTH]], axis=1))
    # The band's lower edge goes on.
    assert edges.jump == pytest.approx([1, 0], abs=0.03)
    assert edges.slope == pytest.approx([30 * 2 * np.pi / SIDE, 0], abs=0.03)
    assert edges.place == pytest.approx([120.5, 305], abs=0.1)


def test_grain_hides_edges() -> None:
    rng = np.random.default_rng(3)
    grainy = band(along=1) + rng.normal(0, 25, (SIDE, SIDE)).astype(np.float32)
    assert find_slips(grainy, 0) == []
