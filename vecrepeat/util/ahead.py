"""Work done ahead in threads, while the one who asked for it is at what came before."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TypeVar

_Item = TypeVar("_Item")
_Made = TypeVar("_Made")


def map_ahead(
    work: Callable[[_Item], _Made], items: Iterable[_Item], threads: int
) -> Iterator[tuple[_Item, _Made]]:
    """Yield items in order with what is made of them; at most one more than threads is held.

    Args:
        work: lets go of the interpreter where it takes long.
        items: what to work on.
        threads: how many work at once.
    """
    with ThreadPoolExecutor(threads) as pool:
        ahead: deque[tuple[_Item, Future[_Made]]] = deque()
        for item in items:
            ahead.append((item, pool.submit(work, item)))
            if len(ahead) > threads:
                ready, made = ahead.popleft()
                yield ready, made.result()
        while ahead:
            ready, made = ahead.popleft()
            yield ready, made.result()
