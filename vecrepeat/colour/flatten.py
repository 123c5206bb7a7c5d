"""From layers that hide one another to areas that don't: what is seen, and in which colours.

Opaque layers knock out what lies below them. Translucent ones mix with it: a mixture is the
share each colour has in what is seen, which is how compositing in sRGB works out, since it is
linear (SVG 2 §3.5; Compositing 1 §5.1, *source-over*).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.colour.booleans import difference, intersection, snapped, union
from vecrepeat.colour.gradients import Banding, banded, in_steps
from vecrepeat.colour.painted import Colour, PaintLayer, Veil
from vecrepeat.core.allowance import VEILS
from vecrepeat.core.colours import Floats, hex_of, rgb_of
from vecrepeat.core.errors import InputError
from vecrepeat.scene.areas import as_parts
from vecrepeat.scene.nodes import Gradient

Mix = tuple[tuple[str | Gradient, float], ...]
"""(colour, share), the shares adding up to how opaque it is; a gradient may stand for a colour
until its bands are asked for."""

CLOTH = "cloth"
"""Stands in a mixture for what is printed on, where no ground covers it."""

WHITE = "#ffffff"
"""What cloth looks like where its colour is not given."""

VEIL_STEPS = 16
"""Into how many steps a gradient falls that is seen through."""

_OPAQUE = 1 - 1e-9


class Face(NamedTuple):
    """An area of one mixture, in mm."""

    area: BaseGeometry
    mix: Mix


def plain(colour: Colour, opacity: float = 1.0) -> Mix:
    """Return the mixture of one colour alone."""
    return ((colour, opacity),) if opacity > 0 else ()


def opacity_of(mix: Mix) -> float:
    """Return how opaque a mixture is, 0 to 1."""
    return sum(share for _, share in mix)


def is_solid(mix: Mix) -> bool:
    """Whether nothing shows through."""
    return opacity_of(mix) >= _OPAQUE


def faded(mix: Mix, opacity: float) -> Mix:
    """Return a mixture seen at an opacity."""
    return tuple((colour, round(share * opacity, 12)) for colour, share in mix)


def over(top: Mix, below: Mix) -> Mix:
    """Return what is seen of one mixture lying on another."""
    shares: dict[Colour, float] = defaultdict(float)
    for colour, share in (*top, *faded(below, 1 - opacity_of(top))):
        shares[colour] += share
    return tuple((c, round(s, 12)) for c, s in shares.items() if s > 1e-12)


def seen_colour(mix: Mix, cloth: str = WHITE) -> str:
    """Return the ``#rrggbb`` that a solid mixture of colours looks like on cloth of a colour."""
    total: Floats = np.zeros(3)
    for colour, share in mix:
        assert isinstance(colour, str)
        total += share * rgb_of(cloth if colour == CLOTH else colour)
    return hex_of(total / max(opacity_of(mix), 1e-12))


def faces_of(
    layers: Iterable[PaintLayer | Veil],
    through: Collection[str] = frozenset(),
    *,
    veiled: bool = False,
) -> list[Face]:
    """Return what layers come to: faces without overlap, solid and translucent ones.

    Opaque gradients stay whole, see :func:`in_bands`; translucent ones come in fine steps.

    Args:
        layers: fills and strokes in stacking order, the last on top.
        through: colours that overprint: what lies below them is not knocked out.
        veiled: whether all the layers are seen through as one.
    """
    faces: list[Face] = []
    for layer in layers:
        if isinstance(layer, Veil):
            inner = faces_of(layer.layers, through, veiled=True)
            faces += [Face(area, faded(mix, layer.opacity)) for area, mix in inner]
            continue
        area, paint, opacity = snapped(layer.area), layer.paint, layer.opacity
        if isinstance(paint, str) or not (veiled or opacity < 1 or paint.is_translucent):
            faces.append(Face(area, plain(paint, opacity)))
            continue
        faces += [
            Face(part, plain(colour, own * opacity))
            for part, colour, own in banded(area, paint, in_steps(VEIL_STEPS))
        ]
    return flattened([f for f in faces if f.mix and not f.area.is_empty], through)


