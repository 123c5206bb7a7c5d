"""Measuring ink: where a drawing paints, found by drawing it.

Geometry can't say where text, masks, filters and markers leave ink. So the drawing is
rasterised, first whole and then closer and closer on what was found, and the pixels with any
ink are traced. The outline holds every painted pixel and a little more.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.inker import Allowance
from vecrepeat.art.pixelmasks import GROWTH, Mask, grown_by, trace
from vecrepeat.core.allowance import picture_seconds
from vecrepeat.core.geometry import Rect, number
from vecrepeat.draw.resvg import SHRINKS, ResvgError, ResvgPanicError, rasterise
from vecrepeat.scene.areas import Parts, as_parts

PIXELS = 640
"""A view has about this many pixels squared."""

FILTERED_PIXELS = 360
"""And this many where there are filters, whose cost is that of all pixels."""

MOST_PIXELS = 2048
"""And up to this many where a filter needs room around the ink."""

KNOWN_PIXELS = 512
"""And this many where all ink is known to lie within the view."""

ROUGH_PIXELS = 160
"""And this many where it only says about how large the ink is."""

LONGEST = 8192
"""The longest side of a view in pixels."""

FILTERED_GROWTH = 2
"""The same where there are filters: their faint tails vary with the size drawn."""

_ROOM = 2
"""Pixels left around the ink when looking closer: it may start within the pixel beside."""

_MARGINS = (0.0, 0.5, 2.0)
"""Room, in shares of the ink's size, that is tried around filtered drawings."""

_ALIKE = 2
"""Pixels by which two drawings of a filter may differ and still be the same."""

_ALIKE_SHARE = 0.002
"""The share of pixels that may differ by more: faint ones come and go."""

_MAX_ZOOMS = 8


@dataclass(frozen=True, eq=False)
class _View:
    """Where there is ink in a rectangle of the plane.

    Attributes:
        ink: whether each pixel has any, shape (rows, columns).
        x: left of the first pixel in mm.
        y: top of the first pixel in mm.
        pixel: side of a pixel in mm.
    """

    ink: Mask
    x: float
    y: float
    pixel: float

    @property
    def box(self) -> Rect | None:
        """Bounds of the painted pixels in mm; None where there is no ink."""
        rows, columns = np.flatnonzero(self.ink.any(axis=1)), np.flatnonzero(self.ink.any(axis=0))
        if not len(rows):
            return None
        x0, x1 = (self.x + self.pixel * float(k) for k in (columns[0], columns[-1] + 1))
        y0, y1 = (self.y + self.pixel * float(k) for k in (rows[0], rows[-1] + 1))
        return Rect(x0, y0, x1, y1)

    def outline(self, growth: int) -> list[BaseGeometry]:
        """Return polygons in mm that hold all painted pixels and some more around them."""
        polygons = trace(self.ink, growth)
        to_mm = np.array([self.x, self.y])
        return list(shapely.transform(as_parts(polygons), lambda xy: xy * self.pixel + to_mm))


