"""Ditsy: small, close, even, and the same motif a little apart."""

from __future__ import annotations

import pytest
from strewing import as_tile, least_gap, leaves, odd

from vecrepeat.arrange import DitsySettings, lay_ditsy
from vecrepeat.core.errors import InputError


@pytest.mark.parametrize("layout", ["half-drop", "pm"])
def test_motifs_are_small_as_many_as_asked_and_keep_the_clearance(layout: str) -> None:
    repeat = as_tile(80, layout)
    done = lay_ditsy(repeat, odd(), DitsySettings(size=9.0, count=24, clearance=1.0, rounds=30))
    assert len(done.rows) == 24
    assert least_gap(done.on(repeat), 20.0) >= 1.0
    # The largest, the hook of 34 mm, is 9 mm long give or take.
    scales = [row.pose.scale for row in done.rows]
    assert min(scales) >= 0.84 * 9 / 34
    assert max(scales) <= 1.11 * 9 / 34


def test_spacing_says_how_many() -> None:
    asked = DitsySettings(size=8.0, spacing=1.25, rounds=10)
    # One on every 10 × 10 mm.
    assert len(lay_ditsy(as_tile(50, "block"), leaves(), asked).rows) == 25


@pytest.mark.parametrize(
    "asked", [DitsySettings(size=0.0), DitsySettings(count=0), DitsySettings(spacing=0.1)]
)
def test_settings_that_make_no_sense_are_refused(asked: DitsySettings) -> None:
    with pytest.raises(InputError):
        lay_ditsy(as_tile(80, "block"), leaves(), asked)
