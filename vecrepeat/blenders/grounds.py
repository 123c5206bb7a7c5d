"""A blender laid under a repeat's motifs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from vecrepeat.blenders import crossing, dots, hand, stripes, waved
from vecrepeat.blenders.cloth import Cloth, Layer, Shape
from vecrepeat.blenders.settings import Blender
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import IDENTITY
from vecrepeat.core.names import unique
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Motif, Placement, Repeat
from vecrepeat.scene.nodes import Data, Fill, Group, Path
from vecrepeat.scene.outline import Outliner

_NOTED = 0.03
"""A spacing that had to change by more than this share is told."""

_REFUSED = 0.6
"""And one that had to change by more than this share is refused."""

_TOGETHER = 64
"""Shapes to a path: one of thousands takes long to outline, and thousands take long to draw."""

DRAWN: dict[str, Callable[[Cloth, Blender], list[Layer]]] = {
    "dots": dots.dots,
    "stripes": stripes.stripes,
    "checks": crossing.checks,
    "windowpane": crossing.windowpane,
    "chevron": stripes.chevron,
    "lattice": waved.lattice,
    "trellis": waved.trellis,
    "scallops": waved.scallops,
    "crosshatch": hand.crosshatch,
    "dashes": hand.dashes,
    "scatter": hand.scatter,
}
"""What draws each kind; gingham, which must know its ground, is drawn beside them."""


@dataclass(frozen=True, eq=False)
class Grounded:
    """A repeat on a patterned ground.

    Attributes:
        repeat: the endless cloth; the ground's layers are its first placements.
        notes: what had to change for the ground to go round, a sentence each.
    """

    repeat: Repeat
    notes: tuple[str, ...]


def on_blender(repeat: Repeat, told: Blender) -> Grounded:
    """Lay a blender under a repeat's motifs and above its flat ground.

    Where the layout turns tiles, the blender is not turned with them: it goes round the cell
    that moves alone, and the cloth has no more symmetry than that.

    Raises:
        InputError: its settings don't go together, or it holds too many marks.
    """
    plain = Layout(repeat.layout.kind, repeat.layout.shift)
    cloth = Cloth(float(repeat.width), float(repeat.height), plain)
    if told.kind == "gingham":
        ground = repeat.ground.colour if repeat.ground else None
        layers = crossing.gingham(cloth, told, ground)
    else:
        layers = DRAWN[told.kind](cloth, told)
    most = max(map(abs, cloth.strays), default=0.0)
    if most > _REFUSED:
        raise InputError(
            f"a tile of {cloth.width:g} × {cloth.height:g} mm is too small for {told.kind} of "
            f"these measures on the layout {repeat.layout}",
            hint="make it larger, or the measures smaller",
        )
    taken = {placement.motif.name for placement in repeat.placements}
    placed = []
    for layer in layers:
        name = unique(told.kind, taken, "{} {}")
        taken.add(name)
        placed.append(Placement(_motif(name, layer)))
    notes = []
    if most > _NOTED:
        notes.append(
            f"{told.kind}: up to {most:.0%} off the measures given, to go round the tile evenly; "
            "other measures or another tile may fit better"
        )
    under = replace(repeat, placements=(*placed, *repeat.placements), symmetry=None)
    return Grounded(under, tuple(notes))


def _motif(name: str, layer: Layer) -> Motif:
    """Return a layer as a motif."""
    flat = Fill(layer.colour)
    drawn = [shape.data() for shape in layer.shapes if isinstance(shape, Shape)]
    paths = [
        Path(Data("".join(drawn[k : k + _TOGETHER])), flat) for k in range(0, len(drawn), _TOGETHER)
    ]
    paths += [Path(shape, flat) for shape in layer.shapes if not isinstance(shape, Shape)]
    scene = Group(tuple(paths))
    parts = Outliner().parts([(scene, IDENTITY)])[0]
    return Motif(
        name=name,
        parts=np.asarray(parts, object),
        scene=scene,
        colours=(layer.colour,),
        is_ground=True,
    )
