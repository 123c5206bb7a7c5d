"""Art brought to a few flat colours, for processes with a limit on them.

Colours are merged one by one, each time the two whose merging moves the least: visible area
times ΔE2000. Gradients become steps of the colours that are left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vecrepeat.colour.flatten import CLOTH, WHITE, seen_colour
from vecrepeat.colour.gradients import Banding, in_steps
from vecrepeat.colour.recolour import recoloured
from vecrepeat.colour.rendered import Rendered, look
from vecrepeat.colour.visible import Visible
from vecrepeat.core.colours import Floats, differences, rgb_of
from vecrepeat.core.difference import Lab, ciede2000, lab_of
from vecrepeat.core.errors import InputError
from vecrepeat.core.names import listed
from vecrepeat.core.units import counted
from vecrepeat.repeat.model import Repeat
from vecrepeat.scene import kinds
from vecrepeat.scene.nodes import Gradient, Stop
from vecrepeat.scene.visit import is_translucent
from vecrepeat.write.composing import compose
from vecrepeat.write.exporting import export

SAMPLES = 48
"""Places along a gradient at which the nearest flat colour is looked up."""


@dataclass(frozen=True)
class Move:
    """A colour that has been merged into another.

    Attributes:
        colour: what it was.
        into: what it is now.
        area: what is seen of it in one tile's worth of cloth, in mm².
        difference: ΔE2000 between the two.
    """

    colour: str
    into: str
    area: float
    difference: float


@dataclass(frozen=True)
class Reduction:
    """A choice of flat colours and where all others go.

    Attributes:
        colours: those that are left, the most seen first.
        moves: the others, those that matter most first.
    """

    colours: tuple[str, ...]
    moves: tuple[Move, ...]
    _nearest: dict[str, str] = field(default_factory=dict, repr=False, compare=False)

    def nearest(self, colour: str) -> str:
        """Return the flat colour that stands for any colour."""
        if colour not in self._nearest:
            known = differences([colour], self.colours)[0]
            self._nearest[colour] = self.colours[int(known.argmin())]
        return self._nearest[colour]


def reduction(areas: Mapping[str, float], count: int, keep: Sequence[str] = ()) -> Reduction:
    """Choose flat colours for what is seen.

    Args:
        areas: mm² by ``#rrggbb``.
        count: how many colours may be left.
        keep: colours that must be among them.

    Raises:
        InputError: fewer than one colour, or fewer than are to be kept.
    """
    kept = list(dict.fromkeys(colour.lower() for colour in keep))
    if count < max(1, len(kept)):
        raise InputError(
            f"{count} colours are too few" + (f": {len(kept)} are to be kept" if kept else ""),
            hint="allow more",
        )
    names = list(dict.fromkeys([*areas, *kept]))
    if not names:
        return Reduction((), ())
    own = np.array([areas.get(name, 0.0) for name in names])
    left = _left(lab_of(rgb_of(names)), own, np.array([name in kept for name in names]), count)
    colours = [names[n] for n in left]
    moves = []
    for n in np.delete(np.arange(len(names)), left):
        far = differences([names[n]], colours)[0]
        into = int(far.argmin())
        moves.append(Move(names[n], colours[into], float(own[n]), float(far[into])))
    moves.sort(key=lambda move: -move.area * move.difference)
    return Reduction(tuple(colours), tuple(moves))


def _left(lab: Lab, own: Floats, fixed: NDArray[np.bool_], count: int) -> list[int]:
    """Return the numbers of colours that are left of many, those that most goes into first.

    Only what each would best go into is remembered, so that thousands of colours take no table
    of all pairs.
    """
    order = np.arange(len(lab))
    weight, alive = own.copy(), np.ones(len(lab), bool)
    cost, best = np.full(len(lab), np.inf), np.zeros(len(lab), np.int64)

    def look(n: int) -> None:
        """Find what a colour would go into: the lesser goes into the greater."""
        cost[n] = np.inf
        greater = (weight > weight[n]) | ((weight == weight[n]) & (order < n)) | fixed
        others = np.flatnonzero(greater & alive & (order != n))
        if len(others) and not fixed[n]:
            # Its area is what moves, by the distance.
            moved = weight[n] * ciede2000(lab[n], lab[others])
            least = int(moved.argmin())
            cost[n], best[n] = moved[least], others[least]

    for n in order.tolist():
        look(n)
    for _ in range(len(lab) - count):
        one = int(cost.argmin())
        other = int(best[one])
        lesser = weight < weight[other]
        weight[other] += weight[one]
        below = (weight < weight[other]) | ((weight == weight[other]) & (order > other))
        alive[one], cost[one] = False, np.inf
        look(other)
        for n in np.flatnonzero(alive & (best == one) & np.isfinite(cost)).tolist():
            look(n)
        # What was greater, or as great, may go into it now.
        now = np.flatnonzero(~lesser & below & alive & ~fixed)
        moved = weight[now] * ciede2000(lab[now], lab[other])
        nearer = (moved < cost[now]) | ((moved == cost[now]) & (other < best[now]))
        cost[now[nearer]], best[now[nearer]] = moved[nearer], other
    return [n for n in np.argsort(-weight, kind="stable").tolist() if alive[n]]


def flat_areas(seen: Visible | Rendered, cloth: str = WHITE) -> dict[str, float]:
    """Return the area of each flat colour that is seen, in mm²; bare cloth is left out.

    What is translucent is seen on cloth of a colour.
    """
    if isinstance(seen, Rendered):
        return seen.flat_areas(cloth)
    found: dict[str, float] = {}
    for mix, area in seen.shares.items():
        if any(colour != CLOTH for colour, _ in mix):
            colour = seen_colour(mix, cloth)
            found[colour] = found.get(colour, 0.0) + area
    return found


def into_flats(reduction: Reduction, steps: int | None = None) -> Banding:
    """Return a banding of gradients into the flat colours of a reduction.

    A gradient has at most so many steps; by default as many as colours it passes.
    """
    return in_steps(steps or SAMPLES, reduction.nearest)


def reduced(repeat: Repeat, choice: Reduction, *, steps: int | None = None) -> Repeat:
    """Return the art in flat colours: gradients in steps, every other colour moved.

    Opacities stay: where something shows through, more colours are seen. For ``steps`` see
    :func:`into_flats`.
    """
    banding = into_flats(choice, steps)

    def stepped(gradient: Gradient) -> tuple[Stop, ...]:
        return tuple(
            Stop(at, band.colour, band.opacity)
            for band in banding(gradient.stops)
            for at in (band.start, band.end)
        )

    colours = {c for p in repeat.placements for c in p.motif.colours}
    if repeat.ground is not None:
        colours.add(repeat.ground.colour)
    moved = {colour: choice.nearest(colour) for colour in sorted(colours)}
    return recoloured(repeat, moved, stops_of=stepped)


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
            "moved": [
                {
                    "colour": m.colour,
                    "into": m.into,
                    "area_cm2": m.area / 100,
                    "delta_e": m.difference,
                }
                for m in self.choice.moves
            ],
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
    seen = look(repeat)
    choice = reduction(flat_areas(seen), count, keep)
    flat = reduced(repeat, choice, steps=steps)
    if kind == ".svg":
        compose(flat, path, tile_only=True)
    else:
        export(flat, path, dpi=dpi)
    told = [seen.note] if isinstance(seen, Rendered) else []
    return Reduced(path, choice, (*told, *still_mixed(repeat)))


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
