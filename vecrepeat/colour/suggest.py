"""Colourways by rule, worked out in OKLCh.

Every rule moves lightness by a rising function, so that of two colours the lighter stays the
lighter one and the drawing still reads. Only the ground may change sides, where a rule says so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from vecrepeat.colour.colourway import Colourway
from vecrepeat.colour.palette import Palette
from vecrepeat.core.colours import Floats, hex_from_oklch, oklch_of, rgb_of

Rule = Callable[[Palette, Sequence[str]], Colourway]
"""From a palette and all colours of the art to a colourway."""

_GREY = 0.02
"""OKLCh chroma below which a colour counts as grey."""

_WARM = 60.0
"""The hue of a tonal colourway of greys."""

_DARK, _BROWN, _GREEN = 0.45, 55.0, 140.0
"""OKLCh lightness below which yellow looks like mud, and the hues on either side of it."""


def _applied(name: str, art: Sequence[str], change: Callable[[Floats], Floats]) -> Colourway:
    """Return a colourway whose colours are what ``change`` makes of OKLCh rows."""
    new = change(oklch_of(rgb_of(art)))
    return Colourway(name, dict(zip(art, (hex_from_oklch(row) for row in new), strict=True)))


def hue_turn(angle: float, name: str) -> Rule:
    """Turn every hue by an angle in degrees; lightness and chroma stay as sRGB allows."""

    def rule(palette: Palette, art: Sequence[str]) -> Colourway:
        return _applied(name, art, lambda lch: lch + np.array([0.0, 0.0, angle]))

    return rule


def drawn_to(hue: float, strength: float, name: str) -> Rule:
    """Draw every hue towards one by a share of the way, so that all become kin."""

    def rule(palette: Palette, art: Sequence[str]) -> Colourway:
        def change(lch: Floats) -> Floats:
            new = lch.copy()
            new[:, 2] += strength * _turn_to(lch[:, 2], hue)
            return _clear_of_mud(new, hue)

        return _applied(name, art, change)

    return rule


def tonal(name: str = "tonal", hue: float | None = None) -> Rule:
    """Put every colour in one hue, that of the design unless another is given.

    What parted the colours by hue is gone, so lightness has to: it is spread evenly by halves.
    """

    def rule(palette: Palette, art: Sequence[str]) -> Colourway:
        turn = _main_hue(palette) if hue is None else hue

        def change(lch: Floats) -> Floats:
            new = lch.copy()
            new[:, 0] = (lch[:, 0] + _evened(lch[:, 0])) / 2
            # Chroma is fullest in the middle of the scale, as sRGB allows it; dark grounds of
            # much chroma look muddy.
            full = np.clip(1 - ((new[:, 0] - 0.62) / 0.42) ** 2, 0.15, 1)
            new[:, 1] = 0.075 * full**1.5 + 0.15 * lch[:, 1]
            new[:, 2] = turn - 0.12 * _turn_to(lch[:, 2], turn)
            return new

        return _applied(name, art, change)

    return rule


def muted(name: str = "muted") -> Rule:
    """Take two fifths of every chroma away and draw lightness a little towards the ground's."""

    def rule(palette: Palette, art: Sequence[str]) -> Colourway:
        level = float(oklch_of(rgb_of(_ground(palette)))[0])

        def change(lch: Floats) -> Floats:
            new = lch.copy()
            new[:, 0] = level + 0.92 * (lch[:, 0] - level)
            new[:, 1] *= 0.58
            return new

        return _applied(name, art, change)

    return rule


def dark_ground(hue: float | None = None, name: str = "dark ground") -> Rule:
    """Put the art on a dark ground and lift every colour clear of it."""

    def rule(palette: Palette, art: Sequence[str]) -> Colourway:
        def change(lch: Floats) -> Floats:
            new = lch.copy()
            new[:, 0] = _scaled(lch[:, 0], 0.46, 0.95)
            return new

        turn = _darkest_hue(palette) if hue is None else hue
        way = _applied(name, art, change)
        return Colourway(name, way.colours, hex_from_oklch([0.27, 0.04, turn]))

    return rule


def light_ground(hue: float = 85.0, name: str = "light ground") -> Rule:
    """Put the art on a pale ground and bring every colour down clear of it."""

    def rule(palette: Palette, art: Sequence[str]) -> Colourway:
        def change(lch: Floats) -> Floats:
            new = lch.copy()
            new[:, 0] = _scaled(lch[:, 0], 0.26, 0.78)
            # Pale colours brought down turn to grey unless they gain some chroma.
            new[:, 1] = lch[:, 1] * 1.05 + 0.11 * np.clip(lch[:, 0] - new[:, 0], 0, 0.4)
            return new

        way = _applied(name, art, change)
        return Colourway(name, way.colours, hex_from_oklch([0.972, 0.014, hue]))

    return rule


def suggestions(palette: Palette, art: Sequence[str], count: int = 5) -> list[Colourway]:
    """Return colourways by rule for a palette.

    Args:
        palette: the drawing's.
        art: all colours it is painted with.
        count: how many, at most as many as there are rules.
    """
    dark = float(oklch_of(rgb_of(_ground(palette)))[0]) < 0.5
    rules: list[Rule] = [
        light_ground() if dark else dark_ground(),
        tonal(),
        muted(),
        drawn_to(35.0, 0.62, "ember"),
        drawn_to(300.0, 0.55, "dusk"),
        hue_turn(150.0, "turned 150°"),
        hue_turn(-60.0, "turned −60°"),
    ]
    return [rule(palette, art) for rule in rules[:count]]


def _turn_to(hues: Floats, hue: float) -> Floats:
    """Return the shorter turn in degrees from each hue to one."""
    result: Floats = (hue - hues + 180) % 360 - 180
    return result


def _clear_of_mud(lch: Floats, hue: float) -> Floats:
    """Return colours with dark ones that landed between yellow and green moved on to brown.

    Dark yellow looks like mud (common practice, no source); only where the hue drawn to is warm
    has it a better neighbour that way.
    """
    new = lch.copy()
    turned = lch[:, 2] % 360
    muddy = (lch[:, 0] < _DARK) & (turned > _BROWN) & (turned < _GREEN)
    if abs(float(_turn_to(np.array([hue]), _BROWN)[0])) < 60:
        new[muddy, 2] = _BROWN
    return new


def _ground(palette: Palette) -> str:
    """Return the ground's colour; white where there is none."""
    return next((entry.colour for entry in palette.entries if entry.is_ground), "#ffffff")


def _darkest_hue(palette: Palette) -> float:
    """Return the hue of the darkest colour that is no grey."""
    lch = oklch_of(rgb_of([entry.colour for entry in palette.entries if entry.area > 0]))
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
    if not entries:
        return _WARM
    lch = oklch_of(rgb_of([entry.colour for entry in entries]))
    if lch[:, 1].max() < _GREY:
        return _WARM
    weight = lch[:, 1] * np.sqrt([entry.area for entry in entries])
    # Kin within some 60° count in full near by and fade out.
    apart = np.radians(lch[:, 2][:, None] - lch[:, 2])
    kin = np.clip(np.cos(apart), 0, None) ** 3
    return float(lch[int((kin @ weight * (lch[:, 1] >= _GREY)).argmax()), 2])


def _scaled(light: Floats, low: float, high: float) -> Floats:
    """Return lightness spread evenly from one value to another, order kept."""
    span = float(light.max() - light.min())
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
