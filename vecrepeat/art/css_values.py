"""Property values: validation and one canonical spelling for each.

Sources: CSS Syntax 3 (tokens, by tinycss2), CSS Values 4, CSS Color 4 (colours to sRGB,
clipped), CSS Transforms 1 §7-8, CSS Fonts 4 §2.7 (``font``), SVG 2 §13.2 (paint).

All functions are pure and cached: drawings repeat a few values thousands of times.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np
import tinycss2
import tinycss2.color4

from vecrepeat.art.properties import PROPERTIES, SHORTHANDS
from vecrepeat.core.srgb import linear_of, rgb_from_linear

#: The CSS-wide keywords (CSS Cascade 4 §7.3); they pass through validation unchanged.
WIDE = frozenset({"inherit", "initial", "unset", "revert", "revert-layer"})

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?"
_LENGTH_RE = re.compile(
    rf"({_NUMBER})(%|em|ex|ch|rem|px|pt|pc|cm|mm|in|q|vw|vh|vmin|vmax)?", re.IGNORECASE
)
_URL_RE = re.compile(r"""url\(\s*(?:"([^"]*)"|'([^']*)'|([^)"'\s]*))\s*\)""", re.IGNORECASE)
_HEX_RE = re.compile(r"#[0-9a-f]{6}|#[0-9a-f]{3}", re.IGNORECASE)
_ICC_RE = re.compile(r"(?<=\S)\s*\b(?:icc-color|device-cmyk)\([^()]*\)$", re.IGNORECASE)
_RGBA_RE = re.compile(r"rgba\((\d+), (\d+), (\d+), ([^)]+)\)")

_PIXELS = {"px": 1.0, "in": 96.0, "cm": 96 / 2.54, "mm": 96 / 25.4, "q": 96 / 101.6}
_PIXELS |= {"pt": 96 / 72, "pc": 16.0}
_DEGREES = {"deg": 1.0, "grad": 0.9, "rad": 180 / math.pi, "turn": 360.0}

_Matrix = tuple[tuple[float, float, float], ...]
# CSS Color 4 §18, sample conversion matrices.
_XYZ_TO_SRGB: _Matrix = (
    (3.2409699419045226, -1.537383177570094, -0.4986107602930034),
    (-0.9692436362808796, 1.8759675015077202, 0.04155505740717559),
    (0.05563007969699366, -0.20397695888897652, 1.0569715142428786),
)
_D50_TO_D65: _Matrix = (
    (0.955473421488075, -0.02309845494876471, 0.06325924320057072),
    (-0.0283697093338637, 1.0099953980813041, 0.021041441191917323),
    (0.012314014864481998, -0.020507649298898964, 1.330365926242124),
)
_P3_TO_XYZ: _Matrix = (
    (0.4865709486482162, 0.26566769316909306, 0.1982172852343625),
    (0.2289745640697488, 0.6917385218365064, 0.079286914093745),
    (0.0, 0.04511338185890264, 1.043944368900976),
)


def number_text(value: float) -> str:
    """``value`` in its shortest decimal form of at most 8 significant digits."""
    return f"{value + 0.0:.8g}"


