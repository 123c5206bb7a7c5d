"""The backdrop of a loose drawing: a rectangle behind everything, which would print as a box."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import shapely

from vecrepeat.art.page import Page
from vecrepeat.core.colours import is_paper
from vecrepeat.scene.areas import Parts
from vecrepeat.scene.nodes import Group, Node, Path
from vecrepeat.scene.outline import Outliner

_SQUARE = 0.9995
"""The share of its bounds that a backdrop fills: what has round corners is rather a thing."""

_CORNER = 0.06
"""Paper has four corners: squares of this share of its sides, of which it fills a half or more.

Round a traced drawing its edge is ragged, and cut where the drawing touches it.
"""

_SHORT = 0.02
"""By what share of the page's sides a backdrop may fall short of it."""

_MARGIN = 0.01
"""What is drawn on a smaller backdrop keeps this share of its sides from its edges."""


class _Split(NamedTuple):
    """A drawing in two: what is painted first, alone, and all the rest."""

    lowest: Group
    path: Path
    rest: Group


def without_backdrop(root: Group, page: Page, outliner: Outliner) -> tuple[Group, list[str]]:
    """Return a drawing without what stands behind all of it, and what that was, in a few words.

    A rectangle counts, flat or graded, if it has no outline and fills the page, or holds all else
    with a margin all round; paper, white to cream, needs no margin.
    """
    found = []
    while (split := _split(root)) is not None and _is_backdrop(split, page, outliner):
        found.append(_words(split.path))
        root = split.rest
    return root, found


def _split(group: Group) -> _Split | None:
    """Return a group in two, or None where what is painted first is no path."""
    if group.mask is not None or group.filter is not None:
        return None
    for n, child in enumerate(group.children):
        above = group.children[n + 1 :]
        if isinstance(child, Path):
            if child.fill is None and child.stroke is None:
                continue
            return _Split(replace(group, children=(child,)), child, replace(group, children=above))
        if not isinstance(child, Group):
            return None
        if not _paints(child):
            continue
        inner = _split(child)
        return inner and _Split(
            replace(group, children=(inner.lowest,)),
            inner.path,
            replace(group, children=(inner.rest, *above)),
        )
    return None


def _paints(node: Node) -> bool:
    if isinstance(node, Group):
        return any(map(_paints, node.children))
    return not isinstance(node, Path) or node.fill is not None or node.stroke is not None


def _is_backdrop(split: _Split, page: Page, outliner: Outliner) -> bool:
    if split.path.fill is None or split.path.stroke is not None or not _paints(split.rest):
        return False
    parts = _parts(split.lowest, page, outliner)
    if not len(parts):
        return False
    x0, y0, x1, y1 = shapely.total_bounds(parts)
    outline = shapely.union_all([shapely.Polygon(one.exterior) for one in shapely.get_parts(parts)])
    paint = split.path.fill.paint
    paper = isinstance(paint, str) and is_paper(paint)
    across, down = _CORNER * (x1 - x0), _CORNER * (y1 - y0)
    corners = [
        shapely.box(x, y, x + across, y + down) for x in (x0, x1 - across) for y in (y0, y1 - down)
    ]
    if paper and min(outline.intersection(one).area for one in corners) < across * down / 2:
        return False
    if not paper and outline.area < _SQUARE * (x1 - x0) * (y1 - y0):
        return False
    width, height = float(page.width), float(page.height)
    across, down = _SHORT * width, _SHORT * height
    if x0 <= across and y0 <= down and x1 >= width - across and y1 >= height - down:
        return True
    rest = _parts(split.rest, page, outliner)
    if not len(rest):
        return False
    bounds = shapely.total_bounds(rest)
    margin = -_MARGIN if paper else _MARGIN
    across, down = margin * (x1 - x0), margin * (y1 - y0)
    inner = np.array([x0 + across, y0 + down, x1 - across, y1 - down])
    return bool((bounds[:2] >= inner[:2]).all() and (bounds[2:] <= inner[2:]).all())


def _parts(root: Group, page: Page, outliner: Outliner) -> Parts:
    [parts] = outliner.parts([(root, page.to_mm)])
    return parts


def _words(path: Path) -> str:
    assert path.fill is not None
    paint = path.fill.paint
    return f"flat {paint}" if isinstance(paint, str) else "graded"
