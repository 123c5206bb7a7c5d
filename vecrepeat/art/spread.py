"""Where filtered motifs have ink, told by geometry where that is enough.

A soft light on a leaf, a shadow inside a shape: most filters leave a motif's bounds as they
are. Then nothing need be drawn to find them, which takes a hundred times as long.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Callable, Mapping

import numpy as np
import shapely
from lxml import etree
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.areas import Parts, as_parts, intersection
from vecrepeat.art.filters import ink_of
from vecrepeat.art.motifs import Node
from vecrepeat.art.outline import Outliner, matrix_of, url_id
from vecrepeat.art.style import inherited_properties
from vecrepeat.geometry import Affine

SPARE_SHARE = 0.005
"""The share of a motif's size by which its outline's bounds may be larger than its ink …"""

SPARE_MM = 0.05
"""… and the length in mm, whichever is the greater."""

Region = Callable[[etree._Element, Affine], BaseGeometry | None]
"""Given an element and the map from its units to mm, returns its filter's region in mm."""


def filtered_area(
    node: Node, outliner: Outliner, definitions: Mapping[str, etree._Element], region: Region
) -> Parts | None:
    """Return the area a node with filters paints, in mm, or None where geometry can't tell.

    Args:
        node: its ink is where its shapes are, but for filters.
        outliner: outlines shapes.
        definitions: elements by id.
        region: tells filter regions.
    """
    rest = copy.deepcopy(node.element)
    asked = [(rest, node.matrix, node.inherited)]
    regions: list[tuple[float, BaseGeometry]] = []
    todo = [(node.element, rest, node.matrix)]
    while todo:
        element, twin, matrix = todo.pop()
        inner = matrix @ matrix_of(element)
        link = element.get("filter", "none")
        if link == "none":
            todo += [(e, t, inner) for e, t in zip(element, twin, strict=True)]
            continue
        definition = definitions.get(url_id(link))
        bounds = region(element, inner)
        # Clips and masks come after the filter, and filters within it before.
        if (
            definition is None
            or bounds is None
            or any(element.get(name, "none") != "none" for name in ("clip-path", "mask"))
            or any(part.get("filter", "none") != "none" for part in element.iterdescendants())
        ):
            return None
        reach, whole = ink_of(definition)
        above = twin.getparent()
        if not whole:
            if above is None:
                return None
            above.remove(twin)
        inherited = {**node.inherited, **inherited_properties(element)}
        asked.append((element, matrix, inherited))
        regions.append((reach * inner.stretch, bounds))
    certain, *sources = outliner.parts(asked)
    spread: list[BaseGeometry] = []
    for parts, (reach, bounds) in zip(sources, regions, strict=True):
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
