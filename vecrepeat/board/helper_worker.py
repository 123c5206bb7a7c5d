"""The process beside the board's that looks, tosses and fills; started by its helper."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.arrange import fill
from vecrepeat.arrange.arranging import (
    WAYS,
    as_placed,
    asked_over,
    fill_settings,
    laid,
    ranked_motifs,
)
from vecrepeat.arrange.flow import WAVE
from vecrepeat.board.cloth import at_moment, repeat_of
from vecrepeat.board.colouring import code, dress, judge, main_colours, suggest
from vecrepeat.board.helped import answer_requests
from vecrepeat.board.seeing import draw_in_use, find_faults, within_void
from vecrepeat.board.state import State, plain_settings, read_settings
from vecrepeat.check.alleys import check_alleys
from vecrepeat.check.collisions import find_meetings
from vecrepeat.check.plane import Plane
from vecrepeat.check.profile import load_profile
from vecrepeat.check.voids import check_voids, find_voids, typical_width
from vecrepeat.core.errors import InputError
from vecrepeat.core.units import parse_length, parse_size
from vecrepeat.recipe.edit import placement_row
from vecrepeat.sources.source import Source
from vecrepeat.write.estimating import foretell
from vecrepeat.write.exporting import DPI, Exporter

MOST_SHOWN = 400
"""The most places of clearance that are drawn: more than that is a cloth in layers."""


def find_marks(source: Source, state: State, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return marks to draw, in mm of the tile's plane, each once a period.

    Asked are some of ``clearance``, ``voids`` and ``alleys``, and the least distance in mm that
    is wanted between painted outlines.

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
        found = find_meetings(plane, max(clearance, 1e-9))
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
        circles = find_voids(plane)
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


def lay_anew(source: Source, state: State, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return all motifs laid anew, as the command of the ``way`` that is asked for would.

    Asked are ``settings`` that go before the recipe's own, and ``without``, the keys that it is
    to lose. What is pinned down stays where a toss can keep it.

    Raises:
        InputError: settings that make no sense.
    """
    way, source = asked["way"], at_moment(source, state)
    if way not in WAYS:
        raise InputError("that is no way to arrange")
    keys = _keys(source, way, asked)
    along = keys.get("along")
    if along is not None and along != WAVE and along not in source.pool.motifs:
        # A file could lie anywhere.
        raise InputError(
            "here motifs go along a motif that is a line",
            hint="name one; the command takes a file too",
        )
    recipe = replace(source.recipe, arranged={way: keys}) if source.recipe else None
    placed, done, notes = laid(way, replace(source, recipe=recipe), {})
    return {
        "rows": [placement_row(one) for one in placed],
        "settings": plain_settings(keys),
        "line": done.line(),
        "notes": list(notes),
    }


def fill_voids(source: Source, state: State, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return fillers for the state's voids, or for one ``void``, to be laid over what is there.

    Raises:
        InputError: there is no filler, or as :func:`lay_anew`.
    """
    source = at_moment(source, state)
    fillers = [(m, rank) for m, rank in ranked_motifs(source) if rank == "filler"]
    if not fillers:
        raise InputError("no motif has the rank filler", hint="the tray can give it to some")
    keys = _keys(source, "fill", asked)
    done = fill(source.repeat, fillers, fill_settings(keys))
    rows = [placement_row(as_placed(row)) for row in done.rows]
    void = asked.get("void")
    return {
        "rows": rows if void is None else within_void(source.repeat, rows, void),
        "settings": plain_settings(keys),
        "line": done.line(),
        "notes": list(done.notes),
    }


def _keys(source: Source, way: str, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return a recipe's keys with those that are asked for, and without those to be lost."""
    recipe = source.recipe
    assert recipe is not None
    found = asked_over(recipe.arranged[way], read_settings(way, asked["settings"]))
    return {key: value for key, value in found.items() if key not in asked.get("without", ())}


def foresee(source: Source, state: State, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return how large a print file will be: pixels, mm and bytes, and about how many seconds.

    Asked are settings of an ``export``; see :mod:`vecrepeat.board.deeds`.

    Raises:
        InputError: a size that can't be used, or art that can't be drawn.
    """
    exporter = Exporter(repeat_of(source, state))
    dpi, width, height = (asked.get(key) for key in ("dpi", "repeat-width", "repeat-height"))
    plan = exporter.plan(
        Fraction(str(dpi)) if dpi else DPI,
        width=parse_length(width, "width") if width else None,
        height=parse_length(height, "height") if height else None,
    )
    sheet = asked.get("sheet")
    cut = exporter.sheet(
        plan,
        size=parse_size(sheet, "sheet") if sheet else None,
        block=bool(asked.get("block")),
        on_pixels=bool(dpi),
    )
    suffix = f".{asked.get('ending', 'png')}"
    told = foretell(exporter, cut, suffix)
    return {
        "pixels": None if suffix == ".pdf" else [cut.width, cut.height],
        "size": [float(side) for side in cut.size],
        "bytes": told.bytes,
        "seconds": told.seconds,
        "notes": list(exporter.notes(cut)),
    }


WORK: dict[str, Callable[[Source, State, Any], Any]] = {
    "look": find_marks,
    "arrange": lay_anew,
    "fill": fill_voids,
    "foresee": foresee,
    "colours": main_colours,
    "dress": dress,
    "code": code,
    "judge": judge,
    "suggest": suggest,
    "find": find_faults,
    "use": draw_in_use,
}


if __name__ == "__main__":
    answer_requests(WORK)