@dataclass(frozen=True)
class _Sketch:
    """A fragment of SVG that draws in mm, with the definitions it uses."""

    fragment: str
    definitions: str
    fonts: Sequence[str]
    allowance: Allowance

    @property
    def is_filtered(self) -> bool:
        return " filter=" in self.fragment or " filter=" in self.definitions

    @property
    def pixels(self) -> int:
        """About the square root of the pixels of a view."""
        return FILTERED_PIXELS if self.is_filtered else PIXELS

    def view(self, rect: Rect, pixels: float | None = None) -> _View:
        """Return where there is ink in a rectangle, given in mm.

        resvg draws some filters sheared, and not the same way twice. So what has filters is
        drawn until two drawings agree, or all have been tried: then wherever any has ink.

        Args:
            rect: the rectangle.
            pixels: about the square root of the number of pixels; by default the usual one.

        Raises:
            ResvgError: it can't be drawn.
            SpentError: there is no time left for it.
        """
        if not self.is_filtered:
            return self.drawn(rect, pixels or self.pixels, 0.0)
        views: list[_View] = []
        error: ResvgError | None = None
        for shrink in SHRINKS:
            try:
                view = self.drawn(rect, pixels or self.pixels, shrink)
            except ResvgPanicError as panic:
                error = panic
                continue
            for other in views:
                if _alike(view.ink, other.ink):
                    return replace(view, ink=view.ink | other.ink)
            views.append(view)
        if not views and error is not None:
            raise error
        return replace(views[0], ink=np.logical_or.reduce([view.ink for view in views]))

    def rough_view(self, rect: Rect, pixels: float) -> _View | None:
        """Return about where there is ink in a rectangle; None where resvg panics."""
        with contextlib.suppress(ResvgPanicError):
            return self.drawn(rect, pixels, SHRINKS[0])
        return None

    def drawn(self, rect: Rect, pixels: float, shrink: float) -> _View:
        """Return a view drawn once, its pixels a little larger by ``shrink``."""
        width, height = max(rect.width, 1e-6), max(rect.height, 1e-6)
        pixel = max(math.sqrt(width * height) / pixels, max(width, height) / LONGEST)
        columns = min(LONGEST, max(1, math.ceil(width / pixel - 1e-9)))
        rows = min(LONGEST, max(1, math.ceil(height / pixel - 1e-9)))
        pixel *= 1 + shrink
        frame = " ".join(number(v) for v in (rect.x0, rect.y0, columns * pixel, rows * pixel))
        document = (
            '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
            f'width="{columns}" height="{rows}" viewBox="{frame}" preserveAspectRatio="none">'
            f"<defs>{self.definitions}</defs>{self.fragment}</svg>"
        )
        seconds = self.allowance.seconds(picture_seconds(columns * rows, len(document)))
        drawn = rasterise(document, columns, rows, fonts=self.fonts, seconds=seconds)
        return _View(drawn[..., 3] > 0, rect.x0, rect.y0, pixel)


def _alike(one: Mask, other: Mask) -> bool:
    """Whether two drawings have ink in the same places."""
    spare = _ALIKE_SHARE * max(one.sum(), other.sum()) + 4
    apart = (one & ~grown_by(other, _ALIKE)).sum(), (other & ~grown_by(one, _ALIKE)).sum()
    return bool(max(apart) <= spare)


def _bears_out(rough: _View, fine: _View) -> bool:
    """Whether two views of one rectangle, in pixels of other sizes, show the same ink."""
    for one, other in ((rough, fine), (fine, rough)):
        by = max(1, round(_ALIKE * rough.pixel / one.pixel))
        near = grown_by(np.pad(one.ink, _ALIKE), by)
        rows, columns = np.nonzero(other.ink)
        at = [
            np.clip(((k + 0.5) * other.pixel / one.pixel).astype(int), 0, side - 1) + _ALIKE
            for k, side in zip((rows, columns), one.ink.shape, strict=True)
        ]
        if (~near[at[0], at[1]]).sum() > _ALIKE_SHARE * len(rows) + 4:
            return False
    return True


def measure(
    fragment: str,
    definitions: str,
    region: Rect,
    *,
    fonts: Sequence[str],
    near: Rect | None = None,
    within: Rect | None = None,
    beside: Rect | None = None,
    allowance: Allowance | None = None,
) -> Parts:
    """Return the area a drawing paints, measured from its pixels.

    Ink that covers no more than a quarter of a pixel of both the region and ``near`` drawn
    with about 400,000 pixels may be missed.

    Args:
        fragment: SVG markup that draws in mm.
        definitions: markup of what it refers to.
        region: where ink is looked for, in mm; ink outside it is not measured.
        fonts: draw text, and the generic families in these; see
            :func:`vecrepeat.draw.resvg.rasterise`.
        near: where the geometry lies that makes the ink, in mm, if known: small ink is found
            there even if the region is large, and filters see all they work on.
        within: where all the ink lies and all that filters work on, in mm, if known: then one
            view is enough. Ink there counts even outside the region.
        beside: where else the motif paints, in mm: next to a large leaf a small glow need not be
            known as closely as by itself. It counts only where ``within`` is known.
        allowance: the time there is for it; by default that for a drawing of its own.

    Returns:
        Polygons in mm whose union is the painted area grown by a pixel or (filters) two.

    Raises:
        ResvgError: the drawing can't be drawn.
        SpentError: its time is used up.
    """
    drawing = _Sketch(fragment, definitions, fonts, allowance or Allowance())
    if within is not None and (known := _within(drawing, within, beside)) is not None:
        return known
    views = [drawing.view(region)]
    if near is not None and (close := _common(near.grown(0.05 * _size(near)), region)):
        views += _view_or_none(drawing, close)
    margin = 0.0
    for _ in range(_MAX_ZOOMS):
        boxes = [box for view in views if (box := view.box) is not None]
        if not boxes:
            return as_parts([])
        closer, margin = _closer(drawing, views, Rect.enclosing(boxes), region, near, margin)
        if closer is None:
            break
        views = [closer]
    return _outlined(drawing, views)


