"""Adler-32 (RFC 1950, ZLIB Compressed Data Format 3.3) of bytes that are joined and repeated."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Sum = int | NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Adler:
    """The two Adler-32 sums (RFC 1950, 2.2) of a run of bytes, as if both began at zero.

    Such sums can be joined, ``x + y``, and repeated, ``x * times``, without the bytes. Many runs
    of one length can be worked on at once: the sums are arrays then.

    Parameters
    ----------
    total
        Sum of the bytes, modulo 65521.
    weighted
        Sum of every byte times its 1-based place from the end, modulo 65521.
    length
        Number of bytes.
    """

    total: Sum = 0
    weighted: Sum = 0
    length: int = 0

    # RFC 1950, 2.2: the largest prime below 65536.
    BASE = 65521

    @classmethod
    def of(cls, data: bytes | memoryview) -> Adler:
        """The sums of `data`, which must be C-contiguous."""
        sums = zlib.adler32(data, 0)
        return cls(sums & 0xFFFF, sums >> 16, memoryview(data).nbytes)

    @classmethod
    def of_each(cls, runs: Sequence[memoryview], length: int) -> Adler:
        """The sums of each of many runs of one length."""
        sums = np.fromiter((zlib.adler32(run, 0) for run in runs), np.int64, len(runs))
        return cls(sums & 0xFFFF, sums >> 16, length)

    def __add__(self, then: Adler) -> Adler:
        """The sums of these bytes followed by those of `then`."""
        # Each byte of the first run moves `then.length` places away from the end.
        moved = then.length % Adler.BASE * self.total
        return Adler(
            (self.total + then.total) % Adler.BASE,
            (self.weighted + moved + then.weighted) % Adler.BASE,
            self.length + then.length,
        )

    def __mul__(self, times: int) -> Adler:
        """The sums of these bytes `times` over (0 or more)."""
        # Copy j from the end is moved by j lengths: 0 + 1 + ... + (times - 1).
        moved = self.length * (times * (times - 1) // 2) % Adler.BASE * self.total
        return Adler(
            self.total * (times % Adler.BASE) % Adler.BASE,
            (self.weighted * (times % Adler.BASE) + moved) % Adler.BASE,
            self.length * times,
        )

    def __getitem__(self, which: NDArray[np.intp] | slice) -> Adler:
        """The sums of some of many runs."""
        totals, weighted = np.asarray(self.total), np.asarray(self.weighted)
        return Adler(totals[which], weighted[which], self.length)

    def joined(self) -> Adler:
        """The sums of many runs one after the other."""
        totals, weighted = np.atleast_1d(self.total), np.atleast_1d(self.weighted)
        after = np.arange(len(totals) - 1, -1, -1) * self.length % Adler.BASE
        return Adler(
            int(totals.sum()) % Adler.BASE,
            int((weighted + totals * after % Adler.BASE).sum()) % Adler.BASE,
            len(totals) * self.length,
        )

    @property
    def checksum(self) -> int:
        """The Adler-32 itself: s2 * 65536 + s1, where s1 began at 1 and s2 at 0."""
        s1 = (1 + int(self.total)) % Adler.BASE
        s2 = (self.length + int(self.weighted)) % Adler.BASE
        return s2 << 16 | s1
