"""The side of a worker process that answers: messages in by one pipe, answers out by another.

Every message is :data:`MESSAGE` and its bytes, every answer :data:`ANSWER` and its bytes. Little
is imported here, so that a worker starts at once.
"""

from __future__ import annotations

import os
import struct
import sys
import threading
from collections.abc import Callable
from queue import SimpleQueue
from typing import BinaryIO

MESSAGE = struct.Struct("<Q")
"""Heads a message: the bytes that follow."""

ANSWER = struct.Struct("<BQ")
"""Heads an answer: 0 for what was asked for or 1 for a failure, and the bytes that follow."""


def answer_all(work: Callable[[bytes], tuple[bool, bytes] | None]) -> None:
    """Answer messages until the pipe in ends.

    Args:
        work: returns for a message whether it failed, and the answer; None where nobody waits
            for one.
    """
    inbox = _Inbox(sys.stdin.buffer)
    # Whatever gets printed must not get in among the answers.
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    while message := inbox.take():
        answer = work(message)
        inbox.done()
        if answer is not None:
            failed, data = answer
            answers.write(ANSWER.pack(failed, len(data)))
            answers.write(data)
            answers.flush()


class _Inbox:
    """Messages from the process that asks, read while a job runs: its end is noticed at once.

    Args:
        stream: where they come from.
    """

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._messages: SimpleQueue[bytes] = SimpleQueue()
        self._busy = False
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        while message := self._message():
            self._busy = True
            self._messages.put(message)
        if self._busy:
            # The one that asks was killed. Another may be started in the folder any moment,
            # so what is being written must not get its final name.
            from vecrepeat.util.stopping import stop

            stop(1)
        self._messages.put(b"")

    def _message(self) -> bytes:
        header = self._stream.read(MESSAGE.size)
        if len(header) < MESSAGE.size:
            return b""
        (size,) = MESSAGE.unpack(header)
        data = self._stream.read(size)
        return data if len(data) == size else b""

    def take(self) -> bytes:
        """Return the next message, nothing at the end."""
        return self._messages.get()

    def done(self) -> None:
        """Note that the last message is answered."""
        self._busy = False
