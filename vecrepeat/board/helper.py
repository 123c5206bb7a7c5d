"""Looking, tossing and filling, in a process beside the board's that can be ended at any moment.

So no step waits for them, nor does the end of the board; a newer request goes before an older
one, and none takes longer or more than it is allowed.
"""

from __future__ import annotations

import asyncio
from typing import Any, Protocol

from vecrepeat.board.desk import ConflictError
from vecrepeat.core.errors import InputError
from vecrepeat.util.worker import Worker

GRACE = 1.0
"""Seconds in which an older request of the same tab may still end by itself."""

MEMORY = 3 << 29
"""The most bytes that a request may take."""


class AtWork(Protocol):
    """What requests are about: something that was read, and what lies there now."""

    @property
    def source(self) -> Any:
        """What was read; another object where it was read anew, and no tuple."""

    @property
    def now(self) -> Any:
        """The moment."""


class Helper:
    """One such process, started when it is first needed.

    Args:
        desk: what is at work.
        seconds: the most that a request may take.
        instead: what to do where that is not enough.
        module: the process's, which answers by :func:`vecrepeat.board.helped.answer_requests`.
    """

    def __init__(
        self,
        desk: AtWork,
        seconds: float,
        instead: str,
        module: str = "vecrepeat.board.helper_worker",
    ) -> None:
        self._desk, self._module = desk, module
        self._seconds = seconds
        self._late = InputError(f"that took longer than {seconds:g} s", hint=instead)
        self._worker: Worker | None = None
        self._sent: Any = None
        self._free = asyncio.Lock()
        self._newest: dict[str, object] = {}
        self._tab: str | None = None
        self._why: Exception | None = None

    async def ask(self, tab: str, what: str, asked: Any) -> Any:
        """Return the answer to a request.

        Args:
            tab: which asks; a newer request of its own takes the place of an older one.
            what: one of what the module can do.
            asked: its last argument.

        Raises:
            InputError: bad input, or it takes too long or too much memory.
            ConflictError: a newer request took its place.
        """
        turn = self._newest[tab] = object()
        overtaken = ConflictError("a newer request took its place")
        try:
            async with asyncio.timeout(GRACE if self._tab == tab else None):
                await self._free.acquire()
        except TimeoutError:
            if self._newest[tab] is turn and self._tab == tab:
                self.end(overtaken)
            await self._free.acquire()
        try:
            if self._newest[tab] is not turn:
                raise overtaken
            self._tab, self._why = tab, None
            late = asyncio.get_running_loop().call_later(self._seconds, self.end, self._late)
            try:
                return await self._answer(what, asked)
            except (OSError, EOFError):
                few = InputError("that asks for more than there is room for", hint="ask for less")
                raise self._why or few from None
            except asyncio.CancelledError:
                self.end(overtaken)
                raise
            finally:
                late.cancel()
                self._tab = None
        finally:
            self._free.release()

    async def _answer(self, what: str, asked: Any) -> Any:
        """Return the answer of the process. Raises OSError or EOFError where it has ended."""
        if self._worker is None or not self._worker.runs:
            self._worker, self._sent = Worker.of_module(self._module), None
        worker, source, state = self._worker, self._desk.source, self._desk.now
        fresh = source is not self._sent
        self._sent = source

        def exchanged() -> Any:
            try:
                if fresh:
                    worker.exchange(source)
                # By the clock it ends sooner, several threads or not.
                with worker.bounded(MEMORY, 4 * self._seconds):
                    return worker.exchange((what, state, asked))
            except (OSError, EOFError):
                worker.close()
                raise

        return await asyncio.to_thread(exchanged)

    def end(self, why: Exception) -> None:
        """End whatever it is at, and tell that request why."""
        self._why = why
        if self._worker is not None:
            self._worker.kill()
            self._worker = None
