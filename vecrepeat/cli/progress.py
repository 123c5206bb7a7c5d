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
    done = 0

    def step(count: int) -> None:
        nonlocal bar, done
        done += count
        if bar is None and time.monotonic() - started > PATIENCE:
            bar = click.progressbar(length=total, label=label, file=sys.stderr)
            bar.__enter__()
            bar.update(done)
        elif bar is not None:
            bar.update(count)

    try:
        yield step
    finally:
        if bar is not None:
            bar.__exit__(None, None, None)
