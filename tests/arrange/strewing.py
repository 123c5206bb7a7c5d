"""What arrangements are held against: motif sets, a dart thrower, and judges by brute force.

Nothing here uses vecrepeat.arrange: lattices are written out by hand, distances are asked of
shapely for every copy, and voids are measured on a raster with scipy.
"""

from __future__ import annotations

import functools
import itertools
import math
import random
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from real_art import emoji_files
from scipy import ndimage
from shapely import affinity
from shapely.geometry.base import BaseGeometry
from support import demo, motif, write_svg

from vecrepeat.art.read import read_art
from vecrepeat.core.geometry import Affine
from vecrepeat.repeat.model import Motif, Placement, Repeat
from vecrepeat.scene.nodes import Group

LAYOUTS = ("block", "half-drop", "drop:1/3", "brick")
HEROES = ("Luna moth", "Emperor moth", "Evening primrose, tall spray", "Fern frond")
SECONDARIES = (
    "Hawk-moth",
    "Evening primrose, open flower",
    "Blue emperor moth, banking",
    "Blue fern sprig",
    "Poppy seed heads",
    "Dusky leaf sprig",
    "Umbel seed head",
)
FILLERS = ("Yellow moth", "Rose moth, banking", "Star cluster", "Poppy seed head", "Cream moth")


@functools.cache
def garden() -> list[tuple[Motif, str]]:
    """Motifs of the demo drawing, ranked: moths, sprays and a scatter of stars."""
    ranks = dict.fromkeys(HEROES, "hero")
    ranks |= dict.fromkeys(SECONDARIES, "secondary") | dict.fromkeys(FILLERS, "filler")
    art = demo("night-garden")
    return [(m, ranks[m.name]) for m in art.motifs if m.name in ranks]


@functools.cache
def emoji(folder: Path, count: int = 9) -> list[tuple[Motif, str]]:
    """Real colour drawings, each 19 mm a side (72 units at 96 to the inch)."""
    found: list[tuple[Motif, str]] = []
    for n, file in enumerate(random.Random(5).sample(emoji_files(), count)):
        body = re.sub(r"^.*?<svg[^>]*>|</svg>\s*$", "", file.read_text(), flags=re.DOTALL)
        path = write_svg(
            folder,
            f'<g id="emoji-{n}"><g>{body}</g></g>',
            name=f"emoji-{n}.svg",
            width="72px",
            height="72px",
            view_box="0 0 72 72",
        )
        parts = np.concatenate([m.parts for m in read_art(path).motifs])
        rank = ("hero", "secondary", "filler")[n % 3]
        found.append((Motif(f"emoji-{n}", parts, Group(())), rank))
    return found


@functools.cache
def discs() -> list[tuple[Motif, str]]:
    """The plainest motif there is, in three sizes."""
    ranks = (("hero", 12), ("secondary", 7), ("filler", 3))
    return [(motif(f"disc-{r}", shapely.Point(0, 0).buffer(r)), rank) for rank, r in ranks]


@functools.cache
def leaves() -> list[tuple[Motif, str]]:
    """Slim convex motifs, which may lie side by side."""
    found = []
    for n, (long, wide) in enumerate([(26, 7), (18, 6), (11, 3), (8, 4)]):
        ellipse = affinity.scale(shapely.Point(0, 0).buffer(1), long, wide)
        rank = ("hero", "secondary", "filler", "filler")[n]
        found.append((motif(f"leaf-{n}", ellipse), rank))
    return found


@functools.cache
def odd() -> list[tuple[Motif, str]]:
    """Hooks, rings, stars and motifs of several pieces: what fools boxes and centres."""
    hook = shapely.Polygon([(0, 0), (34, 0), (34, 7), (7, 7), (7, 26), (0, 26)])
    ring = shapely.Point(0, 0).buffer(15).difference(shapely.Point(0, 0).buffer(11))
    spokes = [(12 - 8 * (k % 2), k * math.pi / 5) for k in range(10)]
    star = shapely.Polygon([(r * math.cos(t), r * math.sin(t)) for r, t in spokes])
    specks = shapely.MultiPoint([(0, 0), (9, 2), (3, 8)]).buffer(1.2)
    stick = shapely.box(0, 0, 22, 1.5)
    named = {"hook": hook, "ring": ring, "star": star, "specks": specks, "stick": stick}
    ranks = ("hero", "hero", "secondary", "filler", "secondary")
    return [
        (motif(name, outline), rank)
        for (name, outline), rank in zip(named.items(), ranks, strict=True)
    ]


