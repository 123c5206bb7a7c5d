"""The processes that CairoSVG draws in, as one: started when needed, replaced when they fail."""

from __future__ import annotations

import contextlib
import json
import sys
import threading
import weakref
from typing import Any

import numpy as np
from numpy.typing import NDArray

from vecrepeat.core import allowance
from vecrepeat.draw.cairo_library import has_cairo
from vecrepeat.util.worker import ANSWER, ENDING, MESSAGE, Worker

# cairo's ARGB words in bytes, as this machine orders them: where red, green, blue, alpha are.
_ORDER = (2, 1, 0, 3) if sys.byteorder == "little" else (1, 2, 3, 0)

MEMORY = 768 << 20
"""Bytes of memory that any picture may take."""

MEMORY_PER_PIXEL = 16
"""Bytes on top of that for each pixel: the picture, and what is sent of it."""

MEMORY_PER_BYTE = 100
"""Bytes on top of that for each byte of the document: its tree."""

_spare: list[Worker] = []
"""One that has no document to draw: started ahead, or left by a document that is done with."""


class CairoFailure(RuntimeError):  # noqa: N818
    """CairoSVG gave no picture; the message is one line saying why.

    Attributes:
        motif: the number of the motif that it was drawing, if known.
    """

    def __init__(self, reason: str, motif: int | None = None) -> None:
        super().__init__(reason)
        self.motif = motif


def _start() -> Worker:
    try:
        return Worker.of_module("vecrepeat.draw.cairo_worker")
    except OSError as error:
        raise CairoFailure(f"its process can't be started: {error}") from error


def start_ahead() -> None:
    """Start a worker now, for the first drawing that will need one."""
    if not _spare and has_cairo():
        _spare.append(_start())


class CairoWorkers:
    """A worker with one document, replaced when it fails; threads ask it in turn.

    A second one would take as long to start as it saves on two cores. A worker outlives its
    document: whoever needs one next takes it over, since to start one takes longer than most
    drawings.

    Args:
        document: see :mod:`vecrepeat.draw.cairo_worker`.
    """

    def __init__(self, document: bytes) -> None:
        self._document = document
        self._idle: list[Worker] = []
        self._turn = threading.Lock()
        weakref.finalize(self, _let_go, self._idle)
        if (spare := _taken_over()) is not None:
            # It reads the document while we go on. One that has failed is replaced later.
            with contextlib.suppress(CairoFailure):
                self._idle.append(self._handed(spare))

    def _handed(self, worker: Worker) -> Worker:
        try:
            _send(worker, self._document)
        except OSError:
            raise _why(worker) from None
        return worker

    def _taken(self) -> Worker:
        while self._idle:
            worker = self._idle.pop()
            if worker.runs:
                return worker
            worker.close()
        spare = _taken_over()
        if spare is not None and not spare.runs:
            spare.close()
            spare = None
        return self._handed(spare or _start())

    def draw(self, request: dict[str, Any], out: NDArray[np.uint8]) -> None:
        """Have a request drawn into ``out``, of shape (height, columns, 4).

        Raises:
            CairoFailure: there is no picture.
        """
        asked = json.dumps(request).encode()
        width, height = request["canvas"]
        memory = MEMORY + MEMORY_PER_PIXEL * width * height + MEMORY_PER_BYTE * len(self._document)
        seconds = allowance.picture_seconds(width * height, len(self._document) + len(asked))
        # Only while it draws: the next request goes out before this picture is turned into ours.
        with self._turn:
            failed, answer = self._asked(asked, memory, seconds)
        if failed:
            told = json.loads(answer)
            raise CairoFailure(" ".join(told["reason"].split()), told["motif"])
        native = np.frombuffer(answer, np.uint8).reshape(out.shape)
        for channel, source in enumerate(_ORDER):
            out[..., channel] = native[..., source]

    def _asked(self, request: bytes, memory: int, seconds: float) -> tuple[bool, bytearray]:
        """Return whether a request failed, and what was answered."""
        worker = self._taken()
        try:
            with worker.bounded(memory, seconds):
                _send(worker, request)
                failed, size = ANSWER.unpack(worker.receive(ANSWER.size))
                answer = worker.receive(size)
        except (OSError, EOFError):
            failure = _why(worker)
            if worker.ran_out_of_time:
                failure = CairoFailure(f"CairoSVG takes longer than {seconds:.0f} s")
            raise failure from None
        except BaseException:
            # Whatever broke off, a half-read answer must not be taken for the next one.
            worker.kill()
            worker.close()
            raise
        self._idle.append(worker)
        return bool(failed), answer


def _why(worker: Worker) -> CairoFailure:
    """Return why a worker has ended."""
    worker.close(ENDING)
    return CairoFailure(f"CairoSVG {worker.end()}")


def _send(worker: Worker, data: bytes) -> None:
    worker.send(MESSAGE.pack(len(data)), data)


def _taken_over() -> Worker | None:
    """Return the spare worker, if there is one."""
    # Asked for and taken in one step: there may be threads.
    with contextlib.suppress(IndexError):
        return _spare.pop()
    return None


def _let_go(workers: list[Worker]) -> None:
    """Keep one of a document's workers for the next document, and end the others."""
    for worker in workers:
        if worker.runs and not _spare:
            _spare.append(worker)
        else:
            worker.kill()
            worker.close()
