"""What was made is kept for the next time, up to so many bytes; threads may ask at once."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from typing import Generic, Protocol, TypeVar


class Sized(Protocol):
    """What can be kept."""

    @property
    def nbytes(self) -> int:
        """How many bytes it takes."""


_Made = TypeVar("_Made", bound=Sized)


class Kept(Generic[_Made]):
    """Things by a key, the latest used, of up to so many bytes; each is made once.

    Args:
        most: how many bytes; the latest thing is kept, however large.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._turn = threading.Lock()
        self._kept: dict[Hashable, Future[_Made]] = {}
        self._bytes = 0

    def get(self, key: Hashable, make: Callable[[], _Made]) -> _Made:
        """Return what is kept under a key; what is not is made, while others wait for it."""
        with self._turn:
            found = self._kept.pop(key, None)
            future = self._kept[key] = Future() if found is None else found
        if found is None:
            try:
                future.set_result(make())
            except BaseException as error:
                future.set_exception(error)
                with self._turn:
                    del self._kept[key]
            else:
                self._made(future.result())
        return future.result()

    def _made(self, thing: _Made) -> None:
        with self._turn:
            self._bytes += thing.nbytes
            ready = [key for key, future in self._kept.items() if future.done()]
            for key in ready[:-1]:
                if self._bytes <= self._most:
                    break
                self._bytes -= self._kept.pop(key).result().nbytes
