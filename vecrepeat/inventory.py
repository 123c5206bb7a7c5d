"""What a drawing holds, motif by motif."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.read import Art
from vecrepeat.wrap import CONTACT


@dataclass(frozen=True)
class MotifRow:
    """One motif of a drawing.

    Attributes:
        name: the motif's name.
        x: left of its painted outline, mm from the page's left.
        y: top of its painted outline, mm from the page's top.
        width: of its painted outline, mm.
        height: of its painted outline, mm.
        area: painted area in mm².
        crosses: the bounds it crosses: left, top, right, bottom and the corners it covers.
    """

    name: str
    x: float
    y: float
    width: float
    height: float
    area: float
    crosses: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return the row as plain data."""
        return {
            "name": self.name,
            "box_mm": [self.x, self.y, self.width, self.height],
            "area_mm2": self.area,
            "crosses": list(self.crosses),
        }


def bounds_crossed(outline: BaseGeometry, width: float, height: float) -> tuple[str, ...]:
    """Return which bounds of a page an outline crosses, and which corners it covers."""
    x0, y0, x1, y1 = outline.bounds
    crossed = [
        side
        for side, beyond in (
            ("left", x0 < -CONTACT),
            ("top", y0 < -CONTACT),
            ("right", x1 > width + CONTACT),
            ("bottom", y1 > height + CONTACT),
        )
        if beyond
    ]
    corners = {
        "top-left corner": (0.0, 0.0),
        "top-right corner": (width, 0.0),
        "bottom-left corner": (0.0, height),
        "bottom-right corner": (width, height),
    }
    crossed += [name for name, point in corners.items() if shapely.contains_xy(outline, *point)]
    return tuple(crossed)


def motif_rows(art: Art) -> list[MotifRow]:
    """Return a row for each motif, in stacking order."""
    rows = []
    for motif in art.motifs:
        x0, y0, x1, y1 = motif.box
        crosses = bounds_crossed(motif.outline, float(art.width), float(art.height))
        rows.append(MotifRow(motif.name, x0, y0, x1 - x0, y1 - y0, motif.outline.area, crosses))
    return rows
