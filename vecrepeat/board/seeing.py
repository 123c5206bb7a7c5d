"""Looking at the board: what a check finds on the cloth, how it is mended, and scenes in use.

Each function is work of the board's helper; see :mod:`vecrepeat.board.helper_worker`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import product
from typing import Any

from PIL import Image

from vecrepeat.board.colouring import in_row
from vecrepeat.board.state import State
from vecrepeat.check.checking import check_drawing
from vecrepeat.check.details import too_fine
from vecrepeat.check.findings import QUESTIONS, Finding
from vecrepeat.check.plane import Plane
from vecrepeat.check.profile import DEFAULT, load_profile
from vecrepeat.core.errors import InputError
from vecrepeat.draw.pages import page_pixels
from vecrepeat.proof.cloth import Cloth
from vecrepeat.proof.drawing import SheetBox
from vecrepeat.proof.scenes import SCENES, scene_svg
from vecrepeat.proof.sheet import document
from vecrepeat.repeat.layout import Layout
from vecrepeat.repeat.model import Repeat
from vecrepeat.sources.lines import with_lines
from vecrepeat.sources.source import Source
from vecrepeat.util.imagefiles import png_of

MOST_FOUND = 40
"""So many findings are listed: more than that is another design."""

_LARGER = 1.5
"""A motif is not made more than this many times as large to hold a line (common practice)."""

_BOX = SheetBox(0, 0, 150, 118)
"""A scene's paper in mm, its words included."""

_PIXELS = 8
"""Pixels to a mm of it."""


def find_faults(source: Source, state: State, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a check finds: the same findings as the command line's, the worst first.

    Asked are ``profile``, the limits by name, and ``row``, a colourway or None.

    Raises:
        InputError: a profile that is none.
    """
    repeat = in_row(source, state, asked.get("row"))
    profile = load_profile(str(asked.get("profile") or DEFAULT))
    report = check_drawing(replace(source, repeat=repeat), profile=profile, only=QUESTIONS)
    findings = report.findings
    return {
        "found": [
            {
                **finding.told(),
                "at": finding.at,
                "bounds": None if finding.mark is None else list(finding.mark.bounds),
                "motifs": list(finding.motifs),
                "mends": mends_of(finding, state, repeat),
            }
            for finding in findings[:MOST_FOUND]
        ],
        "count": len(findings),
    }


def mends_of(finding: Finding, state: State, repeat: Repeat) -> list[dict[str, Any]]:
    """Return the deeds that mend a finding of a repeat mechanically, the best first."""
    if finding.kind == "void" and finding.at is not None:
        x, y = finding.at
        return [{"deed": "fill", "x": x, "y": y, "radius": finding.value / 2}]
    if finding.kind in ("alley", "near-empty lane") and finding.mark is not None:
        # Lanes across end where columns are moved against each other, lanes down where rows are.
        x0, y0, x1, y1 = finding.mark.bounds
        layout = "half-drop" if x1 - x0 > y1 - y0 else "brick"
        plain = Layout.parse(state.layout) == Layout()
        return [{"deed": "relay", "layout": layout}] if plain else []
    if finding.kind == "near colours":
        one, other = finding.colours
        return [{"deed": "merge", "colour": other, "into": one}]
    if finding.kind not in ("line too thin", "detail too small"):
        return []
    found: list[dict[str, Any]] = []
    least = None if finding.kind != "line too thin" else _thick_enough(finding, repeat)
    if least is not None:
        found.append({"deed": "thicken", "motif": finding.motifs[0], "least": least})
    factor = finding.limit / max(finding.value, 1e-9)
    # To 1 %, so that it holds.
    factor = math.ceil(factor * 100) / 100
    if 1 < factor <= _LARGER:
        found.append({"deed": "enlarge", "motif": finding.motifs[0], "factor": factor})
    return found


def _thick_enough(finding: Finding, repeat: Repeat) -> float | None:
    """Return the least line in mm with which a motif prints as large as it lies, if any helps."""
    (name, *_), limit = finding.motifs, finding.limit
    lain = [p for p in repeat.placements if p.motif.name == name]
    smallest = min(math.sqrt(abs(p.transform.determinant)) for p in lain)
    # The next hundredth: what is as thick as the limit to the bit is no more than thin.
    least = (math.floor(limit / smallest * 100 + 1e-6) + 1) / 100
    try:
        thick = {p.motif: with_lines(p.motif, least) for p in lain}
    except InputError:
        # It says why where it is asked for; here it only goes without the button.
        return None
    alone = replace(repeat, placements=tuple(replace(p, motif=thick[p.motif]) for p in lain))
    left = too_fine(Plane(alone), limit, limit, limit)
    return None if any(thin.kind == "line" for thin in left) else least


def within_void(repeat: Repeat, rows: list[dict[str, Any]], void: Mapping[str, Any]) -> list[Any]:
    """Return the rows whose middle lies in a void, wherever on the cloth that is."""
    x, y, radius = (float(void[key]) for key in ("x", "y", "radius"))
    one, other = repeat.lattice.vectors

    def apart(row: dict[str, Any]) -> float:
        dx, dy = row["at"][0] - x, row["at"][1] - y
        # Rows lie on the tile, or right beside it.
        steps = product(range(-2, 3), repeat=2)
        return min(
            math.hypot(dx + i * one[0] + j * other[0], dy + i * one[1] + j * other[1])
            for i, j in steps
        )

    return [row for row in rows if apart(row) <= radius]


def draw_in_use(source: Source, state: State, asked: Mapping[str, Any]) -> bytes:
    """Return a scene of a proof as PNG: the cloth in use, in true proportion.

    Asked are ``scene``, its number, and ``row``, a colourway or None.

    Raises:
        InputError: there is no such scene.
    """
    number = asked.get("scene")
    if type(number) is not int or not 0 <= number < len(SCENES):
        raise InputError("there is no such scene")
    cloth = Cloth(in_row(source, state, asked.get("row")))
    body = scene_svg(SCENES[number], [cloth], _BOX, "use")
    page = document(_BOX.width, _BOX.height + 2, "", body)
    return png_of(Image.fromarray(page_pixels(page, _PIXELS)))
