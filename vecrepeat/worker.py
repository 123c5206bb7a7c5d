"""A process of our own that answers requests over pipes.

Renderers are written in languages where a bad drawing can end the whole process, and they take
their time to start. Each runs in a worker: it can fail, be bounded and be replaced, and it
starts up and draws beside the program that asks.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import signal
import struct
import subprocess
import sys
import weakref
from collections.abc import Sequence
from typing import IO, Any

try:
    import fcntl
except ImportError:  # Windows has none.
    fcntl = None  # type: ignore[assignment]

PIPE_BYTES = 1 << 20
"""What a pipe of answers holds, where that can be set: pictures are large."""

MESSAGE = struct.Struct("<Q")
"""Heads a message: the bytes that follow."""

ANSWER = struct.Struct("<BQ")
"""Heads an answer: 0 for what was asked for or 1 for a failure, and the bytes that follow."""

_all: weakref.WeakSet[Worker] = weakref.WeakSet()


class Worker:
    """One worker process; used by one thread at a time.

    Args:
        arguments: what follows the interpreter on its command line.
        environment: variables set for it on top of ours.

    Raises:
        OSError: it can't be started.
    """

    def __init__(self, arguments: Sequence[str], environment: dict[str, str] | None = None) -> None:
        # In a process group of its own, Ctrl-C leaves it be.
        self._process = subprocess.Popen(
            [sys.executable, *arguments],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            bufsize=0,
            env=None if environment is None else {**os.environ, **environment},
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            process_group=0 if os.name == "posix" else None,
        )
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._in: IO[bytes] = self._process.stdin
        self._out: IO[bytes] = self._process.stdout
        if fcntl is not None and hasattr(fcntl, "F_SETPIPE_SZ"):
            with contextlib.suppress(OSError):
                fcntl.fcntl(self._out, fcntl.F_SETPIPE_SZ, PIPE_BYTES)
        _all.add(self)

    @property
    def pid(self) -> int:
        """The worker's process id."""
        return self._process.pid

    @property
    def runs(self) -> bool:
        """Whether it can take a request."""
        return self._process.poll() is None

    def send(self, *parts: bytes) -> None:
        """Write all parts. Raises OSError where the worker has ended."""
        for part in parts:
            view = memoryview(part)
            while view:
                view = view[self._in.write(view) or 0 :]

    def receive(self, size: int) -> bytearray:
        """Return exactly ``size`` bytes. Raises OSError or EOFError where the worker has ended."""
        data = bytearray(size)
        self.receive_into(memoryview(data))
        return data

    def receive_into(self, view: memoryview[Any]) -> None:
        """Fill a contiguous view of bytes. Raises OSError or EOFError as :meth:`receive`."""
        done = 0
        while done < len(view):
            count = self._out.readinto(view[done:])  # type: ignore[attr-defined]
            if not count:
                raise EOFError
            done += count

    def kill(self) -> None:
        """End it at once; whoever waits for it gets an EOFError."""
        self._process.kill()

    def close(self) -> None:
        """End the process, however busy it is."""
        with contextlib.suppress(OSError):
            self._in.close()
        try:
            # At the end of its input it ends by itself; one that crashes needs a moment too.
            self._process.wait(0.2)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._out.close()

    def end(self) -> str:
        """Return why a closed worker ended, as the end of a sentence that begins with its name."""
        code = self._process.returncode
        if code == -signal.SIGABRT:
            return "crashed: it asked for too much memory, or failed within"
        if code < 0:
            with contextlib.suppress(ValueError):
                return f"crashed ({signal.Signals(-code).name})"
        return f"ended (code {code})"

    def leave_to_parent(self) -> None:
        """Let go of it in a forked child: it is the parent's."""
        for stream in (self._in, self._out):
            with contextlib.suppress(OSError):
                stream.close()
        self._process.returncode = 0


def _close_all() -> None:
    for worker in list(_all):
        worker.kill()
        worker.close()


def _after_fork() -> None:
    for worker in list(_all):
        worker.leave_to_parent()
    _all.clear()


atexit.register(_close_all)
if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_after_fork)
