"""Guessing from pixels: which layout a tile was made for, and whether it holds several."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from vecrepeat.check.pixels import Levels, shift_px
from vecrepeat.repeat.layout import Layout

_SHIFTS = ((1, 2), (1, 3), (2, 3), (1, 4), (3, 4), (1, 5), (2, 5), (3, 5), (4, 5))
GUESSED = (
    Layout(),
    *(Layout(kind, Fraction(k, n)) for kind in ("drop", "brick") for k, n in _SHIFTS),
)
"""Layouts tried where none is stated, or the one stated doesn't fit, commonest first."""

_BETTER = 0.6
"""A guess must fit this much better than a block to be taken for it."""


def _misfit(picture: Levels, shift: int) -> float:
    """Return the mean difference over an upright join, against that between columns beside it."""
    right = np.roll(picture[:, :2], shift, axis=0)
    here = np.abs(picture[:, -1] - right[:, 0]).mean()
    beside = (
        np.abs(picture[:, -1] - picture[:, -2]).mean() + np.abs(right[:, 1] - right[:, 0]).mean()
    )
    return float((here + 0.05) / (beside / 2 + 0.25))


def best_layout(across: Levels, down: Levels) -> Layout:
    """Return the layout under which a tile goes on best over its joins; a block if in doubt.

    ``down`` is the picture ``across`` with rows and columns exchanged.
    """
    height, width = across.shape
    scored = []
    for layout in GUESSED:
        misfits = (
            _misfit(across, shift_px(layout, True, height, width)),
            _misfit(down, shift_px(layout, False, height, width)),
        )
        scored.append((sum(misfits), layout))
    block = scored[0][0]
    score, layout = min(scored, key=lambda pair: pair[0])
    return layout if score < _BETTER * block else GUESSED[0]


def shift_that_fits(left: Levels, right: Levels) -> int | None:
    """Return the shift in pixels at which two sides of a broken join go on, or None.

    Found as the peak of the circular cross-correlation of the changes along both sides.
    """
    one = np.diff(left[:, -1], append=left[:1, -1])
    other = np.diff(right[:, 0], append=right[:1, 0])
    size = float(np.sqrt((one**2).sum() * (other**2).sum()))
    if size < 100:
        return None
    match = np.fft.irfft(np.conj(np.fft.rfft(other)) * np.fft.rfft(one), len(one)) / size
    peak = int(match.argmax())
    rows = len(one)
    # Small offsets are parts out of place, not another layout.
    if min(peak, rows - peak) <= 8 or match[peak] < 0.6 or match[peak] < match[0] + 0.3:
        return None
    return peak


def period_of(grey: Levels) -> tuple[int, int] | None:
    """Return the period in pixels with which a picture repeats within itself straight, or None.

    Read from the peaks of its circular autocorrelation, then held to its pixels: a picture
    that repeats differs from itself moved on by no more than a level or two.
    """
    height, width = grey.shape
    periods = []
    for size, line in ((width, grey), (height, grey.T)):
        step = max(1, line.shape[0] // 256)
        sample = line[::step] - line[::step].mean()
        power = (np.abs(np.fft.rfft(sample, 2 * size, axis=1)) ** 2).sum(axis=0)
        match = np.fft.irfft(power)[:size] / np.arange(size, 0, -1)
        if match[0] <= 0:
            return None
        match = match / match[0]
        low, high = 16, size * 3 // 4
        peaks = np.flatnonzero(match[low:high] > 0.97) + low
        period = size
        # Each run of neighbours is one peak; the shortest that holds to the pixel is the period.
        for run in np.split(peaks, np.flatnonzero(np.diff(peaks) > 1) + 1):
            if not len(run):
                continue
            candidate = int(run[match[run].argmax()])
            if np.abs(sample[:, candidate:] - sample[:, :-candidate]).mean() < 2.0:
                period = candidate
                break
        periods.append(period)
    return (periods[0], periods[1]) if (periods[0], periods[1]) != (width, height) else None