def steps(repeat: Repeat, reach: int = 2) -> list[tuple[float, float]]:
    """The lattice's vectors, ``reach`` tiles to all sides: 5 × 5 copies, the original first."""
    width, height, layout = float(repeat.width), float(repeat.height), repeat.layout
    shift = float(layout.shift)
    found = []
    for i in range(-reach, reach + 1):
        for j in range(-reach, reach + 1):
            # One drop (or shift of a row) per column (or row), brought back near the tile:
            # the same lattice, counted from another of its tiles.
            down = i * shift - round(i * shift) if layout.kind == "drop" else 0.0
            across = j * shift - round(j * shift) if layout.kind == "brick" else 0.0
            found.append(((i + across) * width, (j + down) * height))
    return sorted(found, key=lambda v: v != (0.0, 0.0))


def outlines(repeat: Repeat) -> list[BaseGeometry]:
    """Painted outlines, laid by shapely's own affine map."""
    return [
        affinity.affine_transform(
            p.motif.outline,
            [
                p.transform.a,
                p.transform.c,
                p.transform.b,
                p.transform.d,
                p.transform.e,
                p.transform.f,
            ],
        )
        for p in repeat.placements
    ]


def gaps(repeat: Repeat, limit: float = math.inf) -> Iterator[tuple[int, int, float]]:
    """Every pair of copies, the first in the middle of 5 × 5, and their exact distance.

    Pairs whose boxes are ``limit`` apart or more are left out: outlines are no nearer.
    """
    shapes = outlines(repeat)
    boxes = np.array([s.bounds for s in shapes])
    for dx, dy in steps(repeat):
        there = boxes + np.array([dx, dy, dx, dy])
        across = np.maximum(boxes[:, None, 0] - there[:, 2], there[:, 0] - boxes[:, None, 2])
        down = np.maximum(boxes[:, None, 1] - there[:, 3], there[:, 1] - boxes[:, None, 3])
        apart = np.hypot(np.maximum(across, 0), np.maximum(down, 0))
        for one, other in np.argwhere(apart < limit).tolist():
            if one == other and (dx, dy) == (0.0, 0.0):
                continue
            moved = affinity.translate(shapes[other], dx, dy)
            yield one, other, float(shapes[one].distance(moved))


def least_gap(repeat: Repeat, limit: float) -> float:
    """The least distance between any two copies, so far as it is below ``limit``."""
    return min((gap for _, _, gap in gaps(repeat, limit)), default=math.inf)


class Spread(NamedTuple):
    """Standard deviations in mm: of the distance to the nearest neighbour, of void radii.

    Voids are those of :func:`void_radii`.
    """

    nearest: float
    voids: float


def spread(repeat: Repeat, pixel: float = 0.5) -> Spread:
    """How uneven an arrangement is: own copies are left out of the nearest neighbours."""
    nearest = np.full(len(repeat.placements), math.inf)
    for one, other, gap in gaps(repeat, 80.0):
        if one != other:
            nearest[one] = min(nearest[one], gap)
    radii = void_radii(repeat, pixel)
    return Spread(float(nearest.std()), float(radii.std()))


def void_radii(repeat: Repeat, pixel: float = 0.5) -> NDArray[np.float64]:
    """Radii of the discs that touch art all round, one for each void of the straight block.

    Voids that lie between two motifs or more: what one motif alone encloses, as a fern does
    between its leaves, is the same wherever it is put.
    """
    distance = distances(repeat, pixel)
    # A void is the highest point within its own 3 mm.
    window = 2 * round(3 / pixel) + 1
    peak = (distance == ndimage.maximum_filter(distance, window, mode="wrap")) & (distance > 0)
    labels, count = ndimage.label(peak, np.ones((3, 3)))
    which = range(1, count + 1)
    radii = np.asarray(ndimage.maximum(distance, labels, which), dtype=np.float64)
    places = np.array(ndimage.maximum_position(distance, labels, which)).reshape(-1, 2)
    width, height = (float(side) for side in repeat.block_size)
    y, x = ((places + 0.5) * (height / distance.shape[0], width / distance.shape[1])).T
    reach = float(radii.max(initial=0.0)) + 2 * pixel
    block = shapely.box(-reach, -reach, width + reach, height + reach)
    copies = [
        affinity.translate(shape, *v)
        for shape in outlines(repeat)
        for v in steps(repeat, max(repeat.layout.straight_block) + 2)
    ]
    tree = shapely.STRtree([copy for copy in copies if copy.intersects(block)])
    points, _ = tree.query(shapely.points(x, y), predicate="dwithin", distance=radii + 1.5 * pixel)
    return radii[np.bincount(points, minlength=len(radii)) > 1]


