"""What the eye is shown on the cloth: clearance, voids and alleys, by the checks' own code."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.board.cloth import repeat_of
from vecrepeat.board.state import State
from vecrepeat.check.alleys import check_alleys
from vecrepeat.check.collisions import meetings
from vecrepeat.check.plane import Plane
from vecrepeat.check.profile import load_profile
from vecrepeat.check.voids import check_voids, typical_width, voids
from vecrepeat.core.errors import InputError
from vecrepeat.sources.source import Source

MOST_SHOWN = 400
"""The most places of clearance that are drawn: more than that is a cloth in layers."""


def looked(source: Source, state: State, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return marks to draw, in mm of the tile's plane, each once a period.

    Args:
        source: what was read.
        state: the moment.
        asked: ``what``, some of ``clearance``, ``voids`` and ``alleys``, and ``clearance``, the
            least distance wanted between painted outlines, in mm.

    Raises:
        InputError: a clearance that is none.
    """
    plane, profile = Plane(repeat_of(source, state)), load_profile()
    answer: dict[str, Any] = {}
    if "clearance" in asked["what"]:
        clearance = asked["clearance"]
        own = min(math.hypot(*way) for way in plane.repeat.lattice.vectors)
        if not 0 <= clearance < own:
            raise InputError(
                f"a clearance is from 0 to less than the {own:.4g} mm from a motif to its own copy"
            )
        found = meetings(plane, max(clearance, 1e-9))
        near = [m for m in found if m.overlap == 0]
        over = [m for m in found if m.overlap > 0]
        answer["clearance"] = {
            "near": [
                {"line": shapely.get_coordinates(m.place).tolist(), "gap": m.gap}
                for m in sorted(near, key=lambda m: m.gap)[:MOST_SHOWN]
            ],
            "over": [{"rings": _rings(m.place), "area": m.overlap} for m in over[:MOST_SHOWN]],
            "counts": [len(near), len(over)],
        }
    if "voids" in asked["what"] or "alleys" in asked["what"]:
        circles = voids(plane)
        typical = typical_width(plane, circles)
        if "voids" in asked["what"]:
            facts = check_voids(circles, typical, profile.voids).facts
            limit = facts["limit_mm"]
            answer["voids"] = {
                "circles": [
                    {"x": v.x, "y": v.y, "radius": v.radius, "far": 2 * v.radius > limit}
                    for v in circles[: profile.voids.shown]
                ],
                "limit": limit,
            }
        if "alleys" in asked["what"]:
            facts = check_alleys(plane, profile.alleys, typical).facts
            answer["alleys"] = {
                "lanes": [lane for lane in facts["lanes"] if lane["coverage"] == 0],
                "limit": facts["limit_mm"],
            }
    return answer


def _rings(shape: BaseGeometry) -> list[list[list[float]]]:
    return [
        shapely.get_coordinates(ring).tolist()
        for part in shapely.get_parts(shape)
        if isinstance(part, shapely.Polygon)
        for ring in shapely.get_rings(part)
    ]
