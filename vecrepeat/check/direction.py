"""Which way motifs stand, and so how pieces may lie when the cloth is cut.

Cloth is turned, never mirrored, so what a motif says is how it looks once it is turned. Where its
shape can't tell, the answer is the one that wastes cloth, not the one that spoils it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from vecrepeat.check.plane import Plane
from vecrepeat.colour.booleans import union
from vecrepeat.colour.flatten import Mix, faces_of, in_bands
from vecrepeat.colour.gradients import in_steps
from vecrepeat.colour.painted import beyond_shapes, painted_layers
from vecrepeat.core.geometry import Affine
from vecrepeat.core.units import counted
from vecrepeat.repeat.model import Motif

Floats = NDArray[np.float64]

POINTS = 256
_ALIKE = 0.01
"""How far the moments of two outlines may differ, of 1, to be one drawing turned."""

_NEAR = 0.1
"""How far an edge may lie from another, of the motif's size, to be the same."""

_LEVEL = 0.08
"""Below this an outline's moment of some order does not speak against a turn onto itself."""

_FOLDS = (*range(24, 4, -1), 4, 3, 2)
"""Parts of a full turn that are tried; a motif of five or more like petals has no up."""

_MOST = 0.75
"""What stands otherwise counts for nothing where it is a quarter of a motif's copies or less."""

_LEAN = 90.0
"""Copies within such an arc in degrees, which is 45 to either side, stand the same way."""

_CHANCE = 0.002
"""Copies turned at random that lie alike more rarely than this are not turned at random."""

_SPECK = 2.0
"""Nobody sees which way up a motif of fewer mm lies."""

ANY = 360
_KINDS = {1: "one-way", 2: "two-way", 4: "four-way", ANY: "tossed"}
_WAYS = {"one-way": "one way", "two-way": "two ways", "four-way": "four ways"}

# Common practice, no source.
_CUTTING = {
    "one-way": "all pieces must lie the same way up: allow more cloth",
    "two-way": "pieces may be turned end for end",
    "four-way": "pieces may lie across or along",
    "tossed": "pieces may lie any way",
    "without direction": "pieces may lie any way",
}


class Direction(NamedTuple):
    """How the motifs stand.

    Attributes:
        kind: ``one-way``, ``two-way``, ``four-way``, ``tossed`` or ``without direction``.
        turns: the angles in degrees, to the nearest ten, at which motifs that have an up stand:
            against how they are drawn, or where one is drawn more than once, against the first.
        motifs: how many motifs stand no more ways than the kind says.
        of: of how many.
        share: of what is painted, how much those motifs are.
    """

    kind: str
    turns: tuple[float, ...] = ()
    motifs: int = 0
    of: int = 0
    share: float = 0.0

    @property
    def cutting(self) -> str:
        """What it means for cutting (common practice, no source)."""
        return _CUTTING[self.kind]

    def line(self) -> str:
        """Return the kind, what it means and what it is judged by, as one line."""
        words = f"{self.kind}: {self.cutting}"
        if self.kind not in _WAYS:
            return words
        share = f"{self.share:.0%} of what is painted"
        of = counted(self.of, "motif")
        return f"{words} ({self.motifs} of {of}, {share}, stand {_WAYS[self.kind]} only)"


class _Shape(NamedTuple):
    """What is known of a motif's shape.

    Attributes:
        fold: the part of a full turn that carries it onto itself; 0 where it has no up.
        angle: the angle in degrees at which it stands, up to a turn onto itself.
        marks: what does not change when it is turned, scaled or mirrored.
        pose: its outline about its middle, of size 1, at the angle 0.
    """

    fold: int
    angle: float
    marks: Floats
    pose: BaseGeometry


@dataclass
class _AlikeMotifs:
    """A motif and all that are the same but for a turn.

    Attributes:
        shape: of the first that was met.
        turns: of all copies, in degrees.
        area: of all copies, in mm².
        known: whether its up is known: all are placed from one motif.
    """

    shape: _Shape
    turns: list[float] = field(default_factory=list)
    area: float = 0.0
    known: bool = True


