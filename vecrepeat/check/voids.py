"""Voids: the largest empty circles of the endless cloth, exact.

Every locally largest empty circle touches the paint at three points or more that hold it in
from all sides. The search climbs there from the barest places of a grid, by exact distances to
the outlines.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations
from typing import NamedTuple

import numpy as np
import shapely

from vecrepeat.check.findings import Answer, Finding
from vecrepeat.check.plane import Plane, edges_of
from vecrepeat.check.profile import VoidLimits
from vecrepeat.core.geometry import Rect
from vecrepeat.repeat.wrap import Floats, Ints, Shapes, onto_tile

GRID = 120
"""How many places along the tile's longer side the search starts from."""

NEAR = 4
"""Paint is looked for within a NEARth of the greatest possible distance first."""

EXACT = 1e-5
"""How closely in mm a circle's three distances to the outlines must agree."""

RUN = 16
"""How many edges in a row are found as one."""

MOST, LEAST = 48, 0.05
"""How many voids are told, and the smallest, as a share of the largest's radius."""


class Void(NamedTuple):
    """An empty circle of the plane; its centre lies on the tile.

    Attributes:
        x, y: its centre, mm of the tile.
        radius: in mm.
        between: whether it touches more than one copy, and lies in no motif's own hollow.
    """

    x: float
    y: float
    radius: float
    between: bool = True

    @property
    def centre(self) -> Floats:
        """Its centre as an array."""
        return np.array((self.x, self.y))


def find_voids(plane: Plane) -> list[Void]:
    """Return the locally largest empty circles, the largest first, each once a period.

    Circles that overlap by more than a third of a radius are one void: the largest of them
    stands for it. At most :data:`MOST` are returned, none under :data:`LEAST` of the largest.
    """
    if not len(plane.outlines):
        return []
    rect = plane.repeat.tile_rect
    side = max(rect.width, rect.height) / GRID
    across, down = int(np.ceil(rect.width / side)), int(np.ceil(rect.height / side))
    grid = np.meshgrid(
        (np.arange(across) + 0.5) * rect.width / across,
        (np.arange(down) + 0.5) * rect.height / down,
    )
    spots = np.stack([axis.ravel() for axis in grid], axis=1)
    margin = plane.reach / NEAR
    edges, spots = _bare(plane, spots, rect.grown(margin))
    if not len(spots):
        return []
    distance = _distances(edges, spots)
    if distance.max() > margin:
        # Nearer paint may lie farther out than was looked.
        margin = plane.reach
        edges, _ = _bare(plane, spots[:0], rect.grown(margin))
        distance = _distances(edges, spots)
    # A circle may come to rest beyond the bounds, where paint as far again holds it. Distances
    # change by no more than one walks, so no void is wider than this.
    reach = float(distance.max()) + side
    if margin < 2.1 * reach:
        edges, _ = _bare(plane, spots[:0], rect.grown(reach * 2.1))
    order = np.argsort(-distance, kind="stable")
    spots, distance = spots[order], distance[order]

    def climbed(k: int) -> Void:
        return _on_tile(plane, _climb(edges, spots[k], float(distance[k]), side, reach))

    found: list[Void] = []
    left = distance > LEAST * distance[0]
    while left.any() and len(found) < MOST:
        k = int(np.argmax(left))
        found.append(climbed(k))
        others = np.flatnonzero(left)
        near = _apart(plane, spots[others], spots[k]) < distance[k] * 0.67
        near |= _apart(plane, spots[others], found[-1].centre) < found[-1].radius * 0.67
        left[others[near]] = False
    # A void's centre lies within half a diagonal of some spot of the grid, and the distance there
    # is less than its radius by no more: with those, the widest void of all is among the found.
    best, half = max(found, key=lambda v: v.radius), side * 0.7072
    for k, spot in enumerate(spots):
        if distance[k] + half <= best.radius:
            break
        if _apart(plane, spot[None], best.centre)[0] > min(half, best.radius / 4):
            void = climbed(k)
            if void.radius > best.radius + EXACT:
                best = void
                found.append(void)
    # Without those that climbed to a place already told.
    return _clear(plane, sorted(found, key=lambda v: -v.radius), lambda _, own: 0.6 * own)


def _clear(
    plane: Plane, found: list[Void], room: Callable[[Floats, float], Floats | float]
) -> list[Void]:
    """Return voids without those whose centre lies too near to that of one before.

    Args:
        plane: the repeated plane.
        found: voids, the largest first.
        room: how far they must lie apart, from the radii of those before and one's own.
    """
    kept: list[Void] = []
    for void in found:
        centres = np.array([v.centre for v in kept]).reshape(-1, 2)
        radii = np.array([v.radius for v in kept])
        if (_apart(plane, centres, void.centre) >= room(radii, void.radius)).all():
            kept.append(void)
    return kept


