"""Measuring ink: where a drawing paints, found by drawing it.

Geometry can't say where text, masks, filters and markers leave ink. So the drawing is
rasterised, first whole and then closer and closer on what was found, and the pixels with any
ink are traced. The outline holds every painted pixel and a little more.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from vecrepeat.art.areas import Parts, as_parts
from vecrepeat.geometry import Rect, number
from vecrepeat.resvg import STRETCHES, ResvgError, ResvgPanicError, rasterise

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

SECONDS = 3.0
"""Seconds of processor time that a view may take for each 512 pixels squared."""

LONGEST = 8192
"""The longest side of a view in pixels."""

GROWTH = 1
"""Pixels by which the outline is larger than the painted pixels."""

FILTERED_GROWTH = 2
"""And pixels by which it is where there are filters: their faint tails vary with the size drawn."""

_SMOOTHING = 0.75
"""Greatest distance in pixels by which the traced outline is smoothed; less than the growth."""

_ROOM = 2
"""Pixels left around the ink when looking closer: it may start within the pixel beside."""

_MARGINS = (0.0, 0.5, 2.0)
"""Room, in shares of the ink's size, that is tried around filtered drawings."""

_ALIKE = 2
"""Pixels by which two drawings of a filter may differ and still be the same."""

_ALIKE_SHARE = 0.002
"""The share of pixels that may differ by more: faint ones come and go."""

_MAX_ZOOMS = 8
_MAX_RUNS = 20_000

Mask = NDArray[np.bool_]


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
        polygons = trace(self.ink, growth, _SMOOTHING)
        to_mm = np.array([self.x, self.y])
        return list(shapely.transform(as_parts(polygons), lambda xy: xy * self.pixel + to_mm))


