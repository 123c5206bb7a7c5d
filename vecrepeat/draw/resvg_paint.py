"""Drawing any window of the endless cloth through resvg.

The second engine, for art that the first does not draw faithfully: filters, blend modes, some
masks. It draws the window's copies as one small SVG document, in pixels, so that motifs blend
with each other and with the ground as they do in the drawing.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from vecrepeat.core.errors import InputError
from vecrepeat.core.geometry import Affine, number
from vecrepeat.draw.paint import BLOCK_BYTES, MARGIN, Pixels, Window, copy_matrix, reach
from vecrepeat.draw.plan import PixelPlan
from vecrepeat.draw.resvg import (
    SHRINKS,
    ResvgError,
    ResvgPanicError,
    ResvgTimeError,
    rasterise,
)
from vecrepeat.draw.resvg_draws import (
    MAX_CANVAS_SIDE,
    agreed,
    difference,
    fits,
    grown,
    largest,
    slices,
)
from vecrepeat.draw.resvg_scene import region_corners, shrunk, with_offsets_kept
from vecrepeat.repeat.model import Motif, Repeat
from vecrepeat.repeat.wrap import Copy, copies
from vecrepeat.scene.visit import holds_text, is_filtered
from vecrepeat.scene.write import NAMESPACES, Fragment, Writer
from vecrepeat.util.fonts import generic_families
from vecrepeat.util.once import once

ALIKE_LEVELS = 24
"""By how many levels a pixel may differ between two draws that are taken to agree."""

ALIKE_PIXELS = 4
"""How many pixels of a copy may differ by more: antialiasing flips a step on some."""

CUT_ROOM = 64
"""Pixels drawn around a window where a motif has to be cut."""

NEARLY = 2**-18
"""How near a length is to whole pixels to be nearly that, in shares of the canvas's side.

Sixteen times what 32-bit floats tell apart there.
"""


class ResvgEngine:
    """Draws one repeat's motifs through resvg.

    Args:
        repeat: the endless cloth; its layout may differ from that of a plan drawn later.
        motifs: those to be drawn; by default all.
    """

    def __init__(self, repeat: Repeat, motifs: Iterable[Motif] | None = None) -> None:
        motifs = dict.fromkeys(motifs or (placement.motif for placement in repeat.placements))
        self._ids = {motif: f"m{number}" for number, motif in enumerate(motifs)}

    def painter(self, plan: PixelPlan, *, ground: bool = True) -> ResvgPainter:
        """Return what draws windows of ``plan``, with the repeat's ground or without."""
        return ResvgPainter(self._ids, plan, ground)


