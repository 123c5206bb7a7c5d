"""Progress on standard error, for work that takes longer than a second."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from click._termui_impl import ProgressBar

PATIENCE = 1.0
"""Seconds of work before a bar appears."""


@contextmanager
def progress(label: str, total: int) -> Iterator[Callable[[int], None]]:
    """Yield a callable that takes the number of steps done since its last call."""
    started = time.monotonic()
    bar: ProgressBar[int] | None = None
    on_screen = sys.stderr.isatty()
    done = told = 0

    def step(count: int) -> None:
        nonlocal bar, done, told
        done += count
        if time.monotonic() - started <= PATIENCE:
            return
        if not on_screen:
            # A log wants a line now and then, not a bar.
            quarter = 4 * done // max(total, 1)
            if told < quarter < 4:
                told = quarter
                click.echo(f"{label}: {quarter * 25} %", err=True)
        elif bar is None:
            bar = click.progressbar(length=total, label=label, file=sys.stderr)
            bar.__enter__()
            bar.update(done)
        else:
            bar.update(count)

    try:
        yield step
    finally:
        if bar is not None:
            bar.__exit__(None, None, None)
