"""The process of a batch that runs one job after another; started by :mod:`vecrepeat.batch.lanes`.

Every message is :data:`~vecrepeat.util.worker.MESSAGE` (bytes that follow) and a JSON object: a
``job`` and the receiver's ``limits``, or null. The answer is
:data:`~vecrepeat.util.worker.ANSWER` and in JSON the file's record, or the one line that says why
there is none.
"""

from __future__ import annotations

import json
import os
import sys
import threading
from queue import SimpleQueue
from typing import BinaryIO

from vecrepeat.batch.jobs import Job, Limits
from vecrepeat.batch.running import attempt
from vecrepeat.util.stopping import stop
from vecrepeat.util.worker import ANSWER, MESSAGE


class Inbox:
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
            # The one that asks was killed. A batch may be started in the folder again any moment,
            # so what is being written must not get its final name.
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


def main() -> None:
    """Answer messages until the pipe in ends."""
    inbox = Inbox(sys.stdin.buffer)
    # Whatever gets printed must not get in among the answers.
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    while message := inbox.take():
        asked = json.loads(message)
        limits = asked["limits"]
        if limits is not None:
            limits = Limits(**{**limits, "formats": tuple(limits["formats"])})
        result = attempt(Job(**asked["job"]), limits)
        data = json.dumps(result).encode()
        inbox.done()
        answers.write(ANSWER.pack(isinstance(result, str), len(data)))
        answers.write(data)
        answers.flush()


if __name__ == "__main__":
    main()