@dataclass(frozen=True, eq=False)
class ResvgPainter:
    """Draws windows of a plan, or single copies, through resvg.

    Attributes:
        ids: what each motif is called in a document.
        plan: the tile in whole pixels.
        ground: whether windows have the repeat's ground.
    """

    ids: Mapping[Motif, str]
    plan: PixelPlan
    ground: bool

    def paint(self, window: Window) -> Pixels:
        """Return the window as premultiplied RGBA, shape (height, width, 4).

        Large windows are drawn in pieces and joined, so that memory stays near the size of
        the result.

        Raises:
            InputError: resvg fails; the error names the motif where one alone is the cause.
        """
        out = np.empty((window.height, window.width, 4), np.uint8)
        self._paint(window, out)
        return out

    def paint_alone(self, copy: Copy, window: Window) -> Pixels:
        """Return one copy alone in a window, as :meth:`paint` returns all; or raises."""
        out = np.empty((window.height, window.width, 4), np.uint8)
        self._paint(window, out, [copy])
        return out

    def _paint(self, window: Window, out: Pixels, alone: Sequence[Copy] | None = None) -> None:
        found = copies(self.plan.repeat, reach(self.plan, window)) if alone is None else alone
        canvas = self._canvas(window, found)
        if canvas is not None:
            pixels = self._draw(canvas, found, once=alone is not None)
            x, y = window.x - canvas.x, window.y - canvas.y
            out[...] = pixels[y : y + window.height, x : x + window.width]
        elif window.width > window.height:
            half = window.width // 2
            self._paint(window._replace(width=half), out[:, :half], alone)
            right = window._replace(x=window.x + half, width=window.width - half)
            self._paint(right, out[:, half:], alone)
        else:
            half = window.height // 2
            self._paint(window._replace(height=half), out[:half], alone)
            below = window._replace(y=window.y + half, height=window.height - half)
            self._paint(below, out[half:], alone)

    @once
    def _boxes(self) -> NDArray[np.float64]:
        """Bounds of all that each placement paints or filters, shape (n, 4), in mm."""
        boxes = self.plan.repeat.boxes.copy()
        for box, placement in zip(boxes, self.plan.repeat.placements, strict=True):
            if placement.motif.regions:
                x0, y0, x1, y1 = placement.motif.extent
                corners = np.array([(x0, y0), (x1, y0), (x0, y1), (x1, y1)], np.float64)
                moved = placement.transform.apply(corners)
                box[:2] = np.fmin(box[:2], moved.min(axis=0))
                box[2:] = np.fmax(box[2:], moved.max(axis=0))
        return boxes

    @once
    def _uncut(self) -> NDArray[np.bool_]:
        """Which placements need all of themselves on the canvas: those with a filter."""
        filtered = {motif: is_filtered(motif.scene) for motif in self.ids}
        return np.array(
            [filtered.get(p.motif, False) for p in self.plan.repeat.placements], np.bool_
        )

    @once
    def _anchors(self) -> NDArray[np.float64]:
        """What each placement shrinks towards, shape (n, 2), in mm.

        That is the middle of what it filters, or of the parts of that furthest to the right and
        below: then all regions' upper left corners move to the right and down, if at all. resvg
        rounds them the other way, and would draw what begins at a whole pixel one pixel off.
        """
        anchors = np.empty((len(self.plan.repeat.placements), 2))
        for anchor, placement in zip(anchors, self.plan.repeat.placements, strict=True):
            areas = np.array(placement.motif.regions or [placement.motif.box])
            middles = placement.transform.apply((areas[:, :2] + areas[:, 2:]) / 2)
            anchor[:] = np.fmax.reduce(middles)
        return anchors

    @once
    def _written(self) -> tuple[Writer, Mapping[Motif, Fragment]]:
        """Each motif as SVG, with pictures of no more pixels than are shown; and the writer."""
        scales: dict[Motif, float] = {}
        for placement in self.plan.repeat.placements:
            if placement.motif not in self.ids:
                continue
            scale = max(self.plan.scale) * placement.transform.stretch
            scales[placement.motif] = max(scale, scales.get(placement.motif, 0.0))
        writer = Writer("d")
        return writer, {
            motif: writer.fragment(with_offsets_kept(shrunk(motif.scene, scale)), named=False)
            for motif, scale in scales.items()
        }

    @once
    def _fonts(self) -> tuple[str, ...]:
        """What generic families are drawn in, where anything is written with fonts."""
        return generic_families() if any(holds_text(m.scene) for m in self.ids) else ()

    def _canvas(self, window: Window, found: Collection[Copy]) -> Window | None:
        """Return what to draw for a window, or None where it is to be drawn in two halves.

        Filters go wrong, or make resvg panic, where they run over the canvas's edge, and
        paths cut there may change by a few levels. So all that shows in the window lies
        within the canvas, as long as the canvas stays of a bounded size. Where it would not,
        motifs without filters are cut first.
        """
        everything = self._around(window, found)
        if fits(everything):
            return everything
        pixels = window.width * window.height * 4
        if pixels > BLOCK_BYTES // 4 or max(window[2:]) > MAX_CANVAS_SIDE // 2:
            return None
        filtered = self._around(window, [c for c in found if self._uncut[c.placement]])
        cut = grown(filtered, CUT_ROOM).within(everything)
        if fits(cut):
            return cut
        if pixels > BLOCK_BYTES // 16 or max(window[2:]) > MAX_CANVAS_SIDE // 4:
            return None
        return largest(window, cut)

    def _around(self, window: Window, found: Iterable[Copy]) -> Window:
        """Return the window widened to the whole of the copies, and a margin."""
        boxes = [window, *(self.box(copy) for copy in found)]
        left, top = (min(box[k] for box in boxes) for k in (0, 1))
        return Window.between(
            left, top, max(box.right for box in boxes), max(box.bottom for box in boxes)
        )

    def box(self, copy: Copy) -> Window:
        """Return the whole of a copy, and a margin, in pixels of the plane."""
        sx, sy = self.plan.scale
        dx, dy = (float(v) for v in self.plan.lattice.at(copy.i, copy.j))
        x0, y0, x1, y1 = (float(v) for v in self._boxes[copy.placement])
        left, top = math.floor(x0 * sx + dx) - MARGIN, math.floor(y0 * sy + dy) - MARGIN
        right, bottom = math.ceil(x1 * sx + dx) + MARGIN, math.ceil(y1 * sy + dy) + MARGIN
        return Window.between(left, top, right, bottom)

    def _draw(self, canvas: Window, found: Collection[Copy], *, once: bool) -> Pixels:
        """Return a canvas with these copies on it; drawn once where one draw is known to do."""
        try:
            sure = self._sure_shrink(canvas, found) if once else None
            if sure is not None:
                with contextlib.suppress(ResvgPanicError):
                    return self._drawn(canvas, found, sure)
            return self._rasterised(canvas, found)
        except ResvgError as error:
            raise self._failure(canvas, found, error) from error

    def _rasterised(self, canvas: Window, found: Collection[Copy]) -> Pixels:
        """Return a canvas with these copies, checked where there are filters among them.

        Raises:
            ResvgError: resvg fails, or never draws the same twice.
        """
        if not any(self._uncut[c.placement] for c in found):
            return self._drawn(canvas, found, 0.0)
        pictures: list[Pixels] = []
        error = ResvgError("resvg draws it in another way each time")
        doubtful: list[Window] = []
        for shrink in SHRINKS:
            try:
                pictures.append(self._drawn(canvas, found, shrink))
            except ResvgPanicError as panic:
                error = panic
                continue
            if len(pictures) == 2:
                doubtful = self._doubtful(canvas, found, *pictures)
                if not doubtful:
                    return pictures[0]
            if len(pictures) == 3:
                one, other, third = pictures
                return agreed(one, other, third, doubtful)
        raise error

    def _sure_shrink(self, canvas: Window, found: Iterable[Copy]) -> float | None:
        """Return by how much to shrink, so that no filter's region is nearly whole pixels.

        Then resvg rounds them all in one way only, and one draw will do. None where a filter
        has regions that are not known here, or lies badly at every shrinking.
        """
        filtered = [copy for copy in found if self._uncut[copy.placement]]
        if not filtered:
            return 0.0
        placements = self.plan.repeat.placements
        corners = [self._corners[placements[copy.placement].motif] for copy in filtered]
        if any(known is None for known in corners):
            return None
        room = max(canvas.width, canvas.height) * NEARLY
        for shrink in SHRINKS:
            sides = []
            for copy, known in zip(filtered, corners, strict=True):
                assert known is not None
                seen = self._matrix(copy, canvas, shrink).apply(known.reshape(-1, 2))
                low, high = (edge(seen.reshape(-1, 4, 2), axis=1) for edge in (np.min, np.max))
                sides += [low, high - low]
            lengths = np.concatenate(sides)
            if np.abs(lengths - np.round(lengths)).min() > room:
                return shrink
        return None

    @once
    def _corners(self) -> Mapping[Motif, NDArray[np.float64] | None]:
        """Corners of what each motif's filters work on, shape (n, 4, 2), in mm; see there."""
        return {motif: region_corners(motif.scene) for motif in self.ids}

    def _matrix(self, copy: Copy, canvas: Window, shrink: float) -> Affine:
        """Return the map from a motif's mm to a canvas's pixels, a filtered one's shrunk."""
        a, b, c, d, e, f = copy_matrix(self.plan, copy, canvas)
        if shrink and self._uncut[copy.placement]:
            dx, dy = self.plan.lattice.at(copy.i, copy.j)
            x, y = self._anchors[copy.placement] * self.plan.scale
            x, y = float(x) + float(dx) - canvas.x, float(y) + float(dy) - canvas.y
            e, f = e + shrink * (x - e), f + shrink * (y - f)
            a, b, c, d = (v * (1 - shrink) for v in (a, b, c, d))
        return Affine(a, b, c, d, e, f)

    def _doubtful(
        self, canvas: Window, found: Iterable[Copy], one: Pixels, other: Pixels
    ) -> list[Window]:
        """Return the parts of a canvas, a filtered copy each, that two draws do not agree on."""
        whole = Window(0, 0, canvas.width, canvas.height)
        differs = difference(one, other) > ALIKE_LEVELS
        parts = []
        for copy in found:
            if self._uncut[copy.placement]:
                box = self.box(copy).moved(-canvas.x, -canvas.y).within(whole)
                if box.width > 0 and box.height > 0 and differs[slices(box)].sum() > ALIKE_PIXELS:
                    parts.append(box)
        return parts

    def _drawn(self, canvas: Window, found: Collection[Copy], shrink: float) -> Pixels:
        svg = self._document(canvas, found, shrink)
        return rasterise(svg, canvas.width, canvas.height, fonts=self._fonts)

    def _document(self, canvas: Window, found: Collection[Copy], shrink: float) -> str:
        """Return a canvas as an SVG document whose user unit is the pixel."""
        repeat = self.plan.repeat
        w, h = canvas.width, canvas.height
        motifs = dict.fromkeys(repeat.placements[copy.placement].motif for copy in found)
        writer, fragments = self._written
        definitions = writer.defined(key for motif in motifs for key in fragments[motif].needs)
        definitions += "".join(
            f'<g id="{self.ids[motif]}">{fragments[motif].markup}</g>' for motif in motifs
        )
        body = []
        if self.ground and repeat.ground is not None:
            ground = repeat.ground
            body.append(
                f'<rect width="{w}" height="{h}" fill="{ground.colour}" '
                f'fill-opacity="{number(ground.opacity)}"/>'
            )
        for copy in found:
            matrix = " ".join(number(v) for v in self._matrix(copy, canvas, shrink))
            key = self.ids[repeat.placements[copy.placement].motif]
            body.append(f'<use xlink:href="#{key}" transform="matrix({matrix})"/>')
        return (
            f'<svg {NAMESPACES} width="{w}" height="{h}" viewBox="0 0 {w} {h}">'
            f"<defs>{definitions}</defs>{''.join(body)}</svg>"
        )

    def _failure(self, canvas: Window, found: Iterable[Copy], error: ResvgError) -> InputError:
        """Return the error to raise, naming the motif that resvg fails on by itself."""
        placements = self.plan.repeat.placements
        if isinstance(error, ResvgTimeError):
            # To look for the motif would take as long again, several times.
            names = {placements[c.placement].motif.name for c in found if self._uncut[c.placement]}
            return InputError(
                f"the second engine gives up: {error}",
                file=self.plan.repeat.name if len(names) != 1 else None,
                element=names.pop() if len(names) == 1 else None,
                hint="simplify or rasterise its filters, or choose a lower dpi",
            )
        by_motif: dict[Motif, list[Copy]] = {}
        for copy in found:
            by_motif.setdefault(placements[copy.placement].motif, []).append(copy)

        def fails(motifs: Iterable[Motif]) -> bool:
            try:
                self._rasterised(canvas, [c for m in motifs for c in by_motif[m]])
            except ResvgError:
                return True
            return False

        suspects = list(by_motif)
        while len(suspects) > 1:
            half = len(suspects) // 2
            suspects = suspects[:half] if fails(suspects[:half]) else suspects[half:]
        alone = suspects[0].name if suspects and fails(suspects) else None
        return InputError(
            f"the second engine fails on {'it' if alone else 'the drawing'}: {error}",
            file=None if alone else self.plan.repeat.name,
            element=alone,
            hint="simplify or rasterise that effect",
        )
