"""What lies there and stays: placements as members of a crowd that nothing moves."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from vecrepeat.arrange.crowd import Member
from vecrepeat.arrange.shapes import Shape
from vecrepeat.core.geometry import Affine
from vecrepeat.repeat.model import Placement
from vecrepeat.repeat.pose import Pose


def as_they_are(
    placements: Sequence[Placement], clearance: float, first: int
) -> tuple[list[Member], list[Shape]]:
    """Return placements as members that stay, and shapes for them.

    A motif that lies several times turned, scaled or flipped needs one shape; whatever is
    sheared gets one of its own.
    """
    groups: dict[object, list[tuple[Placement, Pose | None]]] = {}
    for number, placement in enumerate(placements):
        if not len(placement.parts) or placement.outline.is_empty:
            continue
        pose = _pose_of(placement.transform)
        key = id(placement.motif) if pose is not None else ("sheared", number)
        groups.setdefault(key, []).append((placement, pose))
    members: list[Member] = []
    shapes: list[Shape] = []
    for group in groups.values():
        number = first + len(shapes)
        placement, pose = group[0]
        if pose is None:
            baked = replace(placement.motif, parts=placement.parts)
            shapes.append(Shape.of(baked, clearance))
            poses = [Pose(*shapes[-1].anchor)]
        else:
            largest = max(p.scale for _, p in group if p is not None)
            shapes.append(Shape.of(placement.motif, clearance, largest))
            centre = np.array([shapes[-1].anchor])
            at = [placed.transform.apply(centre)[0].tolist() for placed, _ in group]
            poses = [
                p._replace(x=x, y=y)
                for (_, p), (x, y) in zip(group, at, strict=True)
                if p is not None
            ]
        members += [Member(number, p, -1) for p in poses]
    return members, shapes


def _pose_of(transform: Affine) -> Pose | None:
    """Return the turn, scale and flip of a transform, or None where it is sheared."""
    if not transform.is_similarity(1e-12) or transform.determinant == 0:
        return None
    scale = math.sqrt(abs(transform.determinant))
    flip = transform.determinant < 0
    turn = math.degrees(math.atan2(-transform.c, transform.d))
    return Pose(0.0, 0.0, turn % 360.0, scale, flip)
