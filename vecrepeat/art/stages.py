"""The stages of reading, all in order: from an SVG file to motifs with outlines."""

from __future__ import annotations

from collections.abc import Sequence
from copy import deepcopy
from pathlib import Path

import numpy as np
import shapely
from lxml import etree
from numpy.typing import NDArray

from vecrepeat.art.backdrops import without_backdrop
from vecrepeat.art.build import Builder
from vecrepeat.art.filters import bound_octaves
from vecrepeat.art.images import embed_images
from vecrepeat.art.inker import Inker
from vecrepeat.art.motifs import Finder, PlacedNode, unique_names
from vecrepeat.art.normalform import CHOSEN, elements_by_id
from vecrepeat.art.page import Page, read_page
from vecrepeat.art.read import Art
from vecrepeat.art.structure import normalise
from vecrepeat.art.style import resolve_styles
from vecrepeat.art.stylesheet import matching
from vecrepeat.art.xml import DESCRIPTIVE, SVG, local, parse, read_bytes
from vecrepeat.core.allowance import NODES, REACH
from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import IDENTITY
from vecrepeat.core.units import counted
from vecrepeat.repeat.model import Motif
from vecrepeat.scene.areas import Parts
from vecrepeat.scene.nodes import Group, Image
from vecrepeat.scene.outline import Outliner
from vecrepeat.scene.visit import colours_of, effective_dpi, walk
from vecrepeat.util.xmltext import escaped

_APART = 0.02
"""What lies beside a loose motif's page and this share of its sides apart from the rest is a stray.
"""


def _on_page(areas: Sequence[Parts], page: Page) -> NDArray[np.bool_]:
    """Return which of some painted areas are on the page, in part at least.

    By boxes: a bough that runs round outside a corner belongs to the drawing, while what is parked
    beside the page does not.
    """
    boxes = np.array([shapely.total_bounds(parts) for parts in areas]).reshape(-1, 4)
    sides = (float(page.width), float(page.height))
    return np.asarray(np.all((boxes[:, :2] <= sides) & (boxes[:, 2:] >= 0), axis=1), np.bool_)


def _strays(areas: Sequence[Parts], page: Page) -> NDArray[np.bool_]:
    """Return which areas lie beside the page, and apart from all that is on it.

    Of a drawing that is all beside its page there are none: it was meant to be seen nevertheless.
    """
    shown = _on_page(areas, page)
    if not shown.any():
        return shown
    boxes = np.array([shapely.box(*shapely.total_bounds(parts)) for parts in areas])
    whole = shapely.box(*shapely.total_bounds(boxes[shown]))
    near = _APART * max(float(page.width), float(page.height))
    found: NDArray[np.bool_] = ~shown & (shapely.distance(boxes, whole) > near)
    return found


