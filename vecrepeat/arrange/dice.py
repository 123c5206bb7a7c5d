"""Random choices that are the same on every machine and with every version of numpy.

numpy promises the raw words of a bit generator for good, but not what ``Generator`` makes of
them (NEP 19). So everything here is made from the words by whole-number arithmetic.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import numpy as np

Item = TypeVar("Item")


class Dice:
    """A stream of choices.

    Args:
        seed: any whole number from 0; equal seeds give equal streams.
        stream: keeps streams of one seed apart.
    """

    def __init__(self, seed: int, stream: int = 0) -> None:
        self._bits = np.random.PCG64(np.random.SeedSequence([seed, stream]))

    def below(self, n: int) -> int:
        """Return a whole number from 0 to n − 1.

        Multiply and shift: the lean towards some numbers is under n / 2⁶⁴.
        """
        return int(self._bits.random_raw()) * n >> 64

    def unit(self) -> float:
        """Return a multiple of 2⁻⁵³ from 0 up to and without 1."""
        return (int(self._bits.random_raw()) >> 11) / (1 << 53)

    def between(self, low: float, high: float) -> float:
        """Return a number from ``low`` to ``high``."""
        return low + (high - low) * self.unit()

    def pick(self, items: Sequence[Item]) -> Item:
        """Return one of the items."""
        return items[self.below(len(items))]

    def shuffled(self, items: Sequence[Item]) -> list[Item]:
        """Return the items in random order (Fisher and Yates)."""
        found = list(items)
        for k in range(len(found) - 1, 0, -1):
            j = self.below(k + 1)
            found[k], found[j] = found[j], found[k]
        return found
