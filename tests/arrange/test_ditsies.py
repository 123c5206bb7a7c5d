"""Ditsy: small, close, even, and the same motif a little apart."""

from __future__ import annotations

import pytest
from strewing import as_tile, discs, least_gap, leaves, odd

from vecrepeat.arrange import DitsySettings, lay_ditsy
from vecrepeat.core.errors import InputError


@pytest.mark.parametrize("layout", ["half-drop", "pm"])
def test_motifs_are_small_as_many_as_asked_and_keep_the_clearance(layout: str) -> None:
    repeat = as_tile(80, layout)
    done = lay_ditsy(repeat, odd(), DitsySettings(size=9.0, count=24, clearance=1.0, rounds=30))
    assert len(done.rows) == 24
    assert least_gap(done.on(repeat), 20.0) >= 1.0
    # The largest, the hook of 34 mm, is 9 mm long give or take.
    scales = [row.pose.scale for row in done.rows if row.motif == "hook"]
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


def test_what_is_a_quarter_of_the_largest_is_no_speck() -> None:
    """Discs of 12 and 3 mm: the small one comes to half of the large one's length."""
    ranked = [one for one in discs() if one[0].name != "disc-7"]
    done = lay_ditsy(as_tile(90, "block"), ranked, DitsySettings(size=10.0, count=20))
    long = {"disc-12": 24.0, "disc-3": 6.0}
    for row in done.rows:
        least, most = (0.85 * 5, 1.1 * 5) if row.motif == "disc-3" else (0.85 * 10, 1.1 * 10)
        assert least - 0.01 <= long[row.motif] * row.pose.scale <= most + 0.01
    assert len(done.rows) == 20
