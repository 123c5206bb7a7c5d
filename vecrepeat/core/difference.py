"""How far two colours are apart to the eye: sRGB to CIE L*a*b*, and CIEDE2000 between those."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vecrepeat.core.srgb import linear_of

Lab = NDArray[np.float64]

# IEC 61966-2-1, linear sRGB to CIE XYZ under D65. White is what it makes of (1, 1, 1), so that
# greys have no chroma.
_TO_XYZ = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]], np.float64
)
_WHITE = _TO_XYZ.sum(axis=1)

# From D65 to the white of profiles, D50 (ICC.1 §7.2.16), by the Bradford transform (ICC.1 annex E).
_D50 = np.array([0.9642, 1.0, 0.8249])
_CONES = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]], np.float64
)
_TO_D50 = np.linalg.inv(_CONES) @ np.diag((_CONES @ _D50) / (_CONES @ _WHITE)) @ _CONES

# CIE 15: the cube root's linear toe, below (6/29)³.
_DELTA = 6 / 29


def lab_of(rgb: ArrayLike) -> Lab:
    """Return CIE L*a*b* (white D65) of sRGB colours.

    Args:
        rgb: red, green and blue from 0 to 255, whole or not, of shape (…, 3).

    Returns:
        L* (0 to 100), a* and b*, of the same shape.

    Source: IEC 61966-2-1 (sRGB's transfer curve and matrix), CIE 15 (L*a*b*).
    """
    return _lab(_xyz(rgb), _WHITE)


def profile_lab_of(rgb: ArrayLike) -> Lab:
    """Return CIE L*a*b* as ICC profiles have it (white D50) of sRGB colours; see :func:`lab_of`."""
    return _lab(_xyz(rgb) @ _TO_D50.T, _D50)


def _xyz(rgb: ArrayLike) -> NDArray[np.float64]:
    xyz: NDArray[np.float64] = linear_of(rgb) @ _TO_XYZ.T
    return xyz


def _lab(xyz: NDArray[np.float64], white: NDArray[np.float64]) -> Lab:
    ratio = xyz / white
    root = np.where(ratio > _DELTA**3, np.cbrt(ratio), ratio / (3 * _DELTA**2) + 4 / 29)
    x, y, z = np.moveaxis(root, -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def ciede2000(lab1: ArrayLike, lab2: ArrayLike) -> NDArray[np.float64]:
    """Return the CIEDE2000 difference of L*a*b* colours, with kL = kC = kH = 1.

    Args:
        lab1: of shape (…, 3).
        lab2: of a shape that broadcasts with it.

    Returns:
        Differences; about 1 is just noticeable side by side (common practice, no source).

    Source: G. Sharma, W. Wu, E. N. Dalal, “The CIEDE2000 color-difference formula:
    implementation notes, supplementary test data, and mathematical observations”, Color
    Research and Application 30 (2005), 21–30. Numbers in comments are of its equations.
    """
    l1, a1, b1 = np.moveaxis(np.asarray(lab1, np.float64), -1, 0)
    l2, a2, b2 = np.moveaxis(np.asarray(lab2, np.float64), -1, 0)
    chroma7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    stretch = 1 + 0.5 * (1 - np.sqrt(chroma7 / (chroma7 + 25.0**7)))  # (4), (5)
    c1, h1 = _polar(a1 * stretch, b1)
    c2, h2 = _polar(a2 * stretch, b2)
    grey = c1 * c2 == 0
    turn = h2 - h1
    turn = np.where(turn > 180, turn - 360, np.where(turn < -180, turn + 360, turn))
    turn = np.where(grey, 0.0, turn)  # (10)
    d_l, d_c = l2 - l1, c2 - c1
    d_h = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2))  # (11)
    l_mean, c_mean = (l1 + l2) / 2, (c1 + c2) / 2
    total, apart = h1 + h2, np.abs(h1 - h2)
    mean = np.where(apart <= 180, total / 2, (total + np.where(total < 360, 360, -360)) / 2)
    h_mean = np.where(grey, total, mean)  # (14)
    weight = (
        1
        - 0.17 * np.cos(np.radians(h_mean - 30))
        + 0.24 * np.cos(np.radians(2 * h_mean))
        + 0.32 * np.cos(np.radians(3 * h_mean + 6))
        - 0.20 * np.cos(np.radians(4 * h_mean - 63))
    )  # (15)
    spread = 30 * np.exp(-(((h_mean - 275) / 25) ** 2))  # (16)
    rotation = 2 * np.sqrt(c_mean**7 / (c_mean**7 + 25.0**7))  # (17)
    s_l = 1 + 0.015 * (l_mean - 50) ** 2 / np.sqrt(20 + (l_mean - 50) ** 2)  # (18)
    s_c = 1 + 0.045 * c_mean  # (19)
    s_h = 1 + 0.015 * c_mean * weight  # (20)
    turning = -np.sin(np.radians(2 * spread)) * rotation  # (21)
    light, chroma, hue = d_l / s_l, d_c / s_c, d_h / s_h
    result: NDArray[np.float64] = np.sqrt(
        np.maximum(light**2 + chroma**2 + hue**2 + turning * chroma * hue, 0.0)
    )  # (22)
    return result


def _polar(
    a: NDArray[np.float64], b: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return chroma and hue angle in degrees, 0 to 360, the latter 0 for greys (6), (7)."""
    return np.hypot(a, b), np.where((a == 0) & (b == 0), 0.0, np.degrees(np.arctan2(b, a)) % 360)
