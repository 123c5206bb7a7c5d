"""sRGB's transfer curve. Source: IEC 61966-2-1."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def linear_of(rgb: ArrayLike) -> NDArray[np.float64]:
    """Return the light, 0 to 1, of sRGB values from 0 to 255, of the same shape."""
    value = np.asarray(rgb, np.float64) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def rgb_from_linear(light: ArrayLike) -> NDArray[np.float64]:
    """Return the sRGB values of light, beyond 0 to 255 where that is beyond 0 to 1."""
    linear = np.asarray(light, np.float64)
    size = np.abs(linear)
    curve = np.where(size <= 0.0031308, 12.92 * size, 1.055 * size ** (1 / 2.4) - 0.055)
    result: NDArray[np.float64] = np.copysign(curve, linear) * 255
    return result
