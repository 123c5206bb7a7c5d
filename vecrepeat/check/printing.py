"""Print limits: what the process and the size asked for can hold."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.check.details import Thin, too_fine
from vecrepeat.check.findings import Answer, Finding
from vecrepeat.check.plane import Plane
from vecrepeat.check.profile import PrintLimits
from vecrepeat.core.colours import rgb_of
from vecrepeat.core.difference import ciede2000, lab_of
from vecrepeat.core.names import listed
from vecrepeat.scene.kinds import FILTER, GRADIENT, IMAGE, MASK, TEXT
from vecrepeat.scene.nodes import Image, Path, Text
from vecrepeat.scene.visit import colours_of, effective_dpi, is_translucent, walk

_TOO_FINE = {
    "line": ("line too thin", "a line is thinner than the process holds"),
    "gap": ("gap too narrow", "a gap will fill in"),
    "detail": ("detail too small", "a detail is too small to print"),
}


def check_printing(plane: Plane, limits: PrintLimits) -> Answer:
    """Hold the repeat, at its print size, to the process's limits."""
    facts: dict[str, object] = {"colours": list(_colours(plane))}
    findings = [
        *_fine(plane, limits),
        *_contents(plane, limits),
        *_inks(plane, limits),
        *screen_findings(plane.repeat.block_size[1], limits),
    ]
    return Answer(tuple(findings), facts)


def _fine(plane: Plane, limits: PrintLimits) -> Iterator[Finding]:
    """Yield one finding for each motif and kind, however often the motif is there."""
    bounds = {"line": limits.line_mm, "gap": limits.gap_mm, "detail": limits.detail_mm}
    found: dict[tuple[str, str], list[Thin]] = {}
    for thin in too_fine(plane, limits.line_mm, limits.gap_mm, limits.detail_mm):
        found.setdefault((plane.names[thin.placement], thin.kind), []).append(thin)
    for (name, narrow), several in found.items():
        kind, what = _TOO_FINE[narrow]
        # Counted in all copies, marked in the first.
        count = sum(len(shapely.get_parts(thin.places)) for thin in several)
        first = min(several, key=lambda thin: thin.placement)
        many = "" if count == 1 else f", in {count} places"
        width = min(thin.width for thin in several)
        said = f"in “{name}” {what}{many}"
        yield Finding(kind, said, width, bounds[narrow], first.places, (name,))


def _contents(plane: Plane, limits: PrintLimits) -> Iterator[Finding]:
    """Yield what pictures, text and transparency within motifs give rise to."""
    toned: dict[str, BaseGeometry] = {}
    for k, placement in enumerate(plane.repeat.placements):
        motif = placement.motif
        kinds = {feature.kind for feature in motif.features}
        where = plane.outlines[k]
        if TEXT in kinds:
            said = f"“{motif.name}” holds text that is not outlined"
            yield Finding("live text", said, 1, 0, where, (motif.name,))
        for node, matrix in walk(motif.scene, placement.transform) if IMAGE in kinds else ():
            dpi = effective_dpi(node, matrix) if isinstance(node, Image) else None
            if dpi is not None and dpi < limits.image_dpi:
                yield Finding(
                    "coarse picture",
                    f"a picture in “{motif.name}” is coarse at this size",
                    dpi,
                    limits.image_dpi,
                    where,
                    (motif.name,),
                    "put in a larger picture, or print the repeat smaller",
                )
        if limits.spot:
            tones = kinds & {GRADIENT, MASK, FILTER, IMAGE}
            if tones or is_translucent(motif.scene):
                toned[motif.name] = where
    if toned:
        names = list(toned)
        shown = listed([f"“{name}”" for name in names])
        yield Finding(
            "tones in a spot process",
            f"{shown} have gradients, pictures or transparent paint, and each screen lays one "
            "flat colour",
            len(names),
            0,
            shapely.MultiPolygon([shapely.box(*shape.bounds) for shape in toned.values()]),
            tuple(names),
        )


def _colours(plane: Plane) -> dict[str, list[str]]:
    """Return the colours of all paint and the ground, each with the motifs that use it."""
    found: dict[str, list[str]] = {}
    if plane.repeat.ground is not None:
        found[plane.repeat.ground.colour] = []
    for placement in plane.repeat.placements:
        for colour in placement.motif.colours:
            found.setdefault(colour, []).append(placement.motif.name)
    return found


def _flat(plane: Plane) -> set[str]:
    """Return the colours that areas are painted with flat, and the ground's."""
    ground = plane.repeat.ground
    found = set() if ground is None else {ground.colour}
    for motif in dict.fromkeys(placement.motif for placement in plane.repeat.placements):
        for node, _ in walk(motif.scene):
            if isinstance(node, Path):
                found.update(part.paint for part in node.paints if isinstance(part.paint, str))
            elif isinstance(node, Text):
                found.update(colours_of(node))
    return found


def _inks(plane: Plane, limits: PrintLimits) -> Iterator[Finding]:
    """Yield what the number and the nearness of colours give rise to."""
    colours = _colours(plane)
    names = list(colours)
    if limits.colours and len(names) > limits.colours:
        said = f"the drawing is painted in {len(names)} colours"
        yield Finding("too many colours", said, len(names), limits.colours)
    # What a gradient runs through is near to what it runs through next.
    flat = _flat(plane)
    names = [name for name in names if name in flat]
    if len(names) < 2:
        return
    lab = lab_of(rgb_of(names))
    for one, first in enumerate(names[:-1]):
        apart = ciede2000(lab[one], lab[one + 1 :])
        for k in np.flatnonzero(apart < limits.near_colours).tolist():
            second = names[one + 1 + k]
            users = tuple(dict.fromkeys([*colours[first], *colours[second]]))
            said = f"{first} and {second} are as good as one colour"
            far = float(apart[k])
            yield Finding(
                *("near colours", said, far, limits.near_colours, None, users[:6]),
                colours=(first, second),
            )


def screen_findings(height: Fraction, limits: PrintLimits) -> Iterator[Finding]:
    """Yield the finding that no screen's circumference holds the straight block a whole time."""
    if not limits.circumferences_mm:
        return
    rests = []
    for circumference in limits.circumferences_mm:
        times = max(1, round(circumference / float(height)))
        rests.append((abs(circumference - times * float(height)), circumference, times))
    off, circumference, times = min(rests)
    # A tenth of a millimetre round a screen is taken up in engraving: common practice, no source.
    if off > 0.1:
        said = f"{float(height):.2f} mm of straight block do not divide any screen's circumference"
        advice = f"print it {circumference / times:.2f} mm high for {times} on {circumference:g} mm"
        yield Finding("screen circumference", said, off, 0.1, advice=advice)
