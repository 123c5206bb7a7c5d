"""The side of a worker process that answers: messages in by one pipe, answers out by another.

Every message is :data:`MESSAGE` and its bytes, every answer :data:`ANSWER` and its bytes. Little
is imported here, so that a worker starts at once.
"""

from __future__ import annotations

import os
import pickle
import struct
import sys
import threading
from collections.abc import Callable
from queue import SimpleQueue
from typing import Any, BinaryIO

MESSAGE = struct.Struct("<Q")
"""Heads a message: the bytes that follow."""

ANSWER = struct.Struct("<BQ")
"""Heads an answer: 0 for what was asked for or 1 for a failure, and the bytes that follow.

2 is news of the work, which comes before either.
"""

NEWS = 2

Tell = Callable[[object], None]
"""Sends news to the one that asks, from any thread."""


def answer_all(work: Callable[[bytes], tuple[bool, bytes] | None]) -> None:
    """Answer messages until the pipe in ends.

    Args:
        work: returns for a message whether it failed, and the answer; None where nobody waits
            for one.
    """
    _answer_all(lambda message, _: work(message))


def _answer_all(work: Callable[[bytes, Tell], tuple[bool, bytes] | None]) -> None:
    messages: SimpleQueue[bytes] = SimpleQueue()
    busy = threading.Event()
    reads = threading.Thread(target=_read, args=(sys.stdin.buffer, messages, busy), daemon=True)
    reads.start()
    # Whatever gets printed must not get in among the answers.
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    turn = threading.Lock()

    def write(kind: int, data: bytes) -> None:
        with turn:
            answers.write(ANSWER.pack(kind, len(data)))
            answers.write(data)
            answers.flush()

    def tell(news: object) -> None:
        write(NEWS, pickle.dumps(news))

    while message := messages.get():
        answer = work(message, tell)
        busy.clear()
        if answer is not None:
            write(*answer)


def answer_objects(work: Callable[[Any], object]) -> None:
    """Answer as :func:`answer_all`, messages and answers pickled; an exception is a failure.

    :meth:`vecrepeat.util.worker.Worker.exchange` is the other side.
    """

    def answered(message: bytes) -> tuple[bool, bytes]:
        answer = work(pickle.loads(message))
        return isinstance(answer, Exception), pickle.dumps(answer)

    answer_all(answered)


def answer_telling(work: Callable[[Any, Tell], object]) -> None:
    """Answer as :func:`answer_objects`; the work is given what sends news of itself."""
    _answer_all(lambda message, tell: (False, pickle.dumps(work(pickle.loads(message), tell))))


def _read(stream: BinaryIO, messages: SimpleQueue[bytes], busy: threading.Event) -> None:
    """Take in messages while a job runs: the end of the one that asks is noticed at once."""
    while message := _message(stream):
        busy.set()
        messages.put(message)
    if busy.is_set():
        # The one that asks was killed. Another may be started in the folder any moment,
        # so what is being written must not get its final name.
        from vecrepeat.util.stopping import stop

        stop(1)
    messages.put(b"")


def _message(stream: BinaryIO) -> bytes:
    """Return the next message, nothing where the pipe has ended."""
    header = stream.read(MESSAGE.size)
    if len(header) < MESSAGE.size:
        return b""
    (size,) = MESSAGE.unpack(header)
    data = stream.read(size)
    return data if len(data) == size else b""
