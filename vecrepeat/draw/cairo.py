"""Pictures of scenes by cairo, drawn in processes of their own.

As many draw as there are cores, up to :data:`AT_ONCE`, each for one thread at a time. They stay for
the next drawing, as most take less time than starting one, and are replaced when they fail.
"""

from __future__ import annotations

import contextlib
import json
import mmap
import os
import pickle
import threading
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from vecrepeat.core import allowance
from vecrepeat.draw.cairo_library import NATIVE_ORDER, has_cairo
from vecrepeat.util.cores import cores
from vecrepeat.util.worker import ENDING, Worker, WorkerEnded, running

if TYPE_CHECKING:
    # Not imported here: workers are to be started before what takes long is.
    import numpy as np
    from numpy.typing import NDArray

    from vecrepeat.scene.nodes import Node

MEMORY = 768 << 20
"""Bytes of memory that any picture may take."""

MEMORY_PER_PIXEL = 16
"""Bytes on top of that for each pixel: the picture, and what is sent of it."""

MEMORY_PER_BYTE = 100
"""Bytes on top of that for each byte of the document: its tree."""

AT_ONCE = min(2, cores())
"""Windows that are drawn at the same time; the program packs what is drawn beside that."""


class CairoFailure(RuntimeError):  # noqa: N818
    """cairo gave no picture; the message is one line saying why.

    Attributes:
        motif: the number of the motif that it was drawing, if known.
    """

    def __init__(self, reason: str, motif: int | None = None) -> None:
        super().__init__(reason)
        self.motif = motif


class _Hand:
    """A worker, used by one thread at a time, and what it has been given to draw."""

    def __init__(self) -> None:
        self.worker: Worker | None = None
        self.held: CairoDocument | None = None
        self._room: mmap.mmap | None = None
        self._file = -1

    def room(self, size: int) -> tuple[mmap.mmap, str] | None:
        """Return memory for so many bytes and the name by which the worker finds it.

        To send pictures through a pipe takes a tenth of an export. None where the system has no
        such memory.
        """
        if not hasattr(os, "memfd_create"):
            return None
        if self._file < 0:
            self._file = os.memfd_create("vecrepeat")
        if self._room is None or len(self._room) < size:
            os.ftruncate(self._file, size)
            self._room = mmap.mmap(self._file, size)
        return self._room, f"/proc/{os.getpid()}/fd/{self._file}"

    def start(self) -> Worker:
        """Return the worker, a new one where none runs.

        Raises:
            CairoFailure: it can't be started.
        """
        before = self.worker
        try:
            self.worker = running(before, "vecrepeat.draw.cairo_worker")
        except OSError as error:
            raise CairoFailure(f"its process can't be started: {error}") from error
        if self.worker is not before:
            self.held = None
        return self.worker

    def given(self, document: CairoDocument) -> Worker:
        """Return the worker with a document to draw.

        Raises:
            CairoFailure: it can't be given it.
        """
        worker = self.start()
        if self.held is not document:
            try:
                worker.send(document.data)
            except OSError:
                worker.close(ENDING)
                raise CairoFailure(f"cairo {worker.end()}") from None
            self.held = document
        return worker


_turns = threading.BoundedSemaphore(AT_ONCE)
_lock = threading.Lock()
_idle = [_Hand() for _ in range(AT_ONCE)]
"""Those that draw nothing now, the latest used last."""


def _after_fork() -> None:
    """The parent's workers, and the memory that they draw in, stay the parent's."""
    global _turns, _lock, _idle
    _turns, _lock = threading.BoundedSemaphore(AT_ONCE), threading.Lock()
    _idle = [_Hand() for _ in range(AT_ONCE)]


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_after_fork)


def start_ahead() -> None:
    """Start all workers now, for the first drawing that will need them."""
    if has_cairo():
        with _lock:
            for hand in _idle:
                hand.start()


class CairoDocument:
    """Scenes that the workers draw; threads that ask at the same time get one each.

    Args:
        scenes: of motifs, in the order of their numbers.

    Attributes:
        data: see :mod:`vecrepeat.draw.cairo_worker`.
    """

    def __init__(self, scenes: Sequence[Node]) -> None:
        self.data = pickle.dumps(tuple(scenes))
        # Those that run read it while we go on. One that has failed is replaced later.
        with _lock, contextlib.suppress(CairoFailure):
            for hand in _idle:
                if hand.worker is not None:
                    hand.given(self)

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
        import numpy as np

        parts = [np.ascontiguousarray(picture).reshape(-1).data for picture in pictures]
        width, height = request["canvas"]
        memory = MEMORY + MEMORY_PER_PIXEL * width * height + MEMORY_PER_BYTE * len(self.data)
        memory += 2 * sum(part.nbytes for part in parts)
        seconds = allowance.picture_seconds(width * height, len(self.data))
        # Only while it draws: the next request goes out before this picture is turned into ours.
        with _turns:
            with _lock:
                hand = next((one for one in _idle if one.held is self), _idle[-1])
                _idle.remove(hand)
            try:
                worker = hand.given(self)
                room = hand.room(width * height * 4)
                if room is not None:
                    request = {**request, "room": room[1]}
                asked = json.dumps(request).encode() + b"\n"
                failed, answer = worker.ask(asked, *parts, memory=memory, seconds=seconds)
                if room is not None and not failed:
                    first, count = request["columns"]
                    whole = np.frombuffer(room[0], np.uint8, width * height * 4)
                    _reorder(whole.reshape(height, width, 4)[:, first : first + count], out)
                    return
            except WorkerEnded as error:
                raise CairoFailure(f"cairo {error}") from None
            finally:
                with _lock:
                    _idle.append(hand)
        if failed:
            told = json.loads(answer)
            raise CairoFailure(" ".join(told["reason"].split()), told["motif"])
        _reorder(np.frombuffer(answer, np.uint8).reshape(out.shape), out)


def _reorder(native: NDArray[np.uint8], out: NDArray[np.uint8]) -> None:
    """Write pixels in cairo's words as red, green, blue and alpha."""
    for channel, source in enumerate(NATIVE_ORDER):
        out[..., channel] = native[..., source]
