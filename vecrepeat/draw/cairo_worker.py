"""A process in which cairo draws, beside the program that needs its pictures.

Drawing is half the work of an export. It happens on another core: while this process draws one
window, the one before is compressed; and a drawing that takes too long, too much memory or the
library itself down ends no more than this process. Little is imported, so that it starts at once.
Run by :mod:`vecrepeat.draw.cairo`.

The first message (:mod:`vecrepeat.util.inbox`) is the scenes of motifs, pickled; others may take
their place later. Every other message is a request, a JSON object on a line: the ``canvas`` in
pixels (width, height), the ``columns`` wanted of it (first, count), the ``ground`` as red, green,
blue and alpha (0 to 1) or null, and what to ``draw`` in order. That is the motif's number and the
six numbers of its matrix, from the motif's units to pixels, and the box in pixels (x, y, width,
height) that holds it where that helps; or the box alone, of a picture that is drawn already. The
pixels of these follow after the line, in order, in cairo's words. The answer is the wanted columns
row by row in cairo's own ARGB words, or in JSON the ``motif`` that was being drawn and the
``reason``. With a ``room``, a file of memory that both processes hold, the answer is empty and the
whole canvas is there instead.
"""

from __future__ import annotations

import ctypes
import json
import mmap
import pickle
from collections.abc import Sequence
from typing import Any

from vecrepeat.core.geometry import Affine
from vecrepeat.draw.cairo_path import traced
from vecrepeat.draw.cairo_pen import Pen
from vecrepeat.scene.nodes import (
    Box,
    Clip,
    Element,
    Fill,
    Gradient,
    Group,
    Image,
    Node,
    Outline,
    Path,
)
from vecrepeat.util.inbox import answer_all

BOX = 4
"""How many numbers tell where a picture is laid."""

BOXED = 11
"""How many tell of a motif with the box that holds it."""

ROOM = 4
"""Pixels beyond what is painted that rounding and antialiasing may reach."""

_ANTIALIAS = {"crispEdges": 1, "optimizeSpeed": 4, "geometricPrecision": 6}
"""cairo's names of what ``shape-rendering`` asks for (SVG 2 §13.9)."""


class Drawing:
    """Scenes of motifs, ready to be drawn any number of times.

    Args:
        document: as said above.
    """

    def __init__(self, document: bytes) -> None:
        self._scenes: Sequence[Node] = pickle.loads(document)
        self._room: mmap.mmap | None = None
        self.drawn: int | None = None
        """The number of the motif that is being drawn, or was when drawing failed."""

    def picture(
        self,
        canvas: tuple[int, int],
        columns: tuple[int, int],
        ground: Sequence[float] | None,
        draw: Sequence[Sequence[float]],
        pictures: bytes | bytearray = b"",
        room: str | None = None,
    ) -> bytes:
        """Return the picture of one request; see the module.

        Raises:
            vecrepeat.draw.cairo_pen.CairoError: cairo can't draw it.
        """
        self.drawn = None
        shared = None if room is None else self._mapped(room, canvas[0] * canvas[1] * 4)
        with Pen(*canvas, shared) as pen:
            if ground is not None:
                pen.lib.cairo_set_source_rgba(pen.context, *ground)
                pen.lib.cairo_paint(pen.context)
            laid = memoryview(pictures)
            for one in draw:
                with pen.kept():
                    if len(one) == BOX:
                        x, y, width, height = map(int, one)
                        pen.lay(laid[: width * height * 4], (x, y, width, height))
                        laid = laid[width * height * 4 :]
                        continue
                    self.drawn = int(one[0])
                    if len(one) == BOXED:
                        # Its groups are then drawn on surfaces of that size, not the canvas's.
                        pen.lib.cairo_rectangle(pen.context, *one[7:])
                        pen.lib.cairo_clip(pen.context)
                    pen.matrix = one[1:7]
                    _draw(pen, self._scenes[self.drawn], Affine(*one[1:7]))
                pen.check()
            data, stride = pen.pixels()
            if shared is not None:
                return b""
            first, size = columns[0] * 4, columns[1] * 4
            if (first, size) == (0, stride):
                return bytes(data)
            ends = range(first, canvas[1] * stride, stride)
            return b"".join([data[at : at + size] for at in ends])

    def _mapped(self, room: str, size: int) -> mmap.mmap:
        """Return a file of memory as zeros, so large or larger."""
        if self._room is None or len(self._room) < size:
            with open(room, "r+b") as file:
                self._room = mmap.mmap(file.fileno(), 0)
        ctypes.memset(ctypes.addressof(ctypes.c_char.from_buffer(self._room)), 0, size)
        return self._room


