"""Colours as ``#rrggbb`` and as numbers: sRGB, OKLab and OKLCh.

Source: CSS Color 4 §9.3 (OKLab, OKLCh and the sample code of §18), after B. Ottosson, “A
perceptual color space for image processing” (2020).
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from vecrepeat.core.difference import ciede2000, lab_of
from vecrepeat.core.srgb import linear_of, rgb_from_linear

Floats = NDArray[np.float64]

_TO_LMS = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
_TO_OKLAB = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)
_FROM_LMS = np.linalg.inv(_TO_LMS)
_FROM_OKLAB = np.linalg.inv(_TO_OKLAB)
_IN_GAMUT = 1e-4


def rgb_of(colours: str | Iterable[str]) -> Floats:
    """Return red, green and blue from 0 to 255: shape (3,) for one ``#rrggbb``, else (n, 3)."""
    if isinstance(colours, str):
        value = int(colours[1:], 16)
        return np.array([value >> 16, value >> 8 & 255, value & 255], np.float64)
    return np.array([rgb_of(colour) for colour in colours], np.float64).reshape(-1, 3)


def hex_of(rgb: ArrayLike) -> str:
    """Return the nearest ``#rrggbb`` of red, green and blue from 0 to 255."""
    r, g, b = (int(v) for v in np.clip(np.floor(np.asarray(rgb, np.float64) + 0.5), 0, 255))
    return f"#{r:02x}{g:02x}{b:02x}"


def differences(colours: Iterable[str], others: Iterable[str]) -> Floats:
    """Return the CIEDE2000 difference of each colour to each other, shape (n, m)."""
    one, two = lab_of(rgb_of(list(colours))), lab_of(rgb_of(list(others)))
    return ciede2000(one[:, None], two[None, :])


def lightness(colour: str) -> float:
    """Return a colour's CIE L*, 0 to 100."""
    return float(lab_of(rgb_of(colour))[0])


def oklab_of(rgb: ArrayLike) -> Floats:
    """Return OKLab (L from 0 to 1) of sRGB from 0 to 255, shape (…, 3)."""
    result: Floats = np.cbrt(linear_of(rgb) @ _TO_LMS.T) @ _TO_OKLAB.T
    return result


def oklch_of(rgb: ArrayLike) -> Floats:
    """Return OKLCh (hue in degrees, 0 to 360) of sRGB from 0 to 255, shape (…, 3)."""
    light, a, b = np.moveaxis(oklab_of(rgb), -1, 0)
    return np.stack([light, np.hypot(a, b), np.degrees(np.arctan2(b, a)) % 360], axis=-1)


def is_paper(colour: str) -> bool:
    """Whether a ``#rrggbb`` is taken for paper: white to cream and pale grey (no source)."""
    light, chroma, _ = oklch_of(rgb_of(colour))
    return bool(light >= 0.88 and chroma <= 0.06)


def oklab_from_oklch(lch: ArrayLike) -> Floats:
    """Return OKLab of OKLCh, shape (…, 3)."""
    light, chroma, hue = np.moveaxis(np.asarray(lch, np.float64), -1, 0)
    turn = np.radians(hue)
    return np.stack([light, chroma * np.cos(turn), chroma * np.sin(turn)], axis=-1)


def rgb_from_oklab(lab: ArrayLike) -> Floats:
    """Return sRGB from 0 to 255, beyond it for colours that sRGB can't show, shape (…, 3)."""
    return rgb_from_linear((np.asarray(lab, np.float64) @ _FROM_OKLAB.T) ** 3 @ _FROM_LMS.T)


def hex_from_oklab(lab: ArrayLike) -> str:
    """Return the ``#rrggbb`` of an OKLab colour.

    A colour that sRGB can't show keeps its lightness and hue and gives up chroma, as in CSS
    Color 4 §13.2, without its local clipping.
    """
    light, a, b = (float(v) for v in np.asarray(lab, np.float64))
    light = min(1.0, max(0.0, light))
    low, high = 0.0, 1.0
    if not _shown(np.array([light, a, b])):
        for _ in range(24):
            middle = (low + high) / 2
            if _shown(np.array([light, a * middle, b * middle])):
                low = middle
            else:
                high = middle
        a, b = a * low, b * low
    return hex_of(rgb_from_oklab([light, a, b]))


def hex_from_oklch(lch: ArrayLike) -> str:
    """Return the ``#rrggbb`` of an OKLCh colour; see :func:`hex_from_oklab`."""
    return hex_from_oklab(oklab_from_oklch(lch))


def _shown(lab: Floats) -> bool:
    rgb = rgb_from_oklab(lab) / 255
    return bool((rgb >= -_IN_GAMUT).all() and (rgb <= 1 + _IN_GAMUT).all())
