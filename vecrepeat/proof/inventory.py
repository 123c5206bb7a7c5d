"""What a drawing holds, motif by motif."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.model import Motif, Placement, Repeat
from vecrepeat.repeat.wrap import CONTACT
from vecrepeat.scene.visit import walk
from vecrepeat.util.columns import aligned


@dataclass(frozen=True)
class MotifRow:
    """One motif of a drawing.

    Attributes:
        name: the motif's name.
        rank: hero, secondary or filler, where a recipe says it.
        placed: how often it is placed.
        box: of its (first) painted outline, in mm of the page.
        area: painted area in mm².
        crosses: the bounds it crosses: left, top, right, bottom and the corners it covers.
        colours: what it is painted with, as ``#rrggbb``.
        features: kinds of what it uses beyond plain fills and strokes.
        elements: how many SVG elements draw it.
        dpi: the fewest pixels per inch of its pictures as drawn; None without any.
    """

    name: str
    rank: str | None
    placed: int
    box: Rect
    area: float
    crosses: tuple[str, ...]
    colours: tuple[str, ...]
    features: tuple[str, ...]
    elements: int
    dpi: float | None

    def as_dict(self) -> dict[str, Any]:
        """Return the row as plain data."""
        return {
            "name": self.name,
            "rank": self.rank,
            "placed": self.placed,
            "box_mm": [self.box.x0, self.box.y0, self.box.width, self.box.height],
            "area_mm2": self.area,
            "crosses": list(self.crosses),
            "colours": list(self.colours),
            "features": list(self.features),
            "elements": self.elements,
            "dpi": self.dpi,
        }


def bounds_crossed(outline: BaseGeometry, width: float, height: float) -> tuple[str, ...]:
    """Return which bounds of a page an outline crosses, and which corners it covers."""
    x0, y0, x1, y1 = outline.bounds
    beyond = {"left": -x0, "top": -y0, "right": x1 - width, "bottom": y1 - height}
    crossed = [side for side, reach in beyond.items() if reach > CONTACT]
    corners = {
        "top-left corner": (0.0, 0.0),
        "top-right corner": (width, 0.0),
        "bottom-left corner": (0.0, height),
        "bottom-right corner": (width, height),
    }
    crossed += [name for name, point in corners.items() if shapely.contains_xy(outline, *point)]
    return tuple(crossed)


def motif_rows(motifs: Sequence[Motif], page: Repeat, ranks: Mapping[str, str]) -> list[MotifRow]:
    """Return a row for each motif, placed on its page or not, in order; ranks are by name."""
    places: dict[Motif, list[Placement]] = {motif: [] for motif in motifs}
    for placement in page.placements:
        places[placement.motif].append(placement)
    width, height = float(page.width), float(page.height)
    rows = []
    for motif, placements in places.items():
        crossed = [bounds_crossed(p.outline, width, height) for p in placements]
        outline = placements[0].outline if placements else motif.outline
        rows.append(
            MotifRow(
                name=motif.name,
                rank=ranks.get(motif.name),
                placed=len(placements),
                box=Rect.of(outline.bounds),
                area=outline.area,
                crosses=tuple(dict.fromkeys(bound for bounds in crossed for bound in bounds)),
                colours=motif.colours,
                features=tuple(dict.fromkeys(f.kind for f in motif.features)),
                elements=sum(1 for _ in walk(motif.scene)),
                dpi=motif.dpi,
            )
        )
    return rows


_HEADINGS = ("motif", "size in mm", "rank", "placed", "colours", "uses", "crosses")
_SHOWN_COLOURS = 4


def table(rows: Sequence[MotifRow]) -> list[str]:
    """Return the rows as lines of a table with aligned columns, under a heading."""
    cells: list[tuple[str, ...]] = [_HEADINGS]
    for row in rows:
        colours = " ".join(row.colours[:_SHOWN_COLOURS])
        if len(row.colours) > _SHOWN_COLOURS:
            colours += f" +{len(row.colours) - _SHOWN_COLOURS}"
        cells.append(
            (
                row.name,
                f"{row.box.width:.1f} × {row.box.height:.1f}",
                row.rank or "–",
                f"{row.placed} ×",
                colours or "–",
                ", ".join(row.features) or "–",
                ", ".join(row.crosses) or "–",
            )
        )
    # Columns that say nothing (no recipe, each motif placed once) are left out.
    idle = {"rank"} if all(row.rank is None for row in rows) else set()
    idle |= {"placed"} if all(row.placed == 1 for row in rows) else set()
    shown = [k for k, heading in enumerate(_HEADINGS) if heading not in idle]
    return aligned([[line[k] for k in shown] for line in cells], right=(1,))
