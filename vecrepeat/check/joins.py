"""Joins of vector tiles: every motif that meets a bound must go on across it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import shapely

from vecrepeat.check.cuts import cut_links
from vecrepeat.check.findings import Answer, Finding
from vecrepeat.check.pieces import (
    Link,
    Piece,
    Section,
    find_partners,
    find_wanted,
    is_drawn,
    share_in_place,
)
from vecrepeat.check.pixels import GUESSED
from vecrepeat.check.plane import Plane
from vecrepeat.check.profile import JoinLimits
from vecrepeat.core.units import counted
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Placement, Repeat
from vecrepeat.repeat.wrap import Floats, moved, offsets
from vecrepeat.scene.outline import DEFAULT_TOLERANCE

_NEAR = 1.0
"""Partners within so many mm of where they belong show that a page is a finished tile."""

_IN_PLACE = 0.6
"""Share of pieces whose boxes must be drawn under a layout for their shapes to be compared."""


Places = dict[int, tuple[int, tuple[int, int], Floats]]
"""For placements: the first of each one's class, the lattice index that brings that one onto
it, and by how much it lies beside, (dx, dy) in mm."""


class Joined(NamedTuple):
    """What the joins came to.

    Attributes:
        answer: findings and facts.
        finished: whether the page is a finished tile rather than a drawing that wraps.
        repeat: with each motif once, whatever pieces it is drawn in.
    """

    answer: Answer
    finished: bool
    repeat: Repeat


def check_joins(
    repeat: Repeat, limits: JoinLimits, dpi: float, *, finished: bool | None = None
) -> Joined:
    """Check that a finished tile's drawing goes on over its bounds.

    Args:
        repeat: the page and its layout.
        limits: what it is held to.
        dpi: the print's resolution, for offsets in pixels.
        finished: whether the page is a finished tile. By default it is one if a third of the
            pieces wanted at its bounds are drawn there, or if motifs cut at one bound go on at
            the other. Otherwise its motifs wrap by themselves, and every join is right.
    """
    plane = Plane(repeat)
    pieces = [] if finished is False else find_wanted(plane, limits.off_mm)
    links = find_partners(plane, pieces, limits.search_mm)
    near = sum(link is not None and np.hypot(*link.off) <= _NEAR for link in links)
    cuts = [] if finished is False else list(cut_links(plane, limits.search_mm))
    met = [link for link, _, _ in cuts if link is not None]
    if finished is None:
        finished = 3 * near >= len(pieces) > 0 or (not pieces and bool(met))
    if near < 0.9 * len(pieces) and pieces:
        fits = _other_layout(plane, limits, near / len(pieces))
        if fits is not None:
            return Joined(Answer((_wrong(repeat, fits),), {"finished": True}), True, repeat)
    if not finished:
        fact = {"finished": False, "wrapping": len(pieces)}
        note = (
            f"the motifs wrap by themselves ({counted(len(pieces), 'copy')} over the bounds), so "
            "every join is right; say --finished if the page is a finished tile",
        )
        return Joined(Answer(facts=fact, notes=note if pieces else ()), False, repeat)
    findings: list[Finding] = []
    good = [link for link in links if link is not None]
    # What is drawn whole on both sides, just where it belongs, is not cut: it ends there.
    whole = {
        k
        for link in good
        if link.whole and np.hypot(*link.off) <= limits.off_mm
        for k in (link.one, link.other)
    }
    met = [link for link in met if not {link.one, link.other} & whole]
    ends = [(s, side) for link, s, side in cuts if link is None and s.placement not in whole]
    stripes = _along_bounds(plane, ends)
    lost = [
        piece
        for piece, link in zip(pieces, links, strict=True)
        if link is None and _shows(plane, piece, limits.off_mm) and not is_drawn(plane, piece)
    ]
    findings += _missing(plane, lost)
    findings += [_cut(plane, section, side) for section, side in ends if side not in stripes]
    paired = {frozenset((link.one, link.other)) for link in good}
    good += [link for link in met if frozenset((link.one, link.other)) not in paired]
    findings += _swapped(plane, good)
    groups, places = _classes(plane, good)
    findings += _misplaced(plane, good, groups, places, limits.off_mm, dpi)
    findings.sort(key=lambda f: (f.kind == "out of place", -f.value))
    facts = {
        "finished": True,
        "pieces": len(pieces) + len(ends),
        "paired": len({frozenset((link.one, link.other)) for link in good}),
        "worst_mm": max((f.value for f in findings if f.kind == "out of place"), default=0.0),
    }
    notes = tuple(
        f"what is painted ends along the whole of the {side} bound: right for a stripe whose edge "
        "lies there, wrong for a drawing cut off there"
        for side in stripes
    )
    return Joined(Answer(tuple(findings), facts, notes), True, _once(plane, groups, places))


def _along_bounds(plane: Plane, ends: list[tuple[Section, str]]) -> list[str]:
    """Return the bounds along the whole of which something ends, as a stripe's edge does."""
    rect = plane.repeat.tile_rect
    found = []
    for side, length in (
        ("left", rect.height),
        ("right", rect.height),
        ("top", rect.width),
        ("bottom", rect.width),
    ):
        spans = [shapely.box(s.low, 0, s.high, 1) for s, where in ends if where == side]
        if shapely.union_all(spans).area > length - 2 * DEFAULT_TOLERANCE:
            found.append(side)
    return found