def _bare(plane: Plane, spots: Floats, region: Rect) -> tuple[_Edges, Floats]:
    """Return the outlines' edges about a region, and those of the spots that are not painted."""
    shapes = plane.copies(region).shapes
    near, shape = shapely.STRtree(shapes).query(shapely.points(spots))
    shapely.prepare(shapes)
    inside = near[shapely.intersects_xy(shapes[shape], *spots[near].T)]
    free = np.ones(len(spots), bool)
    free[inside] = False
    return _segments(shapely.boundary(shapes)), spots[free]


def _distances(edges: _Edges, spots: Floats) -> Floats:
    """Return how far spots are from the nearest edge in mm."""
    distance: Floats = edges.tree.query_nearest(
        shapely.points(spots), return_distance=True, all_matches=False
    )[1]
    return distance


def _apart(plane: Plane, many: Floats, one: Floats) -> Floats:
    """Return the distances of points to one point, over all lattice translates nearby."""
    # Within half a cell of a reduced lattice the nearest translate is at most one step away.
    steps = np.stack(np.meshgrid((-1, 0, 1), (-1, 0, 1)), axis=-1).reshape(-1, 2)
    cell = plane.reduced
    share = (many - one) @ np.linalg.inv(cell)
    share -= np.round(share)
    moves = (share[:, None] + steps[None]) @ cell
    distance: Floats = np.hypot(moves[..., 0], moves[..., 1]).min(axis=1)
    return distance


def _on_tile(plane: Plane, void: Void) -> Void:
    """Return the void moved by a lattice vector so that its centre lies on the tile."""
    x, y = onto_tile(plane.repeat.lattice, np.array(void.x), np.array(void.y))
    return void._replace(x=float(x), y=float(y))


class _Edges(NamedTuple):
    """Edges, in runs of a few that the tree knows as one line.

    Attributes:
        tree: of the runs; a tree of every edge takes several times as long to plant.
        start, end: of the edges, shape (n, 2).
        owner: which copy each edge is of, shape (n,).
        first: the number of each run's first edge, and that of all edges, shape (runs + 1,).
    """

    tree: shapely.STRtree
    start: Floats
    end: Floats
    owner: Ints
    first: Ints

    def of(self, runs: Ints) -> Ints:
        """Return the numbers of the edges of some runs."""
        counts = self.first[runs + 1] - self.first[runs]
        before = np.cumsum(counts) - counts
        found: Ints = np.arange(counts.sum()) + np.repeat(self.first[runs] - before, counts)
        return found


def _segments(lines: Shapes) -> _Edges:
    parts, copy = shapely.get_parts(lines, return_index=True)
    start, end, line = edges_of(parts)
    fresh = np.diff(line, prepend=-1) != 0
    place = np.arange(len(line)) - np.flatnonzero(fresh)[np.cumsum(fresh) - 1]
    first = np.flatnonzero(place % RUN == 0)
    # A run's points are the starts of its edges and the end of the last.
    run = np.cumsum(place % RUN == 0) - 1
    last = np.append(first[1:], len(line)) - 1
    points = np.insert(start, last + 1, end[last], axis=0)
    owners = np.insert(run, last + 1, run[last])
    runs = shapely.linestrings(points, indices=owners)
    return _Edges(shapely.STRtree(runs), start, end, copy[line], np.append(first, len(line)))


def _climb(edges: _Edges, start: Floats, radius: float, step: float, reach: float) -> Void:
    """Return the circle about a spot grown and moved until the outlines hold it from all sides.

    With nearest points q and unit vectors n from them to the centre, each distance changes by
    n · move to first order, so the best small move solves a linear programme in three
    unknowns. Three of its constraints bind: all threes of the nearest few are tried.
    """
    centre = start
    for _ in range(25):
        distance, normals = _nearest(edges, centre, radius, step)
        radius = float(distance.min())
        move, gain = _best_move(distance, normals, step)
        strayed = np.hypot(*(centre + move - start)) > reach
        if gain < EXACT or strayed:
            break
        after, _ = _nearest(edges, centre + move, radius + gain, step)
        if after.min() > radius:
            centre = centre + move
            radius = float(after.min())
            step *= 1.5 if after.min() - radius > gain / 2 else 1.0
        else:
            step /= 4
            if step < EXACT:
                break
    return Void(float(centre[0]), float(centre[1]), radius, _between(edges, centre, radius))


