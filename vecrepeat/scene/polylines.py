"""The subpaths of many shapes as polylines in mm, and the corners of their strokes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vecrepeat.core.geometry import Affine
from vecrepeat.scene.nodes import Stroke
from vecrepeat.scene.segments import Floats, Ints, Segments, flatten

_CORNER = np.cos(np.radians(1.0))
"""Turns under 1° between segments are drawn as smooth."""


@dataclass(frozen=True, eq=False)
class PaintedShape:
    """One painted shape: segments in user space and how they are painted.

    Attributes:
        motif: index of the motif it belongs to.
        segments: its outline in user space.
        matrix: from user space to mm.
        fill_rule: ``nonzero`` or ``evenodd``, or None where it is not filled.
        stroke: how it is stroked, or None.
        clips: areas in mm it is cut to.
    """

    motif: int
    segments: Segments
    matrix: Affine
    fill_rule: str | None
    stroke: Stroke | None
    clips: tuple[BaseGeometry, ...]

    @property
    def reach(self) -> float:
        """Half the stroke's width in mm, at its widest."""
        return 0.0 if self.stroke is None else self.stroke.width / 2 * self.matrix.stretch


class Corners(NamedTuple):
    """Where the tangents of a stroked line's segments turn.

    Attributes:
        line: index of the polyline, shape (n,).
        vertex: index of the corner among its vertices, shape (n,).
        at: the corner, shape (n, 2).
        arriving: unit tangent before it, shape (n, 2).
        leaving: unit tangent after it, shape (n, 2).
    """

    line: Ints
    vertex: Ints
    at: Floats
    arriving: Floats
    leaving: Floats

    def mapped(self, matrix: Affine) -> Corners:
        """Return the corners in another frame."""
        linear = matrix._replace(e=0.0, f=0.0)
        arriving, leaving = (_unit(linear.apply(way)) for way in (self.arriving, self.leaving))
        return self._replace(at=matrix.apply(self.at), arriving=arriving, leaving=leaving)

    def of(self, lines: Ints) -> Corners:
        """Return the corners of some of the polylines."""
        mine = np.isin(self.line, lines)
        return Corners._make(column[mine] for column in self)


@dataclass(frozen=True, eq=False)
class Polylines:
    """All subpaths of many shapes as polylines.

    Attributes:
        coords: vertices, shape (m, 2), repeated points removed.
        start: first vertex of each polyline, shape (n + 1,).
        shape: index of the shape each polyline belongs to, shape (n,).
        closed: whether each polyline is closed, shape (n,).
        curved: whether each polyline stands for curves, shape (n,).
        corners: the corners of those that are stroked.
    """

    coords: Floats
    start: Ints
    shape: Ints
    closed: NDArray[np.bool_]
    curved: NDArray[np.bool_]
    corners: Corners

    @classmethod
    def of(cls, shapes: Sequence[PaintedShape], tolerance: float) -> Polylines:
        """Flatten the shapes' subpaths in mm; ``tolerance`` holds for their strokes too."""
        owners = [k for k, s in enumerate(shapes) if len(s.segments.points)]
        used = [shapes[k] for k in owners]
        if not used:
            none = np.empty(0, np.int64)
            empty = np.empty((0, 2))
            corners = Corners(none, none, empty, empty, empty)
            no = np.empty(0, bool)
            return cls(empty, np.zeros(1, np.int64), none, no, no, corners)
        points = np.concatenate([mapped(s.segments.points, s.matrix) for s in used])
        sizes = [len(s.segments.points) for s in used]
        straight = np.concatenate([s.segments.straight for s in used])
        counts = np.array([len(s.segments.closed) for s in used])
        offsets = np.concatenate([[0], np.cumsum(counts)[:-1]])
        subpath = np.concatenate(
            [s.segments.subpath + o for s, o in zip(used, offsets, strict=True)]
        )
        closed = np.concatenate([s.segments.closed for s in used])
        reach = np.repeat([s.reach for s in used], sizes)
        xy, segment = flatten(points, straight, tolerance, reach)
        # Each polyline is its first segment's start followed by all the chords' ends.
        heads = np.flatnonzero(np.diff(subpath, prepend=-1))
        coords = np.concatenate([points[heads, 0], xy])
        line = np.concatenate([subpath[heads], subpath[segment]])
        order = np.argsort(line, kind="stable")
        coords, line = coords[order], line[order]
        fresh = np.ones(len(coords), bool)
        same = (line[1:] == line[:-1]) & (np.abs(np.diff(coords, axis=0)).max(axis=1) < 1e-12)
        fresh[1:] = ~same
        coords, line = coords[fresh], line[fresh]
        start = np.searchsorted(line, np.arange(len(closed) + 1))
        # Where each segment's end has come to among the vertices of its polyline.
        row = np.empty(len(order), np.int64)
        row[order] = np.cumsum(fresh) - 1
        last = np.searchsorted(segment, np.arange(len(points)), side="right") - 1
        ends = row[len(heads) + last] - start[subpath]
        curved = np.bincount(subpath, ~straight, len(closed)) > 0
        corners = _corners(points, subpath, closed, reach > 0, ends)
        return cls(coords, start, np.repeat(np.array(owners), counts), closed, curved, corners)

    def mapped(self, matrix: Affine) -> Polylines:
        """Return the polylines in another frame."""
        return replace(self, coords=matrix.apply(self.coords), corners=self.corners.mapped(matrix))

    def __len__(self) -> int:
        return len(self.shape)

    def points(self, k: int) -> Floats:
        """Return the vertices of one polyline, shape (n, 2)."""
        return self.coords[self.start[k] : self.start[k + 1]]

    def linestrings(self, which: NDArray[np.int64]) -> NDArray[np.object_]:
        """Return polylines as shapely linestrings; each must have two points or more."""
        return _build(shapely.linestrings, self, which)

    def rings(self, which: NDArray[np.int64]) -> NDArray[np.object_]:
        """Return polylines as shapely linear rings; each must have three points or more."""
        return _build(shapely.linearrings, self, which)