def read_drawing(
    file: Path,
    motifs: str | None,
    tolerance: float,
    allowed: Sequence[Path],
    live_text: bool,
    loose: bool,
    backdrop: bool,
) -> Art:
    """Return a drawing; see :func:`vecrepeat.art.read.read_art`, which keeps what this returns."""
    data = read_bytes(file)
    root = parse(data)
    page = read_page(root)
    chosen = motifs is not None and _mark(root, motifs)
    notes = [*resolve_styles(root), *normalise(root, page)]
    _check_points(root)
    notes += embed_images(root, file, allowed)
    if next(root.iter(f"{{{SVG}}}text"), None) is not None:
        from vecrepeat.art.text import set_text

        notes += set_text(root, live=live_text)
    bound_octaves(root)
    builder = Builder(elements_by_id(root))
    scene = builder.root(root)
    outliner = Outliner(tolerance)
    if loose:
        scene, behind = without_backdrop(scene, page, outliner, keep=backdrop)
        notes += behind
    inker = Inker(page, outliner)
    finder = Finder(page, outliner, inker.refine, builder.chosen if chosen else None, loose)
    nodes = finder.find(scene)
    if loose and nodes:
        rough = finder.roughly(nodes)
        strays = _strays(rough, page)
        if strays.any():
            beside = counted(int(strays.sum()), "drawn thing")
            notes.append(f"beside its page, where no viewer shows it: {beside} left out")
            nodes = [node for node, stray in zip(nodes, strays, strict=True) if not stray]
            rough = [parts for parts, stray in zip(rough, strays, strict=True) if not stray]
        shapes = np.concatenate(rough)
        whole = PlacedNode(Group(tuple(node.scene for node in nodes)), IDENTITY)
        ink = inker.refine(whole, shapes)
        # A mask or a filter may hide it all.
        nodes, areas = ([whole], [ink]) if len(ink) else ([], [])
    else:
        areas = finder.parts(nodes)
    notes += [*builder.notes(), *finder.notes, *inker.notes]
    width, height = float(page.width), float(page.height)
    boxes = np.array([shapely.total_bounds(parts) for parts in areas]).reshape(-1, 4)
    on_page = _on_page(areas, page) | loose
    names = unique_names([placed.node for placed in nodes])
    found: list[Motif] = []
    rows = zip(nodes, areas, names, boxes.tolist(), on_page.tolist(), strict=True)
    for placed, parts, name, (x0, y0, x1, y1), seen in rows:
        if not seen:
            notes.append(f"beside the page: “{name}” is left out")
            continue
        if x1 - x0 > REACH * width or y1 - y0 > REACH * height:
            raise InputError(
                f"it is more than {REACH} times as large as the page",
                element=name,
                hint="make it smaller or the page larger",
            )
        found.append(
            Motif(
                name=name,
                parts=parts,
                scene=placed.scene,
                features=inker.features(placed.node),
                colours=colours_of(placed.node),
                regions=inker.regions(placed),
                dpi=min(_dpis(placed), default=None),
            )
        )
    if not found:
        what = "nothing is drawn on the page"
        if motifs is not None:
            what = f"nothing drawn matches the selector “{motifs}”"
        elif finder.ground is not None:
            what = "all that is drawn is a flat ground"
        raise InputError(f"no motifs: {what}")
    return Art(
        file=file,
        width=page.width,
        height=page.height,
        motifs=tuple(found),
        ground=finder.ground,
        metadata="".join(_described(child) for child in root if local(child) in DESCRIPTIVE),
        notes=tuple(dict.fromkeys(notes)),
    )


def _dpis(placed: PlacedNode) -> list[float]:
    """Return the pixels per inch of each picture of a motif, as it is drawn."""
    return [
        dpi
        for node, matrix in walk(placed.node, placed.matrix)
        if isinstance(node, Image) and (dpi := effective_dpi(node, matrix)) is not None
    ]


def _described(element: etree._Element) -> str:
    """Return a title, description or metadata element as text; foreign metadata is kept."""
    name = local(element)
    if name == "metadata":
        kept = deepcopy(element)
        # The drawing's root may declare a namespace that is no URI; only what is used is carried.
        etree.cleanup_namespaces(kept)
        return str(etree.tostring(kept, encoding="unicode", with_tail=False))
    return f"<{name}>{escaped(''.join(map(str, element.itertext())))}</{name}>"


def _mark(root: etree._Element, selector: str) -> bool:
    """Mark what the selector picks; it sees the drawing as it was written."""
    picked = matching(root, selector)
    if picked is None:
        raise InputError(
            f"the selector “{selector}” is not understood",
            hint="use CSS, such as 'g.motif' or '#leaf, #bud'",
        )
    for element in picked:
        element.set(CHOSEN, "1")
    return True


def _check_points(root: etree._Element) -> None:
    """Refuse a drawing whose paths are written with too many points.

    Raises:
        InputError: there are more than :data:`vecrepeat.core.allowance.NODES`.
    """
    numbers = 0
    for shape in root.iter(*(f"{{{SVG}}}{name}" for name in ("path", "polygon", "polyline"))):
        data = shape.get("d") or shape.get("points") or ""
        # Each begins after something else, and most have a place after the point.
        text = np.frombuffer(data.encode(), np.uint8)
        in_number = ((text >= ord("0")) & (text <= ord("9"))) | (text == ord("."))
        numbers += int((in_number[1:] & ~in_number[:-1]).sum())
        if numbers > 2 * NODES:
            raise InputError(
                f"its paths are written with more than {NODES:,} points",
                element=shape.get("id"),
                hint="simplify them, or place the drawing as a picture",
            )
