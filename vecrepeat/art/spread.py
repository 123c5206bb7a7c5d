"""Where filtered motifs have ink, told by geometry where that is enough.

A soft light on a leaf, a shadow inside a shape: most filters leave a motif's bounds as they
are. Then nothing need be drawn to find them, which takes a hundred times as long.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.filters import ink_of
from vecrepeat.core.geometry import IDENTITY, Affine
from vecrepeat.scene.areas import Parts, as_parts, intersection
from vecrepeat.scene.nodes import Element, Group, Node
from vecrepeat.scene.outline import Outliner
from vecrepeat.scene.visit import is_filtered

SPARE_SHARE = 0.005
"""The share of a motif's size by which its outline's bounds may be larger than its ink …"""

SPARE_MM = 0.05
"""… and the length in mm, whichever is the greater."""


def filtered_area(scene: Node, outliner: Outliner) -> Parts | None:
    """Return the area a scene with filters paints, in mm, or None where geometry can't tell.

    Args:
        scene: in mm; its ink is where its shapes are, but for filters.
        outliner: outlines shapes.
    """
    asked: list[tuple[Node, Affine]] = []
    found: list[tuple[float, BaseGeometry]] = []

    def without(node: Node, matrix: Affine) -> Node | None:
        """Return a node without what filters draw elsewhere; None where geometry can't tell."""
        if not isinstance(node, Group):
            return node
        inner = matrix @ node.transform
        effect = node.filter
        if effect is None:
            children = [without(child, inner) for child in node.children]
            known = tuple(child for child in children if child is not None)
            return replace(node, children=known) if len(known) == len(children) else None
        bare = replace(node, filter=None)
        # Clips and masks come after the filter, and filters within it before.
        if effect.region is None or node.clip or node.mask or is_filtered(bare):
            return None
        (step,) = effect.steps if len(effect.steps) == 1 else ("",)
        if not isinstance(step, Element):
            return None
        reach, whole = ink_of(step)
        bounds = shapely.transform(shapely.box(*effect.region), inner.apply)
        asked.append((bare, matrix))
        found.append((reach * inner.stretch, bounds))
        return bare if whole else replace(node, filter=None, children=())

    rest = without(scene, IDENTITY)
    if rest is None:
        return None
    certain, *sources = outliner.parts([(rest, IDENTITY), *asked])
    spread: list[BaseGeometry] = []
    for parts, (reach, bounds) in zip(sources, found, strict=True):
        if math.isinf(reach):
            spread.append(bounds)
            continue
        wide = shapely.buffer(parts, reach, quad_segs=4) if reach else parts
        spread += [area for part in wide if not (area := intersection(part, bounds)).is_empty]
    if not len(certain):
        return None
    area = as_parts([*certain, *spread])
    inside, outside = shapely.total_bounds(certain), shapely.total_bounds(area)
    size = max(outside[2] - outside[0], outside[3] - outside[1])
    enough = np.abs(outside - inside).max() <= max(SPARE_SHARE * size, SPARE_MM)
    return area if enough else None