def direction(plane: Plane) -> Direction:
    """Judge how the motifs stand.

    A motif stands as it is drawn; placed at several angles, or drawn more than once, it stands
    in several ways, a mirror image as what it mirrors. One that looks the same turned by a half
    or a quarter stands in two or four, one that is round or has many like petals in any. The
    motif that stands in the fewest ways decides.
    """
    repeat = plane.repeat
    placed: dict[Motif, list[int]] = defaultdict(list)
    sides = (repeat.boxes[:, 2:] - repeat.boxes[:, :2]).max(axis=1, initial=0)
    for k in np.flatnonzero(sides >= _SPECK).tolist():
        placed[repeat.placements[k].motif].append(k)
    drawings: list[_AlikeMotifs] = []
    areas = shapely.area(plane.outlines)
    for motif, numbers in placed.items():
        if motif.is_ground and _all_round(motif):
            continue
        shape = _shape(motif)
        if shape is None:
            continue
        drawing, turn = _find_drawing(shape, drawings)
        drawing.area += float(areas[numbers].sum())
        for transform in (repeat.placements[k].transform for k in numbers):
            own = turn if transform.determinant > 0 else -turn
            drawing.turns.append(_angle_of(transform) + own)
    return _judge(drawings)


def _all_round(motif: Motif) -> bool:
    """Return whether a blender's layer is dots, which have no up however they are strewn."""
    boxes = shapely.bounds(motif.parts)
    sides = boxes[:, 2:] - boxes[:, :2]
    discs = math.pi / 4 * sides.prod(axis=1)
    square = np.abs(sides[:, 0] - sides[:, 1]) < _NEAR * sides.max(axis=1)
    return bool((square & (np.abs(shapely.area(motif.parts) / discs - 1) < _ALIKE)).all())


def _find_drawing(shape: _Shape, drawings: list[_AlikeMotifs]) -> tuple[_AlikeMotifs, float]:
    """Return the drawing that a shape is of, a new one if need be, and its turn against it."""
    for drawing in drawings:
        turn = _turn(drawing.shape, shape)
        if turn is not None:
            drawing.known = False
            return drawing, turn
    drawings.append(_AlikeMotifs(shape))
    return drawings[-1], 0.0


def _judge(drawings: Sequence[_AlikeMotifs]) -> Direction:
    """Return what drawings come to."""
    upright = [d for d in drawings if d.shape.fold]
    if not upright:
        return Direction("without direction", of=len(drawings))
    ways = {id(d): _ways(d.turns, d.shape.fold, known=d.known) for d in upright}
    fewest = min(ways.values())
    # What lies askew alone, but all of it alike, is seen only in all of it together.
    for fold in {d.shape.fold for d in upright}:
        pool = [d for d in upright if d.shape.fold == fold and d.known]
        if pool:
            together = _ways([t for d in pool for t in d.turns], fold, known=False)
            if together < fewest:
                fewest = together
                ways.update((id(d), together) for d in pool)
    deciding = [d for d in upright if ways[id(d)] == fewest]
    turns = {round(t / 10) * 10 % 360 for d in upright for t in d.turns}
    return Direction(
        _KINDS[fewest],
        tuple(sorted(float(t) for t in turns)),
        len(deciding),
        len(drawings),
        sum(d.area for d in deciding) / sum(d.area for d in drawings),
    )


def _ways(turns: Sequence[float], fold: int, *, known: bool) -> int:
    """Return in how many ways copies stand: 1, 2, 4 or :data:`ANY`.

    Args:
        turns: of the copies, in degrees.
        fold: the part of a full turn that carries one onto itself.
        known: whether the turn 0 is up. Where it is not, a few that stand alike by chance are
            taken to stand so.
    """
    angles = np.array(turns) * fold % 360
    own = fold if fold % 2 == 0 else 1
    up = np.abs((angles + 180) % 360 - 180) <= _LEAN / 2
    if known and up.mean() > _MOST:
        return own
    for ways in (1, 2, 4):
        arc = _arc(angles * ways)
        chance = len(angles) * (arc / 360) ** (len(angles) - 1)
        if arc <= _LEAN and (not known or chance < _CHANCE):
            return ways * own if ways * own <= 4 else ANY
    return ANY


def _arc(angles: Floats) -> float:
    """Return the smallest arc in degrees that holds more than :data:`_MOST` of some angles."""
    angles = np.sort(angles % 360)
    more = math.floor(_MOST * len(angles))
    around = np.concatenate([angles, angles + 360])
    return float((around[more : more + len(angles)] - angles).min())


def _angle_of(transform: Affine) -> float:
    """Return the angle in degrees by which a placement turns its drawing's up."""
    return math.degrees(math.atan2(transform.c, transform.d)) % 360