def covered(
    layers: Iterable[PaintLayer | Veil], through: Collection[str] = frozenset()
) -> BaseGeometry:
    """Return where nothing is seen through layers.

    Of the layers and not of the faces that come of them: rounding may leave cracks between
    faces that touch, in which what lies below would be seen.
    """
    hiding = (y for y in layers if isinstance(y, PaintLayer) and y.opacity >= _OPAQUE)
    return union(
        [
            snapped(area)
            for area, paint, _ in hiding
            if (paint not in through if isinstance(paint, str) else not paint.is_translucent)
        ]
    )


def in_bands(face: Face, banding: Banding) -> list[Face]:
    """Return a face with its gradients cut into bands of one colour."""
    number = next((n for n, (c, _) in enumerate(face.mix) if isinstance(c, Gradient)), None)
    if number is None:
        return [face]
    gradient, share = face.mix[number]
    assert isinstance(gradient, Gradient)
    before, after = face.mix[:number], face.mix[number + 1 :]
    return [
        found
        for area, colour, _ in banded(face.area, gradient, banding)
        for found in in_bands(Face(area, (*before, (colour, share), *after)), banding)
    ]


def flattened(faces: Sequence[Face], through: Collection[str] = frozenset()) -> list[Face]:
    """Return faces without overlap that look like a stack of faces, the last on top.

    One comes back for each mixture. With colours that overprint, solid faces of theirs lie
    over others.
    """
    if len(faces) < 2:
        return list(faces)
    areas = as_parts([face.area for face in faces])
    lower, upper = shapely.STRtree(areas).query(areas, predicate="intersects")
    above: dict[int, list[int]] = defaultdict(list)
    for low, high in zip(lower.tolist(), upper.tolist(), strict=True):
        if high > low:
            above[low].append(high)
    found: dict[Mix, list[BaseGeometry]] = defaultdict(list)
    veils = [n for n, face in enumerate(faces) if not is_solid(face.mix)]
    for number, face in enumerate(faces):
        if is_solid(face.mix):
            hiding = [faces[n] for n in sorted(above[number])]
            for area, mix in under(face, hiding, through):
                found[mix].append(area)
    if veils:
        # Where no solid face lies below, a veil shows what it lies on.
        bare = Face(union([faces[n].area for n in veils]), ())
        for area, mix in under(bare, faces, through):
            if mix:
                found[mix].append(area)
    united = ((union(areas), mix) for mix, areas in found.items())
    return [Face(area, mix) for area, mix in united if not area.is_empty]


def under(face: Face, above: Sequence[Face], through: Collection[str] = frozenset()) -> list[Face]:
    """Return what is seen of a face below others, in their order, the last on top.

    Raises:
        InputError: that takes more than :data:`vecrepeat.core.allowance.VEILS` steps.
    """
    # One colour on itself hides nothing, unless a veil lies between.
    veiled = not all(is_solid(other.mix) for other in above)
    hiding = [
        other.area
        for other in above
        if is_solid(other.mix)
        and (veiled or other.mix != face.mix)
        and not (len(other.mix) == 1 and other.mix[0][0] in through)
    ]
    rest = difference(face.area, union(hiding))
    seen = [] if rest.is_empty else [Face(rest, face.mix)]
    steps = 0
    for other in above:
        if is_solid(other.mix) or not seen:
            continue
        steps += len(seen)
        if steps > VEILS:
            raise InputError(
                "so many translucent colours and gradients lie over one another here that their "
                f"mixtures take more than {VEILS:,} steps to work out",
                hint="make some of them opaque, or place the art as a picture",
            )
        split: list[Face] = []
        for area, mix in seen:
            common = intersection(area, other.area)
            if common.is_empty:
                split.append(Face(area, mix))
                continue
            split.append(Face(common, over(other.mix, mix)))
            bare = difference(area, other.area)
            if not bare.is_empty:
                split.append(Face(bare, mix))
        seen = split
    return seen
