"""Progress on standard error, for work that takes longer than a second."""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

import click

PATIENCE = 1.0
"""Seconds of work before it is told of."""

PAUSE = 0.2
"""Seconds between two looks at a bar on a screen."""

_WIDTH = 30


@dataclass
class _Work:
    """What is being done, how much of it there is and how much is done."""

    label: str = ""
    total: int = 0
    done: int = 0
    started: float = field(default_factory=time.monotonic)

    def step(self, count: int) -> None:
        self.done += count

    def line(self) -> str:
        """Return it as one line."""
        seconds = f"{time.monotonic() - self.started:.0f} s"
        if not self.done:
            return f"{self.label}: {seconds}"
        share = min(1.0, self.done / max(self.total, 1))
        return f"{self.label}: {share:.0%}, {seconds}"

    def bar(self, beat: int) -> str:
        """Return it as a bar that moves with every beat, even where nothing gets done."""
        full = round(_WIDTH * min(1.0, self.done / max(self.total, 1)))
        bar = list("█" * full + "·" * (_WIDTH - full))
        bar[full + beat % (_WIDTH - full) if full < _WIDTH else -1] = "▒"
        return f"[{''.join(bar)}] {self.line()}"


_work: _Work | None = None


@contextmanager
def progress(label: str, total: int) -> Iterator[Callable[[int], None]]:
    """Yield a callable that takes the number of steps done since its last call."""
    global _work
    before, _work = _work, _Work(label, total)
    try:
        yield _work.step
    finally:
        _work = before


def rest() -> None:
    """Tell of nothing from now on: the command waits for others."""
    global _work
    _work = None


@contextmanager
def telling(command: str) -> Iterator[None]:
    """Tell of the work that is done within, also where no part of it is told of by itself."""
    global _work
    _work = _Work(command)
    ended = threading.Event()
    thread = threading.Thread(target=_tell, args=(ended,), daemon=True)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        # One that is held up by a reader must not hold us up.
        thread.join(PAUSE)


@contextmanager
def watched(told: Callable[[str, int, int], None]) -> Iterator[None]:
    """Call with the label, the steps done and their total, while work is done within."""
    ended = threading.Event()

    def look() -> None:
        while not ended.wait(PAUSE):
            if (work := _work) is not None:
                told(work.label, work.done, work.total)

    thread = threading.Thread(target=look, daemon=True)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()


def _tell(ended: threading.Event) -> None:
    """Show a bar on a screen; a log gets a line now and then, ever more seldom."""
    on_screen = sys.stderr.isatty()
    beat, wait, shown = 0, PATIENCE, ""
    while not ended.wait(wait):
        work = _work
        if on_screen:
            wait, beat = PAUSE, beat + 1
            text = "" if work is None else work.bar(beat)
            click.echo("\r" + text.ljust(len(shown)) + "\r", nl=False, err=True)
            shown = text
        else:
            if work is not None:
                click.echo(work.line(), err=True)
            wait *= 2
    if shown:
        click.echo("\r" + " " * len(shown) + "\r", nl=False, err=True)
