"""sRGB to L*a*b* and CIEDE2000, held to published figures."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from coloraide import Color
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms

from vecrepeat.core.difference import ciede2000, lab_of, profile_lab_of
from vecrepeat.write.icc import _lab

# Sharma, Wu, Dalal 2005, table 1 (supplementary test data): L* a* b*, L* a* b*, difference.
# Typed from memory, each row confirmed by two independent libraries to four decimals.
SHARMA = """
50 2.6772 -79.7751  50 0 -82.7485  2.0425
50 3.1571 -77.2803  50 0 -82.7485  2.8615
50 2.8361 -74.0200  50 0 -82.7485  3.4412
50 -1.3802 -84.2814  50 0 -82.7485  1.0000
50 -1.1848 -84.8006  50 0 -82.7485  1.0000
50 -0.9009 -85.5211  50 0 -82.7485  1.0000
50 0 0  50 -1 2  2.3669
50 -1 2  50 0 0  2.3669
50 2.4900 -0.0010  50 -2.4900 0.0009  7.1792
50 2.4900 -0.0010  50 -2.4900 0.0010  7.1792
50 2.4900 -0.0010  50 -2.4900 0.0011  7.2195
50 2.4900 -0.0010  50 -2.4900 0.0012  7.2195
50 -0.0010 2.4900  50 0.0009 -2.4900  4.8045
50 -0.0010 2.4900  50 0.0010 -2.4900  4.8045
50 -0.0010 2.4900  50 0.0011 -2.4900  4.7461
50 2.5 0  50 0 -2.5  4.3065
50 2.5 0  73 25 -18  27.1492
50 2.5 0  61 -5 29  22.8977
50 2.5 0  56 -27 -3  31.9030
50 2.5 0  58 24 15  19.4535
50 2.5 0  50 3.1736 0.5854  1.0000
50 2.5 0  50 3.2972 0  1.0000
50 2.5 0  50 1.8634 0.5757  1.0000
50 2.5 0  50 3.2592 0.3350  1.0000
60.2574 -34.0099 36.2677  60.4626 -34.1751 39.4387  1.2644
63.0109 -31.0961 -5.8663  62.8187 -29.7946 -4.0864  1.2630
61.2901 3.7196 -5.3901  61.4292 2.2480 -4.9620  1.8731
35.0831 -44.1164 3.7933  35.0232 -40.0716 1.5901  1.8645
22.7233 20.0904 -46.6940  23.0331 14.9730 -42.5619  2.0373
36.4612 47.8580 18.3852  36.2715 50.5065 21.2231  1.4146
90.8027 -2.0831 1.4410  91.1528 -1.6435 0.0447  1.4441
90.9257 -0.5406 -0.9208  88.6381 -0.8985 -0.7239  1.5381
6.7747 -0.2908 -2.4247  5.8714 -0.0985 -2.2286  0.6377
2.0776 0.0795 -1.1350  0.9033 -0.0636 -0.5514  0.9082
"""
PAIRS = np.array([row.split() for row in SHARMA.strip().splitlines()], np.float64)
COLOUR = st.tuples(*[st.integers(0, 255)] * 3)


def test_there_are_34_published_pairs() -> None:
    assert PAIRS.shape == (34, 7)


@pytest.mark.parametrize("row", range(34))
def test_published_pair(row: int) -> None:
    expected = PAIRS[row, 6]
    assert ciede2000(PAIRS[row, :3], PAIRS[row, 3:6]) == pytest.approx(expected, abs=5e-5)


def test_pairs_all_at_once_and_turned_round() -> None:
    forth = ciede2000(PAIRS[:, :3], PAIRS[:, 3:6])
    back = ciede2000(PAIRS[:, 3:6], PAIRS[:, :3])
    assert np.abs(forth - PAIRS[:, 6]).max() < 5e-5
    assert np.abs(back - PAIRS[:, 6]).max() < 5e-5


# From colour-science 0.4, an independent library, with the matrix of IEC 61966-2-1; its white is
# that of CIE 15 and so differs in the fifth digit.
PRIMARIES = [
    ((255, 255, 255), (100.0, 0.0, 0.0)),
    ((0, 0, 0), (0.0, 0.0, 0.0)),
    ((255, 0, 0), (53.23, 80.11, 67.22)),
    ((0, 255, 0), (87.74, -86.18, 83.19)),
    ((0, 0, 255), (32.30, 79.20, -107.85)),
    ((119, 119, 119), (50.03, 0.0, 0.0)),
]


@pytest.mark.parametrize(("rgb", "lab"), PRIMARIES)
def test_srgb_primary_in_lab(rgb: tuple[int, ...], lab: tuple[float, ...]) -> None:
    assert lab_of(rgb) == pytest.approx(lab, abs=0.02)


@given(COLOUR)
def test_lab_of_profiles_is_that_of_coloraide(rgb: tuple[int, ...]) -> None:
    # Its "lab" is CSS's, with white D50 (CSS Color 4 §9.3).
    other = Color("srgb", [v / 255 for v in rgb]).convert("lab").coords()
    assert profile_lab_of(rgb) == pytest.approx(other, abs=0.05)


def test_lab_of_profiles_is_that_of_littlecms() -> None:
    # In eight bits, so to half a step: L* in 100/255, a* and b* in whole numbers.
    rgb = np.array(list(itertools.product(range(0, 256, 51), repeat=3)), np.uint8)
    wanted = _lab(Image.fromarray(rgb[None]), ImageCms.createProfile("sRGB"))
    assert np.abs(profile_lab_of(rgb) - wanted).max() < 0.75


@given(COLOUR, COLOUR)
def test_differences_are_symmetric_and_zero_only_for_one_colour(
    one: tuple[int, ...], other: tuple[int, ...]
) -> None:
    there, back = ciede2000(lab_of([one, other]), lab_of([other, one]))
    assert there == pytest.approx(back, abs=1e-9)
    assert (there == 0) == (one == other)


def test_shapes_broadcast_to_a_table_of_differences() -> None:
    labs = lab_of([(0, 0, 0), (255, 255, 255), (128, 30, 40)])
    table = ciede2000(labs[:, None], labs[None])
    assert table.shape == (3, 3)
    # CIEDE2000 of black and white is 100: ΔL = 100 and S_L = 1 at the mean L* of 50.
    assert table[0, 1] == pytest.approx(100.0)
