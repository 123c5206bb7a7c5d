"""The page: its physical size and the map from user units to millimetres.

Sources: SVG 2 §8 (viewBox, preserveAspectRatio), CSS Values and Units 4 §6 (lengths).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from lxml import etree

from vecrepeat.core.allowance import TILE
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Affine
from vecrepeat.core.units import MM_PER_UNIT, NOT_IN_SVG
from vecrepeat.scene.fit import view_box_transform

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,2})?"
_LENGTH_RE = re.compile(rf"({_NUMBER})\s*(%|[a-zA-Z]*)")

MM_PER_PX = MM_PER_UNIT["px"]


@dataclass(frozen=True)
class Viewport:
    """The size in user units that percentages refer to (SVG 2 §8.9)."""

    width: float
    height: float

    def reference(self, axis: str) -> float:
        """Return what 100 % means along ``"x"``, ``"y"`` or for other lengths (``"xy"``)."""
        if axis == "x":
            return self.width
        if axis == "y":
            return self.height
        return math.hypot(self.width, self.height) / math.sqrt(2)


@dataclass(frozen=True)
class Page:
    """A drawing's page.

    Attributes:
        width: in mm, exact.
        height: in mm, exact.
        to_mm: from the root's user units to mm of the page, its corner at the origin.
        viewport: what percentages refer to at the root.
    """

    width: Fraction
    height: Fraction
    to_mm: Affine
    viewport: Viewport


def user_length(
    text: str | None, axis: str, viewport: Viewport, font_size: float = 16.0
) -> float | None:
    """Return a CSS/SVG length in user units (px), or None where it is no length.

    Args:
        text: such as ``"12"``, ``"3mm"``, ``"50%"`` or ``"1.5em"``.
        axis: ``"x"``, ``"y"`` or ``"xy"``: what a percentage refers to.
        viewport: the viewport in force.
        font_size: the element's font size in user units, for em and ex.
    """
    match = _LENGTH_RE.fullmatch(text.strip()) if text else None
    if match is None:
        return None
    value, unit = float(match.group(1)), match.group(2).lower()
    if unit == "":
        return value
    if unit == "%":
        return value / 100 * viewport.reference(axis)
    if unit in MM_PER_UNIT and unit not in NOT_IN_SVG:
        return float(Fraction(match.group(1)) * MM_PER_UNIT[unit] / MM_PER_PX)
    relative = {
        "em": font_size,
        "rem": 16.0,
        "ex": font_size / 2,
        "ch": font_size / 2,
        "q": 96 / 101.6,
        "vw": viewport.width / 100,
        "vh": viewport.height / 100,
    }
    return value * relative[unit] if unit in relative else None


def parse_view_box(text: str | None) -> tuple[Fraction, Fraction, Fraction, Fraction] | None:
    """Return a viewBox's x, y, width and height exactly, or None where it is invalid."""
    parts = (text or "").replace(",", " ").split()
    if len(parts) != 4 or not all(re.fullmatch(_NUMBER, p) for p in parts):
        return None
    x, y, w, h = (Fraction(p) for p in parts)
    return (x, y, w, h)


def _side(root: etree._Element, name: str) -> Fraction | None:
    """Return the root's width or height in px, exactly; None where it is auto."""
    text = (root.get(name) or "").strip()
    if text in ("", "auto") or text.endswith("%"):
        return None
    match = _LENGTH_RE.fullmatch(text)
    if match is None:
        raise InputError(f"the page's {name} “{text[:40]}” is not a length")
    value, unit = Fraction(match.group(1)), match.group(2).lower()
    if unit in ("em", "rem"):
        return value * 16
    if unit and (unit not in MM_PER_UNIT or unit in NOT_IN_SVG):
        raise InputError(f"the page's {name} “{text[:40]}” has an unknown unit")
    return value * MM_PER_UNIT[unit or "px"] / MM_PER_PX


def read_page(root: etree._Element) -> Page:
    """Find the page's physical size from the root's width, height and viewBox.

    A side that is missing or in percent is taken from the viewBox, at 96 units an inch.

    Raises:
        InputError: no size at all, or one that is zero, negative or absurd.
    """
    view_box = parse_view_box(root.get("viewBox"))
    if root.get("viewBox") is not None and (view_box is None or min(view_box[2:]) <= 0):
        raise InputError(
            f"the page's viewBox “{root.get('viewBox', '')[:40]}” is not a usable rectangle",
            hint="it takes x, y, width and height, the last two above zero",
        )
    width, height = _side(root, "width"), _side(root, "height")
    if view_box is not None:
        _, _, w, h = view_box
        if width is None and height is None:
            width, height = w, h
        elif width is None and height is not None:
            width = height * w / h
        elif height is None and width is not None:
            height = width * h / w
    if width is None or height is None:
        raise InputError(
            "the page has no size",
            hint="give <svg> a width and a height, such as 10in, or a viewBox",
        )
    for name, side in (("width", width), ("height", height)):
        mm = side * MM_PER_PX
        if mm <= 0:
            raise InputError(f"the page's {name} is {'zero' if mm == 0 else 'negative'}")
        if not TILE[0] <= mm <= TILE[1]:
            raise InputError(
                f"the page's {name} of {float(mm):.6g} mm is absurd",
                hint="a page may be 0.1 mm to 100 m a side",
            )
    if view_box is None:
        view_box = (Fraction(0), Fraction(0), width, height)
    fit = view_box_transform(view_box, width, height, root.get("preserveAspectRatio"))
    # Scaled exactly, so that round numbers stay round.
    to_mm = Affine(*(float(Fraction(v) * MM_PER_PX) for v in fit))
    return Page(
        width * MM_PER_PX,
        height * MM_PER_PX,
        to_mm,
        Viewport(float(view_box[2]), float(view_box[3])),
    )
