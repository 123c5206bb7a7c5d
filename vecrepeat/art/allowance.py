"""The time that measuring a drawing's ink may take: one budget over all its motifs."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from vecrepeat.core.allowance import MEASURING_SECONDS, MOTIF_SECONDS

MOTIFS = 10
"""Motifs that have to do with :data:`MEASURING_SECONDS`."""


class SpentError(RuntimeError):
    """The time for measuring a drawing is used up."""


@dataclass
class Allowance:
    """What is left of the time for measuring one drawing.

    Whoever does a part of the work asks for :meth:`seconds` before, so that no sequence of
    parts, each of them bounded, can add up to more.
    """

    _motifs: int = 0
    _spent: float = 0.0
    _since: float | None = None

    @contextmanager
    def motif(self) -> Iterator[None]:
        """Count what is done within as the measuring of one more motif."""
        self._motifs += 1
        self._since = _clock()
        try:
            yield
        finally:
            self._spent += _clock() - self._since
            self._since = None

    def seconds(self, usual: float) -> float:
        """Return how many seconds the next part may take: as usual, or what is left if less.

        Raises:
            SpentError: nothing is left.
        """
        running = 0.0 if self._since is None else _clock() - self._since
        allowed = MEASURING_SECONDS + MOTIF_SECONDS * max(0, self._motifs - MOTIFS)
        left = allowed - self._spent - running
        if left <= 0:
            raise SpentError
        return min(usual, left)


def _clock() -> float:
    """Seconds of processor time that this thread, and resvg for it, have taken."""
    # Few drawings need measuring; the rest do not wait for what drawing takes to import.
    from vecrepeat.draw.resvg import processor_time

    return time.thread_time() + processor_time()