def _other_layout(page: Plane, limits: JoinLimits, share: float) -> Layout | None:
    """Return the layout under which nearly all pieces are drawn where they belong, or None."""
    for layout in GUESSED:
        if layout == page.repeat.layout:
            continue
        plane = page.under(layout)
        if share_in_place(plane, limits.off_mm) < _IN_PLACE:
            continue
        pieces = find_wanted(plane, limits.off_mm)
        # A straight layout's pieces above and below fit a drop's too: the sides must tell.
        links = find_partners(plane, pieces, limits.search_mm)
        exact = sum(link is not None and np.hypot(*link.off) <= 0.05 for link in links)
        if len(pieces) >= 2 and exact >= 0.8 * len(pieces) and exact / len(pieces) > share + 0.2:
            return layout
    return None


def _wrong(repeat: Repeat, fits: Layout) -> Finding:
    said = f"the tile goes on over its bounds as {fits} and not as {repeat.layout}"
    bounds = shapely.box(*repeat.tile_rect).exterior
    return Finding("wrong layout", said, 1.0, 0.0, bounds, advice=f"say --layout {fits}")


def _shows(plane: Plane, piece: Piece, least: float) -> bool:
    """Whether a piece reaches into the tile far enough to be missed."""
    tile = shapely.box(*plane.repeat.tile_rect)
    shape = shapely.intersection(piece.shape, tile)
    if len(plane.repeat.placements[piece.placement].motif.colours) == 1:
        # A stripe of one colour that runs on past both bounds lies where its copy would.
        shape = shapely.difference(shape, plane.outlines[piece.placement])
    return not shapely.buffer(shape, -least / 2).is_empty


def _missing(plane: Plane, lost: list[Piece]) -> Iterator[Finding]:
    tile = shapely.box(*plane.repeat.tile_rect)
    for piece in lost:
        name = plane.names[piece.placement]
        place = shapely.intersection(piece.shape, tile)
        said = f"“{name}” crosses the tile's bounds and doesn't go on where it comes in again"
        yield Finding("missing", said, float(place.area), 0.0, place, (name,))


def _cut(plane: Plane, section: Section, side: str) -> Finding:
    name = plane.names[section.placement]
    rect = plane.repeat.tile_rect
    line = {
        "left": [(0, section.low), (0, section.high)],
        "right": [(rect.width, section.low), (rect.width, section.high)],
        "top": [(section.low, 0), (section.high, 0)],
        "bottom": [(section.low, rect.height), (section.high, rect.height)],
    }[side]
    said = f"“{name}” is cut off at the {side} bound and nothing goes on from it"
    length = section.high - section.low
    return Finding("cut", said, length, 0.0, shapely.LineString(line), (name,))


def _swapped(plane: Plane, links: list[Link]) -> Iterator[Finding]:
    seen = set()
    for link in links:
        pair = frozenset((link.one, link.other))
        if link.alike or pair in seen:
            continue
        seen.add(pair)
        one, other = plane.names[link.one], plane.names[link.other]
        said = f"“{one}” goes on over the bound as “{other}”, in other colours"
        mark = plane.outlines[link.other]
        yield Finding("painted differently", said, 1.0, 0.0, mark, (one, other))


