"""A sample of a colour emoji set: its ink is found, and our pictures are resvg's.

``python tests/corpus`` measures whole sets.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from real_art import emoji_files

from corpus.checks import LIMIT, composed, drawn, ink, share
from vecrepeat.art.read import read_art

INK = random.Random(41).sample(emoji_files(), 24)
PICTURES = random.Random(42).sample(emoji_files(), 72)
PARTS = 4


@pytest.mark.parametrize("part", range(PARTS))
def test_outlines_hold_all_ink_and_little_else(part: int) -> None:
    found = [ink(file) for file in INK[part::PARTS]]
    assert [i.line() for i in found if not i.holds] == []
    assert [i.line() for i in found if not i.close] == []


@pytest.mark.parametrize("part", range(PARTS))
def test_pictures_are_those_of_resvg_or_named(part: int) -> None:
    found = [drawn(file) for file in PICTURES[part::PARTS]]
    assert [f"{d.file.name}: {d.refused}" for d in found if d.refused] == []
    assert [d.line() for d in found if d.is_silent] == []
    assert share([not d.is_other for d in found]) >= 99


def test_what_is_composed_is_drawn_as_the_drawing() -> None:
    """Judges: lxml parses it, librsvg draws it."""
    found = {file.name: composed(read_art(file)) for file in PICTURES[:20]}
    assert {name: levels for name, levels in found.items() if levels > LIMIT} == {}


def test_a_picture_that_differs_is_noticed(tmp_path: Path) -> None:
    # The reference of this drawing is a picture beside it that is not of this drawing.
    from PIL import Image

    file = tmp_path / "square.svg"
    file.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="30" height="30">'
        '<path d="M5 5h20v20h-20z"/></svg>'
    )
    Image.new("RGBA", (30, 30), (255, 0, 0, 255)).save(tmp_path / "square-ref.png")
    found = drawn(file)
    assert found.difference < 0.5
    assert found.ours_to_reference > 50
    assert found.resvg_to_reference > 50