def distances(repeat: Repeat, pixel: float = 0.5) -> NDArray[np.float64]:
    """How far from art every pixel of the straight block is, in mm."""
    width, height = (float(side) for side in repeat.block_size)
    ni, nj = round(height / pixel), round(width / pixel)
    painted = np.zeros((ni, nj), dtype=bool)
    py, px = height / ni, width / nj
    across, down = repeat.layout.straight_block
    vectors = steps(repeat, max(across, down) + 2)
    for shape in outlines(repeat):
        shapely.prepare(shape)
        x0, y0, x1, y1 = shape.bounds
        for dx, dy in vectors:
            if x1 + dx < 0 or y1 + dy < 0 or x0 + dx > width or y0 + dy > height:
                continue
            i = np.arange(max(0, int((y0 + dy) / py) - 1), min(ni, int((y1 + dy) / py) + 2))
            j = np.arange(max(0, int((x0 + dx) / px) - 1), min(nj, int((x1 + dx) / px) + 2))
            x, y = np.meshgrid((j + 0.5) * px - dx, (i + 0.5) * py - dy)
            painted[np.ix_(i, j)] |= shapely.contains_xy(shape, x, y)
    tiled = ~np.tile(painted, (3, 3))
    far = ndimage.distance_transform_edt(tiled, sampling=(py, px))
    return np.asarray(far[ni : 2 * ni, nj : 2 * nj], dtype=np.float64)


class Darts:
    """The plain way to strew: throw a motif anywhere, keep it where it keeps the clearance."""

    def __init__(self, repeat: Repeat, clearance: float, seed: int) -> None:
        self.repeat, self.clearance = repeat, clearance
        self.random = random.Random(seed)
        self.laid: list[tuple[Motif, BaseGeometry, list[float]]] = []
        self._copies: list[BaseGeometry] = []

    def throw(self, thrown: Motif, scale: float, throws: int) -> bool:
        """Throw a motif until it fits, so many times at most."""
        outline = thrown.outline
        box = shapely.box(*outline.bounds).centroid
        width, height = float(self.repeat.width), float(self.repeat.height)
        tree = shapely.STRtree(self._copies)
        for _ in range(throws):
            x, y = self.random.uniform(0, width), self.random.uniform(0, height)
            turn = self.random.uniform(0, 2 * math.pi)
            c, s = scale * math.cos(turn), scale * math.sin(turn)
            matrix = [c, -s, s, c, x - c * box.x + s * box.y, y - s * box.x - c * box.y]
            laid = affinity.affine_transform(outline, matrix)
            if len(tree.query(laid, predicate="dwithin", distance=self.clearance)):
                continue
            own = [affinity.translate(laid, *v) for v in steps(self.repeat)]
            if any(laid.distance(copy) < self.clearance for copy in own[1:]):
                continue
            self.laid.append((thrown, laid, matrix))
            self._copies += own
            return True
        return False

    def repeat_of_all(self) -> Repeat:
        """What has been thrown so far, as a repeat."""
        laid = [
            Placement(thrown, Affine(a, c, b, d, e, f))
            for thrown, _, (a, b, c, d, e, f) in self.laid
        ]
        return replace(self.repeat, placements=tuple(laid))


def darts_like(repeat: Repeat, clearance: float, seed: int) -> Repeat | None:
    """The same motifs in the same sizes thrown, the largest first; None where they won't fit."""
    sizes = [(p.motif, math.sqrt(abs(p.transform.determinant))) for p in repeat.placements]
    sizes.sort(key=lambda one: -one[0].outline.area * one[1] ** 2)
    for attempt in range(30):
        darts = Darts(repeat, clearance, 1000 * seed + attempt)
        if all(darts.throw(thrown, scale, 400) for thrown, scale in sizes):
            return darts.repeat_of_all()
    return None


def darts_coverage(darts: Darts, ranked: Sequence[tuple[Motif, str]], throws: int = 200) -> float:
    """The share of the cloth that darts paint: until each motif in turn misses three times."""
    misses = 0
    for thrown, _ in itertools.cycle(sorted(ranked, key=lambda m: -m[0].outline.area)):
        misses = 0 if darts.throw(thrown, 1.0, throws) else misses + 1
        if misses >= 3 * len(ranked):
            break
    painted = sum(outline.area for _, outline, _ in darts.laid)
    return float(painted) / float(darts.repeat.width * darts.repeat.height)


def as_tile(side: int, layout: str) -> Repeat:
    """An empty square tile."""
    return Repeat("strewn", Fraction(side), Fraction(side), ()).with_layout(layout)
