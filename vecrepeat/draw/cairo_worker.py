"""The process in which CairoSVG draws, beside the program that needs its pictures.

CairoSVG and its cairo take a while to import, and drawing is half the work of an export. Here
both happen on another core: while the art is read, this process starts; while it draws one
window, the one before is compressed. Run by :mod:`vecrepeat.draw.paint`.

The first message (:mod:`vecrepeat.util.inbox`) is an SVG document whose last group holds one group
for each motif; another may take its place later. Every other message is a request, a JSON object:
the ``canvas`` in pixels (width, height), the ``columns`` wanted of it (first, count), the
``ground`` as red, green, blue and alpha (0 to 1) or null, and what to ``draw`` in order: the
motif's number and the six numbers of its matrix, from the motif's units to pixels. The answer is
the wanted columns row by row in cairo's own ARGB words, or in JSON the ``motif`` that was being
drawn and the ``reason``.
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
            for number, *matrix in draw:
                self.drawn = int(number)
                context.save()
                context.set_matrix(cairocffi.Matrix(*matrix))
                self._surface.draw(self._nodes[self.drawn])
                context.restore()
        image.flush()
        data, stride = memoryview(image.get_data()), image.get_stride()
        first, size = columns[0] * 4, columns[1] * 4
        rows = (data[at + first : at + first + size] for at in range(0, height * stride, stride))
        return b"".join(rows)


def _opened(document: bytes) -> Drawing | str:
    """Return a document's drawing, or why CairoSVG doesn't read it."""
    try:
        return Drawing(document)
    except Exception as error:
        return f"{type(error).__name__}: {error}"


def _answer(drawing: Drawing | str, request: dict[str, Any]) -> tuple[bool, bytes]:
    motif, reason = None, str(drawing)
    if isinstance(drawing, Drawing):
        try:
            return False, drawing.picture(**request)
        except Exception as error:
            motif, reason = drawing.drawn, f"{type(error).__name__}: {error}"
    return True, json.dumps({"motif": motif, "reason": reason}).encode()


def main() -> None:
    """Answer requests until the pipe in ends."""
    drawing: Drawing | str = "there is no document"

    def work(message: bytes) -> tuple[bool, bytes] | None:
        nonlocal drawing
        if message.startswith(b"{"):
            return _answer(drawing, json.loads(message))
        drawing = _opened(message)
        return None

    answer_all(work)


if __name__ == "__main__":
    main()
