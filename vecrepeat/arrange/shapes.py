"""Motifs as arranging sees them: a shell to measure from, a field of distances, sample points.

A motif's **shell** is its painted outline with all crevices closed that no other motif could
reach into at the clearance (the closing by a disc of that radius). From anywhere at least the
clearance away, shell and outline are equally far, but for :attr:`Shape.slack`; and the shell
of a fern has a twentieth of the outline's points. The shell holds the whole outline, so a
distance between shells is never more than the true one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vecrepeat.repeat.model import Motif
from vecrepeat.repeat.pose import anchor
from vecrepeat.scene.visit import holds_lettering

Floats = NDArray[np.float64]

NEAR, FAR = 1.3, 5.0
"""Half sides of the two fields of a shape, in radii."""

NEAR_GRID, FAR_GRID = 128, 64
"""Points of the two fields, each way."""

_PIECE = 24
"""Points of an edge that are grown at a time."""

_QUANTUM = 2.0**-20
"""Coordinates that decide anything are multiples of this many mm: hides last bits of libm."""


@dataclass(frozen=True, eq=False)
class Shape:
    """A motif about its anchor, in mm at scale 1.

    Attributes:
        motif: whose shape it is.
        anchor: the motif's anchor, in its own mm.
        outline: the painted outline, the anchor at the origin.
        shell: see the module.
        slack: how much nearer than the outline the shell may be, in mm.
        radius: of the smallest disc about the anchor that holds the shell.
        area: painted, in mm².
        room: what it takes of the cloth, half the clearance all round it included, in mm².
        samples: points on the shell's edge and inside it, shape (n, 2).
        depth: how deep in the shell each sample lies, in mm; 0 on the edge.
        weight: length of edge each sample stands for, in mm; 0 inside.
    """

    motif: Motif
    anchor: tuple[float, float]
    outline: BaseGeometry
    shell: BaseGeometry
    slack: float
    radius: float
    area: float
    room: float
    samples: Floats
    depth: Floats
    weight: Floats

    @staticmethod
    @lru_cache(maxsize=256)
    def of(motif: Motif, clearance: float, largest: float = 1.0) -> Shape:
        """Return a motif's shape; kept, since one sheet of trials asks for it a dozen times.

        Args:
            motif: the motif.
            clearance: the least distance that will be asked for, in mm of cloth.
            largest: the largest scale it will be used at.
        """
        centre = anchor(motif)
        outline = shapely.transform(motif.outline, lambda p: p - np.array(centre))
        box = shapely.bounds(outline)
        reach = math.sqrt((box[2] - box[0]) ** 2 + (box[3] - box[1]) ** 2) / 2
        shell, slack = _shell(outline, clearance / largest, reach)
        points = shapely.get_coordinates(shell)
        radius = float(np.sqrt((points**2).sum(axis=1)).max())
        samples, depth, weight = _samples(shell, clearance, radius)
        return Shape(
            motif,
            centre,
            outline,
            shell,
            slack,
            radius,
            float(outline.area),
            float(shell.buffer(clearance / largest / 2, quad_segs=4).area),
            samples,
            depth,
            weight,
        )

    @cached_property
    def lettered(self) -> bool:
        """Whether it holds lettering that a drawing has as text."""
        return holds_lettering(self.motif.scene)

    @cached_property
    def near(self) -> NDArray[np.float32]:
        """Signed distance from the shell about the motif, and its gradient, shape (n, 3)."""
        return _field(self, NEAR, NEAR_GRID)

    @cached_property
    def far(self) -> NDArray[np.float32]:
        """Likewise further off, coarser."""
        return _field(self, FAR, FAR_GRID)


def _shell(outline: BaseGeometry, closing: float, reach: float) -> tuple[BaseGeometry, float]:
    """Return a shell of an outline and its slack."""
    for spare in (0.03, 0.08):
        # Twice the error of the simplification, and never coarse beside a small motif.
        slack = max(0.004, min(0.25, spare * closing, reach / 40))
        grown = grown_by(outline.simplify(slack / 8), closing + slack)
        shell = grown.buffer(-closing, quad_segs=6).simplify(slack / 2)
        shell = shapely.transform(shell, lambda p: np.round(p / _QUANTUM) * _QUANTUM)
        if shell.is_valid and not shell.is_empty and shell.contains(outline):
            # Chords of the round joins lie inside the arcs by this share of the radius.
            chord = (1 - math.cos(math.pi / 24)) * (closing + slack)
            return shell, 1.7 * slack + chord
    return outline, 0.0


def grown_by(outline: BaseGeometry, by: float, quad_segs: int = 6) -> BaseGeometry:
    """Return an outline grown by so many mm, piece by piece.

    Of thousands of points at once GEOS asks every stretch of edge against every other, which
    takes minutes and gigabytes.
    """
    parts = shapely.get_parts(outline)
    long = shapely.get_num_coordinates(parts) > 2 * _PIECE
    pieces = parts[~long].tolist()
    for ring in shapely.get_rings(parts[long]):
        points = shapely.get_coordinates(ring)
        starts = range(0, len(points) - 1, _PIECE)
        pieces += [shapely.LineString(points[k : k + _PIECE + 1]) for k in starts]
    grown = shapely.buffer(pieces, by, quad_segs=quad_segs)
    whole: BaseGeometry = shapely.union_all([*grown, *parts[long]])
    return whole


def _samples(shell: BaseGeometry, clearance: float, radius: float) -> tuple[Floats, Floats, Floats]:
    spacing = max(radius / 16, min(clearance / 2, radius / 6), shell.length / 300)
    # Tips come first: they are what meets others first.
    corners = shapely.get_coordinates(shell.simplify(radius / 40))
    parts = [np.column_stack([corners, np.zeros((len(corners), 2))])]
    rings = shapely.get_rings(shell)
    for ring in rings[np.argsort(-shapely.length(rings), kind="stable")][:60].tolist():
        count = max(4, math.ceil(ring.length / spacing))
        points = shapely.line_interpolate_point(ring, np.arange(count) / count, normalized=True)
        length = np.full(count, ring.length / count)
        parts.append(np.column_stack([shapely.get_coordinates(points), 0 * length, length]))
    step = radius / 6
    steps = np.arange(-6, 7) * step
    x, y = (g.ravel() for g in np.meshgrid(steps, steps))
    shapely.prepare(shell)
    inside = shapely.contains_xy(shell, x, y)
    deep = shapely.distance(shell.boundary, shapely.points(x[inside], y[inside]))
    core = np.column_stack([x[inside], y[inside], deep, np.zeros(len(deep))])
    parts.append(core[deep > step / 3])
    everything = np.round(np.concatenate(parts) / _QUANTUM) * _QUANTUM
    return everything[:, :2], everything[:, 2], everything[:, 3]


class Shapes:
    """Several shapes and their fields of signed distance, to be looked up in bulk.

    Args:
        shapes: in the order by which numbers name them.
    """

    def __init__(self, shapes: Sequence[Shape]) -> None:
        self.all = tuple(shapes)
        self.radius = np.array([s.radius for s in shapes], dtype=np.float64)
        self.area = np.array([s.area for s in shapes], dtype=np.float64)
        self.room = np.array([s.room for s in shapes], dtype=np.float64)
        # A motif may have several shapes: as it was, and as it is to be placed.
        names = [s.motif.name for s in shapes]
        self.kind = np.array([names.index(name) for name in names], dtype=np.int64)
        counts = [len(s.samples) for s in shapes]
        self.first = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
        self.samples = np.concatenate([s.samples for s in shapes])
        self.depth = np.concatenate([s.depth for s in shapes])
        self.weight = np.concatenate([s.weight for s in shapes])
        self._fields = np.concatenate([s.near for s in shapes] + [s.far for s in shapes])

    def distance(
        self, shape: NDArray[np.int64], x: Floats, y: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Return signed distances of points from shells at scale 1, and their gradients.

        Args:
            shape: for each point, the shape's number.
            x: of the point, about the shape's anchor, in mm.
            y: likewise.

        Returns:
            Distance in mm, negative inside; and the direction it grows in, x and y, of about
            unit length.
        """
        radius = self.radius.take(shape)
        far = np.maximum(np.abs(x), np.abs(y)) >= NEAR * radius
        half = np.where(far, FAR, NEAR) * radius
        last = np.where(far, FAR_GRID - 1, NEAR_GRID - 1)
        per_mm = last / (2 * half)
        # The nearest point of the grid tells the distance there and how it grows.
        u, v = (x + half) * per_mm, (y + half) * per_mm
        cu, cv = np.minimum(np.maximum(u, 0.0), last), np.minimum(np.maximum(v, 0.0), last)
        iu, iv = np.rint(cu), np.rint(cv)
        at = np.where(far, len(self.all) * NEAR_GRID**2 + shape * FAR_GRID**2, shape * NEAR_GRID**2)
        told = self._fields.take(at + (iv * (last + 1) + iu).astype(np.int64), axis=0)
        gx, gy = told[..., 1], told[..., 2]
        found = told[..., 0] + (gx * (cu - iu) + gy * (cv - iv)) / per_mm
        beyond = (u != cu) | (v != cv)
        if beyond.any():
            # Further by as much as from the anchor.
            ex, ey = cu / per_mm - half, cv / per_mm - half
            over = np.sqrt(x * x + y * y) - np.sqrt(ex * ex + ey * ey)
            found = found + np.where(beyond, over, 0.0)
        return found, gx, gy


def _field(shape: Shape, half: float, grid: int) -> NDArray[np.float32]:
    """Return the signed distance from a shape's shell on a square grid, and its gradient."""
    steps = np.linspace(-half, half, grid) * shape.radius
    x, y = (g.ravel() for g in np.meshgrid(steps, steps))
    # A fraction of the field's own step.
    simple = shape.shell.simplify(half * shape.radius / grid / 8)
    shell = shape.shell if simple.is_empty else simple
    edge = shell.boundary
    shapely.prepare(edge)
    shapely.prepare(shell)
    distance = shapely.distance(edge, shapely.points(x, y))
    inside = shapely.contains_xy(shell, x, y)
    signed = np.where(inside, -distance, distance).reshape(grid, grid)
    gy, gx = np.gradient(signed, steps[1] - steps[0])
    found: NDArray[np.float32] = np.stack([signed, gx, gy], axis=-1).astype(np.float32)
    return found.reshape(-1, 3)
