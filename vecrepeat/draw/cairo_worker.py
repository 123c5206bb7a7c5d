"""The process in which CairoSVG draws, beside the program that needs its pictures.

CairoSVG and its cairo take a while to import, and drawing is half the work of an export. Here
both happen on another core: while the art is read, this process starts; while it draws one
window, the one before is compressed. Run by :mod:`vecrepeat.draw.paint`.

The first message (:mod:`vecrepeat.util.inbox`) is an SVG document whose last group holds one group
for each motif; another may take its place later. Every other message is a request, a JSON object
on a line: the ``canvas`` in pixels (width, height), the ``columns`` wanted of it (first, count),
the ``ground`` as red, green, blue and alpha (0 to 1) or null, and what to ``draw`` in order. That
is the motif's number and the six numbers of its matrix, from the motif's units to pixels, and the
box in pixels (x, y, width, height) that holds it where that helps; or the box alone, of a picture
that is drawn already. The pixels of these follow after the line, in order, in cairo's words. The
answer is the wanted columns row by row in cairo's own ARGB words, or in JSON the ``motif`` that
was being drawn and the ``reason``.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import cairocffi
from cairosvg.parser import Tree
from cairosvg.surface import PNGSurface

from vecrepeat.draw.cairo_pen import Pen
from vecrepeat.draw.cairo_steering import steered
from vecrepeat.util.inbox import answer_all

BOX = 4
"""How many numbers tell where a picture is laid."""

BOXED = 11
"""How many tell of a motif with the box that holds it."""


class Drawing:
    """A document of motifs, ready to be drawn any number of times.

    Args:
        document: as said above.
    """

    def __init__(self, document: bytes) -> None:
        tree = Tree(bytestring=document)
        # The document's own size is of no account: drawing it draws nothing, it only makes
        # CairoSVG note the definitions.
        self._surface = PNGSurface(tree, None, 96)
        self._nodes = tree.children[0].children[-1].children
        self.drawn: int | None = None
        """The number of the motif that is being drawn, or was when drawing failed."""

    def picture(
        self,
        canvas: tuple[int, int],
        columns: tuple[int, int],
        ground: Sequence[float] | None,
        draw: Sequence[Sequence[float]],
        pictures: bytes | bytearray = b"",
    ) -> bytes:
        """Return the picture of one request; see the module."""
        self.drawn = None
        width, height = canvas
        image = cairocffi.ImageSurface(cairocffi.FORMAT_ARGB32, width, height)
        context = Pen(image)
        if ground is not None:
            context.set_source_rgba(*ground)
            context.paint()
        self._surface.cairo = image
        self._surface.context = context
        with steered():
            at = 0
            for one in draw:
                context.save()
                if len(one) == BOX:
                    at += _lay(context, one, pictures, at)
                else:
                    self.drawn = int(one[0])
                    if len(one) == BOXED:
                        # Its groups are then drawn on surfaces of that size, not the canvas's.
                        context.rectangle(*one[7:])
                        context.clip()
                    context.set_matrix(cairocffi.Matrix(*one[1:7]))
                    self._surface.draw(self._nodes[self.drawn])
                context.restore()
        image.flush()
        data, stride = memoryview(image.get_data()), image.get_stride()
        first, size = columns[0] * 4, columns[1] * 4
        rows = (data[at + first : at + first + size] for at in range(0, height * stride, stride))
        return b"".join(rows)


def _lay(context: Pen, box: Sequence[float], pictures: bytes | bytearray, at: int) -> int:
    """Lay a picture over what is there; return how many bytes of the pictures it takes."""
    x, y, width, height = map(int, box)
    size = width * height * 4
    data = memoryview(pictures)[at : at + size]
    surface = cairocffi.ImageSurface(cairocffi.FORMAT_ARGB32, width, height, data)
    context.set_source_surface(surface, x, y)
    context.get_source().set_filter(cairocffi.FILTER_NEAREST)
    context.paint()
    return size


def _opened(document: bytes) -> Drawing | str:
    """Return a document's drawing, or why CairoSVG doesn't read it."""
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
