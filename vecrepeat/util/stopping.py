"""Ending at once, with nothing left half done."""

from __future__ import annotations

import os
import threading
from typing import NoReturn

from vecrepeat.util import files, worker

PATIENCE = 1.0
"""Seconds that putting things in order may take."""

_begun = threading.Event()


def stop(code: int, told: str = "") -> NoReturn:
    """End this process from a thread of its own: workers end, what is half written is removed.

    Args:
        code: what the process ends with.
        told: a last line for standard error.
    """
    _begun.set()
    # A disk that does not answer, or a reader that takes no more, must not hold us up.
    late = threading.Timer(PATIENCE, os._exit, [code])
    late.daemon = True
    late.start()
    files.discard_unfinished()
    worker.end_all()
    if told:
        os.write(2, f"{told}\n".encode())
    os._exit(code)


def hold_if_stopping() -> None:
    """Wait for the end where it has begun: what fails now fails because its workers ended."""
    if _begun.is_set():
        threading.Event().wait()