def _turn(first: _Shape, other: _Shape) -> float | None:
    """Return the degrees by which one drawing is turned against the first; None for another.

    A mirror image stands as what it mirrors; what may be taken for either, as upright as may be.
    """
    if first.fold != other.fold or not np.allclose(first.marks, other.marks, rtol=0, atol=_ALIKE):
        return None
    if first.fold == 0:
        return 0.0
    turns = []
    if _near(first.pose, other.pose):
        turns.append(other.angle - first.angle)
    if _near(first.pose, affinity.scale(other.pose, 1, -1, origin=(0, 0))):
        turns.append(other.angle + first.angle - 180)
    turns = [((t * first.fold + 180) % 360 - 180) / first.fold for t in turns]
    return min(turns, key=abs, default=None)


def _near(one: BaseGeometry, other: BaseGeometry) -> bool:
    """Whether the edges of two areas of size 1 are the same."""
    return bool(shapely.hausdorff_distance(one, other) <= _NEAR)


def _along(line: BaseGeometry) -> NDArray[np.complex128]:
    """Return points at even distances along a line, as complex numbers."""
    corners = shapely.get_coordinates(line) @ (1, 1j)
    upto = np.concatenate([[0.0], np.abs(np.diff(corners)).cumsum()])
    points: NDArray[np.complex128] = np.interp(np.arange(POINTS) / POINTS * upto[-1], upto, corners)
    return points


def _shape(motif: Motif) -> _Shape | None:
    """Return what is known of a motif's shape; None where it paints nothing.

    With z the outline's points about their mean as complex numbers, of size 1, the mean of zⁿ
    turns n times as fast as the outline, and is nothing where the outline looks the same turned
    by another part than the nth of a full turn; so is that of |z|² z where by any.
    """
    lines = shapely.get_parts(shapely.boundary(motif.outline))
    if not len(lines):
        return None
    z = np.concatenate([_along(line) for line in lines])
    lengths = np.repeat(shapely.length(lines), POINTS)
    middle = complex(np.average(z, weights=lengths))
    z = z - middle
    size = float(np.sqrt(np.average(np.abs(z) ** 2, weights=lengths)))
    z = z / size
    powers = (np.abs(z) ** 2 * z, z**2, z**3, z**4)
    moments = [complex(np.average(power, weights=lengths)) for power in powers]
    strengths = np.abs(moments)

    def about(area: BaseGeometry) -> BaseGeometry:
        """Return an area of the motif about its middle, its size made 1."""
        map_ = (1 / size, 0, 0, 1 / size, -middle.real / size, -middle.imag / size)
        return shapely.simplify(affinity.affine_transform(area, map_), 0.01)

    pose = about(motif.outline)
    inside: list[BaseGeometry] | None = None
    fold = 1
    for part in _FOLDS:
        if strengths[[n for n in range(4) if (n + 1) % part]].max() > _LEVEL:
            continue
        if not _turns_onto(pose, part):
            continue
        if inside is None:
            inside = [about(area) for area in _inside(motif)]
        if all(_turns_onto(area, part) for area in inside):
            fold = part
            break
    angle = math.degrees(np.angle(moments[min(fold, 4) - 1])) / fold
    area = float(shapely.area(motif.outline)) / size**2 / 4
    return _Shape(
        fold if fold < 5 else 0,
        angle,
        np.array([*strengths, area]),
        affinity.rotate(pose, -angle, origin=(0, 0)),
    )


def _turns_onto(area: BaseGeometry, part: int) -> bool:
    """Whether an area lies on itself once it is turned by a part of a full turn, however often."""
    steps = {part // 2, part // 3, 1} - {0}
    return all(
        _near(area, affinity.rotate(area, 360 / part * step, origin=(0, 0))) for step in steps
    )


def _inside(motif: Motif) -> Iterable[BaseGeometry]:
    """Return the areas that a motif's colours take up, in its own mm.

    Where ink is not what shapes say, an area that no turn but a full one carries onto itself.
    """
    if beyond_shapes(motif):
        box = motif.box
        return [shapely.box(box.x0, box.y0, box.x1, box.y0 + box.height / 4)]
    if len(motif.colours) < 2:
        return []
    found: dict[Mix, list[BaseGeometry]] = defaultdict(list)
    for face in faces_of(painted_layers(motif)):
        for area, mix in in_bands(face, in_steps(4)):
            found[mix].append(area)
    return [union(areas) for areas in found.values()]
