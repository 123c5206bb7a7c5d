"""A property that several threads ask for is worked out once."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor

from vecrepeat.util.once import once


class Slow:
    def __init__(self) -> None:
        self.times = 0

    @once
    def answer(self) -> int:
        self.times += 1
        time.sleep(0.05)
        return 42


def test_threads_wait_for_the_first() -> None:
    slow = Slow()
    with ThreadPoolExecutor(4) as threads:
        answers = list(threads.map(lambda _: slow.answer, range(4)))
    assert answers == [42] * 4
    assert slow.times == 1


def test_each_object_has_its_own() -> None:
    one, other = Slow(), Slow()
    assert one.answer == other.answer == 42
    assert (one.times, other.times) == (1, 1)
