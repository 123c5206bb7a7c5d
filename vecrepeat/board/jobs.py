"""Long work: one queue of commands, run one after the other in a process of their own.

A job is what :mod:`vecrepeat.board.deeds` says. Stopped, it leaves nothing half written.
"""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from vecrepeat.board.deeds import Words
from vecrepeat.core.errors import InputError
from vecrepeat.util.worker import ENDING, Worker, running

PROGRAM = "vecrepeat.cli.worker"
"""The module of the process: the command line itself."""

KEPT = 40
"""How many jobs that have ended are remembered."""

OVER = ("done", "stopped", "failed")


@dataclass
class Job:
    """One job.

    Attributes:
        number: its own.
        kind: the deed, such as ``export``.
        design: whose it is; "" where it is of no one design.
        commands: what is run.
        said: the same as text.
        told: whether the last command is to tell its facts.
        state: waiting, working, done, stopped or failed.
        label: what it is at.
        done: how much of that is done.
        total: how much there is.
        lines: what the commands said.
        notes: what the user should know, a sentence each.
        error: why it failed.
        facts: what the command tells as plain data, where it is to.
        begun: when it did, in seconds since 1970; ``ended`` likewise.
    """

    number: int
    kind: str
    design: str
    commands: list[Words]
    said: str
    told: bool = False
    state: str = "waiting"
    label: str = ""
    done: int = 0
    total: int = 0
    lines: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    error: str = ""
    facts: Any = None
    begun: float = 0.0
    ended: float = 0.0

    def as_dict(self) -> dict[str, Any]:
        """Return it as pages take it."""
        return {key: value for key, value in vars(self).items() if key != "commands"}


class Jobs:
    """The queue.

    Args:
        folder: where commands are run.
        told: called, in the server's thread, after anything about a job has changed.
    """

    def __init__(self, folder: Path, told: Callable[[Job], None]) -> None:
        self._folder = str(folder.resolve())
        self._told = told
        self._jobs: dict[int, Job] = {}
        self._waiting: asyncio.Queue[Job] = asyncio.Queue()
        self._worker: Worker | None = None
        self._count = 0

    def as_list(self) -> list[dict[str, Any]]:
        """Return all jobs as pages take them, the newest first."""
        return [job.as_dict() for job in reversed(self._jobs.values())]

    def start(
        self, kind: str, design: str, commands: list[Words], said: str, *, told: bool = False
    ) -> Job:
        """Put a job at the queue's end; see :class:`Job`."""
        self._count += 1
        job = Job(self._count, kind, design, commands, said, told)
        over = [number for number, one in self._jobs.items() if one.state in OVER]
        for number in over[: max(0, len(over) - KEPT)]:
            del self._jobs[number]
        self._jobs[job.number] = job
        self._waiting.put_nowait(job)
        self._told(job)
        return job

    async def stop(self, number: int) -> Job:
        """Stop a job, whether it waits or works.

        Raises:
            InputError: there is none of that number.
        """
        job = self._jobs.get(number)
        if job is None:
            raise InputError("there is no such job")
        if job.state in OVER:
            return job
        works, worker = job.state == "working", self._worker
        self._end(job, "stopped")
        if works and worker is not None:
            await asyncio.to_thread(_end_worker, worker)
        return job

    async def run(self) -> None:
        """Run jobs for ever."""
        while True:
            job = await self._waiting.get()
            if job.state != "waiting":
                continue
            try:
                await self._run(job)
            except Exception as error:
                # A fault of ours in one job must not stop those that wait.
                job.error = f"{type(error).__name__}: {error}"
                self._end(job, "failed")

    async def _run(self, job: Job) -> None:
        job.state, job.begun = "working", time.time()
        self._told(job)
        loop = asyncio.get_running_loop()

        def tell(news: tuple[str, int, int]) -> None:
            loop.call_soon_threadsafe(hear, news)

        def hear(news: tuple[str, int, int]) -> None:
            if (job.label, job.done, job.total) != news and job.state == "working":
                job.label, job.done, job.total = news
                self._told(job)

        for words in job.commands:
            try:
                self._worker = await asyncio.to_thread(running, self._worker, PROGRAM)
                asked = [*words, "--json"] if job.told else words
                answer = await asyncio.to_thread(self._worker.exchange, (self._folder, asked), tell)
            except (OSError, EOFError):
                answer = None
            if answer is None or job.state != "working":
                # One that is just ending, be it after an answer, would be taken for one that runs.
                if (ended := self._worker) is not None:
                    self._worker = None
                    await asyncio.to_thread(ended.close)
                if job.state == "working":
                    job.error = "it took more memory than there is, or failed within"
                    self._end(job, "failed")
                return
            if job.told and not answer["error"]:
                job.facts = json.loads("\n".join(answer["lines"]))
            else:
                job.lines += answer["lines"]
            job.notes += answer["notes"]
            # 1 is what a check exits with that has found something.
            if answer["error"] or answer["code"] not in (0, 1):
                job.error = answer["error"] or "it failed"
                self._end(job, "failed")
                return
        self._end(job, "done")

    def _end(self, job: Job, state: str) -> None:
        job.state, job.ended = state, time.time()
        self._told(job)

    def end(self) -> None:
        """Let all jobs go: the board is ending."""
        for job in self._jobs.values():
            if job.state not in OVER:
                job.state = "stopped"
        if self._worker is not None:
            self._worker.part()


def _end_worker(worker: Worker) -> None:
    """End a process whose answer another thread waits for."""
    # The end of its pipe tells it, and it puts in order what is half written.
    worker.part()
    until = time.monotonic() + ENDING
    while worker.runs and time.monotonic() < until:
        time.sleep(0.02)
    worker.kill()