def _draw(pen: Pen, node: Node, matrix: Affine) -> None:
    """Draw a node. What cairo has no drawing of (see ``scene.kinds``) is left out of it.

    Args:
        pen: draws it.
        node: of a scene.
        matrix: from the units that it stands in to pixels; the pen has it too.
    """
    if isinstance(node, Path):
        if _shows(pen, node, matrix):
            _draw_path(pen, node)
    elif isinstance(node, Group):
        _draw_group(pen, node, matrix)
    elif isinstance(node, Image):
        # Pictures need what takes long to import, and few drawings have any.
        from vecrepeat.draw.cairo_image import draw_image

        draw_image(pen, node)


def _shows(pen: Pen, path: Path, matrix: Affine) -> bool:
    """Whether a path may reach the canvas: motifs that its edges cut have many that don't."""
    x0, y0, x1, y1 = traced(path.outline).box
    if (stroke := path.stroke) is not None:
        # A mitre's tip, or a square cap's corner.
        reach = stroke.width / 2 * max(stroke.miter_limit, 1.5)
        x0, y0, x1, y1 = x0 - reach, y0 - reach, x1 + reach, y1 + reach
    a, b, c, d, e, f = matrix
    x, y, across, down = (x0 + x1) / 2, (y0 + y1) / 2, (x1 - x0) / 2, (y1 - y0) / 2
    sides = (
        (a * x + c * y + e, abs(a) * across + abs(c) * down, pen.width),
        (b * x + d * y + f, abs(b) * across + abs(d) * down, pen.height),
    )
    return not any(
        middle + half < -ROOM or middle - half > side + ROOM for middle, half, side in sides
    )


def _draw_group(pen: Pen, group: Group, matrix: Affine) -> None:
    lib, context = pen.lib, pen.context
    matrix = matrix @ group.transform
    with pen.kept():
        if not pen.transform(group.transform):
            return
        if group.opacity < 1:
            lib.cairo_push_group(context)
        if group.clip is not None:
            _clip(pen, group.clip)
        for child in group.children:
            _draw(pen, child, matrix)
        if group.opacity < 1:
            lib.cairo_pop_group_to_source(context)
            lib.cairo_paint_with_alpha(context, group.opacity)


def _clip(pen: Pen, clip: Clip) -> None:
    """Let no more be painted than lies within a clip, all its shapes as one path."""
    pen.lib.cairo_new_path(pen.context)
    for child in clip.children:
        _outline(pen, child)
    pen.lib.cairo_set_fill_rule(pen.context, 0)
    pen.lib.cairo_clip(pen.context)


def _outline(pen: Pen, node: Node) -> None:
    """Add the shapes of a clip's child to the path."""
    with pen.kept():
        if isinstance(node, Path):
            _trace(pen, node.outline)
        elif isinstance(node, Group) and pen.transform(node.transform):
            for child in node.children:
                _outline(pen, child)


def _trace(pen: Pen, outline: Outline) -> None:
    context = pen.context
    for call, numbers in traced(outline).calls:
        call(context, *numbers)


def _draw_path(pen: Pen, path: Path) -> None:
    lib, context, outline = pen.lib, pen.context, path.outline
    lib.cairo_save(context)
    _trace(pen, outline)
    if path.rendering in _ANTIALIAS:
        lib.cairo_set_antialias(context, _ANTIALIAS[path.rendering])
    for paint in reversed(path.paints) if path.stroke_first else path.paints:
        if isinstance(paint.paint, Element):
            continue
        if isinstance(paint.paint, Gradient):
            pen.gradient(paint.paint, paint.opacity)
        else:
            pen.colour(paint.paint, paint.opacity)
        if isinstance(paint, Fill):
            lib.cairo_set_fill_rule(context, int(paint.even_odd))
            lib.cairo_fill_preserve(context)
        else:
            pen.style(paint, smooth=isinstance(outline, Box) and outline.rx > 0 < outline.ry)
            lib.cairo_stroke_preserve(context)
    lib.cairo_new_path(context)
    lib.cairo_restore(context)


def _opened(document: bytes) -> Drawing | str:
    """Return a document's drawing, or why it can't be read."""
    try:
        return Drawing(document)
    except Exception as error:
        return f"{type(error).__name__}: {error}"


def _answer(
    drawing: Drawing | str, request: dict[str, Any], pictures: bytearray
) -> tuple[bool, bytes]:
    motif, reason = None, str(drawing)
    if isinstance(drawing, Drawing):
        try:
            return False, drawing.picture(**request, pictures=pictures)
        except Exception as error:
            motif, reason = drawing.drawn, f"{type(error).__name__}: {error}"
    return True, json.dumps({"motif": motif, "reason": reason}).encode()


def main() -> None:
    """Answer requests until the pipe in ends."""
    drawing: Drawing | str = "there is no document"

    def work(message: bytes) -> tuple[bool, bytes] | None:
        nonlocal drawing
        if message.startswith(b"{"):
            end = message.index(b"\n")
            return _answer(drawing, json.loads(message[:end]), bytearray(message[end + 1 :]))
        drawing = _opened(message)
        return None

    answer_all(work)


if __name__ == "__main__":
    main()
