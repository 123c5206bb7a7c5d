"""The side of a worker process that answers: messages in by one pipe, answers out by another.

Every message is :data:`~vecrepeat.util.worker.MESSAGE` (bytes that follow) and a pickle; every
answer :data:`~vecrepeat.util.worker.ANSWER` and a pickle. :meth:`vecrepeat.util.worker.Worker.ask`
is the other side.
"""

from __future__ import annotations

import os
import pickle
import sys
import threading
from collections.abc import Callable
from queue import SimpleQueue
from typing import Any, BinaryIO

from vecrepeat.util.stopping import stop
from vecrepeat.util.worker import ANSWER, MESSAGE


def answer_all(work: Callable[[Any], object]) -> None:
    """Answer messages by what ``work`` returns for each, until the pipe in ends."""
    messages: SimpleQueue[bytes] = SimpleQueue()
    busy = threading.Event()
    reads = threading.Thread(target=_read, args=(sys.stdin.buffer, messages, busy), daemon=True)
    reads.start()
    # Whatever gets printed must not get in among the answers.
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    while message := messages.get():
        answer = work(pickle.loads(message))
        data = pickle.dumps(answer)
        busy.clear()
        answers.write(ANSWER.pack(isinstance(answer, Exception), len(data)))
        answers.write(data)
        answers.flush()


def _read(stream: BinaryIO, messages: SimpleQueue[bytes], busy: threading.Event) -> None:
    """Take in messages while a job runs: the end of the one that asks is noticed at once."""
    while message := _message(stream):
        busy.set()
        messages.put(message)
    if busy.is_set():
        # The one that asks was killed. Another may be started in the folder any moment,
        # so what is being written must not get its final name.
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
