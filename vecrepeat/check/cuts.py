"""Motifs cut at a finished tile's bounds, and what goes on from them on the other side."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from vecrepeat.check.pieces import Link, Section, sections, shift_of
from vecrepeat.check.plane import Plane
from vecrepeat.repeat.wrap import Floats
from vecrepeat.scene.outline import DEFAULT_TOLERANCE


def cut_links(plane: Plane, search: float) -> Iterator[tuple[Link | None, Section, str]]:
    """Yield the motifs cut at a bound, with the piece that goes on, or None, and the bound."""
    rect = plane.repeat.tile_rect
    (_, ay), (bx, _) = plane.repeat.lattice.vectors
    for near, far, shift, period in (
        ("right", "left", ay, rect.height),
        ("bottom", "top", bx, rect.width),
    ):
        one, other = sections(plane, near), sections(plane, far)
        # Over the bound by the lattice's vector: here y comes in again at y − shift.
        pairs: dict[tuple[int, int, int], list[tuple[Section, Section]]] = {}
        used: set[Section] = set()
        for section, candidate, turn in _matched(one, other, shift, period, search):
            move = shift + turn * period
            laid = candidate._replace(low=candidate.low + move, high=candidate.high + move)
            key = (section.placement, candidate.placement, turn)
            pairs.setdefault(key, []).append((section, laid))
            used |= {section, candidate}
        for (k, m, turn), met in pairs.items():
            if not any(a.cut or b.cut for a, b in met):
                continue
            across, along = shift_of(met, shift, period)
            off = (across, along) if near == "right" else (along, across)
            if np.hypot(*off) > search:
                continue
            # `other` lies beside where `one`, moved back by the vector, comes to lie.
            back = (-1, -turn) if near == "right" else (-turn, -1)
            yield Link(k, m, back, off, False, True), met[0][0], near
        for side, found, others, move in ((near, one, other, shift), (far, other, one, -shift)):
            for section in found:
                long = section.high - section.low > 0.05
                if not section.cut or not long or section in used:
                    continue
                if not _covered(section, others, move, period):
                    yield None, section, side


def _matched(
    one: list[Section], other: list[Section], shift: float, period: float, search: float
) -> Iterator[tuple[Section, Section, int]]:
    """Yield the sections either side of a join that are each other's best match.

    With each comes by how many periods along the join the second lies on; a motif that the
    tile's corner cuts has sections with different ones.
    """
    turns = (-1, 0, 1)
    if not one or not other:
        return
    ends, theirs = (np.array([(s.low, s.high) for s in side]) for side in (one, other))
    corner, their_corner = (_at_corner(side, period) for side in (ends, theirs))
    laid = theirs[None] + shift + np.array(turns)[:, None, None] * period
    apart = np.abs(ends[:, None, None] - laid[None])
    # Where a corner of the tile cuts a section off, its end says nothing.
    known = ~(corner[:, None, None] | their_corner[None, None])
    misfit = np.where(known, apart, 0.0).max(axis=-1)
    longer = np.maximum(np.diff(ends)[:, None, None, 0], np.diff(theirs)[None, None, :, 0])
    lap = np.minimum(ends[:, None, None, 1], laid[None, ..., 1]) - np.maximum(
        ends[:, None, None, 0], laid[None, ..., 0]
    )
    fits = (misfit <= np.minimum(search, 0.5 * longer)) & (lap > 0)
    misfit = np.where(fits, misfit, np.inf)
    for k in range(len(one)):
        for m in range(len(other)):
            turn = int(misfit[k, :, m].argmin())
            least = misfit[k, turn, m]
            mine = least <= misfit[k].min()
            its = least <= misfit[:, :, m].min()
            if np.isfinite(least) and ((mine and its) or corner[k].any() or their_corner[m].any()):
                yield one[k], other[m], turns[turn]


def _at_corner(ends: Floats, length: float) -> NDArray[np.bool_]:
    """Return which ends of sections lie at the ends of the bound."""
    result: NDArray[np.bool_] = (ends < 1e-3) | (ends > length - 1e-3)
    return result


def _covered(section: Section, others: list[Section], move: float, period: float) -> bool:
    """Whether motifs on the other side cover a section together, grouped otherwise there."""
    spans = shapely.union_all(
        [
            shapely.box(o.low + move + turn * period, 0, o.high + move + turn * period, 1)
            for o in others
            for turn in (-1, 0, 1)
        ]
    )
    mine = shapely.box(section.low, 0, section.high, 1)
    return bool(shapely.difference(mine, spans).area <= 2 * DEFAULT_TOLERANCE)
