"""The same art in other colours: a pure function from repeat to repeat.

Only paint changes, so outlines, boxes and the index of the repeat are taken over as they are,
however large the sheet.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from operator import attrgetter
from typing import TypeVar

from vecrepeat.repeat.model import Ground, Motif, Placement, Repeat
from vecrepeat.scene.nodes import Gradient, Group, Paint, Stop
from vecrepeat.scene.visit import repainted

_T = TypeVar("_T", Motif, Placement, Repeat)


def recoloured(
    repeat: Repeat,
    colours: Mapping[str, str],
    ground: str | None = "",
    *,
    stops_of: Callable[[Gradient], tuple[Stop, ...]] = attrgetter("stops"),
) -> Repeat:
    """Return a repeat with its colours exchanged.

    Fills, strokes, gradient stops, and light and floods of filters change; opacities stay, so
    what is translucent is so in its new colour. Pictures keep theirs, and so do masks, whose
    colours are no paint.

    Args:
        repeat: the endless cloth.
        colours: ``#rrggbb`` of the art → ``#rrggbb``; what is not named stays.
        ground: the ground's new colour, None for none, or "" to have it follow ``colours``.
        stops_of: what a gradient's stops are before their colours are exchanged.
    """
    known = {old.lower(): new.lower() for old, new in colours.items()}

    @cache
    def in_other_stops(gradient: Gradient) -> Gradient:
        stops = tuple(
            replace(stop, colour=known.get(stop.colour, stop.colour)) for stop in stops_of(gradient)
        )
        return gradient if stops == gradient.stops else replace(gradient, stops=stops)

    def exchanged(paint: Paint) -> Paint:
        if isinstance(paint, Gradient):
            return in_other_stops(paint)
        return known.get(paint.lower(), paint) if isinstance(paint, str) else paint

    @cache
    def repainted_motif(motif: Motif) -> Motif:
        scene = repainted(motif.scene, exchanged)
        assert isinstance(scene, Group)
        new = tuple(dict.fromkeys(known.get(colour, colour) for colour in motif.colours))
        return _keeping(motif, replace(motif, scene=scene, colours=new), "outline", "box")

    placements = tuple(
        _keeping(p, replace(p, motif=repainted_motif(p.motif)), "parts", "outline")
        for p in repeat.placements
    )
    own = repeat.ground
    if ground == "":
        own = own and replace(own, colour=known.get(own.colour, own.colour))
    else:
        own = None if ground is None else Ground(ground.lower(), own.opacity if own else 1.0)
    new = replace(repeat, placements=placements, ground=own)
    return _keeping(repeat, new, "boxes", "index")


def _keeping(old: _T, new: _T, *names: str) -> _T:
    """Hand on what has been worked out of the geometry, which is the same."""
    new.__dict__.update({name: old.__dict__[name] for name in names if name in old.__dict__})
    return new