def _classes(plane: Plane, links: list[Link]) -> tuple[list[list[int]], Places]:
    """Return the placements of each motif drawn in several pieces, and where those lie."""
    beside: dict[int, list[tuple[int, tuple[int, int], Floats]]] = {}
    for link in sorted(links, key=lambda link: not link.whole):
        off = np.array(link.off)
        i, j = link.steps
        beside.setdefault(link.one, []).append((link.other, (i, j), off))
        beside.setdefault(link.other, []).append((link.one, (-i, -j), -off))
    tile = shapely.box(*plane.repeat.tile_rect)
    seen = shapely.area(shapely.intersection(plane.outlines, tile))
    places: Places = {}
    groups = []
    for first in sorted(beside, key=lambda k: -seen[k]):
        if first in places:
            continue
        places[first] = (first, (0, 0), np.zeros(2))
        group, todo = [first], [first]
        while todo:
            one = todo.pop()
            _, (i, j), off = places[one]
            for other, (di, dj), step in beside[one]:
                if other not in places:
                    places[other] = (first, (i + di, j + dj), off + step)
                    group.append(other)
                    todo.append(other)
        groups.append(group)
    return groups, places


def _misplaced(
    plane: Plane,
    links: list[Link],
    groups: list[list[int]],
    places: Places,
    limit: float,
    dpi: float,
) -> Iterator[Finding]:
    """Yield the pieces that don't lie where the other pieces of their motif say."""
    loose = {frozenset((link.one, link.other)) for link in links if not link.whole}
    for group in groups:
        off = np.array([places[k][2] for k in group])
        apart = np.hypot(*(off[:, None] - off[None]).transpose(2, 0, 1))
        # Most of the pieces agree on where the motif is; of two, the larger says.
        judge = int(np.argmax((apart <= limit).sum(axis=1)))
        exact = not any(pair <= set(group) for pair in loose)
        held_to = limit if exact else max(limit, 2 * DEFAULT_TOLERANCE)
        for k, by in zip(group, off - off[judge], strict=True):
            # A nanometre is what adding floats may come to.
            if np.hypot(*by) <= held_to - 1e-6:
                continue
            dx, dy = (float(v) for v in by)
            px, py = dx * dpi / 25.4, dy * dpi / 25.4
            yield Finding(
                "out of place",
                f"“{plane.names[k]}” lies {dx:+.3f} mm across and {dy:+.3f} mm down "
                f"({px:+.2f}, {py:+.2f} px at {dpi:g} dpi) from where "
                f"“{plane.names[group[judge]]}” goes on",
                float(np.hypot(dx, dy)),
                held_to,
                plane.outlines[k],
                (plane.names[k], plane.names[group[judge]]),
                f"move it by {-dx:+.3f}, {-dy:+.3f} mm",
                vector=(dx, dy),
                vector_px=(px, py),
            )


def _once(
    plane: Plane,
    groups: list[list[int]],
    places: Places,
) -> Repeat:
    """Return the repeat with each motif once, its pieces put together in the first's place."""
    repeat = plane.repeat
    firsts = {group[0]: group for group in groups}
    kept = []
    for k, placement in enumerate(repeat.placements):
        if k in places and k not in firsts:
            continue
        if k in firsts:
            parts = [placement.parts]
            cut = _is_cut(plane, k)
            for other in firsts[k][1:]:
                _, (i, j), off = places[other]
                back = -offsets(repeat.lattice, np.array([[i, j]]))[0]
                # Pieces that lie where they belong go together without a seam.
                back = back - off * (np.hypot(*off) > 2 * DEFAULT_TOLERANCE)
                if cut or _is_cut(plane, other):
                    pieces = repeat.placements[other].parts
                    parts.append(moved(pieces, np.repeat(back[None], len(pieces), axis=0)))
            if len(parts) > 1:
                # Grown and shrunk by a nanometre, or rounding would leave a slit between them.
                whole = shapely.union_all(shapely.buffer(np.concatenate(parts), 1e-6)).buffer(-1e-6)
                parts = [shapely.get_parts(np.array([whole], object))]
            inverse = placement.transform.inverse()
            own = shapely.transform(np.concatenate(parts), inverse.apply)
            placement = Placement(replace(placement.motif, parts=own), placement.transform)
        kept.append(placement)
    return replace(repeat, placements=tuple(kept))


def _is_cut(plane: Plane, k: int) -> bool:
    """Whether a motif ends at one of the tile's bounds."""
    rect = plane.repeat.tile_rect
    x0, y0, x1, y1 = plane.repeat.boxes[k]
    ends = (x0 - rect.x0, y0 - rect.y0, x1 - rect.x1, y1 - rect.y1)
    return bool(min(abs(e) for e in ends) < 0.01)
