"""Transform lists as one matrix each (SVG 2 §8.5; CSS Transforms 1)."""

from __future__ import annotations

from functools import lru_cache

from lxml import etree
from svgelements import Matrix

from vecrepeat.art.page import Viewport, user_length
from vecrepeat.art.xml import take
from vecrepeat.core.geometry import IDENTITY, Affine


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
