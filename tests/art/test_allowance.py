"""No sequence of draws takes longer than the one allowance; arithmetic is the judge."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pytest

from vecrepeat.art import ink, inker
from vecrepeat.art.inker import MOTIFS, Allowance, SpentError
from vecrepeat.core.allowance import MEASURING_SECONDS, MOTIF_SECONDS
from vecrepeat.core.geometry import Rect
from vecrepeat.draw.resvg import ResvgTimeError


@dataclass
class Clock:
    """Processor time that only goes on when something is drawn."""

    now: float = 100.0


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr(inker, "_clock", lambda: made.now)
    return made


def test_a_part_gets_what_is_usual_or_what_is_left(clock: Clock) -> None:
    one = Allowance()
    with one.motif():
        assert one.seconds(2.0) == 2.0
        clock.now += MEASURING_SECONDS - 1.5
        assert one.seconds(2.0) == pytest.approx(1.5)
        clock.now += 1.5
        with pytest.raises(SpentError):
            one.seconds(2.0)


def test_motifs_share_it_and_only_many_get_more(clock: Clock) -> None:
    one = Allowance()
    for _ in range(MOTIFS):
        with one.motif():
            # A hair more, as sums of fractions round.
            clock.now += MEASURING_SECONDS / MOTIFS + 1e-9
        # What is done between motifs is not measuring.
        clock.now += 50
    with pytest.raises(SpentError):
        one.seconds(1.0)
    with one.motif():
        assert one.seconds(1.0) == pytest.approx(MOTIF_SECONDS)


def test_time_counts_where_measuring_fails(clock: Clock) -> None:
    one = Allowance()
    with contextlib.suppress(KeyError), one.motif():
        clock.now += MEASURING_SECONDS
        raise KeyError
    with pytest.raises(SpentError):
        one.seconds(1.0)


BLUR = '<filter id="f"><feGaussianBlur stdDeviation="1"/></filter>'
BLURRED = '<rect x="9" y="9" width="9" height="9" filter="url(#f)"/>'
PAGE = Rect(0, 0, 90, 90)


@pytest.mark.parametrize("each", [1.4, 2.9])
@pytest.mark.parametrize("gives_up", [False, True])
def test_no_sequence_of_draws_takes_longer(
    clock: Clock, monkeypatch: pytest.MonkeyPatch, each: float, gives_up: bool
) -> None:
    # Ink at another place each time: no two draws agree, so that all there is to try is tried.
    rng = np.random.default_rng(5)
    asked = []

    def draw(svg: str, width: int, height: int, *, fonts: Sequence[str], seconds: float) -> object:
        asked.append(seconds)
        clock.now += min(each, seconds)
        if seconds < each or gives_up:
            raise ResvgTimeError("slow")
        return (rng.random((height, width, 4)) < 0.001).astype(np.uint8)

    monkeypatch.setattr(ink, "rasterise", draw)
    # So little that all there is to try takes longer.
    allowed = 6.0
    monkeypatch.setattr(inker, "MEASURING_SECONDS", allowed)
    start, one = clock.now, Allowance()
    with pytest.raises((SpentError, ResvgTimeError)), one.motif():
        ink.measure(BLURRED, BLUR, PAGE, fonts=("Any",), near=Rect(9, 9, 18, 18), allowance=one)
    assert 1 <= len(asked) <= allowed / each + 1
    assert clock.now - start <= allowed + 1e-9
