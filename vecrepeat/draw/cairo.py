"""Pictures of documents by CairoSVG, drawn in a process of its own.

One process draws for the whole program: to start one takes longer than most drawings do, and a
second would take as long to start as it saves on two cores. It is replaced when it fails.
"""

from __future__ import annotations

import contextlib
import json
import threading
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vecrepeat.core import allowance
from vecrepeat.draw.cairo_library import NATIVE_ORDER, has_cairo
from vecrepeat.util.worker import ENDING, Worker, WorkerEnded, running

MEMORY = 768 << 20
"""Bytes of memory that any picture may take."""

MEMORY_PER_PIXEL = 16
"""Bytes on top of that for each pixel: the picture, and what is sent of it."""

MEMORY_PER_BYTE = 100
"""Bytes on top of that for each byte of the document: its tree."""

_turn = threading.Lock()
_worker: Worker | None = None
_held: CairoDocument | None = None
"""What the worker has been given to draw."""


class CairoFailure(RuntimeError):  # noqa: N818
    """CairoSVG gave no picture; the message is one line saying why.

    Attributes:
        motif: the number of the motif that it was drawing, if known.
    """

    def __init__(self, reason: str, motif: int | None = None) -> None:
        super().__init__(reason)
        self.motif = motif


def _started() -> Worker:
    """Return the worker, a new one where none runs."""
    global _worker, _held
    before = _worker
    try:
        _worker = running(_worker, "vecrepeat.draw.cairo_worker")
    except OSError as error:
        raise CairoFailure(f"its process can't be started: {error}") from error
    if _worker is not before:
        _held = None
    return _worker


def start_ahead() -> None:
    """Start the worker now, for the first drawing that will need it."""
    if has_cairo():
        with _turn:
            _started()


class CairoDocument:
    """A document that the worker draws; threads ask it in turn.

    Args:
        markup: see :mod:`vecrepeat.draw.cairo_worker`.
    """

    def __init__(self, markup: bytes) -> None:
        self._markup = markup
        if _worker is not None:
            # It reads the document while we go on. One that has failed is replaced later.
            with _turn, contextlib.suppress(CairoFailure):
                self._handed(_started())

    def _handed(self, worker: Worker) -> Worker:
        """Return the worker with this document to draw."""
        global _held
        if _held is not self:
            try:
                worker.send(self._markup)
            except OSError:
                worker.close(ENDING)
                raise CairoFailure(f"CairoSVG {worker.end()}") from None
            _held = self
        return worker

    def draw(
        self,
        request: dict[str, Any],
        out: NDArray[np.uint8],
        pictures: Sequence[NDArray[np.uint8]] = (),
    ) -> None:
        """Have a request drawn into ``out``, of shape (height, columns, 4).

        Args:
            request: see :mod:`vecrepeat.draw.cairo_worker`.
            out: where the pixels go.
            pictures: those that it lays, in order, in cairo's words.

        Raises:
            CairoFailure: there is no picture.
        """
        asked = json.dumps(request).encode() + b"\n"
        parts = [np.ascontiguousarray(picture).reshape(-1).data for picture in pictures]
        width, height = request["canvas"]
        memory = MEMORY + MEMORY_PER_PIXEL * width * height + MEMORY_PER_BYTE * len(self._markup)
        memory += 2 * sum(part.nbytes for part in parts)
        seconds = allowance.picture_seconds(width * height, len(self._markup) + len(asked))
        # Only while it draws: the next request goes out before this picture is turned into ours.
        with _turn:
            try:
                worker = self._handed(_started())
                failed, answer = worker.ask(asked, *parts, memory=memory, seconds=seconds)
            except WorkerEnded as error:
                raise CairoFailure(f"CairoSVG {error}") from None
        if failed:
            told = json.loads(answer)
            raise CairoFailure(" ".join(told["reason"].split()), told["motif"])
        native = np.frombuffer(answer, np.uint8).reshape(out.shape)
        for channel, source in enumerate(NATIVE_ORDER):
            out[..., channel] = native[..., source]