def _between(edges: _Edges, centre: Floats, radius: float) -> bool:
    """Whether a circle all but touches more than one copy."""
    reach = radius * 1.02 + EXACT
    runs = edges.tree.query(shapely.Point(centre), predicate="dwithin", distance=reach)
    which = edges.of(runs)
    return len(np.unique(edges.owner[which])) > 1


def _nearest(edges: _Edges, centre: Floats, radius: float, step: float) -> tuple[Floats, Floats]:
    """Return distances and unit vectors to the centre from all edges within reach of a move."""
    point = shapely.Point(centre)
    which = edges.tree.query(point, predicate="dwithin", distance=radius + 2 * step + EXACT)
    if not len(which):
        which = edges.tree.query_nearest(point)
    which = edges.of(which)
    start, along = edges.start[which], edges.end[which] - edges.start[which]
    share = ((centre - start) * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-300)
    foot = start + np.clip(share, 0, 1)[:, None] * along
    away = centre - foot
    distance = np.hypot(away[:, 0], away[:, 1])
    return distance, away / np.maximum(distance, 1e-300)[:, None]


def _best_move(distance: Floats, normals: Floats, step: float) -> tuple[Floats, float]:
    """Return the move of at most ``step`` that raises the least distance most, and by how much."""
    base = distance.min()
    # A box of steps keeps the programme bounded: four more half-planes.
    best, gain = np.zeros(2), 0.0
    move = np.zeros(2)
    # Kelley's cuts: start from the tightest constraint and add whatever the optimum violates.
    active = [int(np.argmin(distance))]
    for _ in range(12):
        move, level = _maximin(distance[active], normals[active], step)
        reached = distance + normals @ move
        worst = int(np.argmin(reached))
        if reached[worst] - base > gain:
            best, gain = move, float(reached[worst] - base)
        if reached[worst] >= level - EXACT / 10 or worst in active:
            break
        # Only what binds is kept, so that the programmes stay small.
        active = [k for k in active if reached[k] <= level + EXACT]
        active.append(worst)
    return best, gain


def _maximin(distance: Floats, normals: Floats, step: float) -> tuple[Floats, float]:
    """Return the move within a square of ± ``step`` for which min(distance + n · move) is greatest.

    The optimum is where three of the constraints meet: every three of them are solved.
    """
    box = np.array([(1, 0, 0, -step), (-1, 0, 0, -step), (0, 1, 0, -step), (0, -1, 0, -step)])
    held = np.column_stack([normals, np.full(len(normals), -1.0), -distance])
    system = np.vstack([held, box])
    threes = np.array(list(combinations(range(len(system)), 3)))
    matrix, right = system[threes][:, :, :3], system[threes][:, :, 3]
    solvable = np.abs(np.linalg.det(matrix)) > 1e-12
    solved = np.linalg.solve(matrix[solvable], right[solvable][..., None])[..., 0]
    holds = (solved @ system[:, :3].T >= system[:, 3] - 1e-9).all(axis=1)
    if not holds.any():
        return np.zeros(2), float(distance.min())
    top = solved[holds][np.argmax(solved[holds][:, 2])]
    return top[:2], float(top[2])


def typical_width(plane: Plane, found: list[Void]) -> float:
    """Return the width in mm of the median void that overlaps no larger one; 0 for no void.

    A large void has lesser circles all round its rim, and they are no places of their own; nor
    are the hollows of a motif, where there are voids between motifs.
    """
    kept = _clear(plane, [v for v in found if v.between] or found, lambda radii, own: radii + own)
    return float(np.median([2 * v.radius for v in kept])) if kept else 0.0


def check_voids(found: list[Void], typical: float, limits: VoidLimits) -> Answer:
    """Rank voids, and report those far wider than the typical one."""
    limit = max(limits.times_typical * typical, limits.least_mm)
    findings = [
        Finding(
            "void",
            "an empty place stands out",
            2 * v.radius,
            limit,
            shapely.Point(v.x, v.y).buffer(v.radius, quad_segs=24),
        )
        for v in found[: limits.shown]
        if 2 * v.radius > limit
    ]
    facts = {
        "typical_width_mm": typical,
        "limit_mm": limit,
        "largest": [
            {"centre_mm": [v.x, v.y], "width_mm": 2 * v.radius} for v in found[: limits.shown]
        ],
    }
    return Answer(tuple(findings), facts)
