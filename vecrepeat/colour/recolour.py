"""The same art in other colours: a pure function from repeat to repeat.

Only paint changes, so outlines, boxes and the index of the repeat are taken over as they are,
however large the sheet.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import TypeVar

from vecrepeat.repeat.model import Ground, Motif, Placement, Repeat
from vecrepeat.scene.nodes import Gradient, Group, Paint
from vecrepeat.scene.visit import repainted

_T = TypeVar("_T", Motif, Placement, Repeat)
_MOTIF_CACHES = ("outline", "box")
_REPEAT_CACHES = ("boxes", "index")


def recoloured(
    repeat: Repeat, colours: Mapping[str, str], ground: Ground | str | None = ""
) -> Repeat:
    """Return a repeat with its colours exchanged.

    Fills, strokes, gradient stops, and light and floods of filters change; opacities stay, so
    what is translucent is so in its new colour. Pictures keep theirs, and so do masks, whose
    colours are no paint.

    Args:
        repeat: the endless cloth.
        colours: ``#rrggbb`` of the art → ``#rrggbb``; what is not named stays.
        ground: the ground's new colour, a whole ground, None for none, or "" to have it follow
            ``colours``.
    """
    known = {old.lower(): new.lower() for old, new in colours.items()}
    exchange = exchanging(known)
    motifs = {p.motif: _motif(p.motif, known, exchange) for p in repeat.placements}
    placements = tuple(_placement(p, motifs[p.motif]) for p in repeat.placements)
    old = repeat.ground
    if ground == "":
        ground = old and replace(old, colour=known.get(old.colour, old.colour))
    elif isinstance(ground, str):
        ground = Ground(ground.lower(), 1.0 if old is None else old.opacity)
    assert not isinstance(ground, str)
    result = replace(repeat, placements=placements, ground=ground)
    return _keeping(repeat, result, _REPEAT_CACHES)


def exchanging(colours: Mapping[str, str]) -> Callable[[Paint], Paint]:
    """Return what exchanges colours in any paint, each gradient once."""
    known: dict[Gradient, Gradient] = {}

    def exchanged(paint: Paint) -> Paint:
        if isinstance(paint, str):
            return colours.get(paint.lower(), paint)
        if not isinstance(paint, Gradient):
            return paint
        if paint not in known:
            stops = tuple(
                replace(stop, colour=colours.get(stop.colour, stop.colour)) for stop in paint.stops
            )
            known[paint] = paint if stops == paint.stops else replace(paint, stops=stops)
        return known[paint]

    return exchanged


def _motif(motif: Motif, colours: Mapping[str, str], exchange: Callable[[Paint], Paint]) -> Motif:
    scene = repainted(motif.scene, exchange)
    assert isinstance(scene, Group)
    new = tuple(dict.fromkeys(colours.get(colour, colour) for colour in motif.colours))
    return _keeping(motif, replace(motif, scene=scene, colours=new), _MOTIF_CACHES)


def _placement(placement: Placement, motif: Motif) -> Placement:
    return _keeping(placement, replace(placement, motif=motif), ("parts", "outline"))


def _keeping(old: _T, new: _T, names: tuple[str, ...]) -> _T:
    """Hand on what has been worked out of the geometry, which is the same."""
    new.__dict__.update({name: old.__dict__[name] for name in names if name in old.__dict__})
    return new
