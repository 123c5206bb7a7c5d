"""What the eye is shown on the cloth: clearance, voids and alleys, by the checks' own code."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.check.alleys import check_alleys
from vecrepeat.check.collisions import meetings
from vecrepeat.check.plane import Plane
from vecrepeat.check.profile import load_profile
from vecrepeat.check.voids import check_voids, typical_width, voids
from vecrepeat.errors import InputError
from vecrepeat.repeat import Repeat

QUESTIONS = ("clearance", "voids", "alleys")
MOST_SHOWN = 400
"""The most places of clearance that are drawn: more than that is a cloth in layers."""


def looked(repeat: Repeat, asked: Collection[str], clearance: float) -> dict[str, Any]:
    """Return marks to draw, in mm of the tile's plane, each once a period.

    Args:
        repeat: the endless cloth.
        asked: some of :data:`QUESTIONS`.
        clearance: least distance wanted between painted outlines, in mm.

    Raises:
        InputError: a clearance that is none.
    """
    if not 0 <= clearance <= 1000:
        raise InputError("a clearance is from 0 to 1,000 mm")
    plane, profile = Plane(repeat), load_profile()
    answer: dict[str, Any] = {}
    if "clearance" in asked:
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
    if "voids" in asked or "alleys" in asked:
        circles = voids(plane)
        typical = typical_width(plane, circles)
        if "voids" in asked:
            facts = check_voids(circles, typical, profile.voids).facts
            limit = facts["limit_mm"]
            answer["voids"] = {
                "circles": [
                    {"x": v.x, "y": v.y, "radius": v.radius, "far": 2 * v.radius > limit}
                    for v in circles[: profile.voids.shown]
                ],
                "limit": limit,
            }
        if "alleys" in asked:
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