@dataclass(frozen=True)
class _Drawing:
    """A fragment of SVG that draws in mm, with the definitions it uses."""

    fragment: str
    definitions: str
    fonts: bool

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
        """
        if not self.is_filtered:
            return self.drawn(rect, pixels or self.pixels, 0.0)
        views: list[_View] = []
        error: ResvgError | None = None
        for stretch in STRETCHES:
            try:
                view = self.drawn(rect, pixels or self.pixels, stretch)
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

    def rough_view(self, rect: Rect) -> _View | None:
        """Return about where there is ink in a rectangle; None where resvg panics."""
        with contextlib.suppress(ResvgPanicError):
            return self.drawn(rect, ROUGH_PIXELS, STRETCHES[0])
        return None

    def drawn(self, rect: Rect, pixels: float, stretch: float) -> _View:
        """Return a view drawn once, its pixels a little larger by ``stretch``."""
        width, height = max(rect.width, 1e-6), max(rect.height, 1e-6)
        pixel = max(math.sqrt(width * height) / pixels, max(width, height) / LONGEST)
        columns = min(LONGEST, max(1, math.ceil(width / pixel - 1e-9)))
        rows = min(LONGEST, max(1, math.ceil(height / pixel - 1e-9)))
        pixel *= 1 + stretch
        frame = " ".join(number(v) for v in (rect.x0, rect.y0, columns * pixel, rows * pixel))
        document = (
            '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
            f'width="{columns}" height="{rows}" viewBox="{frame}" preserveAspectRatio="none">'
            f"<defs>{self.definitions}</defs>{self.fragment}</svg>"
        )
        seconds = SECONDS * max(1.0, columns * rows / 512**2) + len(document) / 1e6
        drawn = rasterise(document, columns, rows, fonts=self.fonts, seconds=seconds)
        return _View(drawn[..., 3] > 0, rect.x0, rect.y0, pixel)


def _alike(one: Mask, other: Mask) -> bool:
    """Whether two drawings have ink in the same places."""
    spare = _ALIKE_SHARE * max(one.sum(), other.sum()) + 4
    apart = (one & ~_grown(other, _ALIKE)).sum(), (other & ~_grown(one, _ALIKE)).sum()
    return bool(max(apart) <= spare)


def _bears_out(rough: _View, fine: _View) -> bool:
    """Whether two views of one rectangle, in pixels of other sizes, show the same ink."""
    for one, other in ((rough, fine), (fine, rough)):
        by = max(1, round(_ALIKE * rough.pixel / one.pixel))
        near = _grown(np.pad(one.ink, _ALIKE), by)
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
    resources: Mapping[str, str] | Iterable[str],
    region: Rect,
    *,
    fonts: bool,
    near: Rect | None = None,
    within: Rect | None = None,
) -> tuple[Parts, Rect]:
    """Return the area a drawing paints, measured from its pixels.

    Ink that covers no more than a quarter of a pixel of both the region and ``near`` drawn
    with about 400,000 pixels may be missed.

    Args:
        fragment: SVG markup that draws in mm.
        resources: markup of the definitions it refers to, by id or alone.
        region: where ink is looked for, in mm; ink outside it is not measured.
        fonts: whether text is to be drawn with the system's fonts.
        near: where the geometry lies that makes the ink, in mm, if known: small ink is found
            there even if the region is large, and filters see all they work on.
        within: where all the ink lies and all that filters work on, in mm, if known: then one
            view is enough. Ink there counts even outside the region.

    Returns:
        Polygons in mm whose union is the painted area grown by a pixel or (filters) two, and
        their bounds. Without ink there are none, and the bounds are the region's corner.

    Raises:
        ResvgError: the drawing can't be drawn.
    """
    if isinstance(resources, Mapping):
        resources = resources.values()
    drawing = _Drawing(fragment, "".join(resources), fonts)
    if within is not None and (known := _within(drawing, within)) is not None:
        return known
    views = [drawing.view(region)]
    if near is not None and (close := _common(near.grown(0.05 * _size(near)), region)):
        views += _view_or_none(drawing, close)
    margin = 0.0
    for _ in range(_MAX_ZOOMS):
        boxes = [box for view in views if (box := view.box) is not None]
        if not boxes:
            return as_parts([]), Rect(region.x0, region.y0, region.x0, region.y0)
        closer, margin = _closer(drawing, views, Rect.enclosing(boxes), region, near, margin)
        if closer is None:
            break
        views = [closer]
    return _outlined(drawing, views)


def _outlined(drawing: _Drawing, views: Iterable[_View]) -> tuple[Parts, Rect]:
    """Return the area of the ink in views that have some, and its bounds."""
    growth = FILTERED_GROWTH if drawing.is_filtered else GROWTH
    parts = as_parts([part for view in views for part in view.outline(growth)])
    return parts, Rect.of(shapely.total_bounds(parts))


def _within(drawing: _Drawing, rect: Rect) -> tuple[Parts, Rect] | None:
    """Return the area of ink that is known to lie within a rectangle, and its bounds.

    None where that would take too large a picture, or the ink runs over the rectangle's edge.
    """
    # Room for what antialiasing and rounding spread, in pixels of the coarsest view.
    rect = rect.grown(4 * _size(rect) / ROUGH_PIXELS)
    rough = drawing.rough_view(rect)
    if rough is None or rough.box is None:
        return None
    share = _size(rect) / _size(rough.box.grown(rough.pixel))
    usual = min(drawing.pixels, KNOWN_PIXELS)
    if usual * share > MOST_PIXELS:
        return None
    pixels = usual * max(1.0, share)
    view = None
    with contextlib.suppress(ResvgPanicError):
        view = drawing.drawn(rect, pixels, STRETCHES[1])
    if view is None or not _bears_out(rough, view):
        view = drawing.view(rect, pixels)
    edges = (view.ink[0], view.ink[-1], view.ink[:, 0], view.ink[:, -1])
    if view.box is None or any(edge.any() for edge in edges):
        return None
    return _outlined(drawing, [view])


def _closer(
    drawing: _Drawing, views: list[_View], box: Rect, region: Rect, near: Rect | None, least: float
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


def _view_or_none(drawing: _Drawing, rect: Rect, pixels: float | None = None) -> list[_View]:
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


def trace(ink: Mask, growth: int = GROWTH, smoothing: float = _SMOOTHING) -> list[BaseGeometry]:
    """Return polygons, holes kept, that hold all pixels of a mask.

    Args:
        ink: the mask, shape (rows, columns).
        growth: pixels by which the outline is larger than the mask on all sides.
        smoothing: the greatest distance by which its steps are smoothed; less than the growth.

    Returns:
        Polygons in pixels, the mask's corner at the origin; none where the mask is empty.
    """
    grown = _grown(np.pad(ink, growth), growth)
    rows, columns = np.flatnonzero(grown.any(axis=1)), np.flatnonzero(grown.any(axis=0))
    if not len(rows):
        return []
    bounds = (columns[0], rows[0], columns[-1] + 1, rows[-1] + 1)
    # Speckles by the ten thousand are taken together.
    factor = 1
    boxes = _runs(grown)
    while len(boxes) > _MAX_RUNS:
        factor *= 2
        boxes = _runs(_halved(grown, factor))
    boxes = np.clip(boxes * factor, np.tile(bounds[:2], 2), np.tile(bounds[2:], 2))
    stairs = shapely.union_all(shapely.box(*boxes.T))
    smooth = shapely.simplify(stairs, smoothing)
    inner = shapely.box(*_runs(np.pad(ink, growth)).T) if factor == 1 else shapely.box(*boxes.T)
    shapely.prepare(smooth)
    whole = smooth.is_valid and bool(shapely.covers(smooth, inner).all())
    area = shapely.transform(smooth if whole else stairs, lambda xy: xy - growth)
    return list(shapely.get_parts(area))


def _grown(mask: Mask, by: int) -> Mask:
    """Return a mask grown by so many pixels on all sides, corners included."""
    grown = mask.copy()
    for axis in (0, 1):
        before = grown.copy()
        for step in range(1, by + 1):
            np.logical_or(grown, np.roll(before, step, axis), out=grown)
            np.logical_or(grown, np.roll(before, -step, axis), out=grown)
    return grown


def _halved(mask: Mask, factor: int) -> Mask:
    """Return a mask of larger pixels, each set if any within it was."""
    rows, columns = (-(-side // factor) * factor for side in mask.shape)
    padded = np.zeros((rows, columns), bool)
    padded[: mask.shape[0], : mask.shape[1]] = mask
    blocks = padded.reshape(rows // factor, factor, columns // factor, factor)
    return np.asarray(blocks.any(axis=(1, 3)), bool)


def _runs(mask: Mask) -> NDArray[np.float64]:
    """Return rectangles that make up a mask, shape (n, 4): runs of rows, alike ones joined."""
    edges = np.diff(np.pad(mask, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    row, start = np.nonzero(edges == 1)
    _, end = np.nonzero(edges == -1)
    order = np.lexsort((row, end, start))
    row, start, end = row[order], start[order], end[order]
    first = np.ones(len(row), bool)
    first[1:] = (np.diff(start) != 0) | (np.diff(end) != 0) | (np.diff(row) != 1)
    heads = np.flatnonzero(first)
    tails = np.append(heads[1:], len(row)) - 1
    boxes = np.stack([start[heads], row[heads], end[heads], row[tails] + 1], axis=1)
    return boxes.astype(np.float64)
