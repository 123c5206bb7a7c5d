"""Joins of raster tiles: does the picture go on over the bounds as it does everywhere else?

Every measure is taken at the join and in the same way between columns all over the picture,
so that a picture is held to its own detail: what is usual within it is no fault at its join.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from vecrepeat.check.findings import Answer, Finding
from vecrepeat.check.nudges import Nudge, find_nudges
from vecrepeat.check.pixels import (
    Levels,
    PixelTile,
    best_layout,
    levels,
    period_of,
    shift_px,
    shift_that_fits,
)
from vecrepeat.repeat.layout import Layout

DEPTH = 24
"""How many pixels either side of a join are looked at."""

BLOCKS, BLOCK = 24, 24
"""How many blocks of how many interior columns a join is compared with."""

_SEEN = 6.0
"""Levels of 255 from which a difference counts as seen."""


class JoinMeasure(NamedTuple):
    """What is measured between two columns, or of one, for many of them.

    Attributes:
        broken: how much the change from column to column breaks off, against what is usual
            on either side of it.
        line: share of a column's pixels that stand out from both neighbours, which agree.
        soft: detail along a column against that of the columns some pixels away.
        step: mean change over the gap against that over the gaps beside it.
    """

    broken: NDArray[np.float64]
    line: NDArray[np.float64]
    soft: NDArray[np.float64]
    step: NDArray[np.float64]


def _measure(strip: Levels, ground: float) -> JoinMeasure:
    """Measure every gap and column of a strip that has two neighbours more on either side."""
    step = np.diff(strip, axis=1)
    size = np.abs(step)
    bend = np.abs(step[:, 1:-1] - (step[:, :-2] + step[:, 2:]) / 2).sum(axis=0)
    along = np.abs(np.diff(strip, axis=0)).sum(axis=0)
    usual = (size[:, :-2] + size[:, 2:]).sum(axis=0) / 2 + (along[1:-2] + along[2:-1]) / 4
    rows = len(strip)
    broken = bend / (usual + 0.25 * rows)
    # A column against its two neighbours.
    before, after = step[:, :-1], step[:, 1:]
    out = np.minimum(np.abs(before), np.abs(after))
    stands = (before * after < 0) & (out > _SEEN) & (np.abs(before + after) < 0.5 * out)
    plain = np.abs(strip[:, :-2] - ground) + np.abs(strip[:, 2:] - ground) <= _SEEN
    told = np.maximum((~plain | stands).sum(axis=0), 8)
    line = stands.sum(axis=0) / told
    curve = np.abs(np.diff(strip, 2, axis=0)).sum(axis=0)
    padded = np.pad(curve, 4, mode="edge")
    away = (padded[:-8] + padded[1:-7] + padded[7:-1] + padded[8:]) / 4
    soft = (curve + 0.1 * rows) / (away + 0.1 * rows)
    mean = size.mean(axis=0)
    near = (mean[:-4] + mean[1:-3] + mean[3:-1] + mean[4:]) / 4
    return JoinMeasure(broken, line[1:-1], soft[4:-4], (mean[2:-2] + 0.1) / (near + 0.1))


def _measure_interior(grey: Levels, ground: float) -> JoinMeasure:
    """Measure columns all over the picture."""
    width = grey.shape[1]
    starts = np.unique(np.linspace(0, max(width - BLOCK, 0), BLOCKS).astype(int))
    looks = [_measure(grey[:, s : s + BLOCK], ground) for s in starts]
    return JoinMeasure(*(np.concatenate(parts) for parts in zip(*looks, strict=True)))


class Join(NamedTuple):
    """One join of a tile, turned so that it stands upright.

    Attributes:
        upright: whether it is the one between a tile and the next across.
        grey: the picture's levels, turned likewise.
        shift: by how many pixels the picture comes in lower on its right.
    """

    upright: bool
    grey: Levels
    shift: int

    @property
    def ends(self) -> tuple[str, str]:
        """The tile's sides that meet there."""
        return ("left", "right") if self.upright else ("top", "bottom")

    @property
    def name(self) -> str:
        """What people call it."""
        return " and ".join(self.ends)

    def mark(self, pixel: float, first: int = 0, last: int | None = None) -> shapely.LineString:
        """Return where it lies, or a part of it from pixel to pixel; ``pixel`` is in mm."""
        places = (first * pixel, (len(self.grey) if last is None else last) * pixel)
        return shapely.LineString([(0, v) if self.upright else (v, 0) for v in places])


def check_raster_joins(
    tile: PixelTile, layout: Layout | None, pixel: float
) -> tuple[Answer, Layout]:
    """Check a finished tile's joins, and return the layout they were judged under.

    Where none is stated it is the one that fits best; a pixel's side is in mm at print size.
    """
    grey = levels(tile)
    notes: list[str] = []
    across, down = grey, np.ascontiguousarray(grey.T)
    guessed = layout is None
    if layout is None:
        layout = best_layout(across, down)
        notes.append(f"no layout is stated: judged as {layout}, which fits best")
    ground = _mode(grey)
    findings: list[Finding] = []
    facts: dict[str, object] = {"layout": str(layout), "guessed": guessed}
    period = period_of(grey)
    if period is not None:
        facts["period_px"] = list(period)
        notes.append(f"the picture repeats within itself after {period[0]} × {period[1]} px")
    for upright, picture in ((True, across), (False, down)):
        join = Join(upright, picture, shift_px(layout, upright, tile.height, tile.width))
        found, measured = _judge(join, ground, layout, pixel)
        findings += found
        facts["across" if upright else "down"] = measured
    findings += _find_fringes(tile, layout, pixel)
    return Answer(tuple(findings), facts, tuple(notes)), layout


