"""Profiles: what is refused, what is told of colours that move.

The CMYK profile is default_cmyk.icc of Debian's libgs-common (public, not shipped).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from vecrepeat.core.difference import ciede2000, lab_of
from vecrepeat.core.errors import InputError
from vecrepeat.write.icc import MOVED, open_conversion, srgb_profile

ICC = Path("/usr/share/color/icc/ghostscript")
CMYK = ICC / "default_cmyk.icc"


def test_bright_blue_and_green_leave_the_gamut_of_offset_inks() -> None:
    # Pure sRGB green and blue lie far outside a SWOP press's gamut (common practice, no source).
    moved = {m.colour: m.delta for m in open_conversion(CMYK).moved(["#00ff00", "#0000ff"])}
    assert set(moved) == {"#00ff00", "#0000ff"}
    assert min(moved.values()) > 10


def test_dull_colours_stay() -> None:
    assert open_conversion(CMYK).moved(["#808080", "#c0c0c0", "#ffffff"]) == []


def test_nothing_moves_from_srgb_to_srgb() -> None:
    colours = [f"#{r:02x}{g:02x}{b:02x}" for r in (0, 90, 255) for g in (0, 255) for b in (7, 255)]
    assert open_conversion(ICC / "srgb.icc").moved(colours) == []
    assert open_conversion(ICC / "srgb.icc").note(colours) is None


def test_the_furthest_comes_first_and_the_note_names_it() -> None:
    conversion = open_conversion(CMYK)
    moved = conversion.moved(["#808080", "#ff00ff", "#0000ff", "#00ff00"])
    assert [m.delta for m in moved] == sorted((m.delta for m in moved), reverse=True)
    note = conversion.note(["#808080", "#ff00ff", "#0000ff", "#00ff00"])
    assert note is not None
    assert moved[0].colour in note
    assert "#808080" not in note


def test_a_grey_profile_moves_a_colour_by_its_chroma() -> None:
    # Red as grey of the same luminance: ΔE2000 between the two by the formula itself. The D65
    # and D50 forms of L*a*b* differ somewhat, hence the width.
    (moved,) = open_conversion(ICC / "sgray.icc").moved(["#ff0000"])
    grey = round(255 * (1.055 * 0.2126 ** (1 / 2.4) - 0.055))
    wanted = float(ciede2000(lab_of([255, 0, 0]), lab_of([grey] * 3)))
    assert moved.delta == pytest.approx(wanted, rel=0.15)
    assert moved.delta > MOVED


def test_strips_convert_as_the_whole_does() -> None:
    rng = np.random.default_rng(5)
    rgb = rng.integers(0, 256, (64, 50, 3), dtype=np.uint8)
    conversion = open_conversion(CMYK)
    strips = [conversion.apply(rgb[y : y + 7]) for y in range(0, 64, 7)]
    assert np.array_equal(np.concatenate(strips), conversion.apply(rgb))


def test_srgb_is_a_profile_and_always_the_same_bytes() -> None:
    data = srgb_profile()
    assert data[36:40] == b"acsp", "ICC.1 §7.2.9"
    assert int.from_bytes(data[:4], "big") == len(data), "ICC.1 §7.2.2"
    srgb_profile.cache_clear()
    assert srgb_profile() == data


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("none.icc", "can't read the profile"),
        ("text.icc", "no ICC profile"),
        ("empty.icc", "no ICC profile"),
        (str(ICC / "lab.icc"), "no use for a print"),
    ],
)
def test_what_is_no_profile_is_refused(tmp_path: Path, name: str, what: str) -> None:
    (tmp_path / "text.icc").write_text("hello")
    (tmp_path / "empty.icc").write_bytes(b"")
    with pytest.raises(InputError, match=what):
        open_conversion(tmp_path / name)


def test_an_unknown_intent_is_refused() -> None:
    with pytest.raises(InputError, match="intent"):
        open_conversion(CMYK, intent="vivid")
