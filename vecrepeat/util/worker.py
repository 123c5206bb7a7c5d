"""A process of our own that answers requests over pipes.

Renderers are written in languages where a bad drawing can end the whole process, and they take
their time to start. Each runs in a worker: it can fail, be bounded and be replaced, and it
starts up and draws beside the program that asks.
"""

from __future__ import annotations

import atexit
import contextlib
import math
import os
import pickle
import signal
import subprocess
import sys
import threading
import time
import weakref
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from vecrepeat.util.inbox import ANSWER, MESSAGE, NEWS

try:
    import fcntl
    import resource
except ImportError:  # Windows has none.
    fcntl = None  # type: ignore[assignment]
    resource = None  # type: ignore[assignment]

PIPE_BYTES = 1 << 20
"""What a pipe of answers holds, where that can be set: pictures are large."""

PATIENCE = 5.0
"""How many times longer than its processor time a request may take by the clock.

Other programs run too.
"""

ENDING = 5.0
"""Seconds for one whose pipe has ended to end as well, so that it can be told why."""

_all: weakref.WeakSet[Worker] = weakref.WeakSet()
_ending = threading.Event()


class WorkerEnded(Exception):  # noqa: N818
    """A worker has ended before it answered.

    Attributes:
        late: whether because its time was up.
    """

    def __init__(self, why: str, late: bool) -> None:
        super().__init__(why)
        self.late = late


