"""Colourways by rule, worked out in OKLCh.

Every rule moves lightness by a rising function, so that of two colours the lighter stays the
lighter one and the drawing still reads. Only the ground may change sides, where a rule says so.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from vecrepeat.colour.colourway import Colourway
from vecrepeat.colour.palette import Palette
from vecrepeat.core.colours import Floats, hex_from_oklch, oklch_of, rgb_of

_GREY = 0.02
"""OKLCh chroma below which a colour counts as grey."""

_WARM = 60.0
"""The hue of a tonal colourway of greys."""

_DARK, _BROWN, _GREEN = 0.45, 55.0, 140.0
"""OKLCh lightness below which yellow looks like mud, and the hues on either side of it."""


def suggestions(palette: Palette, art: Sequence[str], count: int = 7) -> list[Colourway]:
    """Return at most so many colourways by rule for a palette and all colours of its art."""
    lch = oklch_of(rgb_of(art))
    ground = oklch_of(rgb_of(_ground(palette)))
    rules: list[tuple[str, Floats, str | None]] = [
        ("light ground", lowered(lch), hex_from_oklch([0.972, 0.014, 85.0]))
        if ground[0] < 0.5
        else ("dark ground", lifted(lch), hex_from_oklch([0.27, 0.04, _darkest_hue(palette)])),
        ("tonal", toned(lch, _main_hue(palette)), None),
        ("muted", muted(lch, float(ground[0])), None),
        ("ember", drawn_to(lch, 35.0, 0.62), None),
        ("dusk", drawn_to(lch, 300.0, 0.55), None),
        ("turned 150°", turned(lch, 150.0), None),
        ("turned −60°", turned(lch, -60.0), None),
    ]
    return [
        Colourway(name, dict(zip(art, map(hex_from_oklch, new), strict=True)), own)
        for name, new, own in rules[:count]
    ]


def turned(lch: Floats, angle: float) -> Floats:
    """Return colours with every hue turned by an angle; lightness and chroma stay."""
    new = lch.copy()
    new[:, 2] += angle
    return new


def drawn_to(lch: Floats, hue: float, strength: float) -> Floats:
    """Return colours drawn towards one hue by a share of the way, so that all become kin."""
    new = lch.copy()
    new[:, 2] += strength * _turn_to(lch[:, 2], hue)
    return _clear_of_mud(new, hue)


def toned(lch: Floats, hue: float) -> Floats:
    """Return colours all in one hue.

    What parted them by hue is gone, so lightness has to: it is spread evenly by halves.
    """
    new = lch.copy()
    new[:, 0] = (lch[:, 0] + _evened(lch[:, 0])) / 2
    # Chroma is fullest in the middle of the scale, as sRGB allows it; dark grounds of much
    # chroma look muddy.
    full = np.clip(1 - ((new[:, 0] - 0.62) / 0.42) ** 2, 0.15, 1)
    new[:, 1] = 0.075 * full**1.5 + 0.15 * lch[:, 1]
    new[:, 2] = hue - 0.12 * _turn_to(lch[:, 2], hue)
    return new


def muted(lch: Floats, level: float) -> Floats:
    """Return colours of two fifths less chroma, a little nearer to a lightness, the ground's."""
    new = lch.copy()
    new[:, 0] = level + 0.92 * (lch[:, 0] - level)
    new[:, 1] *= 0.58
    return new


def lifted(lch: Floats) -> Floats:
    """Return colours lifted clear of a dark ground."""
    new = lch.copy()
    new[:, 0] = _scaled(lch[:, 0], 0.46, 0.95)
    return new


def lowered(lch: Floats) -> Floats:
    """Return colours brought down clear of a pale ground."""
    new = lch.copy()
    new[:, 0] = _scaled(lch[:, 0], 0.26, 0.78)
    # Pale colours brought down turn to grey unless they gain some chroma.
    new[:, 1] = lch[:, 1] * 1.05 + 0.11 * np.clip(lch[:, 0] - new[:, 0], 0, 0.4)
    return new


def _turn_to(hues: Floats, hue: float) -> Floats:
    """Return the shorter turn in degrees from each hue to one."""
    result: Floats = (hue - hues + 180) % 360 - 180
    return result


def _clear_of_mud(lch: Floats, hue: float) -> Floats:
    """Return colours with dark ones that landed between yellow and green moved on to brown.

    Dark yellow looks like mud (common practice, no source); only where the hue drawn to is warm
    has it a better neighbour that way.
    """
    hues = lch[:, 2] % 360
    muddy = (lch[:, 0] < _DARK) & (hues > _BROWN) & (hues < _GREEN)
    if abs((_BROWN - hue + 180) % 360 - 180) < 60:
        lch[muddy, 2] = _BROWN
    return lch


def _ground(palette: Palette) -> str:
    """Return the ground's colour; white where there is none."""
    return next((entry.colour for entry in palette.entries if entry.is_ground), "#ffffff")


def _darkest_hue(palette: Palette) -> float:
    """Return the hue of the darkest colour that is no grey."""
    lch = oklch_of(rgb_of(entry.colour for entry in palette.entries if entry.area > 0))
    lch = lch[lch[:, 1] >= _GREY]
    return float(lch[int(lch[:, 0].argmin()), 2]) if len(lch) else 260.0


def _main_hue(palette: Palette) -> float:
    """Return the hue of a dark ground, tone on tone; else the one that most is seen of.

    All kin count together for that, by chroma and root of area.
    """
    light, chroma, hue = (float(value) for value in oklch_of(rgb_of(_ground(palette))))
    if light < _DARK and chroma >= _GREY:
        return hue
    entries = [entry for entry in palette.entries if entry.area > 0]
    lch = oklch_of(rgb_of(entry.colour for entry in entries))
    if not (lch[:, 1] >= _GREY).any():
        return _WARM
    weight = lch[:, 1] * np.sqrt([entry.area for entry in entries])
    # Kin within some 60° count in full near by and fade out.
    apart = np.radians(lch[:, 2][:, None] - lch[:, 2])
    kin = np.clip(np.cos(apart), 0, None) ** 3
    return float(lch[int((kin @ weight * (lch[:, 1] >= _GREY)).argmax()), 2])


def _scaled(light: Floats, low: float, high: float) -> Floats:
    """Return lightness spread evenly from one value to another, order kept."""
    span = float(np.ptp(light))
    if span < 1e-6:
        return np.full_like(light, (low + high) / 2)
    result: Floats = low + (light - light.min()) / span * (high - low)
    return result


def _evened(light: Floats) -> Floats:
    """Return lightness by rank, evenly spaced over the range it has."""
    values, rank = np.unique(np.round(light, 6), return_inverse=True)
    if len(values) < 2:
        return light
    result: Floats = values[0] + rank / (len(values) - 1) * (values[-1] - values[0])
    return result
