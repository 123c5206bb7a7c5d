"""The reduce workflow: art in a few flat colours, as a drawing or a print tile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from vecrepeat.colour.gradients import by_stops
from vecrepeat.colour.reduce import Reduction, flat_areas, reduced, reduction
from vecrepeat.colour.visible import visible
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import listed
from vecrepeat.core.units import counted
from vecrepeat.repeat.model import Repeat
from vecrepeat.scene import kinds
from vecrepeat.scene.visit import is_translucent
from vecrepeat.write.composing import compose
from vecrepeat.write.exporting import export


@dataclass(frozen=True)
class Reduced:
    """What was written.

    Attributes:
        file: the drawing or the tile.
        choice: the colours left, and what moved.
        notes: what is not flat yet, a sentence each.
    """

    file: Path
    choice: Reduction
    notes: tuple[str, ...]

    def lines(self) -> list[str]:
        """Return the facts as lines."""
        choice = self.choice
        head = f"{self.file}: {counted(len(choice.colours), 'flat colour')}"
        lines = [f"{head}: {', '.join(choice.colours)}"]
        lines += [
            f"  {m.colour} → {m.into}  {m.area / 100:8.2f} cm²  ΔE {m.difference:.1f}"
            for m in choice.moves
            if m.area > 0
        ]
        return lines

    def as_dict(self) -> dict[str, Any]:
        """Return the facts as plain data."""
        return {
            "file": str(self.file),
            "colours": list(self.choice.colours),
            "moved": [move.as_dict() for move in self.choice.moves],
            "notes": list(self.notes),
        }


def write_reduced(
    repeat: Repeat,
    path: Path,
    count: int,
    *,
    keep: Sequence[str] = (),
    steps: int | None = None,
    dpi: Fraction = Fraction(300),
) -> Reduced:
    """Bring art to a few flat colours and write one tile of it, as SVG or PNG.

    Args:
        repeat: the endless cloth.
        path: the file; its ending says which.
        count: how many colours may be left.
        keep: colours that must be among them.
        steps: at most how many bands a gradient has; by default as many as colours it passes.
        dpi: of a PNG.

    Raises:
        InputError: too few colours, another ending, or a file that can't be written.
    """
    kind = path.suffix.lower()
    if kind not in (".svg", ".png"):
        raise InputError("reduce writes SVG or PNG", file=path, hint="end the name in .svg or .png")
    choice = reduction(flat_areas(visible(repeat).banded(by_stops)), count, keep)
    flat = reduced(repeat, choice, steps=steps)
    if kind == ".svg":
        compose(flat, path, tile_only=True)
    else:
        export(flat, path, dpi=dpi)
    return Reduced(path, choice, tuple(still_mixed(repeat)))


def still_mixed(repeat: Repeat) -> list[str]:
    """Return notes on motifs that show more colours than they are painted with."""
    mixing = {kinds.OPACITY, kinds.IMAGE, kinds.FILTER, kinds.MASK, kinds.BLEND}
    names = [
        p.motif.name
        for p in repeat.placements
        if any(f.kind in mixing for f in p.motif.features) or is_translucent(p.motif.scene)
    ]
    names = list(dict.fromkeys(names))
    if not names:
        return []
    shown = listed([f"“{name}”" for name in names])
    return [
        f"opacity, pictures or filters still mix colours in {shown} (separate flattens opacity)"
    ]