def _times(matrix: _Matrix, xyz: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(sum(a * b for a, b in zip(row, xyz, strict=True)) for row in matrix)


def _encoded(light: tuple[float, ...]) -> tuple[float, ...]:
    """Light as (unclipped) sRGB channels, odd-symmetric as CSS Color 4 extends the curve."""
    return tuple((rgb_from_linear(light) / 255).tolist())


def _decoded(channels: tuple[float, ...]) -> tuple[float, ...]:
    light = linear_of(255 * np.abs(channels))
    return tuple(np.copysign(light, channels).tolist())


def _srgb(parsed: Any) -> tuple[float, ...] | None:
    """A tinycss2 colour as (unclipped) sRGB channels, or None for a space not handled."""
    space: str = parsed.space
    if space in ("srgb", "hsl", "hwb"):
        return tuple(parsed.to("srgb").coordinates)
    if space in ("oklab", "oklch"):
        xyz = tuple(parsed.to("xyz-d65").coordinates)
    elif space in ("lab", "lch"):
        xyz = _times(_D50_TO_D65, tuple(parsed.to("xyz-d50").coordinates))
    else:
        given = tuple(c or 0.0 for c in parsed.coordinates)
        if space == "srgb-linear":
            return _encoded(given)
        if space == "display-p3":
            xyz = _times(_P3_TO_XYZ, _decoded(given))
        elif space == "xyz-d65":
            xyz = given
        elif space == "xyz-d50":
            xyz = _times(_D50_TO_D65, given)
        else:
            return None
    return _encoded(_times(_XYZ_TO_SRGB, xyz))


def _colour(text: str) -> str | None:
    if _HEX_RE.fullmatch(text):
        text = text.lower()
        return text if len(text) == 7 else "#" + "".join(2 * digit for digit in text[1:])
    text = _ICC_RE.sub("", text)
    try:
        parsed = tinycss2.color4.parse_color(text)
        if parsed is None or parsed == "currentcolor":
            return parsed and "currentColor"
        channels = _srgb(parsed)
        if channels is None:
            return None
        red, green, blue = (math.floor(255 * min(1.0, max(0.0, c)) + 0.5) for c in channels)
    except (ValueError, AttributeError, IndexError, OverflowError, RecursionError):
        # tinycss2 unpacks arguments before counting them, and lets infinities through.
        return None
    if parsed.alpha < 1:
        return f"rgba({red}, {green}, {blue}, {number_text(parsed.alpha)})"
    return f"#{red:02x}{green:02x}{blue:02x}"


@lru_cache(maxsize=4096)
def split_alpha(colour: str) -> tuple[str, float]:
    """Split a normal-form paint or colour into its opaque spelling and its alpha (0..1).

    ``rgba(r, g, b, a)`` gives ``("#rrggbb", a)``; everything else ``(colour, 1.0)``.
    """
    match = _RGBA_RE.fullmatch(colour)
    if match is None:
        return colour, 1.0
    red, green, blue = (int(match[i]) for i in (1, 2, 3))
    return f"#{red:02x}{green:02x}{blue:02x}", float(match[4])


def _url_text(match: re.Match[str]) -> str:
    target = next((g for g in match.groups() if g is not None), "")
    if re.search(r"[\s()\"']", target):
        quote = "'" if '"' in target else '"'
        return f"url({quote}{target}{quote})"
    return f"url({target})"


def _url(text: str) -> str | None:
    match = _URL_RE.fullmatch(text)
    return match and _url_text(match)


def _mask(text: str) -> str | None:
    # CSS Masking's shorthand may add mode, position and so on; engines read the url alone.
    match = _URL_RE.match(text)
    return match and _url_text(match)


def _paint(text: str) -> str | None:
    match = _URL_RE.match(text)
    if match is None:
        lower = text.lower()
        if lower in ("none", "context-fill", "context-stroke"):
            return lower
        return _colour(text)
    url, rest = _url_text(match), text[match.end() :].strip()
    if not rest:
        return url
    fallback = "none" if rest.lower() == "none" else _colour(rest)
    return fallback and f"{url} {fallback}"


def _length(text: str, *, minimum: float = -math.inf, css: bool = False) -> str | None:
    match = _LENGTH_RE.fullmatch(text)
    if match is None or not minimum <= float(match[1]) < math.inf:
        return None
    unit = (match[2] or "").lower()
    if css and not unit and float(match[1]) != 0:
        return None
    return match[1] if unit == "px" else match[1] + unit


def _opacity(text: str) -> str | None:
    match = _LENGTH_RE.fullmatch(text)
    if match is None or match[2] not in (None, "%"):
        return None
    value = float(match[1])
    if match[2] is None and 0 <= value <= 1:
        return text
    return number_text(min(1.0, max(0.0, value / 100 if match[2] else value)))


def _dashes(text: str) -> str | None:
    dashes = [_length(item, minimum=0) for item in re.split(r"\s*,\s*|\s+", text)]
    if None in dashes:
        return None
    return ",".join(dash for dash in dashes if dash)


def _paint_order(text: str) -> str | None:
    words = text.lower().split()
    ok = len(set(words)) == len(words) and set(words) <= {"fill", "stroke", "markers"}
    return " ".join(words) if ok and words else None


def _origin(text: str) -> str | None:
    words = text.lower().split()
    places = ("left", "center", "right", "top", "bottom")
    out = [word if word in places else _length(word) for word in words]
    if not 1 <= len(words) <= 3 or None in out:
        return None
    return " ".join(word for word in out[:2] if word)


def _path(text: str) -> str | None:
    match = re.fullmatch(r"""path\(\s*(?:"([^"\\]*)"|'([^'\\]*)')\s*\)""", text, re.IGNORECASE)
    return match and (match[1] if match[1] is not None else match[2])


def _measure(token: Any, units: dict[str, float]) -> float | None:
    """A length in px or angle in degrees; a bare number only if it is 0 (CSS Values 4 §6)."""
    if token.type == "dimension" and token.lower_unit in units:
        return float(token.value) * units[token.lower_unit]
    return 0.0 if token.type == "number" and token.value == 0 else None


def _transform_step(name: str, arguments: list[Any]) -> str | None:
    tokens = [t for t in arguments if t.type not in ("whitespace", "comment")]
    args = tokens[::2]
    if len(tokens) % 2 == 0 or any(t != "," for t in tokens[1::2]):
        return None
    values: list[float | None]
    if name.startswith("translate"):
        values = [_measure(t, _PIXELS) for t in args]
    elif name.startswith(("rotate", "skew")):
        values = [_measure(t, _DEGREES) for t in args]
    else:
        percent = {"number": 1.0, "percentage": 0.01 if name.startswith("scale") else math.nan}
        values = [t.value * percent[t.type] if t.type in percent else None for t in args]
    v = [value for value in values if value is not None and math.isfinite(value)]
    if len(v) != len(values):
        return None
    count = len(v)
    if name == "skew" and count in (1, 2):
        tx, ty = (math.tan(math.radians(a)) for a in (v[0], v[1] if count == 2 else 0.0))
        name, v = "matrix", [1, ty, tx, 1, 0, 0]
    elif name in ("translatex", "translatey", "scalex", "scaley") and count == 1:
        name, axis = name[:-1], name[-1]
        other = 1.0 if name == "scale" else 0.0
        v = [v[0], other] if axis == "x" else [other, v[0]]
    elif name in ("rotate", "rotatez", "skewx", "skewy") and count == 1:
        name = {"rotatez": "rotate", "skewx": "skewX", "skewy": "skewY"}.get(name, name)
    elif not (name in ("translate", "scale") and count in (1, 2)) and (name, count) != (
        "matrix",
        6,
    ):
        return None
    return f"{name}({' '.join(map(number_text, v))})"


def _transform(text: str) -> str | None:
    steps: list[str | None] = []
    for token in tinycss2.parse_component_value_list(text, skip_comments=True):
        if token.type == "function":
            steps.append(_transform_step(token.lower_name, token.arguments))
        elif token.type != "whitespace":
            return None
    if not steps or None in steps:
        return None
    return " ".join(step for step in steps if step)


_KINDS: dict[str, Callable[[str], str | None]] = {
    "any": lambda text: text or None,
    "colour": _colour,
    "css-length": lambda text: _length(text, css=True),
    "css-length+": lambda text: _length(text, minimum=0, css=True),
    "dashes": _dashes,
    "length": _length,
    "length+": lambda text: _length(text, minimum=0),
    "mask": _mask,
    "number+": lambda text: None if text[-1:] == "%" else _length(text, minimum=0),
    "opacity": _opacity,
    "origin": _origin,
    "paint": _paint,
    "paint-order": _paint_order,
    "path": _path,
    "transform": _transform,
    "url": _url,
    # Filter function lists pass unchecked: engines differ in which functions they draw.
    "urls": lambda text: _URL_RE.sub(_url_text, text) or None,
}
_UNEVALUATED_RE = re.compile(r"\b(?:calc|min|max|clamp|env|attr)\(", re.IGNORECASE)


def _normalise(name: str, text: str) -> str | None:
    row = PROPERTIES[name]
    keyword = row.keywords.get(text.lower())
    if keyword is not None:
        return keyword
    if _UNEVALUATED_RE.search(text) and name != "font-family":
        return None
    return next(filter(None, (_KINDS[kind](text) for kind in row.kinds)), None)


def _font(text: str) -> tuple[str, ...] | None:
    """The longhand values of ``font``, in the order of ``SHORTHANDS['font']``."""
    found = {"font-style": "", "font-variant": "", "font-weight": "", "font-stretch": ""}
    rest = re.sub(r"\s*/\s*", "/", text, count=1)
    while " " in (rest := rest.strip()):
        word, _, rest = rest.partition(" ")
        word, _, line = word.lower().partition("/")
        if word in ("italic", "oblique"):
            name = "font-style"
        elif word == "small-caps":
            name = "font-variant"
        elif word in ("bold", "bolder", "lighter") or word.isdigit():
            name = "font-weight"
        elif word.endswith(("condensed", "expanded")):
            name = "font-stretch"
        elif word != "normal":
            # The first word that is none of these must be the size; the families follow it.
            size, height = (
                _normalise("font-size", word),
                _normalise("line-height", line or "normal"),
            )
            if size is None or height is None:
                return None
            return (*(value or "normal" for value in found.values()), size, height, rest.strip())
        else:
            continue
        if found[name] or line:
            return None
        found[name] = word
    return None


#: Values longer than this (paths, data URLs) hardly repeat and would fill the caches.
LONG = 400


def expand(name: str, text: str) -> tuple[tuple[str, str], ...] | None:
    """Validate one declaration and spell it out as longhands in normal form.

    Args:
        name: a property or shorthand in lower case.
        text: its value, without comments, ``!important`` or ``var()``.

    Returns:
        Pairs of longhand and value; the CSS-wide keywords pass through in lower case. None
        for an invalid or unsupported value. Empty for a name that is not an SVG property.
    """
    return _expand(name, text) if len(text) <= LONG else _expand.__wrapped__(name, text)


@lru_cache(maxsize=16384)
def _expand(name: str, text: str) -> tuple[tuple[str, str], ...] | None:
    text = text.strip() if '"' in text or "'" in text else " ".join(text.split())
    lower = text.lower()
    longhands = SHORTHANDS.get(name)
    if longhands is None:
        if name not in PROPERTIES:
            return ()
        value = lower if lower in WIDE else _normalise(name, text)
        if name == "color" and value == "currentColor":
            value = "inherit"  # CSS Color 4 §6.2
        return None if value is None else ((name, value),)
    if lower in WIDE:
        return tuple((longhand, lower) for longhand in longhands)
    if name == "font":
        values = _font(text)
        return None if values is None else tuple(zip(longhands, values, strict=True))
    value = _normalise(longhands[0], text)
    return None if value is None else tuple((longhand, value) for longhand in longhands)
