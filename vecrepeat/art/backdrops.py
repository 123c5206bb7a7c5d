"""The backdrop of a loose drawing: a rectangle behind everything, which would print as a box.

What reaches past the page counts by its part on the page: no viewer shows more.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import shapely

from vecrepeat.art.page import Page
from vecrepeat.core.colours import is_paper, oklch_of, rgb_of
from vecrepeat.core.geometry import number
from vecrepeat.scene.areas import Parts, intersection
from vecrepeat.scene.nodes import Clip, Data, Fill, Group, Node, Path
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


_HAIR = 0.005
"""What falls short of the page's edge by this share of its shorter side is cut there."""

_SHOWN = 0.25
"""What shows less than this share of itself on the page is no backdrop: the page is a wrong one."""

_TINT = 0.04
"""OKLCh chroma above which what is as light as paper is a colour."""

_CUT = 0.35
"""A drawing that the page cuts along so much of its sides is a scene: without its sky the straight
cuts are left. So it stays whole."""

_SCENE = (
    "it is a scene that fills its page, and prints as a box "
    "(backdrop = true in its line of the recipe says that it may)"
)


class _Split(NamedTuple):
    """A drawing in two: what is painted first, alone, and all the rest."""

    lowest: Group
    path: Path
    rest: Group


def without_backdrop(
    root: Group, page: Page, outliner: Outliner, *, keep: bool = False
) -> tuple[Group, list[str]]:
    """Return a drawing without what stands behind all of it, and a sentence on each such thing.

    A rectangle counts, flat or graded, if it has no outline and fills the page, or holds all else
    with a margin all round; paper, white to cream, needs no margin. What stands on another colour
    than paper is a picture, and cut to its page; one that its page cuts nearly all round is a
    scene, and returned whole.

    Args:
        root: the drawing.
        page: its page.
        outliner: gives areas.
        keep: return it whole, cut to its page if it is a picture.
    """
    whole, found, painted = root, [], False
    while (split := _split(root)) is not None and _is_backdrop(split, page, outliner):
        found.append(
            f"it stands on a {_words(split.path)} rectangle, which would print as a box and is "
            "left out (backdrop = true in its line of the recipe keeps it)"
        )
        painted |= _is_sky(split.path)
        root = split.rest
    if painted and not keep and _cut_share(root, page, outliner) >= _CUT:
        keep, found = True, [_SCENE]
    elif keep:
        found = []
    shown = whole if keep else root
    return _cut_to(page, shown) if painted else shown, found


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
    parts, whole = _parts(split.lowest, page, outliner)
    if not len(parts) or shapely.area(parts).sum() < _SHOWN * whole:
        return False
    x0, y0, x1, y1 = shapely.total_bounds(parts)
    outline = shapely.union_all([shapely.Polygon(one.exterior) for one in shapely.get_parts(parts)])
    paper = _is_paper(split.path)
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
    rest, _ = _parts(split.rest, page, outliner)
    if not len(rest):
        return False
    bounds = shapely.total_bounds(rest)
    margin = -_MARGIN if paper else _MARGIN
    across, down = margin * (x1 - x0), margin * (y1 - y0)
    inner = np.array([x0 + across, y0 + down, x1 - across, y1 - down])
    return bool((bounds[:2] >= inner[:2]).all() and (bounds[2:] <= inner[2:]).all())


def _parts(root: Group, page: Page, outliner: Outliner) -> tuple[Parts, float]:
    """Return what of a drawing is on its page, and the area of all its parts in mm²."""
    [parts] = outliner.parts([(root, page.to_mm)])
    sheet = _sheet(page)
    shown = parts.copy()
    for k in np.flatnonzero(~shapely.covered_by(parts, sheet)):
        shown[k] = intersection(parts[k], sheet)
    return shown[~shapely.is_empty(shown)], float(shapely.area(parts).sum())


def _sheet(page: Page) -> shapely.Polygon:
    return shapely.box(0.0, 0.0, float(page.width), float(page.height))


def _cut_share(root: Group, page: Page, outliner: Outliner) -> float:
    """Return along how much of the page's sides it cuts a drawing, 0 to 1."""
    [parts] = outliner.parts([(root, page.to_mm)])
    # What ends at the page's edge, or a hair short of it, is cut by it.
    hair = _HAIR * min(float(page.width), float(page.height))
    edge = _sheet(page).buffer(-hair, join_style="mitre").exterior
    cuts = shapely.intersection(parts[shapely.intersects(parts, edge)], edge)
    return float(shapely.union_all(cuts).length / edge.length)


def _cut_to(page: Page, root: Group) -> Group:
    """Return a drawing without what no viewer shows of it."""
    corners = page.to_mm.inverse().apply(np.array(_sheet(page).exterior.coords)[:4])
    data = " ".join(f"{number(x)},{number(y)}" for x, y in corners.tolist())
    return Group((root,), clip=Clip((Path(Data(f"M{data}Z"), Fill()),)))


def _is_paper(path: Path) -> bool:
    paint = path.fill.paint if path.fill is not None else None
    return isinstance(paint, str) and is_paper(paint)


def _is_sky(path: Path) -> bool:
    """Whether what fills the page is rather painted than paper: pale blue is, and cream is not."""
    paint = path.fill.paint if path.fill is not None else None
    return not _is_paper(path) or float(oklch_of(rgb_of(str(paint)))[1]) > _TINT


def _words(path: Path) -> str:
    assert path.fill is not None
    paint = path.fill.paint
    return f"flat {paint}" if isinstance(paint, str) else "graded"
