"""Lengths as plain numbers of user units, transform lists as one matrix each.

Sources: SVG 2 §8.5 and §8.9, CSS Values 4, CSS Transforms 1.
"""

from __future__ import annotations

from functools import lru_cache

from lxml import etree
from svgelements import Matrix

from vecrepeat.art.page import Viewport, user_length
from vecrepeat.art.xml import take
from vecrepeat.core.geometry import IDENTITY, Affine, number

XYWH = {"x": "x", "y": "y", "width": "x", "height": "y"}
_LENGTHS: dict[str, dict[str, str]] = {
    "rect": {**XYWH, "rx": "x", "ry": "y"},
    "image": XYWH,
    "circle": {"cx": "x", "cy": "y", "r": "xy"},
    "ellipse": {"cx": "x", "cy": "y", "rx": "x", "ry": "y"},
    "line": {"x1": "x", "y1": "y", "x2": "x", "y2": "y"},
    "marker": {"refX": "x", "refY": "y", "markerWidth": "x", "markerHeight": "y"},
}
# Definitions whose lengths are user units only when their units attribute says so.
_UNIT_LENGTHS: dict[str, tuple[str, dict[str, str]]] = {
    "linearGradient": ("gradientUnits", {"x1": "x", "y1": "y", "x2": "x", "y2": "y"}),
    "radialGradient": (
        "gradientUnits",
        {"cx": "x", "cy": "y", "r": "xy", "fx": "x", "fy": "y", "fr": "xy"},
    ),
    "pattern": ("patternUnits", XYWH),
    "mask": ("maskUnits", XYWH),
    "filter": ("filterUnits", XYWH),
}
REGION = {"x": "-10%", "y": "-10%", "width": "120%", "height": "120%"}
_DEFAULT_SHARES: dict[str, dict[str, str]] = {
    "linearGradient": {"x2": "100%"},
    "radialGradient": {"cx": "50%", "cy": "50%", "r": "50%"},
    "mask": REGION,
    "filter": REGION,
}
_TEXT_LISTS = {"x": "x", "y": "y", "dx": "x", "dy": "y"}
_FONT_SIZES = {
    "xx-small": 9.6,
    "x-small": 12.0,
    "small": 13.333333333333334,
    "medium": 16.0,
    "large": 19.2,
    "x-large": 24.0,
    "xx-large": 32.0,
}


def plain_lengths(
    element: etree._Element, name: str, viewport: Viewport, inherited_size: float
) -> None:
    """Turn every length of an element into a plain number of user units, in place.

    Args:
        element: its styles are presentation attributes.
        name: the element's name, or what it is about to become.
        viewport: what percentages are of.
        inherited_size: the font size in force at its parent.
    """
    size = element.get("font-size")
    if size is not None:
        value = _FONT_SIZES.get(size)
        if value is None and size in ("larger", "smaller"):
            value = inherited_size * (1.2 if size == "larger" else 1 / 1.2)
        if value is None and size.endswith("%"):
            share = user_length(size[:-1], "x", viewport)
            value = None if share is None else share / 100 * inherited_size
        if value is None:
            value = user_length(size, "xy", viewport, inherited_size)
        _set(element, "font-size", value)
    font_size = float(element.get("font-size") or inherited_size)
    table = dict(_LENGTHS.get(name, {}))
    if name in _UNIT_LENGTHS:
        units, candidates = _UNIT_LENGTHS[name]
        if element.get(units) == "userSpaceOnUse":
            table = candidates
            # The defaults are shares of the viewport, which is another one after this.
            for attribute, default in _DEFAULT_SHARES.get(name, {}).items():
                if element.get(attribute) is None:
                    element.set(attribute, default)
    for attribute, axis in table.items():
        text = element.get(attribute)
        if text is not None and text.strip() != "auto":
            _set(element, attribute, user_length(text, axis, viewport, font_size))
        elif text is not None:
            del element.attrib[attribute]
    for attribute in ("stroke-width", "stroke-dashoffset"):
        text = element.get(attribute)
        if text is not None:
            _set(element, attribute, user_length(text, "xy", viewport, font_size))
    for attribute, axis in (_TEXT_LISTS if name in ("text", "tspan") else {}).items():
        if element.get(attribute) is not None:
            _list_of_lengths(element, attribute, axis, viewport, font_size)
    dashes = element.get("stroke-dasharray")
    if dashes is not None and dashes != "none":
        _list_of_lengths(element, "stroke-dasharray", "xy", viewport, font_size)


def _list_of_lengths(
    element: etree._Element, name: str, axis: str, viewport: Viewport, font_size: float
) -> None:
    values = [
        user_length(part, axis, viewport, font_size)
        for part in element.get(name, "").replace(",", " ").split()
    ]
    good = [number(v) for v in values if v is not None]
    if len(good) == len(values):
        element.set(name, " ".join(good))
    else:
        del element.attrib[name]


def _set(element: etree._Element, name: str, value: float | None) -> None:
    """Write a length, or take the attribute away where it was no length."""
    if value is None or value != value or value in (float("inf"), float("-inf")):
        del element.attrib[name]
    else:
        element.set(name, number(value))


@lru_cache(maxsize=4096)
def transform_of(text: str | None) -> Affine:
    """Return a transform list as one matrix; a list in error is the identity (SVG 2 §8.5)."""
    if not text or not text.strip():
        return IDENTITY
    try:
        m = Matrix(text)
        values = tuple(float(v) for v in (m.a, m.b, m.c, m.d, m.e, m.f))
    except (ValueError, TypeError, IndexError, AttributeError, ZeroDivisionError, OverflowError):
        return IDENTITY
    if not all(abs(v) < 1e12 for v in values):
        return Affine(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    return Affine(*values)


def one_matrix(element: etree._Element, viewport: Viewport) -> None:
    """Fold ``transform`` and ``transform-origin`` into one matrix."""
    for attribute in ("transform", "gradientTransform", "patternTransform"):
        text = element.get(attribute)
        if text is None:
            continue
        matrix = transform_of(text)
        if attribute == "transform" and (origin := element.get("transform-origin")):
            x, y = _origin(origin, viewport)
            matrix = Affine.translation(x, y) @ matrix @ Affine.translation(-x, -y)
        if matrix == IDENTITY:
            del element.attrib[attribute]
        else:
            element.set(attribute, matrix.svg())
    take(element, "transform-origin")


_KEYWORDS = {"left": "0%", "top": "0%", "center": "50%", "right": "100%", "bottom": "100%"}


def _origin(text: str, viewport: Viewport) -> tuple[float, float]:
    """Return a transform-origin in user units (CSS Transforms 1 §6, view-box reference)."""
    parts = text.replace(",", " ").split()[:2]
    if len(parts) == 1:
        parts = [parts[0], "50%"] if parts[0] not in ("top", "bottom") else ["50%", parts[0]]
    elif parts[0] in ("top", "bottom") or parts[1] in ("left", "right"):
        parts.reverse()
    x = user_length(_KEYWORDS.get(parts[0], parts[0]), "x", viewport)
    y = user_length(_KEYWORDS.get(parts[1], parts[1]), "y", viewport)
    return (x or 0.0, y or 0.0)