class Worker:
    """One worker process; used by one thread at a time.

    Args:
        arguments: what follows the interpreter on its command line.
        environment: variables set for it on top of ours.

    Raises:
        OSError: it can't be started.
    """

    @classmethod
    def of_module(cls, name: str) -> Worker:
        """Start a module of this package, which the worker finds where we found it.

        Raises:
            OSError: it can't be started.
        """
        path = os.pathsep.join(entry or os.getcwd() for entry in sys.path)
        return cls(["-P", "-m", name], {"PYTHONPATH": path})

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
        self._late = False
        _all.add(self)
        if _ending.is_set():
            self.kill()
            raise OSError("this program is ending")

    @property
    def pid(self) -> int:
        """The worker's process id."""
        return self._process.pid

    @property
    def runs(self) -> bool:
        """Whether it can take a request."""
        return self._process.poll() is None

    def send(self, *parts: bytes | memoryview) -> None:
        """Write a message, given in parts. Raises OSError where the worker has ended."""
        for part in (MESSAGE.pack(sum(map(len, parts))), *parts):
            view = memoryview(part)
            while view:
                view = view[self._in.write(view) or 0 :]

    def receive(self) -> tuple[bool, bytearray]:
        """Return whether what was asked for failed, and the answer.

        Raises:
            OSError, EOFError: the worker has ended.
        """
        failed, data = self._receive()
        return bool(failed), data

    def _receive(self) -> tuple[int, bytearray]:
        kind, size = ANSWER.unpack(self._read(ANSWER.size))
        return kind, self._read(size)

    def _read(self, size: int) -> bytearray:
        data = bytearray(size)
        view = memoryview(data)
        while view:
            count = self._out.readinto(view)  # type: ignore[attr-defined]
            if not count:
                raise EOFError
            view = view[count:]
        return data

    def ask(
        self, *parts: bytes | memoryview, memory: int, seconds: float
    ) -> tuple[bool, bytearray]:
        """Return the answer to a message, as :meth:`receive`, given within bounds.

        Args:
            parts: of the message.
            memory: see :meth:`bounded`.
            seconds: likewise.

        Raises:
            WorkerEnded: there is none; the worker is closed.
        """
        try:
            with self.bounded(memory, seconds):
                self.send(*parts)
                return self.receive()
        except (OSError, EOFError):
            self.close(ENDING)
            late = self.ran_out_of_time
            told = f"takes longer than {seconds:.0f} s" if late else self.end()
            raise WorkerEnded(told, late) from None
        except BaseException:
            # Whatever broke off, a half-read answer must not be taken for the next one.
            self.kill()
            self.close()
            raise

    def exchange(self, message: object, told: Callable[[Any], None] | None = None) -> Any:
        """Return the answer to a message of a worker of ``answer_objects``, in no bounds.

        Args:
            message: what is asked.
            told: called with the news that a worker of ``answer_telling`` sends before.

        Raises:
            OSError, EOFError: the worker has ended.
            Exception: the answer, where it is one.
        """
        self.send(pickle.dumps(message))
        while True:
            kind, data = self._receive()
            answer = pickle.loads(data)
            if kind == NEWS:
                if told is not None:
                    told(answer)
            elif kind:
                raise answer
            else:
                return answer

    @property
    def processor_time(self) -> float:
        """Seconds of processor time it has used; 0 where the system doesn't tell."""
        try:
            # The name, in brackets, may hold spaces; utime and stime are fields 14 and 15.
            fields = Path(f"/proc/{self.pid}/stat").read_text().rpartition(")")[2].split()
            return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
        except (OSError, ValueError, IndexError):
            return 0.0

    @contextmanager
    def bounded(self, memory: int, seconds: float) -> Iterator[None]:
        """Bound what the request made within takes; past the bounds the worker ends.

        Afterwards it has none, until the next request.

        Args:
            memory: bytes of address space on top of what it has; only Linux bounds that.
            seconds: of processor time; where the system can't tell, by the clock.
        """
        self._late = False
        known = self._set_limits(memory, seconds)

        def end_it() -> None:
            self._late = True
            self.kill()

        timer = threading.Timer(seconds * (PATIENCE if known else 1), end_it)
        timer.daemon = True
        timer.start()
        try:
            yield
        finally:
            timer.cancel()
            if known:
                self._lift_limits()

    def _set_limits(self, memory: int, seconds: float) -> bool:
        """Set the limits the system holds it to; return whether it could."""
        if resource is None or not hasattr(resource, "prlimit"):
            return False
        try:
            pages = int(Path(f"/proc/{self.pid}/statm").read_text().split()[0])
            for what, most in (
                (resource.RLIMIT_AS, pages * os.sysconf("SC_PAGE_SIZE") + memory),
                (resource.RLIMIT_CPU, math.ceil(self.processor_time + seconds)),
            ):
                hard = resource.prlimit(self.pid, what)[1]
                soft = most if hard == resource.RLIM_INFINITY else min(most, hard)
                resource.prlimit(self.pid, what, (soft, hard))
        except (OSError, ValueError, IndexError):
            return False
        return True

    def _lift_limits(self) -> None:
        """Hold it to nothing but what we are held to ourselves."""
        # One that has ended has none.
        with contextlib.suppress(OSError):
            for what in (resource.RLIMIT_AS, resource.RLIMIT_CPU):
                hard = resource.prlimit(self.pid, what)[1]
                resource.prlimit(self.pid, what, (hard, hard))

    def part(self) -> None:
        """End the pipe that it is asked through."""
        with contextlib.suppress(OSError):
            self._in.close()

    def kill(self) -> None:
        """End it at once; whoever waits for it gets an EOFError."""
        self._process.kill()

    def close(self, patience: float = 0.2) -> None:
        """End the process, however busy it is; one that is ending gets so many seconds for it."""
        self.part()
        try:
            # At the end of its input it ends by itself; one that crashes needs a moment too.
            self._process.wait(patience)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        self._out.close()

    @property
    def ran_out_of_time(self) -> bool:
        """Whether a closed worker ended because it had used up its time."""
        by_system = os.name == "posix" and self._process.returncode == -signal.SIGXCPU
        return self._late or by_system

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


def running(worker: Worker | None, module: str) -> Worker:
    """Return a worker, a new one of a module of this package where it does not run.

    Raises:
        OSError: it can't be started.
    """
    if worker is not None:
        if worker.runs:
            return worker
        worker.close()
    return Worker.of_module(module)


def end_all() -> None:
    """End all workers, even while others wait for their answers; none starts any more."""
    _ending.set()
    ending = list(_all)
    for worker in ending:
        worker.part()
    # For those that have something to put in order when their pipe ends.
    until = time.monotonic() + 0.5
    while any(worker.runs for worker in ending) and time.monotonic() < until:
        time.sleep(0.01)
    for worker in ending:
        worker.kill()


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