def _build(make: object, lines: Polylines, which: NDArray[np.int64]) -> NDArray[np.object_]:
    lengths = lines.start[which + 1] - lines.start[which]
    owner = np.repeat(np.arange(len(which)), lengths)
    first = np.cumsum(lengths) - lengths
    take = np.arange(len(owner)) - first[owner] + lines.start[which][owner]
    result: NDArray[np.object_] = make(lines.coords[take], indices=owner)  # type: ignore[operator]
    return result


def mapped(points: Floats, matrix: Affine) -> Floats:
    """Map points of any leading shape, (…, 2)."""
    return matrix.apply(points.reshape(-1, 2)).reshape(points.shape)


def _unit(vectors: Floats) -> Floats:
    length = np.hypot(*vectors.T)[:, None]
    result: Floats = np.divide(vectors, length, out=np.zeros_like(vectors), where=length > 0)
    return result


def tangents(points: Floats) -> tuple[Floats, Floats]:
    """Return the unit tangents at the start and the end of cubics; zero where there is none."""
    ends = []
    for at, others in ((0, (1, 2, 3)), (3, (2, 1, 0))):
        tangent = np.zeros((len(points), 2))
        for other in others:
            step = points[:, other] - points[:, at] if at == 0 else points[:, at] - points[:, other]
            empty = np.abs(tangent).max(axis=1) < 1e-12
            tangent[empty] = step[empty]
        ends.append(_unit(tangent))
    return ends[0], ends[1]


def _corners(
    points: Floats,
    subpath: Ints,
    closed: NDArray[np.bool_],
    stroked: NDArray[np.bool_],
    ends: Ints,
) -> Corners:
    leaving, arriving = tangents(points)
    # Segments without length have no direction: the ones beside them meet.
    keep = np.flatnonzero(stroked & (np.abs(leaving).max(axis=1) > 0))
    before, after = keep[:-1], keep[1:]
    joined = subpath[before] == subpath[after]
    first = keep[np.diff(subpath[keep], prepend=-1) > 0]
    last = keep[np.diff(subpath[keep], append=len(closed) + 1) > 0]
    ring = closed[subpath[first]]
    before = np.concatenate([before[joined], last[ring]])
    after = np.concatenate([after[joined], first[ring]])
    turns = (arriving[before] * leaving[after]).sum(axis=1) < _CORNER
    before, after = before[turns], after[turns]
    return Corners(subpath[after], ends[before], points[after, 0], arriving[before], leaving[after])