def _mode(grey: Levels) -> float:
    """Return the level that is most of the picture."""
    return float(np.bincount(grey[::7, ::7].astype(np.int64).ravel(), minlength=256).argmax())


def _judge(
    join: Join, ground: float, layout: Layout, pixel: float
) -> tuple[list[Finding], dict[str, float]]:
    """Return a join's faults, of which the first sort that is found may cause others, and facts."""
    left, right = join.grey[:, -DEPTH:], np.roll(join.grey[:, :DEPTH], join.shift, axis=0)
    strip = np.concatenate([left, right], axis=1)
    here, usual = _measure(strip, ground), _measure_interior(join.grey, ground)
    gap = DEPTH - 1
    # Indices: gap g lies between columns g and g + 1; each measure drops its margins.
    broken, most_broken = float(here.broken[gap - 1]), float(usual.broken.max())
    line = float(here.line[gap - 2 : gap].max())
    # An edge is soft on both its sides: columns are judged two by two.
    soft = float(here.soft[gap - 4] + here.soft[gap - 3]) / 2
    measured = {
        "broken": broken,
        "usual_broken": most_broken,
        "line": line,
        "usual_line": float(usual.line.max()),
        "soft": soft,
        "usual_soft": float(((usual.soft[1:] + usual.soft[:-1]) / 2).min()),
    }
    findings: list[Finding] = []

    def add(
        kind: str, what: str, value: float, limit: float, advice: str = "", unit: str = ""
    ) -> None:
        said = f"{what} at the {join.name} join"
        findings.append(Finding(kind, said, value, limit, join.mark(pixel), (), advice, unit))

    breaks = broken > max(1.15 * most_broken, 0.2)
    fits = shift_that_fits(left, right) if breaks else None
    most_line = max(0.12, 1.5 * measured["usual_line"] + 0.03)
    least_soft = min(0.42, 0.78 * measured["usual_soft"])
    limit = max(0.25, 1.3 * most_broken)
    if fits is not None:
        said = f"the picture goes on {fits} of {len(join.grey)} px farther along"
        advice = f"state the layout it was made for: it is not {layout}"
        add("wrong layout", said, fits, 1, advice, "px")
    elif line > most_line:
        add("line", "a line one pixel wide stands out", line, most_line)
    elif soft < least_soft:
        add("soft edge", "the picture goes soft", soft, least_soft)
    elif nudged := find_nudges(join.grey, join.shift):
        findings = [_describe_nudge(join, nudge, pixel) for nudge in nudged]
    elif broken > limit and not _along(strip):
        add("broken", "the picture breaks off", broken, limit)
    elif (blocky := _blocky(join, strip, float(here.step[gap - 2]))) is not None:
        add("JPEG blocks", "blocks of JPEG compression show", blocky, 1.3)
    return findings, measured


def _along(strip: Levels) -> bool:
    """Whether the edge of a stripe runs just along the join: all of it steps alike."""
    step = strip[:, DEPTH] - strip[:, DEPTH - 1]
    usual = float(np.median(step))
    return abs(usual) > _SEEN and float((np.abs(step - usual) <= _SEEN).mean()) > 0.95


def _blocky(join: Join, strip: Levels, step: float) -> float | None:
    """Return how much the change over the join exceeds its neighbours', where blocks show."""
    size = np.abs(np.diff(join.grey, axis=1)).mean(axis=0)
    grid = np.arange(7, len(size) - 3, 8)
    if not len(grid):
        return None
    near = (size[grid - 2] + size[grid - 1] + size[grid + 1] + size[grid + 2]) / 4
    # The middle one of all gaps between blocks: stripes of the drawing's own lie on a few only.
    ratio = float(np.median((size[grid] + 0.1) / (near + 0.1)))
    mean = np.abs(np.diff(strip, axis=1)).mean(axis=0)
    more = float(mean[DEPTH - 1] - (mean[DEPTH - 2] + mean[DEPTH]) / 2)
    # A level or two more is no more than what the eye passes over.
    return step if ratio > 1.25 and step > 1.3 and more > 2.0 else None


def _describe_nudge(join: Join, nudge: Nudge, pixel: float) -> Finding:
    dx, dy = (nudge.across, nudge.along) if join.upright else (nudge.along, nudge.across)
    return Finding(
        "nudged",
        f"what comes in at the {join.ends[0]} lies {dx:+d}, {dy:+d} px from where the picture "
        f"leaves at the {join.ends[1]}",
        float(np.hypot(dx, dy)),
        0.5,
        join.mark(pixel, nudge.first, nudge.last),
        advice=f"move that part by {-dx:+d}, {-dy:+d} px",
        vector=(dx * pixel, dy * pixel),
        vector_px=(float(dx), float(dy)),
    )


def _find_fringes(tile: PixelTile, layout: Layout, pixel: float) -> list[Finding]:
    """Return findings where an opaque picture turns transparent at its bounds."""
    if tile.alpha is None:
        return []
    findings = []
    for upright, alpha in ((True, tile.alpha), (False, tile.alpha.T)):
        shift = shift_px(layout, upright, tile.height, tile.width)
        right = np.roll(alpha[:, :4], shift, axis=0)
        inner = np.minimum(alpha[:, -3], right[:, 2]).astype(np.int16)
        outer = np.minimum(
            np.minimum(alpha[:, -1], alpha[:, -2]), np.minimum(right[:, 0], right[:, 1])
        )
        lost = int(((inner >= 250) & (inner - outer > 4)).sum())
        limit = max(2.0, 0.02 * float((inner >= 250).sum()))
        if lost > limit:
            join = Join(upright, alpha.astype(np.float32), shift)
            said = f"the edge is partly transparent on {lost} px at the {join.name} join"
            findings.append(Finding("alpha fringe", said, lost, limit, join.mark(pixel)))
    return findings
