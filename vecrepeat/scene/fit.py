"""How a drawing or picture is fitted to a rectangle (SVG 2 §8.2, §8.7)."""

from __future__ import annotations

import re
from fractions import Fraction

from vecrepeat.core.geometry import Affine

_ALIGN_RE = re.compile(r"(?:defer\s+)?(none|x(Min|Mid|Max)Y(Min|Mid|Max))(?:\s+(meet|slice))?")


def view_box_transform(
    view_box: tuple[Fraction, Fraction, Fraction, Fraction],
    width: Fraction,
    height: Fraction,
    aspect: str | None,
) -> Affine:
    """Return the map from viewBox units into a viewport of ``width`` × ``height``.

    Source: SVG 2 §8.2, *Computing the equivalent transform of an SVG viewport*.
    """
    x, y, w, h = view_box
    match = _ALIGN_RE.fullmatch((aspect or "").strip()) or _ALIGN_RE.fullmatch("xMidYMid")
    assert match is not None
    sx, sy = width / w, height / h
    if match.group(1) != "none":
        sx = sy = max(sx, sy) if match.group(4) == "slice" else min(sx, sy)
    share = {None: Fraction(0), "Min": Fraction(0), "Mid": Fraction(1, 2), "Max": Fraction(1)}
    tx = -x * sx + (width - w * sx) * share[match.group(2)]
    ty = -y * sy + (height - h * sy) * share[match.group(3)]
    return Affine(float(sx), 0.0, 0.0, float(sy), float(tx), float(ty))