def _outlined(drawing: _Sketch, views: Iterable[_View]) -> Parts:
    """Return the area of the ink in views that have some."""
    growth = FILTERED_GROWTH if drawing.is_filtered else GROWTH
    return as_parts([part for view in views for part in view.outline(growth)])


def _within(drawing: _Sketch, rect: Rect, beside: Rect | None) -> Parts | None:
    """Return the area of ink that is known to lie within a rectangle, with more ink beside it.

    None where that would take too large a picture, or the ink runs over the rectangle's edge.
    """
    # Room for what antialiasing and rounding spread, in pixels of the coarsest view.
    rect = rect.grown(4 * _size(rect) / ROUGH_PIXELS)
    less = min(1.0, _size(rect) / _size(beside)) if beside else 1.0
    rough = drawing.rough_view(rect, ROUGH_PIXELS * less)
    if rough is None or rough.box is None:
        return None
    ink = rough.box.grown(rough.pixel)
    share = _size(rect) / _size(Rect.enclosing([ink, beside]) if beside else ink)
    usual = min(drawing.pixels, KNOWN_PIXELS)
    if usual * share > MOST_PIXELS:
        return None
    pixels = usual * share
    view = None
    with contextlib.suppress(ResvgPanicError):
        view = drawing.drawn(rect, pixels, SHRINKS[1])
    if view is None or not _bears_out(rough, view):
        view = drawing.view(rect, pixels)
    edges = (view.ink[0], view.ink[-1], view.ink[:, 0], view.ink[:, -1])
    if view.box is None or any(edge.any() for edge in edges):
        return None
    return _outlined(drawing, [view])


def _closer(
    drawing: _Sketch,
    views: list[_View],
    box: Rect,
    region: Rect,
    near: Rect | None,
    least: float,
) -> tuple[_View | None, float]:
    """Return a view that shows the same ink in smaller pixels, and the margin it took.

    The view is None where there is none. Margins below ``least`` are known to be too little.
    """
    coarse = max(view.pixel for view in views if view.box is not None)
    slack = _ROOM * coarse
    for margin in _MARGINS if drawing.is_filtered else _MARGINS[:1]:
        if margin < least:
            continue
        wanted = box.grown(slack + margin * _size(box))
        if drawing.is_filtered and near is not None:
            wanted = Rect.enclosing([wanted, near])
        target = _common(wanted, region)
        if target is None:
            break
        share = _size(target) / _size(box.grown(slack))
        pixels = min(MOST_PIXELS, drawing.pixels * max(1.0, share))
        if _size(target) > 0.75 * coarse * pixels:
            break
        for view in _view_or_none(drawing, target, pixels):
            found = view.box
            # Filters see only what is on the canvas: too little room, and ink is lost.
            if found is not None and (
                found.x0 <= box.x0 + slack
                and found.y0 <= box.y0 + slack
                and found.x1 >= box.x1 - slack
                and found.y1 >= box.y1 - slack
            ):
                return view, margin
    return None, least


def _view_or_none(drawing: _Sketch, rect: Rect, pixels: float | None = None) -> list[_View]:
    """Return a closer view, or none where it can't be drawn: the wider one has been."""
    try:
        return [drawing.view(rect, pixels)]
    except ResvgError:
        return []


def _size(rect: Rect) -> float:
    """Return the geometric mean of the sides, but no less than the longer one over 8."""
    longer = max(rect.width, rect.height)
    return max(math.sqrt(max(0.0, rect.width * rect.height)), longer * PIXELS / LONGEST)


def _common(one: Rect, other: Rect) -> Rect | None:
    x0, y0 = max(one.x0, other.x0), max(one.y0, other.y0)
    x1, y1 = min(one.x1, other.x1), min(one.y1, other.y1)
    return Rect(x0, y0, x1, y1) if x1 > x0 and y1 > y0 else None
